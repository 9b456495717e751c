"""Which bench test tells how hard the casing rubs: readings predicted for half and for twice.

A test that only runs the machine as it is built tells little: nozzles, mixing and gaps move the
same readings. What tells is a change that moves the casing's friction and leaves those alone: some
nozzles blocked, so that the ring runs slower, or a wider casing ring.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from engine.bands.inputs import drawn, inputs
from engine.bench.log_columns import USUAL
from engine.columns import Builds, Results
from engine.model.evaluation import builds_of, evaluate
from engine.study.study import Study
from engine.study.uncertainty import TOLERANCES

Numbers = NDArray[np.float64]
Change: TypeAlias = Literal["as built", "nozzles blocked", "wider casing"]

SPEEDS = (0.4, 1.0)
"""Speeds of the test, over operating speed."""
WIDER = 2.0
"""Rim clearance with the second casing ring, over that of the build."""
FACTORS = (0.5, 2.0)
"""Casing friction, over that of the study, between which the test must tell."""
TOLD = ("mass_flow", "rim_pressure", "shaft_torque")
"""Readings that are compared."""
TELLS = 3.0
"""Standard uncertainties between both answers from which a test tells them apart."""
UPWARD = {"normal": 0.8413447460685429, "flat": 0.5 + 0.5 / np.sqrt(3)}
"""Cumulative probability one standard deviation above the middle."""


@dataclass(frozen=True)
class TellingTest:
    """One test and its predicted readings, a row for each state of the bench, SI."""

    change: Change
    nozzle_count: Numbers
    """Nozzles open in each row."""
    rim_clearance: Numbers
    speed: Numbers
    expected: Mapping[str, tuple[Numbers, Numbers]]
    """By key of `TOLD`: readings with the casing's friction at each of `FACTORS`."""
    instrument: Mapping[str, Numbers]
    """Standard uncertainty of each reading."""
    apart: float
    """How far both answers lie apart, in standard uncertainties of instruments and of all else
    that the study takes as uncertain; NaN where a row has no operating point."""
    apart_as_built: float = np.nan
    """The same of its rows with nothing changed."""

    @property
    def tells(self) -> bool:
        """Whether the test tells both answers apart."""
        return self.apart >= TELLS


def telling_test(study: Study, table: Builds, row: int) -> TellingTest | None:
    """Choose the change of one build of a table that tells most.

    None where the study takes the casing's friction as exact, or no test has operating points.
    """
    if "casing_factor" not in inputs(study):
        return None
    plain, *changed = telling_tests(study, table, row)
    known = [test for test in changed if np.isfinite(test.apart)]
    most = max(known, key=lambda test: test.apart, default=None)
    return None if most is None else replace(most, apart_as_built=plain.apart)


def telling_tests(study: Study, table: Builds, row: int) -> Iterator[TellingTest]:
    """Predict every test that can be made with one build of a table, the easiest first.

    Each but the first runs the build as it is, then changed, at `SPEEDS`.
    """
    build = {key: values[row : row + 1] for key, values in builds_of(study, table).items()}
    nozzles, clearance = (float(build[key][0]) for key in ("nozzle_count", "rim_clearance"))
    yield _test(study, build, "as built", [(nozzles, clearance)])
    if nozzles > 1:
        both = [(nozzles, clearance), (evenly_fewer(round(nozzles)), clearance)]
        yield _test(study, build, "nozzles blocked", both)
    both = [(nozzles, clearance), (nozzles, WIDER * clearance)]
    yield _test(study, build, "wider casing", both)


def evenly_fewer(nozzles: int) -> int:
    """Most nozzles, but not all, that stay evenly around the rim when others are blocked.

    Examples
    --------
    >>> [evenly_fewer(n) for n in (2, 3, 4, 6, 9)]
    [1, 1, 2, 3, 3]
    """
    return max(n for n in range(1, nozzles) if nozzles % n == 0)


def _test(
    study: Study, build: Builds, change: Change, states: list[tuple[float, float]]
) -> TellingTest:
    """Predict one test, in the states given by nozzles open and rim clearance."""
    each, speeds = np.repeat(states, len(SPEEDS), axis=0), np.tile(SPEEDS, len(states))
    lanes: Results = {key: np.repeat(values, len(speeds)) for key, values in build.items()}
    lanes |= {"nozzle_count": each[:, 0], "rim_clearance": each[:, 1]}
    lanes["speed"] = lanes["speed"] * speeds
    names = inputs(study)
    # The middle of all that is uncertain, then each in turn one standard deviation up.
    unit = np.full((len(names) + 1, len(names)), 0.5)
    for place, key in enumerate(names):
        unit[place + 1, place] = UPWARD["flat" if key in TOLERANCES else "normal"]
    usual = lanes["casing_factor"]
    moved = _readings(study, drawn(study, lanes, unit), len(names) + 1)
    effects = np.nan_to_num(moved[:, 1:] - moved[:, :1])
    effects[:, names.index("casing_factor")] = 0.0
    low, high = (_readings(study, {**lanes, "casing_factor": usual * f}, 1) for f in FACTORS)
    # Rows of readings that the model cannot give leave the test without an answer.
    instrument = {key: np.hypot(USUAL[key][0] * moved[n, 0], USUAL[key][1])
                  for n, key in enumerate(TOLD)}  # fmt: skip
    own = np.concatenate([instrument[key] for key in TOLD])
    off = (high - low)[:, 0].ravel()
    shared = effects.transpose(0, 2, 1).reshape(off.size, len(names))
    apart = np.nan
    if np.isfinite(off).all() and np.isfinite(own).all():
        apart = float(np.sqrt(off @ np.linalg.solve(np.diag(own**2) + shared @ shared.T, off)))
    return TellingTest(
        change=change,
        nozzle_count=lanes["nozzle_count"],
        rim_clearance=lanes["rim_clearance"],
        speed=lanes["speed"],
        expected={key: (low[n, 0], high[n, 0]) for n, key in enumerate(TOLD)},
        instrument=instrument,
        apart=apart,
    )


def _readings(study: Study, lanes: Builds, samples: int) -> Numbers:
    """Predict readings of each sample of each row, (reading, sample, row)."""
    level = np.full(len(lanes["speed"]), "averaged")
    found = evaluate(study.unjudged(), {**lanes, "gap_flow": level})
    sampled = [found[key].reshape(-1, samples).T for key in TOLD]
    return np.stack(sampled)
