"""The turbine's physics: arrays in, arrays out.

`plane` stands on `flow`, `flow` and `machine` on `gap`, that on `fluids`, all on `compiled` and
`arrays`. Formulas of fluids, gap and flow are written once, in functions (`*_kernel.py`) that Numba
compiles; the public functions beside them take arrays, by keyword, and say in their docstrings what
they mean. What was decided for compiled code, why, and the number it rests on:

- Packs. Fluids, nozzle, rim, leakage, exhaust, the averaged gap and the match take eight lanes
  through each line together, in vector registers. The public functions cut their arrays into packs
  (`compiled.take`, `compiled.put`), so there is one copy of each formula. A matched point costs
  about a thirtieth of the array code before: 643 us to 21 us of one core, both on a loaded
  machine, and 35 us while the march alone went in packs. A march went from 43 us to 4 us; lane
  after lane it takes 9, because a step is a chain of dependent operations and a core would wait
  most of the time. A lane's answer does not depend on its company, bit for bit
  (tests/physics/test_compiled.py).
- Kernels take positional arguments, as compiled code does. The rules on docstring sections and
  keywords leave them out.
- What keeps a loop over a pack from becoming vector code, each found in the machine code
  (`inspect_asm` of a function compiled afresh):
  a call in it, so logarithms and powers stand in loops of their own, and the square root is our
  own instruction (`compiled.root`);
  a loop inside it over anything but a constant, so all fits of a gas have `TERMS` terms;
  results written to rows of an array that came as an argument, which may overlap for all the
  compiler knows, so they are written to a `line` or `table` of the function's own and copied;
  and loops so short that they are unfolded first.
  A third of a march had stayed scalar for these reasons. Its numbers are the same to the last bit.
  Numba's other way to vectors (the setting NUMBA_SLP_VECTORIZE) made the match twice as slow.
- No fused multiply-add. Which functions are compiled into which depends on what lies on disk
  already. The number of fused operations in one and the same function differed between folders of
  compiled code, and with it the last digit of a loss between two processes. Rounding each product,
  as the language says, makes the numbers independent of that and costs nothing (39 to 44 us a
  build either way).
- Threads end with the call: Numba's own pool survives neither a fork nor two callers.
  `SWIRLSTACK_THREADS=1` suits worker processes.
- Compiled code is kept on disk, in the user's cache folder, or beside the modules where that may
  not be written. Its folder is named after a digest of all that it depends on (`machine_code.py`):
  two environments with the same sources share it. Without any place to write, code is compiled in
  each process.
- What several entries need is compiled once (`compiled.shared`): properties of fluids, arrivals,
  departures, both marches. A first run took 68 s of processor time where each entry had its own
  copy, and now takes 54 s, 19 s of it the run itself; both of two processes are busy to the end
  (`engine/run/ahead.py`). A match is as fast as before: what is shared was called as a function
  within each entry too. Optimising the code of parts less before it goes to its callers would save
  another twentieth, but makes the match a sixth slower.
"""
