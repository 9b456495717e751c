"""Several runs side by side on one page.

What was decided, and why:

- All runs stand on the first two aims of the first one. A line shows what a run reached at a level
  or better, so lines are stairs. Leads are read off at every step of any stair. Runs are even
  within 1 %, or where nine pairs of builds in ten would not keep the lead: the ends of both bands
  count as independent, which errs towards even, as supply and coefficients are the same for both.
- The page says first whether the builds differ, as power often does not. Numbers fitted to a bench
  log are believed before usual ones.
- Volume is counted from the worst of each aim on any front, so it needs no number of ours. With
  three aims in common it is a volume, else an area.
- A key that a study leaves out equals the same key stated with its usual value.
"""
