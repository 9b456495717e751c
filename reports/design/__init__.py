"""One design: its build sheet, drawings and bench plan.

Outlines are plain data (`outlines`), drawn as SVG and DXF (`drawing`); tables and words make a
page to print. What was decided, and why:

- The web of a disc. The model knows only the share of the exhaust that is blocked. The sheet draws
  the web that blocks just that share: a hub and straight spokes, shaped as in
  `engine.physics.machine.web`, from which waves and peak stress are computed too. Spacers copy the
  web. Where the share is too small for that web, no sheet is made.
- The bench plan asks for readings with bands; how those are made stands in `engine.bench`. They
  stand in the units of the logs, and in the plan alone: the sheet is for making, the plan for
  running.
"""
