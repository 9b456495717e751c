"""And as it may turn out? The same build many times, with everything that is uncertain drawn.

`inputs` draws samples, `results` sends them through the model, `sources` says what a band comes
from. What was decided, why, and the number it rests on:

- One draw for all. A sample draws each coefficient and the supply once for all designs, and each
  tolerance as a share of the design's own width. Designs then differ by what they are, not by
  luck, and a robust search compares them fairly with 32 samples.
- Distributions. Normal for coefficients and supply, flat for tolerances (a half-width says no
  more; JCGM 100:2008, 4.3.7), both cut at what the number may be. Cutting shifts the mean of a
  coefficient near 1 a little downward; that is meant.
- Quantiles of 256 samples. By themselves they stray 1 to 2 % from those of 16,384. Parabolas
  through the samples, one an input, have quantiles that cost nothing; what the 256 miss of those
  is put right (control variate). Then P10 of power is within 0.6 % on the front of
  studies/lane-workshop.yaml for three seeds. It needs four samples a term, so the 32 of a robust
  search go without: up to 4 % off, nearly alike for neighbours. Fifty designs take 0.75 s, Sobol
  indices of a design 0.25 s (`python -m pytest tests/speed/test_speed_bands.py -m speed -s`).
- Matches. Samples of a design start from the match of its first (`engine.physics.flow`): 39 us a
  sample instead of 51, of which matches take 24. Where a sample stops then differs from where it
  would alone, within the residual: bands of the front of studies/lane-workshop.yaml differ by 2e-7
  of themselves in the middle and by less than 2e-6, but for spare power near nothing. Two ways to
  guess nearer were no gain: parabolas through the first half of 256 samples spare a quarter of the
  others one march of three; a short march first costs what it spares.
- Lost samples. A sample without operating point has no power (0 W) and misses every limit. Other
  results are taken over the rest, and have no band where more than a tenth is lost.
- Levels. Samples are averaged across the gap even where the front is resolved, and scaled by the
  ratio of the two: a hundredth of the time.
- Gap hold counts the spacer tolerance at its worst already; the drawn mean gap adds a little.
- Robust studies become studies of other columns while they are read: aims `electric_power_p10`,
  limits `gap_hold_p10` and so on. Search, folder and report know nothing of it; but a run samples
  only designs that may change the search (`engine.run.sampled`).
"""
