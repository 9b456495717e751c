"""The report of a run: facts first, then words and charts, then the page.

`make` reads a run folder, `facts` reduces it to numbers, `wording` writes the sentences, `charts`
draws, `page` fills the template. What was decided, why, and the number it rests on:

- What a step changes (`steps`) is taken to the next value of the study's range, not by a
  tolerance: that is the choice the reader has, and how strongly a dimension acts shows in both. A
  range without a step moves by a fiftieth of itself.
- A page from millions of designs. Counts come from run.json. The cloud, the map and the shares of
  two-sided limits come from an even sample of 200,000 designs (`make.SAMPLE`), and the page says
  so.
- Size and speed of a page. The page of a night must stay below 6 MB, of which the drawing library
  is 4.8, and is 5.2. It answers in 0.9 s on two busy cores, because only the first chart is drawn
  at once and the others one by one after it (`python -m pytest tests/speed/test_speed_page.py -m
  speed -s`).
"""
