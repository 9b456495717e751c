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
- The shaft is a line of beams with gyroscopic moments on springs (`shaft_bending`). On the
  workshop's front it whirls at 0.79 of the speed of a plain shaft with discs alone (0.74 to 0.85):
  the drawn span is longer, and clamps and collars weigh. Bearings that give way take 8 %,
  gyroscopic moments give 4 % back, and the clamped pack 2 %; it has some 3 % of the stiffness of
  solid hubs, since its sheets have many joints.
- A bearing is as warm as its own drag makes it (`bearing_heat`): a shaft in an exhaust of -29
  degrees Celsius leaves the bearings of the workshop's best build at 44.
- A filament lamp is the measure of a steady supply (`load`): power goes with voltage to the 1.6.
  At fixed speed nothing regulates, and a lamp shows it.
- Where a turbine settles (`settle`) is looked for along the voltage of the bus, not along speed:
  there current, speed and torque are explicit, also where a constant-power load allows two
  voltages at one speed. So no point is missed and none needs a start value.
- One constant describes a machine with a bridge and one with brushes (`permanent_magnet`). The
  inductance of a fast machine with many poles costs more voltage than its resistance: 20 uH and 7
  pole pairs at 30,000 rpm act as 0.2 ohm, without heat.
"""
