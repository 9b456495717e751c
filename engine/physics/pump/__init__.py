"""What the fluid does before and behind the gaps of a disc stack that pumps, and the whole pump.

`build` is what of a pump the flow depends on, `flow` puts the stations together. What was decided,
why, and the number it rests on:

- No match. A pump begins at a known state, the suction flange, so head follows from one march
  outward (`gap.outward`). With the flow through the gaps as the unknown the leakage needs no search
  either (`flow.pump_through`); a given delivered flow takes 5 marches by the secant, one on a
  system as many as its root.
- Head. The work of the discs less every loss, station by station, is the rise of total pressure
  from flange to port; for a liquid both agree within 1e-9 (tests/physics/pump). For a gas the rise
  through the gaps is that of enthalpy at constant entropy, and density behind the rim is that at
  the rim.
- Swirl before the eye counts as none. What spokes or hub give to it is work of this shaft.
- Collector. The flow leaves along the tangent, so the swirl mixes into the throat with the loss of
  Borda and Carnot. Methods for bladed pumps that charge half of the swirl head make an ever larger
  throat best.
- Leakage leaves the gaps with all the work that any other fluid got, and brings nothing back: the
  loss of leakage is its flow times the head behind the rim.
- NPSH required is that at inception, at the lowest pressure between flange and gap. There is no
  blade edge; the 3 % drop of head of trade tests comes later.
"""
