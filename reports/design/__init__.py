"""One design: its build sheet, drawings and bench plan.

Outlines are plain data: of flat parts (`outlines`, `casing`, `carriers`) and turned ones (`turned`,
`turned_parts`), with sizes from `engine.model.shaft_layout`. `items` numbers them all. From there
come solids (`step`), cuts (`drawings.dxf`) and sheets (`drawing_set`), which are put on paper once
and written as SVG and as one PDF; tables and words make a page to print. What was decided, and why:

- The casing is a sandwich of flat plates on through bolts; a bearing sits in a turned carrier
  in a plate of its own: a cutter, a lathe and a drill press make all of it.
- A part is cut at its size less what is reamed, and a thread is drawn as its cylinder.
- The web of a disc. The model knows only the share of the exhaust that is blocked. The sheet draws
  the web that blocks just that share: a hub and straight spokes, shaped as in
  `engine.physics.machine.web`, from which waves and peak stress are computed too. Spacers copy the
  web. Where the share is too small for that web, no sheet is made.
- The bench plan asks for readings with bands; how those are made stands in `engine.bench`. They
  stand in the units of the logs, and in the plan alone: the sheet is for making, the plan for
  running.
"""
