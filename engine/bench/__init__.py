"""What does the real machine say? From a log of the test stand to coefficients.

`log_text` cuts a log, `log_tests` parts its tests, `log_head` and `log_columns` convert it, `log`
judges it, `averaging` shortens it; `gate` refuses wrong units; `fit`, `coast_down` and `trip_test`
read coefficients from it with `least_squares`, on what `predicted` gives, `tap_test` the factor on
the frequencies of the discs, and `generator_test` the data sheet of the generator; `together` adds
what each log says; `readings` says beforehand what to expect, and `telling` which change of the
machine tells how hard its casing rubs.
What was decided, why, and the number it rests on:

- One file a log. Its YAML head stands on top of the CSV, so that units and numbers stay together.
- A locked rotor is a row at speed 0 (`engine.model.locked_rotor`). Gaps taped shut were once in
  the bench plan. No flow passes the rotor then and there is no operating point, so the plan asks
  for feelers on the collar instead. Nozzle velocity and rim mixing act on every reading as one
  product; no test of the whole machine tells them apart.
- Friction on the casing. Without a change of the machine it looks like mixing: of eight readings at
  two speeds a fit frees one or the other, and takes both for that one (2.2 for a true 1.7). With a
  second casing ring, twice the clearance, it finds 1.62 +- 0.12; with three of four nozzles blocked
  it needs the mixing to be known. Half and twice the friction then lie 9 standard uncertainties
  apart for two nozzles (3 without the change), 3.7 for a single one.
- Hose, spokes and hollow core. Without a probe at the outlet, spokes look like mixing (95 %): the
  fit holds them and takes 0.91 +- 0.02 for a true mixing of 0.95. With the probe's angle and
  pressure it gives both, the web factor within 0.03. A second dial before the nozzles gives the
  loss of the couplings; hose friction looks like it until a log is taken without the hose. In 24
  logs with noise 23, 23 and 24 intervals of nozzle discharge, coupling loss and web factor hold the
  truth (tests/bench/test_flow_path_fit.py).
- Shaft seals. A coast-down knows bearings, windage and seals in two combinations. One without
  seals gives the third, by forms taken anew around each torque found: around the study's 1 mN m, a
  true 6 came out as 4.5 +- 0.4. It is freed only where nothing told before becomes less certain.
- Huber's loss (scipy, in `least_squares`), with weights from stated uncertainties; that of speed
  and supply is carried through the model. Covariance by Huber's formula, never below what the
  instruments state; 95 % by Student's t. In 200 noisy logs of known coefficients each interval
  holds the truth in 190 to 195 of them.
- Scale first. A fit begins with the scatter that its start leaves and narrows it pass by pass.
  With Huber's limit at one standard uncertainty from the beginning nearly every reading lies
  beyond it, nothing bends the cost, and one coast-down in five stood still tens of standard
  uncertainties away.
- What a coast-down takes as given (the inertia within 3 %, a power of speed that it does not tell
  within 0.15) moves the fitted numbers by their own linear answer, added to the covariance: not in
  proportion, as the seals' drag is the study's. In 200 coast-downs with noise, inertia drawn anew
  each time, 185 to 194 intervals hold the truth (tests/bench/test_coast_down.py).
- What can be told is chosen before the fit by orthogonalising the sensitivities, each scaled by
  the coefficient's uncertainty beforehand. The most independent one enters while all that are in
  stay within half of that. What the fit then drives to a bound or leaves loose is held too. Held
  ones stay at the study's values. Their own uncertainty is not in that of the fitted ones: later
  predictions are not over-stated, and the under-statement is said.
- Each log is kept as a quadratic form of all coefficients around its fit, also of those that it
  held (`engine.study.knowledge`). Forms add up, so the order of logs does not matter. In 100 trials
  of three invented logs, in the six orders by turns, each interval of 95 % held the truth at least
  90 times. A
  coefficient is freed only if nothing told before becomes less certain; only a coast-down frees its
  two factors always, after which a number may seem up to 5 % less certain than with them held.
- A unit is wrong where readings are beyond ten times what the model gives, either way; a fit is
  refused that stays 8 standard uncertainties and a fifth of the reading off. Of 400 rows and fewer
  each is taken by itself; 100,000 rows took 6.5 s of one core, with 41 states.
- A trip test tells delay and closing of the valve from speed against time alone. A factor on the
  torque comes from the run-up before the trip, so inertia and losses need not be known; what the
  hose holds is the study's. With 0.1 % noise at 40 readings a second, 0.12 s and 0.3 s come back
  within 0.02 and 0.05 s, delay and half of the closing together within 0.01 s.
- Torque is the model's law times a factor (`bearing_factor`, `windage_factor`). The coast-down
  page also gives a constant and a power of speed, the power only where the log tells it.
- Bands of the readings come from the same samples as those of results, at each speed: nineteen of
  twenty, not eight of ten as in the report, because a reading that leaves its band stops the run.
  Half a second a sheet. Before, both levels of gap flow widened by 15 % of each effect were taken.
- A tap test has two unknowns, the factor on all frequencies and how far out the disc is held: both
  are laid out on a grid, so that a frequency may be taken for another mode. The lowest modes tell
  the hold, the others the factor. At speed less may hold, so waves go with the factor alone.
- A generator test stands by itself: volts follow from speed and amps by its data sheet alone, with
  no flow. Speed, volts and amps into a load tell constant and resistance. Only a current below 0
  (it runs as a motor) or a torque tells the no-load loss. The diodes' drop is a fourth unknown,
  known within 0.2 V before. Of 100 noisy logs each interval holds the truth in at least 90.
- A pump has one test: head against flow, which the valve in its discharge sets, at two speeds. Head
  alone tells wear ring, throat and walls apart (leakage acts most when nearly shut, the throat at
  full flow); power adds motor and end faces. The eye's loss is too small to be seen, the cone's
  looks like the walls', and a clearance like the ring's factor. In 30 logs of 16 rows with 1 % of
  noise 27 to 30 intervals of each hold the truth (tests/bench/test_pump_fit.py).
- One published brake test could be read row by row: with nozzle width and angle free, one half
  predicts the other within 3 to 4 % of the stall torque, but for the fall near no load
  (tests/bench/test_half_of_a_brake_test.py). tests/model/test_experiments.py fits the nozzle loss
  at 1 bar and predicts 3 bar.
"""
