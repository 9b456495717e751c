"""Exhaust and leakage, a pack at a time; see `outlet`."""

import math
from collections.abc import Callable
from typing import TypeVar

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root
from engine.physics.flow.nozzle_kernel import throat_fluxes
from engine.physics.fluids.fluid import FluidRecord

Some = TypeVar("Some", float, Lanes)

N_OUTLET_GIVEN, N_OUTLET = 11, 4
"""Rows that `outlets` reads and fills."""
NEWTON_STEPS = 6
LEAST_FILLED = 0.02
"""Least share of the bore that a stream counts as filling."""
N_LEAKAGE_GIVEN = 11
"""Rows that `leakages` reads: arguments of `outlet.collar_leakage` after the fluid."""


def speed_behind(mass_flow: Some, density: Some, area: Some) -> Some:
    """Axial speed in the exhaust annulus [m/s], of an array of lanes or of one lane."""
    return mass_flow / (density * area)


def drop_behind(axial_speed: Some, density: Some, loss: Some) -> Some:
    """Pressure lost behind the gaps [Pa], of an array of lanes or of one lane."""
    return loss * density * axial_speed * axial_speed / 2


def _filled(swirl_ratio: float) -> float:
    """Share of a bore that a swirling stream fills, by its swirl over its mean axial speed."""
    if not swirl_ratio > 0:
        return 1.0 + 0 * swirl_ratio
    # Newton's method on the root of the share, from above.
    side = min(1.0, (math.sqrt(2.0) / swirl_ratio) ** (1 / 3))
    for _ in range(NEWTON_STEPS):
        off = (swirl_ratio * side + math.sqrt(2.0)) * side * side - math.sqrt(2.0)
        side -= off / ((3 * swirl_ratio * side + 2 * math.sqrt(2.0)) * side)
    return side * side


axial_speed: Callable[[float, float, float], float] = inlined(speed_behind)
exhaust_drop: Callable[[float, float, float], float] = inlined(drop_behind)
filled: Callable[[float], float] = compiled(_filled)


@compiled
def outlets(given: Lanes, found: Lanes) -> None:
    """Flows of a pack through bores with turning spokes.

    Rows of `given` are the arguments of `outlet.swirling_exhaust`, rows of `found` the fields of
    `outlet.Outlet`.
    """
    for i in range(PACK):
        flow, density, swirl, omega = given[0, i], given[1, i], given[2, i], given[3, i]
        bore, hub, area, ends = given[4, i], given[5, i], given[6, i], given[7, i]
        # What the spokes take along.
        spokes, square = given[8, i], (bore * bore + hub * hub) / 2
        axial = axial_speed(flow, density, area)
        share = given[9, i] * (1 - 1 / (2 * spokes))
        share = 1.0 if share > 1 else share  # `min` would lose what is no number
        # The rest keeps its swirl, which leaves a hollow core.
        around = abs(swirl) * density * ends * math.pi * bore * bore / flow
        fills = filled(around)
        free = 1 - hub * hub / (bore * bore)
        core = given[10, i] * (1 - share)
        used = 1.0 if fills > free else fills / free
        used = 1 - core * (1 - used)
        found[0, i] = share
        found[1, i] = max(used, LEAST_FILLED)
        found[2, i] = axial / found[1, i]
        hollow = swirl * swirl * fills / (1 - fills) if fills < 1 else 0.0
        turning = omega * omega * (bore * bore - square)
        found[3, i] = density * (core * hollow + share * turning) / 2 + 0 * swirl


@compiled
def leakages(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    """Flows of a pack down the end discs and out through the collar seals [kg/s]."""
    upstream = line(PACK)
    pressure, density, back_pressure = given[0], given[2], given[3]
    # Pressure before the seal: solid-body rotation of the core.
    for i in range(PACK):
        turning = given[4, i] / given[5, i]
        span = given[5, i] * given[5, i] - given[6, i] * given[6, i]
        drop = density[i] * turning * turning * span / 2
        upstream[i] = max(pressure[i] - drop, back_pressure[i])
    # Flow of one throttle, and of several in series (Stodola).
    throat_fluxes(record, upstream, given[1], back_pressure, found)
    for i in range(PACK):
        area = 2 * math.pi * given[6, i] * given[7, i] * given[8, i]
        found[i] = given[10, i] * area * found[i] / root(given[9, i])
