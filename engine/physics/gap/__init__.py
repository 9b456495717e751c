"""The flow between two discs, averaged across the gap or resolved across it.

Two levels give the same answer, an `answer.GapFlow`. `averaged` is fast and serves the search;
`resolved` solves for the profiles across the gap and checks the fast one. What was decided for
both, why, and the number it rests on:

The averaged level (`averaged`, `averaged_kernel`, `modes`, `modes_kernel`)

- Profiles. Inflow and relative swirl are three modes each across the half gap (spanned by 1 - z^2,
  1 - z^4 and 1 - z^10), coupled by the Coriolis force and stepped implicitly by Galerkin's method.
  The level before had four Graetz modes of swirl, Shah's friction and no such coupling: torque was
  19 % low at b sqrt(Omega/nu) = 4 and 30 % at 6, pressure drop 3 to 26 % low. Now the errors are
  those in the docstring of `averaged.march`; a step costs 1.6 times as much.
  `python -m pytest tests/speed/test_speed_gap_averaged.py -m speed -s` prints them. Two modes each
  are cheaper and keep pressure drop within 4 %, but their steps went astray where the flow turns
  back.
- Reversed flow. A profile that would turn back is held where it just stands still, by a force
  along its own inertia. This is a condition on the equations, so its error falls with the square
  of the step. Simply flattening the profile, as before, gave an answer that depended on the step.
  It is still flattened, and swirl solved with the same share of the drift, where the answer to
  that force leads aside, or where the discs outrun the fluid, which then leaves along the walls:
  held there, six times as many random builds find no operating point. Without either, one build in
  twenty loses its own.
- No jumps. Where reversed flow leads ahead, the two equations of the inflow may have no solution,
  or one beyond infinity. A least determinant kept that finite, but which way it then led hung on
  the last digit: such a step multiplied a difference by ten to two hundred, and a march by up to
  1e6. Of 20,000 random builds each of the four turbine studies 0, 1, 3 and 1 changed sides with the
  last digit of the speed, and 1, 2, 3 and 3 did not converge. Now the equations are firm: so far as
  their effect on some change of the inflow is less than a share of their size
  (`modes_kernel.FIRM`), the inflow is held at the expected one, as in Levenberg's and Marquardt's
  least squares. A step's solution stays what it was, and is only come to more slowly. A march
  multiplies a difference by 9 at most in three studies and by 62 in steam (one lane apart, with a
  station on the saturation line, where density has a kink). Of 240,000 builds, three draws of each
  study, none changes sides, two do not converge, one moves by 1.4e-6 of its isentropic power, and
  at most 3 in 10,000 of a draw by more than 1e-9. Shaft power moved by up to 3e-3, 2e-3, 2e-2 and
  0.17 of the isentropic power, and by up to 2e-3, 8e-4, 8e-3 and 3e-2 for 999 of 1,000; those that
  moved most all flow back when resolved. They are as far from the resolved level as before: torque
  of vapour 1.4 to 1.2 % in the median and 9.3 to 8.3 % at the 95th percentile, pressure drop 0.3 to
  0.5 and 1.2 to 1.0 %; of water 1.7 to 1.8, 12.6 to 12.7, 1.0 to 1.4 and 3.4 to 3.9 %. A share of
  0.05 or 0.1 lies as near, but a march then multiplies by 190 or 110 in steam and 75 in vapour.
  Freezing the inflow by the determinant instead left eleven builds in water unconverged. The
  response to the force that holds a profile has a least effect too (`TURNS`).
- Steps. Differences run over three steps, each step is solved twice, pressure is summed by
  parabolas, and a march has 30 steps. Solved again with the middle of what was expected and found
  (`averaged_kernel._between`), profiles are smooth near reversal. Against ten times the steps,
  shaft power over isentropic power is within 6e-5, 4e-5, 4e-4 and 3e-4 in the median of 1,500
  random builds of each of the four turbine studies, and within 4e-3, 1e-3, 5e-2 and 1.6e-2 for 98
  of 100. 40 steps are within 4e-5, 2e-5, 3e-4 and 2e-4, and 3e-3, 9e-4, 4e-2 and 1.4e-2, but no
  nearer to the resolved level: of the 200 most efficient of 6,000 builds each, power is off by 0.15
  (30 steps: 0.16), 0.11 (0.11), 0.37 (0.42) and 0.29 (0.32) % in the median, and nine in ten are
  within 0.43 (0.41), 0.42 (0.42), 0.85 (0.89) and 1.7 (1.9) %. Solved three times it is so too, and
  matches cost 1.27 times as much in air: before the equations were firm, the last digit asked for
  the third. What more steps and a third solution do better is laminar gaps of 10 to 14 layers with
  backflow and Re* below 5: pressure drop at the 95th percentile within 17 instead of 32 %.
  Where profiles swing from step to step the third difference is faded out. Turbulent flow in wide
  gaps swings by itself: from an Ekman parameter of 10 on, by the faster of disc and fluid, it is
  stepped singly. Stepped like any other, it would multiply a difference by up to 3,500.
- Wide gaps. Three modes do not follow two thin layers and a core between them: in laminar gaps of
  14 to 30 Ekman layers pressure drop is 1 to 20 % high, more so the more flow. The range of
  validity ends at 10 (laminar) and 14. What helped is the firm step: at the 95th percentile,
  turbulent with backflow, torque is off by 29 % and pressure drop by 30 to 34 % from 14 layers on
  at most (35 and 50 before), laminar pressure drop at 10 to 14 layers and Re* below 5 by 32 % (37).
  Two treatments of their own were tried and not kept. Layers that take what their shear lets pass
  at once, a core that keeps its angular momentum until they take all flow and then turns as
  continuity asks (source and sink region of Owen, Pincombe and Rogers 1985, here with layers
  without history, laminar and turbulent by the 1/7 law): from 10 layers on, without and with
  backflow, torque is off by 17 and 37 % laminar and by 36 and 47 % turbulent in the median, against
  2, 5, 1 and 1 % of the modes; pressure drop by 1, 20, 22 and 11 %, against 2, 8, 2 and 4. The flow
  is too short: it leaves before layers forget the rim. And a thinner third mode, 1 - z^16: from 10
  layers on 95 of 100 gaps with backflow are within 32 instead of 37 % of torque and 21 instead of
  26 % of pressure drop laminar, 17 instead of 18 and 21 instead of 25 % turbulent, at the same
  cost. But at 6 to 10 layers, laminar with backflow, it doubles the error of torque (2 to 4 %), and
  of the six hundred most efficient of 20,000 random builds each, which a search is after, torque is
  off by 0.25 instead of 0.18 % in air, 0.08 instead of 0.06 in steam and 0.80 instead of 0.74 in
  vapour, and pressure drop of air and steam by 0.38 and 0.41 instead of 0.33 and 0.30 % (median). 1
  - z^14 lies between, 1 - z^6 as second mode costs more of both. The proof of a front judges such
  builds by the resolved level, which needs no treatment of its own: at Re* 0.1 its core slips by
  what linear theory of source-sink flow in a rotating cavity says, within 0.8 % at 14 and 0.5 % at
  20 and 30 layers, and torque by wall shear and by angular momentum agree within 0.03 %, with 50
  steps as with 100.
- Turbulence. Wall shear (Hirs as published) acts at the wall layer, so it bends the profile as
  well as slowing it, and mixing damps the bend. With friction spread over the width, as first
  tried, pressure drop was 3 % low at high swirl. Four constants (`turbulence_kernel.Turbulence`)
  are fitted once to the resolved level; tests/speed/test_speed_gap_averaged.py fits them again and
  compares.
- Pressure. The radial equation is weighted by the inflow itself. That makes it a balance of
  mechanical energy, in which the developing profile is the growth of its mean cube. A separate
  entry loss would count that twice.

The resolved level (`resolved`, `resolved_room_kernel`, `resolved_step_kernel`,
`resolved_eddies_kernel`, `resolved_sweep_kernel`, `resolved_pull_kernel`, `resolved_change_kernel`,
`resolved_exit_kernel`, `resolved_whole_kernel`, `resolved_mesh_kernel`, `resolved_march_kernel`)

- Speed. It is compiled. Newton's method keeps its slopes from step to step while they leave less
  than 0.15 of an error. Sums run along rows, four numbers at a time (`compiled.less`, `sum_rows`):
  rows of 12 are too short for the compiler to do so by itself. A march takes some 0.3 ms; with 14
  nodes and 50 steps it took 0.7, with sums of single numbers 0.8 to 1.5, as array code 5 to 13.
  Sweeps that swing about pass on three fifths of what they find. A match takes 0.9 ms on the front
  of lane-workshop: a first sweep of 0.27, a rough one of 0.1, and two changes of all stations of
  0.18 each; a third of it goes into factors, a fifth into Jacobians. It took 1.06 before pivots
  were looked for only where digits would be lost, and what is known at the stations behind was
  summed node by node.
- What saved no time. Eight numbers at once in registers of twice the width: a sixth slower. A first
  sweep to 1e-5, 1e-4 or 1e-3 instead of 1e-7: as many changes more, and 8 to 28 of 215 builds near
  the front of mill-race lose their point. Jacobians kept to a ratio of 0.3 instead of 0.15, and
  eddies as vectors with an exponential of our own: as long or longer.
- A coarse mesh. Half of the time of random builds went into those that have no matched point. Where
  a search finds none, a mesh of 8 nodes and 16 steps tells whether there is one, at a third of the
  work, and where there is, its march is the first guess. Its rim pressure is within 1e-5 (median)
  and 9e-5 (95 of 100) of the pressure drop near the front of lane-workshop, its torque within 9e-5
  and 5e-4. It is no better start for a build with backflow that a search settles: what takes time
  there is which nodes turn back, and that is as many changes from either start.
- A node turns back by degrees. Where fluid moves outward, its radial derivative comes from the
  bore side. Taken wholly from there as soon as the flux is negative, one node near zero leaps from
  one side to the other; mismatch and torque leap with it (4e-5, 0.4 %), and no rim pressure closes
  the flow: sweeps ended in a cycle of two or three. Now the bore side counts in full from an
  outward flux of a tenth of the mean inward one, and by its share below (`TURNED`). Of 212 builds
  on two fronts of the bundled study all settle (191 before), near the front 298 of 300 (290
  before). Power moves by 3e-5 in the median and 3e-4 at most. A fifth instead of a tenth does the
  same, a twentieth leaves 12 of the 212 unsettled.
- All stations at once. Repeated sweeps left 88 of 2,710 random builds of the bundled studies
  without an answer, of those that the averaged level matches. Some crept, some swung between two
  states, and in some a step near the rim failed. Near the front of lane-workshop 19 of 20 builds
  flow back at mid-gap, so sweeps took most of the time too. Now the equations of all stations are
  solved together as soon as a sweep near the matched point flows back (`resolved_change_kernel`,
  `resolved_whole_kernel`). A station looks ahead by its outward nodes alone, one or two of 14, so
  its change is found in terms of their few values: 1 ms for 50 stations, as long as a sweep, where
  a banded matrix took 12. Some three changes find the march and the rim pressure together, five
  without a rough sweep of the same equations before them. Keeping the factors of stations that
  hardly move saves as many of them as it takes changes more, and no time. Led
  in from a more viscous fluid where that fails, and then by sweeps, as many builds settle as did
  by sweeps first. Torque differs from theirs by 4e-5 in the median and 4e-4 for 95 of 100, as
  sweeps stop at a change of 1e-3.
- Mesh. A march has 12 nodes and 30 steps. Even steps in sqrt(t) with a first one of
  full length lost too much angular momentum in it, 0.1 %, which the march keeps: pressure drop of
  50 steps was off by 6e-4 in the median of front builds in air (8e-4 steam, 4e-4 vapour, 1e-4
  water). With 0.85 of its length and steps 0.7 as long at the rim and the bore, 30 steps are off by
  4e-4 (6e-4, 3e-4, 2e-4), and 1.5e-3 (1.5e-3, 8e-4, 6e-4) for 95 of 100, as 50 were. With backflow
  it is 5e-4 (1e-3, 7e-4, 2e-4), as it was, and 1e-2 (1e-2, 3e-3, 5e-4) for 95 of 100; 50 steps were
  within 4e-3. Torque hangs on the nodes: 12 with a stretch of 2 are within 3e-5 (2e-5, 1e-4, 3e-5)
  in the median and 8e-5 (2e-4, 6e-4, 2e-4) for 95 of 100, against 1e-5 to 4e-5, and 4e-5 (5e-5,
  5e-4, 7e-5) of 14 with 1.75. 10 nodes are within 3e-4 (vapour 9e-4), but leave 2 to 4 of 24 lanes
  with strong backflow unsettled (0). An odd number of nodes is worse than the even one below it.
  With 0.5 at the rim backflow is within 5e-3, but steps fail in gaps from 25 Ekman layers on.
  Where a match does not converge, 14 nodes and 50 steps are tried: of 3,276 random builds of the
  bundled studies that the averaged level matches, 3,052 have a point on the usual mesh and 3,092
  with the finer one behind it (3,041 on 14 nodes and 50 steps alone), for a quarter more time.
- At a fixed rim state. Without the lead-in, with backflow, fluid no slower than the discs and
  b^2 (V^2 - Omega^2 r^2) / (nu U r) up to 3,000, 92 of 94 laminar lanes settle (77 before) and all
  32 turbulent ones. Up to 1e5 it is 42 of 117 laminar (7 before) and 65 of 67 turbulent (51
  before), above that 1 of 88 and 42 of 86 (0, 15). A lane that fails costs 0.1 s or more.
- What did not do. Anderson's acceleration of the sweeps, with the rim pressure, settled half of the
  88. Holding the outward flux at that of the sweep before kept steps from failing, but not the
  sweeps from swinging. Newton's method on all stations with the share as in a sweep settled half:
  a node that has just turned back then still counts the side behind, against its own direction,
  and the equations of all stations may have no solution. With the side taken by the sign of the
  flux nearly all settle. Where both ways do, torque differs by 4e-6 in the median and 2e-4 for 98
  of 100 (laminar), pressure drop by 7e-5 and 2e-3.

Outward (`outward`, `outward_resolved`)

- One code. A pump's fluid lags the discs as a turbine's leads them. In the lag and the outward
  speed a few terms change their sign, at both levels: they have a factor `way`. At the averaged
  level it is a constant where the march is called, so the compiler leaves nothing of it. A turbine
  gives what it gave, to the last digit.
- A wrong sign hardly shows: that of the square of the lag moves swirl by 3e-5 and pressure by 0.2 %
  at a small flow. Three checks find one: creeping flow from a source with its first correction
  (54/35), the head lost against what the profiles dissipate, and profiles computed apart.
- Three modes against those: swirl at the rim within 5e-4, head within 0.2 % up to a flow
  coefficient of 0.1, laminar, Ekman parameters 2.5 to 6; the resolved level within 0.05 %. Of water
  partly and wholly turbulent the two levels differ by up to 1.3 % of head at Ekman parameters of
  5.3 and 7.1, and by up to 3.3 % at 10.6.
- The push that keeps the flow moves no profile. Outward, where it is large, each step waits for it:
  else a kept Jacobian leaves a share of its error, and extrapolation makes seven times that of it.
- Backflow. The core lags, lacks centrifugal force and is sucked back in wide gaps at a small flow,
  from an Ekman parameter of some 4 on; linear theory has mid-gap stand still at 2 pi. Such profiles
  are held as they are inward, and their share of the radius is told. It is wider than that of true
  backflow: profiles near standing count.
- Last digits. With the firm step of the averaged level, of 5,000 random pumps of fish-pond none
  changes sides with the last digit of the speed and all converge (4 and 7 before); in five pump
  studies none moves by more than 7e-9 of its shaft power (4e-3). Head moved by up to 1.5 % (blood)
  and 0.9 % (fish-pond), by up to 0.1 and 0.4 % for 999 of 1,000.
"""
