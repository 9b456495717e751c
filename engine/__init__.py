"""Maths, search and files of swirlstack.

In layers; each imports only from those below it:

`face` (installed as `swirlstack`), `cli`: notebooks and the command line.
`console`, and `reports` beside this package: what the user is shown.
`run`, `bench`: a night of evaluations; what the real machine says.
`bands`, `search`: how a build may turn out; which builds next.
`model`: what one build gives.
`study`: what was asked.
`fluids`: what flows.
`units`: text with a unit to SI.
`cache`, `columns`, `catalogue`: what is kept, what it is called, what it is made of.
`files`: files that are whole or absent.
`physics`: what nature does, arrays in, arrays out.
`errors`: what can go wrong, and how to mend it.
"""

__version__ = "0.1.0"
