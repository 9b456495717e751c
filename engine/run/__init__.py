"""A night of evaluations: ask, evaluate, store, go on."""
