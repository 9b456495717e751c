"""What is known of the inside of a design: flow in a gap, waves and stress in a disc."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.model.strength import StressThrough
from engine.model.validity import MOST_DIFFERENCE
from engine.physics.arrays import ValidRange
from engine.physics.gap.averaged import AVERAGED_RANGE, FRICTION_RANGE, faster_ekman_number
from engine.physics.gap.profiles import GapProfiles
from engine.physics.machine.disc import DiscStress
from engine.physics.machine.vibration import ModeChart
from engine.study.study import Study

Floats = NDArray[np.float64]

FLOW_RANGES: Mapping[str, ValidRange | None] = {
    "gap_reynolds": AVERAGED_RANGE,
    "turbulent_share": None,
    "ekman_number": None,
    "faster_ekman_number": AVERAGED_RANGE,
    "laminar_ekman_number": AVERAGED_RANGE,
    "gap_mach": FRICTION_RANGE,
    "backflow_share": AVERAGED_RANGE,
}
"""Numbers of the flow in a gap, each with the valid range that names it, if any."""


@dataclass(frozen=True)
class FlowNumber:
    """One number of the gap flow against its valid range."""

    key: str
    value: float
    bounds: tuple[float, float] | None
    """Where the relations are valid; None for a number that no relation bounds."""
    outside: bool
    """False for an unknown number."""


@dataclass(frozen=True)
class DiscWaves:
    """Waves that run around a disc, with their frequencies seen from the casing."""

    speed: Floats
    """(speed,) [rad/s]"""
    forward: Floats
    """(speed, nodal diameters) [rad/s]"""
    backward: Floats
    """The same; negative above the speed at which the wave stands still."""


@dataclass(frozen=True)
class DiscSection:
    """Stress in a disc from bore to rim, from rotation and heat together."""

    radius: Floats
    """(radius,) [m]"""
    running: DiscStress
    """At running speed, (radius,)."""
    tripped: DiscStress
    """At trip speed, (radius,)."""
    notched: float
    """Peak stress of disc, spokes and hub at trip speed [Pa]."""
    yield_strength: float
    """[Pa]"""


@dataclass(frozen=True)
class Inside:
    """Everything known of the inside of one design."""

    flow: tuple[FlowNumber, ...]
    gap: GapProfiles | None
    """Without the axis of lanes; None where it was not computed or did not converge."""
    waves: DiscWaves | None
    """None where it was not computed or the disc is outside the table of modes."""
    stress: DiscSection | None = None
    """None where it was not computed."""
    later: tuple[GapProfiles | None, ...] = ()
    """As `gap`, of each stage behind the first."""

    @property
    def gaps(self) -> tuple[tuple[int, GapProfiles], ...]:
        """What is known of a gap of each stage, with the stage's number."""
        every = enumerate((self.gap, *self.later), 1)
        return tuple((stage, gap) for stage, gap in every if gap is not None)


@dataclass(frozen=True)
class Recheck:
    """Power of the front with the flow resolved across the gap, against that of the search."""

    designs: int
    lowest: float
    highest: float
    """Differences, as shares of the power of the search; NaN where no design converged."""
    differ: int
    """Designs whose difference is too large to ignore."""
    unconverged: int
    """Designs whose resolved flow did not converge."""


def inside_of(
    values: Mapping[str, float | str],
    profiles: GapProfiles | None,
    waves: tuple[Floats, ModeChart] | None,
    stress: StressThrough | None = None,
    later: Sequence[GapProfiles] = (),
) -> Inside:
    """Gather what is known of a design; all but its values have an axis of one lane first."""
    return Inside(
        flow_numbers(values),
        _one_gap(profiles),
        _one_disc(waves),
        _one_section(stress),
        tuple(map(_one_gap, later)),
    )


def is_resolved(study: Study, front: Mapping[str, NDArray[Any]]) -> bool:
    """Whether the power of a front comes from resolved gap flow."""
    return study.search.flow == "resolved" or set(front.get("gap_flow", ())) == {"resolved"}


def recheck_of(front: Mapping[str, NDArray[Any]]) -> Recheck | None:
    """Sum up the recheck of a front; None where there was none."""
    difference = np.asarray(front.get("resolved_difference", ()), dtype=float)
    if not difference.size:
        return None
    converged = difference[np.isfinite(difference)]
    return Recheck(
        designs=difference.size,
        lowest=float(converged.min()) if converged.size else np.nan,
        highest=float(converged.max()) if converged.size else np.nan,
        differ=int(np.count_nonzero(np.abs(converged) > MOST_DIFFERENCE)),
        unconverged=difference.size - converged.size,
    )


def flow_numbers(values: Mapping[str, float | str]) -> tuple[FlowNumber, ...]:
    """Set each number of the gap flow that a design has against its valid range."""
    numbers = {key: float(values[key]) for key in FLOW_RANGES if key in values}
    if {"ekman_number", "turbulent_share"} <= numbers.keys() and "rim_swirl_ratio" in values:
        faster = faster_ekman_number(
            ekman_number=numbers["ekman_number"], swirl_ratio=float(values["rim_swirl_ratio"])
        )
        numbers["faster_ekman_number"] = float(faster)
        numbers["laminar_ekman_number"] = float(faster) * (1 - numbers["turbulent_share"])
    found = []
    for key, stated in FLOW_RANGES.items():
        if key in numbers:
            value = numbers[key]
            past = stated is not None and bool(stated.outside(**{key: value}))
            bounds = None if stated is None else stated.bounds[key]
            found.append(FlowNumber(key, value, bounds, past and np.isfinite(value).item()))
    return tuple(found)


def _one_gap(profiles: GapProfiles | None) -> GapProfiles | None:
    if profiles is None:
        return None
    lane = {field.name: getattr(profiles, field.name)[0] for field in fields(profiles)}
    return GapProfiles(**lane) if all(np.isfinite(v).all() for v in lane.values()) else None


def _one_disc(waves: tuple[Floats, ModeChart] | None) -> DiscWaves | None:
    if waves is None:
        return None
    speed, chart = waves
    lane = DiscWaves(speed, chart.forward[0], chart.backward[0])
    return lane if np.isfinite(lane.forward).all(axis=0).any() else None


def _one_section(stress: StressThrough | None) -> DiscSection | None:
    if stress is None or not np.isfinite(stress.tripped.hoop).all():
        return None
    running, tripped = (
        DiscStress(np.asarray(of.radial)[0], np.asarray(of.hoop)[0])
        for of in (stress.running, stress.tripped)
    )
    notched, limit = float(stress.notched[0]), float(stress.yield_strength[0])
    return DiscSection(stress.radius[0], running, tripped, notched, limit)
