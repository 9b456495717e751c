"""Large generations evaluated in two halves, so that no core waits for Python's own work."""

from functools import partial

from engine.columns import Builds, Results
from engine.physics.compiled import in_turns, n_threads
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
        middle = n_builds // 2
        halves = [
            {key: values[part] for key, values in builds.items()}
            for part in (slice(middle), slice(middle, None))
        ]
        return joined(in_turns([partial(evaluate, study, half) for half in halves]))

    return halved
