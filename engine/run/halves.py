"""Large generations evaluated in two halves, so that no core waits for Python's own work."""

from functools import partial

import numpy as np

from engine.columns import Builds, Results
from engine.model.lanes import rows_of
from engine.physics.compiled import TOGETHER, in_turns, n_threads
from engine.run.generations import Evaluate
from engine.run.parquet import joined
from engine.study.study import Study

FEWEST = 2000
"""Builds worth two calls: what each takes by itself is as much as 300 builds more."""


def in_halves(evaluate: Evaluate) -> Evaluate:
    """Evaluate as `evaluate` does, the halves of many builds in turns.

    Bands of a robust study and gaps that are resolved use all cores as they are.
    """

    def halved(study: Study, builds: Builds) -> Results:
        n_builds = len(next(iter(builds.values())))
        is_plain = not study.search.robust and study.search.flow == "averaged"
        if n_builds < FEWEST or not is_plain or n_threads() == 1:
            return evaluate(study, builds)
        halves = np.array_split(np.arange(n_builds), TOGETHER)
        calls = [partial(evaluate, study, rows_of(builds, rows)) for rows in halves]
        return joined(in_turns(calls))

    return halved
