"""The machine: stress, waves, shaft, bearings, tolerances, drive and generator.

Each module is one subject and needs no other package of physics but `arrays`. What was decided:

- The disc is a ring on spokes (`web`). Friction decides how far out spacers hold the spokes, and
  nobody knows it, so two limits are tabulated and the lower one counts: the web gripped whole, out
  of plane and in plane, or the hub alone. A web that lies flat but slides in its plane was solved
  too: its waves stand still no lower than those of the gripped one, so it has no table. The plain
  annulus clamped all round is the limit against which the tests check the web.
- A wave counts from a tenth of a mode's squared amplitude along the rim, and is in the tables from
  0.06, and beside any place where it is, so that none is missed where its share changes between
  two places. Three spokes mix 1, 2 and 4 nodal diameters, so a mode that mostly tilts answers to
  two nozzles.
- The clamp must hold what the spokes pull (`clamp`): 260 N a spoke for a disc of 90 mm at 27,000
  rpm, 340 N at trip speed, so 2.6 to 5.2 kN where friction is 0.2 to 0.1; the torque alone needs
  a twentieth. With less, hubs stretch on the shaft and creep, which is no failing speed: the peak
  stress is that of a free hub where it is higher, and the waves those of the lower hold.
- A filament lamp is the measure of a steady supply (`load`): power goes with voltage to the 1.6.
  At fixed speed nothing regulates, and a lamp shows it.
"""
