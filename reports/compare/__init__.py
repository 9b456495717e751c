"""Several runs side by side on one page.

What was decided, and why:

- All runs stand on the first two aims of the first one. A line shows what a run reached at a level
  or better, so lines are stairs. Leads are read off at every step of any stair, and runs within 1
  % are even.
- Volume is counted from the worst of each aim on any front, so it needs no number of ours. With
  three aims in common it is a volume, else an area.
- A key that a study leaves out equals the same key stated with its usual value.
"""
