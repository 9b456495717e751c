"""Pages and charts made from a run.

A folder is a page: `run`, `compare`, `design` and `fit`, each with facts first, then words and
charts, then the page; `kit` is what they share. `watch` and `pictures` are one file each. What was
decided, why, and the number it rests on:

- Watching uses `http.server` of the standard library. Three fixed addresses for one reader on
  loopback need no framework, and one would bring routes, forms and uploads that had to be shut
  again. Only GET and HEAD are answered. A foreign Host header (a name pointed at this machine) is
  refused. No path of a file is ever formed from a request. The report stands in a frame,
  unchanged, so its policy still allows no connection; the frame around it asks for news. Making
  pages takes at most a tenth of the time, because the run needs the rest, and has a process of its
  own: a program cannot end while compiled code works in it. Ctrl-C is the only way a watch ends, so
  it ends with 0.
- Pictures keep letters as outlines, so an SVG needs no font. Text is never read as a formula.
  There is no date and the salt is fixed, so the same front gives the same bytes every time.
- Colours are told apart by simulated eyes of four kinds, light and dark
  (tests/reports/test_colours.py). On dark paper blue, sky and purple of the palette are moved for
  that.
- Templates of all pages lie in one folder, reports/templates; a section of a run's page is a file
  in its `run`.
"""
