"""A study of a pump: `kind: pump`. The same question as of a turbine, in other sections.

How a kind of machine is known. `columns_of` (`engine.columns`) says which columns a kind has and
in which words; `engine.study.kinds` gives the study class of a kind with the models of its
sections; `Study.kind` says which one a study is. So limits, aims, keys, schema and messages ask
one of these two, and only `evaluate` (`engine.model.evaluation`) and the page choose by kind.

- Shared numbers are not written twice. `machine` takes the declaration of every number in
  `pump_columns.SAME_MACHINE` from the turbine's model, with its bounds, and gives it another usual
  value where a pump needs one.
- A pump takes what it is given at its suction flange and delivers a `duty`: a flow, or the flow at
  which its head meets a static head and a loss that grows with the square of the flow.
- Keys of the other kind are refused in words, each at its line.
"""
