"""A night of evaluations: ask, evaluate, store, go on.

`launch` chooses who evaluates, `runner` keeps the clock and the signals, `generations` does one
generation after the other, `folder` stores them. What was decided, why, and the number it rests
on:

- Same front whatever happens. Random numbers follow from seed, stage and generation. Results are
  rounded as stored before the search sees them. Lanes do not know each other, so chunks joined in
  order are the generation (tests/run/test_workers.py compares to the last bit). Where a part ends
  therefore changes nothing. Parts are closed after 10,000 designs or a minute, whichever is first.
- Damaged parts. The search goes back to where the parts before end, evaluates its generations
  again up to the first design of the next whole part, and writes them in place of the damaged
  ones. At the end of a run there is no next part, and the run simply goes on from there. run.json
  is counted anew from the parts, front.parquet written anew. A part of another run or model is no
  damage and is refused.
- Workers are spawned by `concurrent.futures`, which ends all processes of a pool when one dies.
  What had finished is kept, the pool is made anew and the rest evaluated again. A supervisor of
  our own would keep the other processes, at a hundred lines for a rare event. Three deaths without
  a chunk between them end the run with a message. A thread in each worker waits for its parent, or
  workers would outlive a killed run. Each takes threads / workers threads. The run is one of the
  processes: a worker starts with it where generations are large, and takes 2 s of processor time
  to start, in which the run evaluates all itself, and then its share. 100,000 designs in
  generations of 4000 on two processes take 9.7 s of processor time, 16.2 s where the run waits for
  two workers. What a call takes by itself is as much as 300 builds more, so a chunk is what there
  is for a worker, and generations that give each less than 500 plain builds are evaluated by the
  run itself. A design on its way back takes 3.4 us in all, as words are sent once (`words`);
  shared memory would save a third of that.
- A large generation is evaluated in two halves by two threads (`halves`), and so are the samples of
  a front, the sources of its bands and the factors of `rubbing`. Of 53 us of processor time a build
  of 4000, 16 are Python's own and were one core's alone. Left to themselves two threads wait for
  each other at every small step, so only one works in Python at a time (`compiled.in_turns`): 57 us
  a build, on both cores. Of a run of 200,000 the main thread then has 9 s of processor time to
  itself instead of 19, on a busy machine. All threads take memory from one heap (`heap`), or each
  would keep what it frees: 680 MiB instead of 602 for 30,000 builds.
- Parts are packed and written in a thread behind the run (`behind`): an eighth of the time of one
  run. Half of it is spent in the library: a file without compression takes it as long.
- A grid of more than two million builds is not stored whole (`thinned`). Of the lane workshop nine
  builds in ten are ruled out by a bound that needs no flow, and what differs only in nozzles is
  judged once. 24 million builds (tests/speed/test_speed_large_grid.py): 6.6 us of processor time
  each, 111 s on two cores, 673 MiB, 238 MB on disk.
- History stands in the notes of each part, so it is as whole as the part and needs no file of its
  own; at most 200 rows a part. Its hypervolume is measured from the worst of the first feasible
  designs, which the seed fixes.
- Front of a running run (`unfinished`). The stored designs are read in the few columns that the
  page needs, and the designs of the front are worked through once more. Runaway is found only for
  the marked ones, and there is no recheck.
- If the casing rubs half or twice as much (`rubbing`). Stored designs alone miss the best build
  there, which needs steps on several axes at once: on the stand-in of the tests they find 78 % of
  its power. Fifteen generations bred from them, 4,500 builds a factor, find it; three marked
  builds take 0.9 s of one core, and the answer is kept in rubbing.json.
- The front that tolerances leave (`firm`) is looked for when the search has ended, from its stored
  designs, so a kill there costs no more than the stage itself. Its designs are stored in one part,
  marked as tried beside the search, which the next start of a killed run drops and makes again.
  On the lane workshop 67 of 176 designs as drawn were on that front; looking for it adds a fifth
  to what it covers, for 6 s of one core (steam: 20 s), and seven times the samples add another
  hundredth. 32 samples are within 2 % of what 256 with their parabolas give for the power's poor
  end and 1 % for the margin's; which limits hold in nine of ten came out alike for all 176.
- A robust search samples half of its designs, and comes to the front of all (`sampled`).
- The build to cut (`pick`) and what commands call the designs of a run (`chosen`).
- run.log is the logger `swirlstack` with a file handler for the time of the run; a notebook that
  listens to it sees the same lines.
- Check answers soon (`preview`, and `engine.cli`). From the second time on it takes 1.3 to 1.8 s
  on a machine whose speed swings by a third; at first it took 4.5 s. `import numba` alone takes
  0.5 to 0.8 s there, and what Numba looks up at its first call 0.2 to 0.3 s. What it took to get
  there: it imports no evolution, no file format, no report, none of SciPy's parts and no resolved
  level. For shares of 512 builds a plain random draw is as honest as Sobol points and strays by a
  few points at most. Numba would load SciPy's linear algebra, 0.2 s, only to learn that it is
  there (`compiled._load_array_maths`). Code on disk costs 20 to 80 ms a function to load, so all
  arrays of states are read by one (`fluid_kernel._read`). What pint knows of a unit (factor,
  offset, dimension) is kept on disk, one small file a unit, so pint and its definitions are loaded
  only for a unit never met before. Its own cache would pickle, and nothing here reads a pickle.
  Loading makes many objects and little garbage, so no garbage is looked for meanwhile, nor among
  those objects afterwards (`gc.freeze`): half a second. Pydantic's defer_build made it slower.
  tests/commands/test_cli.py says what a check may not load.
- Soak. `python -m pytest tests/run/test_soak.py -m soak` kills runs at fifty random instants, half
  of them with the last part cut short and torn files left, and expects the same bytes each time. A
  form with three kills runs with the other tests.
- Measured, by `python -m pytest tests/speed/test_speed_sweep.py -m speed -s`. Ten million designs
  of a stand-in model: 348 MiB at most from the first million to the last, about 4 us a design
  throughout, 425 MB on disk.
"""
