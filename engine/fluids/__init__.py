"""What flows? From a study's word for a fluid to a fluid that the physics takes.

`by_name` knows what a study may name. `gas_fit` and `vapour_table` make numbers from samples of
CoolProp, which `engine.cache` keeps on disk; `engine.physics.fluids` reads them. What was decided,
and the number it rests on:

- Vapour tables are made for what happens between one supply and one exhaust, in 0.05 s. Each is
  checked against direct calls as it is made, takes more terms near the critical point, and is
  refused beyond an error of 0.1 %. Steam then evaluates about as fast as air.
- Gases are fitted once for all studies from samples of thin gas and its second virial coefficient.
"""
