"""Which inputs a band comes from: their Sobol indices. Only this module uses SALib."""

import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.bands.inputs import drawn, inputs
from engine.model import evaluation
from engine.model.circuit import FAMILY
from engine.model.evaluation import LATE_COLUMNS, builds_of
from engine.physics.arrays import repeated
from engine.physics.compiled import in_turns
from engine.study.study import Study

SAMPLES = 256
"""Base samples of a design; the model is evaluated (inputs + 2) times as often."""
EXPLAINED = ("electric_power", "safety_margin")
"""Results whose bands are traced to their inputs."""

INSIDE = (1e-6, 1 - 1e-6)
"""Ends of the probabilities drawn: at 0 and 1 a normal distribution is infinite."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Indices:
    """Shares of the variance of a result, one for each input."""

    inputs: tuple[str, ...]
    first: Floats
    """Share that disappears when only this input becomes known."""
    total: Floats
    """Share that is left when all other inputs become known."""


def sobol_indices(
    answer: Callable[[Floats], Floats], names: tuple[str, ...], *, samples: int, seed: int
) -> list[Indices]:
    """First-order and total indices of each answer over the unit cube of its inputs.

    `answer` takes points, (point, input), and gives numbers, (point, answer). The indices of an
    answer that does not vary are 0. `samples` is a power of two; `answer` gets (inputs + 2) times
    as many points.

    Notes
    -----
    Saltelli, Annoni, Azzini, Campolongo, Ratto and Tarantola 2010, "Variance based sensitivity
    analysis of model output", Computer Physics Communications 181, 259-270, as SALib has it.
    """
    from SALib.analyze import sobol as analysis  # noqa: PLC0415  (takes a second to load)
    from SALib.sample import sobol as sampling  # noqa: PLC0415

    problem = {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}
    points = sampling.sample(problem, samples, calc_second_order=False, seed=seed)
    none = np.zeros(len(names))
    indices = []
    for values in answer(points).T:
        if np.ptp(values) == 0:
            indices.append(Indices(names, none, none))
            continue
        with warnings.catch_warnings():
            # An answer that hardly varies is the same in some of its samples, which SALib tells.
            warnings.simplefilter("ignore", UserWarning)
            found = analysis.analyze(problem, values, calc_second_order=False, seed=seed)
        first, total = (np.nan_to_num(np.asarray(found[key], dtype=float)) for key in ("S1", "ST"))
        indices.append(Indices(names, first, total))
    return indices


def band_sources(
    study: Study, results: Mapping[str, NDArray[Any]], row: int, *, samples: int = SAMPLES
) -> dict[str, Indices]:
    """Sobol indices of the bands of power and safety margin of one design of a table."""
    names = inputs(study)
    if not names:
        return {}
    given = builds_of(study, {key: values[row : row + 1] for key, values in results.items()})

    def answer(points: Floats) -> Floats:
        builds = drawn(study, given, np.clip(points, *INSIDE))
        # Points beside one another differ in one input, so their flow is all but the same.
        builds[FAMILY] = np.repeat(np.arange(samples, dtype=float), len(names) + 2)
        level = repeated("averaged", len(points))
        # What is explained needs no column that takes long, whatever the study limits.
        found = evaluation.evaluate(
            study, {**builds, "gap_flow": level}, but=LATE_COLUMNS, worded=False
        )
        return np.stack([np.nan_to_num(found[key]) for key in EXPLAINED], axis=1)

    indices = sobol_indices(answer, names, samples=samples, seed=study.search.seed)
    return dict(zip(EXPLAINED, indices, strict=True))


def sources_of_rows(
    study: Study, results: Mapping[str, NDArray[Any]], rows: Sequence[int]
) -> list[dict[str, Indices]]:
    """Find the `band_sources` of some designs of a table; {} for each if it has no bands."""
    if "electric_power_p50" not in results:
        return [{} for _ in rows]
    some = dict.fromkeys(rows)
    found = in_turns([partial(band_sources, study, results, row) for row in some])
    of_row = dict(zip(some, found, strict=True))
    return [of_row[row] for row in rows]
