"""How uncertain the numbers of a design are, and what it can carry, as plain frozen data."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.bands.results import plain_limits
from engine.columns import CHANCE_ALL, band_key, base_key
from engine.model.loads import demand, largest_sets, needed
from engine.physics.machine.load import LAMP_LIGHT_EXPONENT
from engine.study.loads import Load
from engine.study.study import Study
from reports.run.search_facts import Values


@dataclass(frozen=True)
class Band:
    """Band of a result of a design over its samples, and how likely its limit is met."""

    key: str
    value: float
    """As in the search, with nothing varied."""
    p10: float
    p50: float
    p90: float
    chance: float | None
    """How likely its limit is met; None where it has none."""


@dataclass(frozen=True)
class Source:
    """One uncertain input that causes part of a band."""

    key: str
    first: float
    total: float
    """Shares of the variance: by itself, and including its effect together with other inputs."""


@dataclass(frozen=True)
class Carries:
    """What a design can carry."""

    power: float
    """Power counted on [W]: the P10 where it is known."""
    sets: tuple[tuple[Load, ...], ...]
    """Sets of appliances that run together, with no room for another."""
    spare: float
    """Power left beyond the needed appliances [W]; below zero where they need more."""
    lamp: float
    """Largest change of a filament lamp's voltage as the supply swings, as a share of it."""
    light: float
    """Change of the lamp's light that this causes, as a share of it."""
    holds: float
    """Time for which stored energy runs the needed appliances at the low end of the swing [s]."""


def bands_of(study: Study, values: Values) -> tuple[Band, ...]:
    """List the bands of the aims, then of what the study limits; empty where none were made."""
    limits = plain_limits(study)
    keys = dict.fromkeys([*map(base_key, study.aims), "electric_power", "safety_margin", *limits])
    return tuple(
        Band(
            key,
            float(values[key]),
            p10=float(values[band_key(key, "p10")]),
            p50=float(values[band_key(key, "p50")]),
            p90=float(values[band_key(key, "p90")]),
            chance=float(values[band_key(key, "chance")]) if key in limits else None,
        )
        for key in keys
        if band_key(key, "p50") in values
    )


def chance_of_all(values: Values) -> float:
    """Chance that every limit is met; NaN where none was made."""
    return float(values.get(CHANCE_ALL, np.nan))


def sources_of(indices: Mapping[str, Any]) -> dict[str, tuple[Source, ...]]:
    """List the inputs that cause each band, the strongest first.

    Estimated shares can come out slightly below 0 or above 1; they are cut off there.
    """
    return {
        key: tuple(
            Source(
                of.inputs[at], *(float(np.clip(share[at], 0, 1)) for share in (of.first, of.total))
            )
            for at in np.argsort(-of.total, kind="stable").tolist()
        )
        for key, of in indices.items()
    }


def carries_of(study: Study, values: Values) -> Carries | None:
    """Find what a design can carry; None where the study lists no loads."""
    power = float(values.get("electric_power_p10", values.get("electric_power", np.nan)))
    if study.loads is None or np.isnan(power):
        return None
    lamp = float(values.get("lamp_voltage_change", np.nan))
    return Carries(
        power=power,
        sets=tuple(largest_sets(study.loads.listed, power)),
        spare=power - demand(needed(study.loads)),
        lamp=lamp,
        light=1 - (1 - min(lamp, 1.0)) ** LAMP_LIGHT_EXPONENT,
        holds=float(values.get("holding_time", np.nan)),
    )
