"""The refine stage, and fronts exported to Optuna. Only this module uses Optuna.

With the gap flow resolved an evaluation is so slow that a slow sampler pays off. First the front of
the other stages is evaluated again, or as much of it as half of the designs allow. The rest of the
designs are bred by Optuna's NSGA-II around that front, from all designs with resolved gap flow.
"""

import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import optuna
from numpy.typing import NDArray
from optuna.distributions import (
    BaseDistribution,
    CategoricalDistribution,
    FloatDistribution,
    IntDistribution,
)
from optuna.exceptions import ExperimentalWarning
from optuna.samplers import NSGAIISampler
from optuna.samplers.nsgaii import PolynomialMutation, VSBXCrossover
from optuna.storages import JournalStorage
from optuna.storages.journal import JournalFileBackend

from engine.columns import COLUMNS
from engine.files import storage_error
from engine.search.population import Population
from engine.search.space import Index, Space
from engine.study.study import Study

MARGIN = 0.05
"""How far to go beyond the front of the other stages: share of an axis, at least one step."""
PARENTS = 40
"""Number of best designs to breed from."""
TRIES = 20
"""Children bred for each new design wanted, before fewer designs are accepted."""

_DIRECTIONS = {
    "maximise": optuna.study.StudyDirection.MAXIMIZE,
    "minimise": optuna.study.StudyDirection.MINIMIZE,
}
_GENERATION = "NSGAIISampler:generation"  # by this attribute Optuna's sampler finds its population


def proposed(
    front: Population,
    resolved: Population,
    *,
    n_builds: int,
    judged: int,
    space: Space,
    seeds: Sequence[int],
) -> Index:
    """Propose builds to evaluate next with resolved gap flow; none was evaluated so before.

    Parameters
    ----------
    front
        Front with averaged gap flow.
    resolved
        Every design evaluated with resolved gap flow so far.
    n_builds
        Number of builds; fewer where the neighbourhood of the front has no more.
    judged
        Largest number of designs of the front to evaluate again.
    seeds
        Seeds of the random numbers.
    """
    again = spread(front, judged)
    if len(resolved) < len(again):
        return again[len(resolved) : len(resolved) + n_builds]
    seed = int(np.random.SeedSequence(seeds).generate_state(1)[0])
    near = _near(front, space)
    known = set(map(tuple, resolved.index.tolist()))
    found: list[tuple[Any, ...]] = []
    with _quiet():
        sampler = NSGAIISampler(
            population_size=min(PARENTS, len(resolved)),
            crossover=VSBXCrossover(),
            mutation=PolynomialMutation(),
            seed=seed,
        )
        study = optuna.create_study(directions=["maximize"] * front.merit.shape[1], sampler=sampler)
        study.add_trials(_trials(resolved, near))
        for _ in range(TRIES * n_builds):
            params = study.ask(near).params
            build = tuple(params[key] for key in near)
            if build not in known:
                known.add(build)
                found.append(build)
            if len(found) == n_builds:
                break
    return np.array(found, dtype=np.int64).reshape(len(found), len(space.axes))


def spread(front: Population, n_designs: int) -> Index:
    """Take the builds of a front; if there are more than `n_designs`, those evenly along it."""
    order = np.lexsort(front.merit.T[::-1])
    merit = front.merit[order]
    scale = np.ptp(merit, axis=0)
    steps = np.abs(np.diff(merit, axis=0) / np.where(scale > 0, scale, 1.0)).sum(axis=1)
    along = np.append(0.0, np.cumsum(steps))
    if len(order) > n_designs:
        wanted = np.linspace(0.0, along[-1], n_designs)
        order = order[np.unique(np.searchsorted(along, wanted).clip(0, len(order) - 1))]
    return front.index[order]


def write_journal(path: Path, study: Study, front: Mapping[str, NDArray[Any]]) -> None:
    """Write a front to a journal file, as an Optuna study of finished trials in drawing units.

    Raises
    ------
    StorageError
        Where it cannot be written.
    """
    keys = [axis.key for axis in Space.of(study).axes]
    drawn = {key: _drawn(key, front[key]) for key in (*keys, *study.aims, "design")}
    named: dict[str, BaseDistribution] = {
        COLUMNS[key].name: CategoricalDistribution(tuple(sorted(set(drawn[key]))))
        if COLUMNS[key].is_text
        else FloatDistribution(min(drawn[key]), max(drawn[key]))
        for key in keys
    }
    done = [
        optuna.trial.create_trial(
            params=dict(zip(named, build, strict=True)),
            distributions=named,
            values=list(values),
            user_attrs={"design": int(design)},
        )
        for build, values, design in zip(
            zip(*(drawn[key] for key in keys), strict=True),
            zip(*(drawn[key] for key in study.aims), strict=True),
            drawn["design"],
            strict=True,
        )
    ]
    try:
        with _quiet():
            storage = JournalStorage(JournalFileBackend(str(path)))
            made = optuna.create_study(
                storage=storage,
                study_name=study.title,
                directions=[_DIRECTIONS[way] for way in study.aims.values()],
            )
            made.set_metric_names([COLUMNS[key].name for key in study.aims])
            made.add_trials(done)
    except OSError as error:
        raise storage_error(path, error) from error


def _trials(
    population: Population, distributions: dict[str, BaseDistribution]
) -> list[optuna.trial.FrozenTrial]:
    """Finished Optuna trials of designs, with their violation as constraint."""
    rows = zip(
        population.index.tolist(),
        population.merit.tolist(),
        population.violation.tolist(),
        strict=True,
    )
    return [
        optuna.trial.create_trial(
            params=dict(zip(distributions, index, strict=True)),
            distributions=distributions,
            values=merit,
            constraints={"violation": violation},
            system_attrs={_GENERATION: 0},
        )
        for index, merit, violation in rows
    ]


def _near(front: Population, space: Space) -> dict[str, BaseDistribution]:
    """Box around a front, as indices on the axes; all words of an axis of words."""
    reach = np.maximum(np.ceil(MARGIN * space.counts), 1)
    low = np.maximum(front.index.min(axis=0) - reach, 0).astype(int)
    high = np.minimum(front.index.max(axis=0) + reach, space.counts - 1).astype(int)
    return {
        axis.key: CategoricalDistribution(tuple(range(axis.count)))
        if axis.is_text
        else IntDistribution(int(low[i]), int(high[i]))
        for i, axis in enumerate(space.axes)
    }


def _drawn(key: str, values: NDArray[Any]) -> list[Any]:
    """Words, or numbers in the drawing unit without the rounding error of the conversion."""
    if COLUMNS[key].is_text:
        return [str(value) for value in values]
    return [float(f"{value:.10g}") for value in COLUMNS[key].to_drawing(values)]


@contextmanager
def _quiet() -> Iterator[Any]:
    """Silence the messages of Optuna, and restore its verbosity."""
    verbosity = optuna.logging.get_verbosity()
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ExperimentalWarning)
            yield
    finally:
        optuna.logging.set_verbosity(verbosity)
