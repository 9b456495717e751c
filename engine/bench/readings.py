"""Expected bench readings of one build, with the rotor turning and locked, with bands."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.bands.results import sample_ranges
from engine.columns import Builds, Results
from engine.model.evaluation import builds_of, evaluate
from engine.model.locked_rotor import evaluate_locked
from engine.stage_columns import of_stage
from engine.study.study import Study

READING_SHARES = (0.2, 0.4, 0.6, 0.8, 1.0)
"""Speeds of the bench readings, over operating speed."""
PRESSURE_SHARES = (0.4, 0.55, 0.7, 0.85, 1.0)
"""Supply less back pressure while the rotor is locked, over that of the study."""
READ = ("mass_flow", "rim_pressure", "shaft_torque", "electric_power", "exhaust_temperature")
"""Quantities read at each speed on the first day."""
OUTLET = ("outlet_angle", "outlet_rise")
"""Quantities read at the outlet by a thread or probe."""
READ_LOCKED = ("mass_flow", "rim_pressure", "shaft_torque")
"""Quantities read with the rotor locked."""

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class BenchReadings:
    """Expected readings, one row for each state of the bench."""

    averaged: Results
    resolved: Results
    """The same with resolved gap flow; NaN where that did not converge."""
    bands: Mapping[str, tuple[Numbers, Numbers]]
    """Lower and upper ends by key, from the same samples as the bands of results. Samples have
    averaged gap flow; the ends are moved by the difference that resolved gap flow makes."""

    def expected(self, key: str) -> Numbers:
        """Give readings with resolved gap flow, or averaged where that did not converge."""
        found = self.resolved[key]
        return np.where(np.isfinite(found), found, self.averaged[key])


NO_READINGS = BenchReadings({}, {}, {})
"""Of a machine that has no such test."""


def bench_readings(study: Study, table: Builds, row: int) -> BenchReadings:
    """Evaluate one build of a table at `READING_SHARES` of its speed; keys as `read_loaded`."""
    build = _repeated(study, table, row, len(READING_SHARES))
    build["speed"] = build["speed"] * READING_SHARES
    plain = study.unjudged()
    keys = read_loaded(study, _stages(study, table, row))
    return _readings(study, build, keys, lambda builds: evaluate(plain, builds))


def locked_readings(study: Study, table: Builds, row: int) -> BenchReadings:
    """Evaluate one build of a table with its rotor locked, at `PRESSURE_SHARES` of the supply."""

    def throttled(builds: Builds) -> Results:
        n_lanes, back = len(builds["speed"]), study.supply.back_pressure
        shares = np.repeat(PRESSURE_SHARES, n_lanes // len(PRESSURE_SHARES))
        usual = builds.get("supply_pressure", np.full(n_lanes, study.supply.pressure))
        pressure = back + shares * (usual - back)
        return evaluate_locked(study, {**builds, "supply_pressure": pressure})

    build = _repeated(study, table, row, len(PRESSURE_SHARES))
    return _readings(study, build, read_locked(study, _stages(study, table, row)), throttled)


def read_loaded(study: Study, stages: int = 1) -> tuple[str, ...]:
    """List what is read at each speed of a build with so many stages.

    Before the nozzles only where a hose leads to them. The outlet of a first stage is in a closed
    room where another follows: its pressure and the other stages' temperatures are read instead.
    """
    later = range(2, stages + 1)
    warm = (of_stage("exhaust_temperature", stage) for stage in later)
    outlet = OUTLET if stages == 1 else ()
    return (*READ, *warm, *_second_dial(study), *_between(stages), *outlet)


def read_locked(study: Study, stages: int = 1) -> tuple[str, ...]:
    """List what is read with the rotor locked."""
    return (*READ_LOCKED, *_second_dial(study), *_between(stages))


def _between(stages: int) -> tuple[str, ...]:
    return tuple(of_stage("nozzle_pressure", stage) for stage in range(2, stages + 1))


def _stages(study: Study, table: Builds, row: int) -> int:
    """Stages of a build of a table."""
    return round(float(builds_of(study, table)["stage_count"][row]))


def _second_dial(study: Study) -> tuple[str, ...]:
    return () if study.supply.dial == "at-nozzles" else ("nozzle_pressure",)


def _repeated(study: Study, table: Builds, row: int, times: int) -> Results:
    return {
        key: np.repeat(values[row : row + 1], times)
        for key, values in builds_of(study, table).items()
    }


def _readings(
    study: Study, build: Builds, keys: tuple[str, ...], work: Callable[[Builds], Results]
) -> BenchReadings:
    def at(level: str, builds: Builds) -> Results:
        return work({**builds, "gap_flow": np.full(len(builds["speed"]), level)})

    averaged, resolved = (at(level, build) for level in ("averaged", "resolved"))
    ranges = sample_ranges(study, build, keys, lambda builds: at("averaged", builds))
    bands = {}
    for key, (low, high) in ranges.items():
        moved = np.nan_to_num(resolved[key] - averaged[key])
        bands[key] = (low + moved, high + moved)
    return BenchReadings(averaged, resolved, bands)
