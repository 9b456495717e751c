"""Readings that the bench should show, each with the band in which it is in order."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from engine.bench.readings import BenchReadings
from engine.model.locked_rotor import BREAKAWAY
from engine.model.validity import rechecked


@dataclass(frozen=True)
class ReadingBand:
    """What an instrument should show, and the band in which a reading is in order."""

    expected: float
    low: float
    high: float
    """Low and high are NaN where too many samples have no operating point."""


@dataclass(frozen=True)
class Reading:
    """One speed of the bench run."""

    speed: float
    bands: Mapping[str, ReadingBand]
    """By key of `read_loaded`; NaN where there is no operating point."""
    validity: str
    """Relations used outside their range at this speed."""
    overloads: bool
    """Whether the generator delivers more than its rating at this speed."""


@dataclass(frozen=True)
class LockedReading:
    """One supply pressure with the rotor locked."""

    supply_pressure: float
    bands: Mapping[str, ReadingBand]
    """By key of `read_locked`."""
    breakaway: float
    """Torque of friction at rest, in either direction [N m]."""


def torque_at_start(readings: Sequence[Reading | LockedReading]) -> float:
    """Find the highest torque of bench readings, at the end of its band [N m]."""
    torques = [reading.bands["shaft_torque"] for reading in readings]
    ends = [end for band in torques for end in (band.expected, band.high) if np.isfinite(end)]
    return max(ends, default=np.nan)


def readings_of(found: BenchReadings) -> tuple[Reading, ...]:
    """Reduce the readings of the loaded run, one a speed."""
    averaged, resolved = found.averaged, found.resolved
    if not averaged:
        return ()
    with np.errstate(invalid="ignore", divide="ignore"):
        power = averaged["electric_power"]
        difference = (resolved["electric_power"] - power) / np.abs(power)
    validity = np.where(
        np.isfinite(power), rechecked(averaged["validity"], difference), averaged["validity"]
    )
    return tuple(
        Reading(
            speed=float(speed),
            bands={key: _band(found, key, place) for key in found.bands},
            validity=str(validity[place]),
            overloads=any(
                float(level["generator_load"][place]) > 1 for level in (averaged, resolved)
            ),
        )
        for place, speed in enumerate(averaged["speed"])
    )


def locked_of(found: BenchReadings) -> tuple[LockedReading, ...]:
    """Reduce the readings of the locked rotor, one a supply pressure."""
    table = found.averaged
    if not table:
        return ()
    return tuple(
        LockedReading(
            supply_pressure=float(pressure),
            bands={key: _band(found, key, place) for key in found.bands},
            breakaway=float(table[BREAKAWAY][place]),
        )
        for place, pressure in enumerate(table["supply_pressure"])
    )


def _band(found: BenchReadings, key: str, place: int) -> ReadingBand:
    low, high = found.bands[key]
    expected = float(found.expected(key)[place])
    if not np.isfinite(expected):
        return ReadingBand(np.nan, np.nan, np.nan)
    return ReadingBand(expected, float(low[place]), float(high[place]))
