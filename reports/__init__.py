"""Pages and charts made from a run.

A folder is a page: `run`, `compare`, `design`, `fit` and `live`, each with facts first, then words
and charts, then the page; `kit` is what they share. `watch` and `pictures` are one file each. What
was decided, why, and the number it rests on:

- Watching and trying (`kit/serving.py`) use `http.server` of the standard library. A few fixed
  addresses for one reader on loopback need no framework, and one would bring routes, forms and
  uploads that had to be shut again. Only GET and HEAD are answered. A foreign Host header (a name
  pointed at this machine) is refused. No path of a file is ever formed from a request. The report
  stands in a frame, unchanged, so its policy still allows no connection; the frame around it asks
  for news. Making pages takes at most a tenth of the time, because the run needs the rest, and has
  a process of its own: a program cannot end while compiled code works in it. Ctrl-C is the only way
  a watch ends, so it ends with 0.
- Pictures keep letters as outlines, so an SVG needs no font. Text is never read as a formula.
  There is no date and the salt is fixed, so the same front gives the same bytes every time.
- Four colours have a meaning on every page: blue is the fluid, tan metal, green what runs, red
  what fails and nothing else. What fails first is told by a mark, the same on every page
  (`kit/svg.py`). Four kinds of simulated eyes tell red apart, light and dark
  (tests/reports/test_colours.py).
- Templates of all pages lie in one folder, reports/templates; a section of a run's page is a file
  in its `run`.
"""
