"""What does one build give? Builds in, results out; `evaluation` alone knows the order.

`evaluation.evaluate` takes a study and a table of builds and gives every column of each. What was
decided, why, and the number it rests on:

- Lanes. A build is a lane; lanes do not know each other. A lane without operating point is NaN and
  has a `Reason`, the first in the order of the machine; its dimensions and stresses stay.
- Runaway costs ten times the rest. It is worked out for every design only if a limit or an aim
  names it, and else for the front (`with_runaway`). It is followed upward by the averaged flow at
  either level (`runaway`).
- A lost load (`load_loss`) is followed in a map of 24 torques of each build, over speed and supply
  pressure. Twenty speeds and eight pressures move the peak by 4e-4 at most on the front of
  lane-workshop; a run of the bundled front of 107 designs takes 0.4 s of one core, 0.2 s more for
  runaway. In a search that only asks `survives_trip` a bound decides, in 0.03 us a design.
- A locked rotor (`locked_rotor`) is the model at a crawl. The flow has no division by speed, but
  torque as power over speed does. At 0.001 rad/s torque is within 2.4e-7 of the one by angular
  momentum at exactly none, at both levels; smaller speeds lose it again to rounding.
- Supply of a lane. `supply_pressure` and `supply_temperature` among the builds stand in for the
  study's (`circuit.source_of_lanes`). A vapour keeps its enthalpy when its pressure is drawn, as
  through a valve; its table is made anew in steps of a tenth for draws above the supply.
- Waves and peak stress of a disc on spokes come from a table in `shared`, solved by
  `tests/support/web_tables.py`: a solution takes a second, a look into the table microseconds.
- Where a build settles (`settle`) rests on twelve speeds of the averaged flow: within 0.12 % of the
  exact speeds for one stack of the lane workshop. 1,000 builds with eight sets take 1.6 s of one
  core, nearly all of it flow. For a page and for one build the curve is moved until it goes through
  what the build gives at the speed found; then energy closes to twelve digits.
- A speed that settles (`settled_speed`) is found before the evaluation and then like any other, so
  margins, limits, trip and recheck need not know of it. Twelve speeds and two more evaluations, at
  which the curve is moved, leave it within 1e-3 of the exact one: fifteen times the work of a
  build. Bands hold the speed of the build as drawn.
- A build in time (`in_time`) rests on 280 evaluations, forty speeds at seven pressures, made once.
"""
