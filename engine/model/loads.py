"""Which loads of a study each design can carry, its spare power, and how steady its power is."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import Results
from engine.physics.arrays import Lanes, repeated
from engine.physics.machine.load import holding_time, lamp_voltage_ratio
from engine.study.loads import Load, Loads

SWING_COLUMNS = ("lamp_voltage_change", "holding_time")
"""Columns that take two more evaluations of a design."""


def demand(loads: Iterable[Load]) -> float:
    """Power that some loads take together while the one with the largest surge starts [W].

    It starts last, when all the others run: the worst case.
    """
    together = list(loads)
    surge = max((load.surge for load in together), default=0.0)
    return sum(load.running for load in together) + surge


def needed(loads: Loads) -> tuple[Load, ...]:
    """Pick the loads that must run."""
    return tuple(load for load in loads.listed if load.needed)


def with_loads(
    loads: Loads | None, results: Mapping[str, NDArray[Any]], *, worded: bool = True
) -> Results:
    """Results with the spare power of each design and, if `worded`, the loads that it carries."""
    power = results["electric_power"]
    unsaid = repeated("", len(power))
    if loads is None:
        nothing = {"loads_carried": unsaid, "spare_power": repeated(np.nan, len(power))}
        return {**results, **nothing}
    return {
        **results,
        "loads_carried": carried(loads, power) if worded else unsaid,
        "spare_power": power - demand(needed(loads)),
    }


def carried(loads: Loads, power: Lanes) -> NDArray[np.str_]:
    """Name the loads that run on each power [W]: in the order of the list, each that still fits."""
    running, surge = np.zeros(power.shape), np.zeros(power.shape)
    taken = np.zeros(power.shape, dtype=np.int64)
    listed = loads.listed
    for place, load in enumerate(listed):
        starts = np.maximum(surge, load.surge)
        with np.errstate(invalid="ignore"):
            fits = running + load.running + starts <= power
        running = np.where(fits, running + load.running, running)
        surge = np.where(fits, starts, surge)
        taken |= fits << place
    sets, lane = np.unique(taken, return_inverse=True)
    texts = [
        ", ".join(load_text(load) for place, load in enumerate(listed) if bits >> place & 1)
        for bits in sets.tolist()
    ]
    return np.array(texts, dtype=str)[lane].reshape(power.shape)


def load_text(load: Load) -> str:
    """Name of a load, with its count if there are several."""
    return load.name if load.count == 1 else f"{load.count} {load.name}"


def largest_sets(loads: Sequence[Load], power: float) -> list[tuple[Load, ...]]:
    """List the sets of loads that a power [W] carries and to which no other can be added."""
    found: list[tuple[Load, ...]] = []
    for size in range(len(loads), 0, -1):
        for some in combinations(loads, size):
            within = any(set(some) <= set(larger) for larger in found)
            if not within and demand(some) <= power:
                found.append(some)
    return found


def steadiness(loads: Loads, power: Lanes, *, low: Lanes, high: Lanes) -> Results:
    """Columns of the supply's swing, from the powers at its middle and its two ends [W].

    A design without operating point at an end of the swing gives no power there.
    """
    usual = np.where(power > 0, power, np.nan)
    changes = [
        np.abs(lamp_voltage_ratio(power=np.nan_to_num(end), usual_power=usual) - 1)
        for end in (low, high)
    ]
    lowest = np.where(np.isfinite(power), np.nan_to_num(low), np.nan)
    stored = np.nan if loads.storage is None else loads.storage
    running = sum(load.running for load in needed(loads))
    held = holding_time(stored_energy=stored, demand=running, power=lowest)
    return {
        "lamp_voltage_change": np.maximum(*changes),
        "holding_time": held if loads.storage is not None else np.full(power.shape, np.nan),
    }
