"""One build tried live in the browser: knobs, and what each turn gives.

Two processes compute: one gives the numbers of a turn, which is one evaluation; the other what
takes longer (bands, a lost load, the recheck, a curve, a climb), so that no turn waits for it. The
server only passes texts on. What was decided, and why:

- A request carries values as texts, `gap=0.3 mm`. They are read by the declarations of the study
  file, so what is wrong, huge or unknown is refused with the same words. Values of the supply make
  another study; few are kept.
- Work of a request is bounded: one build, one curve of `MOST_POINTS`, one climb, `MOST_KEPT` builds
  of a study. A request waits for `MOST_WAITING` others at most, else it is told to come again. A
  process that takes longer than `LONGEST` is ended and started anew.
- A request that another site makes a browser send is refused: it could read nothing, yet keep
  the machine busy.
- The state of the page stands behind the # of its address, which no browser sends anywhere.
"""
