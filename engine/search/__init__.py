"""Which builds next? It knows no physics and no files.

`space` turns a study into a grid of whole numbers. `staged` (or `sweep`, for a map) is asked for
builds and told what they gave. What was decided, why, and the number it rests on:

- Arrays for the cheap level. Optuna's NSGA-II costs 0.8 ms a design, more than the model will;
  ours (`evolve`) costs 0.01 ms. Optuna breeds where a design costs a hundred times more
  (`refine`).
- What is bred. Crossover and mutation of NSGA-II with distribution indices drawn anew for each
  child, and a third of the children by a difference of parents. With fixed indices 5000 designs of
  OSY and MW3 gave 0.91 and 0.86 of the front, now 0.96 and 0.92.
- Polish. A Pareto local search on the grid, from the whole front at once. Its starts are drawn
  evenly along an aim and beyond its ends, not over the designs, which crowd where it is easy;
  without the ends OSY stayed at 0.995. It uses no gradients: variables are mostly on a grid, and
  limits are known only where they are passed. Discs, gap and nozzle width are tied by the flow,
  hence moves in two and three axes.
- Rounds and the early end. After the polish a new evolution starts from random builds only. If it
  adds less than `TOLERANCE` to the hypervolume the search ends early: two independent climbs came
  to the same front.
- Refine. The front of a run is that of the closest level at which any design is feasible; where
  none is, that of the averaged level stays, as if the stage had been left out. With both levels in
  one front a flattering error would win. Half of the designs judge the old front, because many of
  its designs sit on a limit that the closer flow moves. NSGA-II beat the tree-structured Parzen
  estimator there, at a fifth of its time: 0.991 against 0.989 of a long search's hypervolume, 400
  designs, the coarse level made wrong by a few per cent. Gaussian processes take seconds a design.
  It is not among the usual stages: the resolved level costs a hundred times the averaged one, and
  the front is rechecked at it anyway.
- Proposals are made as they are needed. Random numbers are drawn for all of a generation, or its
  results would depend on how many are needed; builds are made in slices until enough are new. Near
  the end of a polish one proposal in seven is new: making all takes 22 us a design, slices 10.
  Loading SciPy's Sobol points takes a run 0.6 s.
- Going on. A generation depends on the seed, the stage, its number and the designs told before,
  and on nothing else. `Mark` names those designs by their numbers in the run and is kept with
  every part file.
- No growth with the run. Builds seen are hashes in sorted blocks that are merged like a binary
  counter (`population.Seen`); the front in mind is thinned beyond `FRONT` designs. 200,000 or a
  million designs: 13 to 16 us of processor time each from first to last, on busy cores.
- Maps repeat builds where Sobol points fall on the same grid point: remembering all of them would
  cost memory that grows. The front holds each build once.
- Measured, by `python -m pytest tests/speed/test_speed_search.py
  tests/search/test_published_problems.py -m speed -s`. Against the exact front of the 2,484,300
  builds of the coarse lane workshop: 20,000 designs reach 1.0000 of its hypervolume in the median
  of 11 seeds, 0.9999 at least; as many Sobol points reach 0.87. Against that of 24,082,500 builds,
  every 64th of a space: 0.999 after 11,000 designs and all of it after 23,000, at most, with three
  seeds. OSY, TNK and MW3 at 20,000 designs, median of 11 seeds: 0.998, 0.998 and 0.9955 of the
  front; pymoo's NSGA-II 0.997, 0.994 and 0.995, all designs evaluated counted for both. The bundled
  lane workshop, 30,000 designs: 0.999 to 1.000 of the union of seven runs. All four bundled turbine
  studies, seeds 1 to 4, the search alone: each front within 0.15, 0.11, 0.07 and 0.29 % of their
  union (lane, boiler, vapour, mill), from the worst of the first feasible designs. More polish was
  not needed.
"""
