"""The machine: stress, waves, shaft, bearings, tolerances, drive and generator.

Each module is one subject and needs no other package of physics but `arrays`. What was decided:

- The disc is a ring on a web (`web`). Friction decides how far out spacers hold the spokes, and
  nobody knows it, so two limits are tabulated and the lower one counts: the web gripped whole, out
  of plane and in plane, or the hub alone. A web that lies flat but slides in its plane was solved
  too: its waves stand still no lower than those of the gripped one, so it has no table. The plain
  annulus clamped all round is the limit against which the tests check the web.
- A wave counts from a tenth of a mode's squared amplitude along the rim. Three spokes mix 1, 2 and
  4 nodal diameters, so a mode that mostly tilts answers to two nozzles.
- Waves veer where two come near each other, and begin to count where their share passes a tenth.
  One by one they cannot be interpolated: 3.5 to 6 % off at the 90th percentile. So their common
  problem is (`tests/support/web_between.py`), and the tables hold the two waves of each place
  between which a disc may have to choose. Against 54 other webs of 3, 6 and 12 spokes the lowest
  wave is within 2.2 %, each of 2 to 12 nodal diameters within 4 % at the 90th percentile (where a
  share is a tenth, either wave may be told); seven webs of whole discs of other elements agree to
  1.7 %. Modes at rest: within 2.1 % at the 95th percentile, the worst of three spokes 7 %.
- Round holes around a hub are the other hold that a study may choose (`hold: holes`). Spacers grip
  the hub and arms between the holes. Six holes with walls of 2 mm leave 55 % of the annulus open,
  where spokes leave 75; more than six leave less, so they have no table. Six whole discs of other
  elements agree. Spokes with filleted roots between hub and ring are kidney openings already.
- Bolts with washers in the gaps are the third hold (`hold: bolts`, see `bolts`): rings without a
  web between end plates. Washers hold their whole face out of plane, and rings stretch freely in
  theirs. Six whole discs of other elements agree to 5 % on waves, most of them told too low, and to
  3 % on frequencies. All rings may move alike, so what end plates give way lowers every wave; see
  `engine.model.bolts`. Loose bolts, which hold a point each, have no table: a tap test takes them
  for smaller washers.
- The elements of the plate are those of Bogner, Fox and Schmit; on two and three point supports
  they sag as Nadai's plates do, to 0.7 %.
- The mesh of the stresses is graded by fillet and hole: within 2.6 % of a finer one in 54 webs.
  With one mesh for all, the narrowest spokes in the smallest bores came out 16 % too high, and the
  widest of three up to 21 % too low.
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
- In time (`plant`, `in_time`) scipy's LSODA follows rotor, bus, receiver and hose: the bus settles
  in milliseconds, the rotor in seconds, and it changes to a stiff method by itself. The bus is a
  capacitor, so that its voltage keeps to the branch on which it is: a converter that a dip of the
  supply has starved stays so, as in the workshop. Energy is integrated apart from the solution, by
  Gauss's rule on the solver's own steps: it closes to 1e-8 in 75 s of the bundled lights, with
  1,300 steps. A lost load peaks as `trip` says, its gain of speed within 2 parts in a thousand.
- No published measure of flicker is used, as nobody here can vouch for its table. Depth and the
  fastest change in a tenth of a second are told.
- A converter that holds the speed of best power (`best_power`) keeps to the faster of two speeds
  where the loads ask for less than there is: power that nobody takes makes the stack faster.
- One constant describes a machine with a bridge and one with brushes (`permanent_magnet`). The
  inductance of a fast machine with many poles costs more voltage than its resistance: 20 uH and 7
  pole pairs at 30,000 rpm act as 0.2 ohm, without heat.
"""
