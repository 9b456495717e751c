"""The report of a run: facts first, then words and charts, then the page.

`make` reads a run folder, `facts` reduces it to numbers, `wording` writes the sentences, `charts`
draws, `page` fills the template. What was decided, why, and the number it rests on:

- What a step changes (`steps`) is taken to the next value of the study's range, not by a
  tolerance: that is the choice the reader has, and how strongly a dimension acts shows in both. A
  range without a step moves by a fiftieth of itself.
- A page from millions of designs. Counts come from run.json. Nearly equal builds and the shares of
  two-sided limits come from an even sample of 200,000 designs (`make.SAMPLE`), and the page says
  so.
- One build leads, the pick of `engine.run.pick`, with two calmer ones beside it. The first screen
  answers which, what it gives, how near it is to failing and whether it is worth it
  (`opening`); a table of twelve rows (`choice`) takes pinned builds as columns; all else is folded.
- Charts are SVG, drawn when the page is made, and no charting library is carried: with 400 designs
  on its front and 20,000 searched a page stays below 400 kB, where it was 5.2 MB. What spans the
  page is drawn for three widths, since letters that shrink with a chart cannot be read on a phone.
- The table of builds is drawn by the script when its fold opens: as text it would weigh as much
  as the rest of the page. Paper holds the builds shown and the pinned ones.
- Of a long front, chart and table show 200 (`listed`): 1,071 of the mill took 176 kB, and no more
  dots than that can be told apart in the chart.
- Left out of the page on purpose: lines across all axes, charts of a variable along the front and a
  map of two variables. They repeated the front; nearly equal builds say what may be chosen.
"""
