"""One design: its build sheet, drawings and bench plan.

Outlines are plain data: of flat parts (`outlines`, `casing`, `carriers`) and turned ones (`turned`,
`turned_parts`, `fasteners`), with sizes from `engine.model.shaft_layout`. `items` numbers them all,
and then what no drawing shows (`loose`). From there come solids (`step`), cuts (`drawings.dxf`) and
sheets (`drawing_set`), which are put on paper once and written as SVG and as one PDF; tables and
words make a page to print. What was decided, and why:

- The casing is a sandwich of flat plates on through bolts; a bearing sits in a turned carrier
  in a plate of its own: a cutter, a lathe and a drill press make all of it.
- Sizes are rounded to what a shop reads (`shop_sizes`), and the build is computed again with them
  (`as_made`): drawings, files, sheet and plan are of that build, the report of the one searched.
  What a study states is not rounded. On fronts of three studies power moved by less than 0.1 %, and
  the margin by at most 0.5 %: spokes and the offset of the jets are never round.
- A part is cut at its size less what is reamed, and a thread is drawn as its cylinder, but for
  those of the carriers' plates, which are drawn as they are drilled.
- What a screw, rod, washer or nut is, how long and how many, stands once (`fasteners`, `loose`);
  remarks name none. Drawn items have the first numbers, so that lists and drawings agree.
- The generator's plate has blanks to fill in (`bracket`), as no frame fits all motors.
- Printed, the page has the arrangement and the exploded views; all drawings are in the PDF, once
  and true to scale.
- The web of a disc. The model knows only the share of the exhaust that is blocked. The sheet draws
  the web that blocks just that share: a hub and straight spokes, or round holes, shaped as in
  `engine.physics.machine.web`, from which waves and peak stress are computed too. Spacers copy the
  web. Where the share is too small for that web, no sheet is made.
- Rings on bolts (`ring_bolts`, `bolted_parts`). Their end clamps run beside the casing, so nothing
  may stand out of them: one is countersunk, the other tapped, and a collar is soldered to its face.
  A bolt is drawn as its cylinder; a countersink is a note.
- A pump has its own casing, words and plan (`collector`, `pump`); all else is drawn by one code.
- The bench plan asks for readings with bands; how those are made stands in `engine.bench`. They
  stand in the units of the logs, and in the plan alone: the sheet is for making, the plan for
  running.
"""
