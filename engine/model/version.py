"""The version of the model, and what moved the numbers of a study.

By `MODEL_VERSION`, newest first:

- 17. Runaway is followed past the last operating point: ratios rise by 31 % in the median for
  random builds in water whose discs throw it out (275 of 464 on a front of the mill, by up to 37 %;
  244 of them no longer survive a lost load), and by 5 % for steam that churns. Where no march has
  an answer they are upper bounds, with a note. Others move by up to 4e-5. Steam that turns wet in a
  gap moves power by up to 2.4e-5 of the isentropic power, and some builds taken for choked are
  matched. Where bolts hold the discs, the web of their wide end clamps yields too, and the rims of
  these brake beside the casing: yield speeds are 0.88 to 0.92 of before in the median of random
  builds, shaft power -0.5 % (lane workshop), 0 (boiler), -0.2 % (vapour) and -0.3 % (mill). The
  clamp nut must pass the bearing's seat where shaft or bearing is searched. The bundled studies
  have thicker shafts or smaller bearings: a given build of the lane workshop loses 0.3 W of 334,
  and its shaft bends a third later.
- 16. Runaway comes from the averaged flow at both levels. At the resolved level a march that failed
  counted as a brake: the runaway ratio rises by 2 to 21 % (11 % in the median) on a front of the
  lane workshop, and what survives a lost load may change with it. At the averaged level it moves
  by up to 8e-5, and by up to 1 % for random builds that lose their operating point while still
  driven (97 of 487 in water, 2 of 1,136 in steam). End clamps too thick to be sold as full-hard
  strip are plate, and bolts and screws hold in one diameter of thread: mass of the rotor +6e-4 to
  +2e-3, critical speed of the shaft -3e-4 to -1e-3 at the bundled picks; estimates of a burst
  count wide end clamps. Resolved torque moves by 1e-7 in the median and by up to 1.4e-5 on fronts.
  Six of 15,000 pumps that did not converge do so.
- 15. A march of the resolved level has 30 steps of 12 nodes where it had 50 of 14: near the bundled
  fronts resolved torque moves by 4e-5 to 2e-4 in the median and by up to 9e-4 for 95 of 100; with
  strong backflow pressure drop is off by up to 1e-2 for 95 of 100 (4e-3 before). A finer mesh is
  tried where a match does not converge: of 3,276 random builds that the averaged level matches,
  3,092 have a resolved point (3,041 before). The averaged level keeps every digit. The match of a
  sample starts from that of another sample of its design: bands move by 2e-7 in the median and by
  up to 2e-6.
- 14. At the averaged level the inflow is firm where backflow made its equations turn a change
  round, each step is solved twice, and a march has 30 steps: power moves by 1e-5 to 8e-5 of the
  isentropic power in the median of random builds, and by 5e-3, 2e-3, 0.1 and 0.3 for 999 of 1,000
  in the lane workshop, the boiler, vapour and the mill; what moves most flows back or all but
  chokes. A march without flow that has no answer no longer hides a matched point: 50 of 20,000
  boiler builds, some of 3 kW, were said to let no flow in. Resolved power moves by up to 3e-5
  without backflow, with it by up to 2e-3 in gas. Stacks on bolts have room for their wide end
  clamps: critical speeds -15 to -19 %.
- 13. Disc edges that all but close the rim hold thick jets up, and the ring behind fast ones is
  faster: gap torque -0.05 to -0.3 % in the median of random builds, -31 to -77 % for the twentieth
  whose rims are most closed. The share of edges is bounded at 88 % in the bundled studies, not at
  69. Resolved flow with backflow is solved for all stations at once first: torque moves by up to
  1e-3, without backflow by up to 1e-6. The seal between stages counts at the tube it
  runs on, and the holes between them take 0.5 % of the next stage's drop. Studies may hold discs by
  bolts, whose washers brake, and pump air.
- 12. Jets slower than the ring around the discs mix into it instead of drawing fluid back out of
  the gaps: a few builds whose discs drive the fluid gain or lose. Gas and vapour that the discs
  throw out at the rim are followed at the averaged level. Peak stresses at the web come from finer
  meshes: -16 to +35 %. A pump's suction ring sets the distance of its bearings, and its resolved
  head moves by up to 1.3 %. Studies may search two and three stages, discs with round holes, and
  speeds that settle. The bundled studies keep the share of the rim that disc edges close to what
  the ring was checked for: the lane workshop's pick gives less, and what it gives stands in the
  plane.
- 11. Leakage leaves the ring around the discs with the ring's own swirl, and thick slow jets enter
  it at their angle: power +1.1 to +3.3 % in the median of the bundled fronts. Builds whose discs
  throw fluid out at the rim are followed where the march holds, and refused from an Ekman parameter
  of 10 on. The waves of the cut disc are interpolated by the problem that they solve: standing-wave
  speeds of discs on three spokes +3 % in the median (-1 to +31 %), of others within 1.6 %.
- 10. The critical speed counts with the shaft's steps, all that it carries and bearings that give
  way: 0.75 to 0.79 of before on the bundled fronts. Bearings brake at the temperature that their
  drag and the exhaust make; best power -2.4 % (mill, now with lips) to +0.1 %. Friction behind the
  throat of convergent-divergent nozzles takes 0.4 to 1.4 % of the jet's speed. Collars leak at
  the radius at which they are drawn, 2 mm outside the bore. The averaged level
  solves each step three times, with the middle of what was expected and found where these differ:
  power moves by 2e-5 of the isentropic power in the median, and nine in ten of the builds that did
  not converge do so now. A front has a second one beside it, of what tolerances leave.
- 9. Nozzle coefficients follow from land and entry (discharge 0.95 to 0.97, velocity 0.95 to 0.99
  for the usual nozzle). The spokes are walls that turn in the exhaust and take the swirl that the
  gaps leave; a hollow core keeps the rest. A hose may stand before the nozzles. Medians of power on
  the bundled fronts of before: +14 % in air, +24 % in steam, +36 % in vapour, +12 % in water.
  A laser-cut edge counts with twice the yield strength of its annealed skin where that is less than
  the sheet's: 301 full hard falls from 965 to 410 MPa, yield speeds by 0.65. The generator's limit
  and a rub at the collar seals count as failing speeds. One bearing of a stack open at one end
  carries its thrust. Nozzles must open into the casing bore. The bundled studies have other
  generators and seals, and ask that nothing fails after a lost load when the trip acts.
  No march of the averaged level jumps any more: of 222 of 80,000 random builds without a converged
  point 21 are left, and one build in 200 moves by more than 1e-3 of the isentropic power. The
  Reynolds numbers of transition are uncertain, so bands are a little wider.
- 8. The ring around the discs is followed from nozzle to nozzle: what a jet brings beyond what the
  ring holds enters the gaps at once, the rest slows down on the way. Few nozzles and a tight casing
  gain, many nozzles lose. The fluid in the side chambers
  turns by what ring and leakage bring; where it outruns the end discs it drives them.
  The disc is that of the drawing, a ring on spokes, with the fluid's mass in its gaps, where it
  was an annulus clamped all round: standing-wave speeds of the bundled fronts fall to a fifth in
  the median, those in water to a twelfth. The peak stress of the web is computed (2 to 5 times
  that of a plain ring) where it was a guessed 2. Powers keep their numbers; margins and fronts do
  not.
- 7. Builds whose discs throw the fluid back out at the rim have no operating point, nor have those
  that would give more than the fluid holds. Turbulent flow in wide gaps (Ekman parameter above 10,
  by the faster of disc and fluid) is stepped without oscillating, which moves power there by some
  0.1 % of the isentropic power. All other builds keep their numbers. At the resolved level all
  stations are solved at once where sweeps do not settle, so nearly all builds have a recheck.
  Designs that it does not confirm are not on a front any more.
- 6. The averaged gap steps by three differences and holds reversing profiles as a condition of its
  equations; the match ends at its residual. Builds without a note move by 1e-4 of power in the
  median, one in twenty by 0.2 %, one in a hundred by 0.7 %; those noted as outside the range of
  the averaged gap flow move by more. Against the resolved level nothing is lost: 95 of 100
  feasible builds have its power within 0.7 % (0.8 % before).
- No new version: the search goes in stages. The numbers of a design are the same, but the same
  study and seed give another front, nearer the true one. A run begun before cannot go on.
- 5. Products are rounded before they are added, which moves last digits. In the resolved gap a
  node turns back by degrees, which moves power by 3e-4 at most and settles flows that did not
  settle.
- 4. The match is compiled and starts its search elsewhere. Matched points move within the
  tolerance of the match, 1e-7 of power. Where flow turns back and two roots stand close together,
  the other one may be found.
- 3. Air and nitrogen carry their second virial coefficient. On shop air at 7 bar: flow +0.3 %,
  isentropic power -0.2 %, electric power within 0.1 % (0.3 % with a convergent-divergent nozzle),
  the exhaust 1.4 K colder (Joule and Thomson).
- 2. The averaged gap couples the profiles of inflow and swirl.
"""

MODEL_VERSION = 17
"""Raised whenever the same study gives other numbers."""
