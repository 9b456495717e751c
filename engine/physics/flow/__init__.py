"""The way of the flow: nozzles, ring around the discs, leakage, exhaust, and where they match.

In the order of the flow: `hose`, `short_duct` and `nozzle`, `rim`, the leakage past the end discs
(`outlet.collar_leakage`), a march through a gap, and the exhaust (`outlet`). `match` searches for
the rim pressure at which all of them agree; `losses` then says where the power went. Files ending
in `_kernel` are the same in compiled code. What was decided, why, and the number it rests on:

Stations

- Choking is decided in two places. The throat's pressure and flux are those of the supply alone:
  `nozzle.nozzle_from_supply`, which asks the fluid (`Fluid.critical_pressure`). Whether the throat
  chokes at a rim pressure is decided in `nozzle_kernel.jets`.
- Convergent-divergent nozzles. Momentum holds at the exit plane; with a shock inside, continuity
  and energy do. The two meet at the normal shock in the exit plane, so over-expansion is charged
  without a special case.
- Edges of the discs. Their drag is taken from the ring as well as given to the rotor, in angular
  momentum and in energy. Charging it to the rotor alone counts that power twice.
- Casing friction. The ring is as thin as the rim clearance, so a channel law (Hirs) on that
  clearance is used; its factor is about 0.006.
- Rims of end clamps as wide as the discs. Jets are as high as the stack, so these turn beside the
  ring, in fluid of their own speed (`clamp_rims`); where it is slower than they, it brakes them.
- Churning. Where the disc edges would do more than 50 kJ/kg of work on the ring, no steady state
  is near, and the lane says so (`Reason.CHURNING`).
- Losses. Each is the rise of the enthalpy left after an isentropic expansion to the back pressure.
  They telescope, so the sum is exact, and a negative loss would show an error. Wall friction is
  worth its power times the ratio of end to local temperature.

- Coefficients of the nozzles stand before the match: friction takes flow from a choked throat
  whatever lies behind it. Their speed counts the pressure behind the exhaust for that around the
  rim, which moves it by less than 0.5 % where the rim is at 2 bar and the land is short.
- Behind the throat of a convergent-divergent nozzle the walls take 0.4 to 1.4 % of the jet's speed
  at area ratios of 1.15 to 1.3 (`short_duct.divergent_velocity`); the flow is that of the throat.
- Uneven gaps. The exhaust gathers the flow, so gaps at an outlet pass more (`manifold`): 0.2 % of
  the mean in the best builds of the bundled gas studies, 3.5 to 4.6 % in the mill. Only the front
  gets the number: it costs a second match a design and moves no power that could be told.
- Spokes. Discs and spacers have the same web, so three to twelve walls turn in the exhaust all
  along the stack. They take 1 - 1 / (2 spokes) of the angular momentum that the flow has beyond
  theirs: +7, +18, +26 and +11 % of electric power on the bundled fronts of before (air, steam,
  vapour, water; medians). A kinematic estimate (flow that meets a spoke before it leaves: 0.1 to
  0.9) is far off in short stacks, where the solution in the sector shows that pressure between the
  walls turns the flow at once; Wiesner's slip (0.54 for three spokes) is too low too.
- Hollow core. Only the share of the exhaust that the spokes do not take along leaves as a free
  vortex. In an exhaust without walls the core would cost 0.4, 0.6, 3 and 13 % there.

The match

- Fewer marches. The search starts at 5 % of the pressure drop with the slope of a rigid drop. It
  takes marches of 8 steps until the mismatch is 0.01, then of 30 steps, by secants in a bracket,
  until the mismatch is within the residual: 2.1 short and 2.7 whole marches a point.
- Samples of one design lie together and differ little. The first is matched as any lane, the
  others start from its rim pressure, slope and ring with whole marches: 3.0 of them a point, for
  three quarters of the time.
- Two roots. Where flow turns back the mismatch is not quite monotone, and one lane in some 300 has
  two roots up to 1 % apart in rim pressure. Which is found depends on where the search starts.
- Fluid slower than the discs. The layers on the discs throw part of it back out at the rim. Many
  such builds were refused once, as the averaged mismatch crossed zero many times. Now that each
  step is solved with the middle of what was expected and found, it crosses once nearly everywhere:
  of 3,258 builds of the four turbine studies that were refused 1,996 have an operating point, 951
  pump against the supply, 309 churn and 2 do not converge. What is rough still, and refused, are
  liquids in gaps beyond an Ekman parameter of 10 that are turbulent in part (`rim.are_thrown_out`).
  Gas and vapour are followed there: 93 % of the builds of greenhouse-vapour that can exist have an
  operating point (76 % before); in 5 % leakage takes up all the flow or the discs pump against the
  supply, 2 % churn. At the resolved level 11 of 20 of the builds gained have one too, within 1.2 %
  of the isentropic power; 9 do not settle.
- Both levels. Of 95 builds refused before, with an operating point at the averaged level, the
  resolved level, matched from that answer on, has one too for 60, and does not settle for 35. It
  never found that there is none. Median and largest difference of rim pressure over the drop: 0.09
  and 0.7 % (air), 0.05 and 0.3 % (steam), 0.4 and 1.2 % (vapour), 0.7 and 1.2 % (water). From
  anywhere else its search meets marches that come to no end, up to the supply pressure; that was
  taken for fluid pumped outward once, and is a lane that did not converge now. Led in from fluid as
  fast as the discs, 3 of 17 lanes that do not settle do, at 20 s a lane: not worth it.
- Flow into the gaps costs 0.8 us a pass, a fifth of a match. The fixed point of the ring is
  extrapolated from three passes; lanes that have settled wait for the rest of their pack.
- The resolved level starts from the averaged answer. Where flow turns back, the march is repeated
  while the search for the rim pressure goes on, and each sweep learns from the one before: 3 to 5
  sweeps a point instead of 7 marches of several sweeps each (`match_resolved_kernel`). Where that
  fails, all stations of the march and the rim pressure are solved for in turn, from the averaged
  answer on: the first sweep leaps where a node turns back, and some searches end at such a leap.
"""
