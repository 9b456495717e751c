"""What does one build of a pump give? Builds in, results out; `evaluation` alone knows the order.

- The mechanics of a stack are those of a turbine. `stack.stack_of` gives a pump's build the names
  that they know: its eye is the bore of the discs, its motor's highest speed the generator's, its
  overspeed the trip's. So stresses, waves, shaft, bearings and gap hold have one source.
- The flow starts from the suction flange and is marched outward once; the head follows
  (`engine.physics.pump`). Where the duty is a system, `duty` finds the flow at which both heads
  meet, the largest of several.
- Builds may state a flow of their own (`evaluation.DUTY_FLOW`), for a curve, a bench plan or a log.
- A front is rechecked with the gap flow resolved, at the same flow through the gaps: head, and how
  far it differs. Above 2 %, or where fluid flows back and nothing is confirmed, a note says so; no
  build falls for it.
- A pump that is switched off stops, and none runs away: there is no trip, and no column of one.
"""
