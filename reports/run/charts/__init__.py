"""The charts of a run's report, one a module.

What was decided, and why:

- The parallel view (`whole_front`). Its axes lie flat and its lines run down, so that it fits a
  phone as it fits a desk. It is drawn as plain lines, not with the library's own kind of chart,
  which neither prints well nor can draw the marked builds a second time, on top.
- Stress through the disc (`stress`) is spin and heat together, with the tension of the bore as the
  stress margin counts it. Where yield is more than twice the largest stress it is named at the
  edge, or the curves would lie flat.
- The map of two variables (`map`). One grid a pair is made with the page (30 cells an axis at
  most, some 10 kB a pair), so the page need not hold every design. A cell holds whole values of a
  range: cells of one value beside cells of two would look like structure.
- The flow in the plane of the discs (`plane`) is unrolled, not drawn as a ring: the clearance is a
  fiftieth of the radius, and jets and paths would lie on top of each other. Its colours are the
  same on dark paper, as those of the map are.
"""
