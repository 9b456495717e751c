"""Any number of lanes through the resolved gap: in blocks, repeated where there is backflow."""

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Array, Mask
from engine.physics.fluid_kernel import Fluid
from engine.physics.gap_grid import HalfGap, half_gap
from engine.physics.gap_march import sweep
from engine.physics.gap_state import Rim, State, take

GRID = half_gap(n_nodes=14, stretch=1.75)
N_STEPS = 50
REPEATED_SWEEPS = 10
_LANES_AT_ONCE = 256
_SETTLED = 1e-3


class Part(NamedTuple):
    """Some lanes that were marched together."""

    lanes: NDArray[np.intp]
    trail: list[State]
    settled: Mask


def enter(
    *,
    fluid: Fluid,
    rim_pressure: Array,
    rim_enthalpy: Array,
    rim_swirl: Array,
    mass_flow: Array,
    gap: Array,
    rim_radius: Array,
    bore_radius: Array,
    angular_speed: Array,
) -> tuple[tuple[int, ...], Rim]:
    """Give the common shape of the arguments, and each lane's entry as columns."""
    arrays = np.broadcast_arrays(
        rim_pressure,
        rim_enthalpy,
        rim_swirl,
        mass_flow,
        gap,
        rim_radius,
        bore_radius,
        angular_speed,
    )
    pressure, enthalpy, swirl, flow, width, outer, inner, turning = (
        np.reshape(a, (-1, 1)).astype(np.float64) for a in arrays
    )
    good = (flow > 0) & (width > 0) & (inner > 0) & (inner < outer) & (pressure > 0)
    with np.errstate(all="ignore"):
        pressure = np.where(good, pressure, np.nan)
        density = fluid.density(pressure=pressure, enthalpy=enthalpy)
        speed = flow / (2 * np.pi * outer * width * density)
        rim = Rim(
            pressure=pressure,
            enthalpy=enthalpy,
            density=density,
            radial_speed=speed,
            spin=turning * outer / speed,
            plug=(swirl - turning * outer) / speed,
            radius=outer,
            span=1 - inner / outer,
            gap=width,
        )
    return arrays[0].shape, rim


def marched(
    *, rim: Rim, fluid: Fluid, grid: HalfGap, n_steps: int, repeated_sweeps: int
) -> Iterator[Part]:
    """March all lanes in blocks; those with backflow come last, swept until they settle."""
    returning: list[NDArray[np.intp]] = []
    unsettled: list[list[State]] = []
    for start in range(0, max(rim.gap.size, 1), _LANES_AT_ONCE):
        lanes = np.arange(start, min(start + _LANES_AT_ONCE, rim.gap.size))
        trail = sweep(rim=take(rim, lanes), fluid=fluid, grid=grid, n_steps=n_steps)
        reached = np.isfinite(trail[-1].pressure[:, 0])
        back = np.any([(s.flux < 0).any(axis=1) for s in trail], axis=0) & reached
        returning.append(lanes[back])
        unsettled.append(_rows(trail, back))
        yield Part(lanes[~back], _rows(trail, ~back), reached[~back])
    again = np.concatenate(returning)
    if again.size:
        first = [
            State(*map(np.concatenate, zip(*at, strict=True)))
            for at in zip(*unsettled, strict=True)
        ]
        for start in range(0, again.size, _LANES_AT_ONCE):
            block = slice(start, start + _LANES_AT_ONCE)
            yield _sweep_again(
                rim=take(rim, again[block]),
                fluid=fluid,
                grid=grid,
                part=Part(again[block], _rows(first, block), np.zeros(0, dtype=np.bool_)),
                repeated_sweeps=repeated_sweeps,
            )


def _sweep_again(
    *, rim: Rim, fluid: Fluid, grid: HalfGap, part: Part, repeated_sweeps: int
) -> Part:
    """Sweep lanes with backflow until pressure drop and torque stand still.

    A lane that does not settle keeps its first sweep. What is learnt travels one step a sweep, so
    finer steps need more sweeps and a smaller change to stop at.
    """
    trail = part.trail
    fineness = (len(trail) - 1) / N_STEPS
    settled = np.zeros(part.lanes.size, dtype=np.bool_)
    rows, before = np.arange(part.lanes.size), trail
    for _ in range(round(repeated_sweeps * fineness)):
        inside = take(rim, rows)
        after = sweep(rim=inside, fluid=fluid, grid=grid, n_steps=len(trail) - 1, before=before)
        new, old = after[-1], before[-1]
        of_pressure = np.abs((new.pressure - old.pressure) / (inside.pressure - new.pressure))
        change = np.maximum(of_pressure, np.abs(new.braking / old.braking - 1))[:, 0]
        still = change < _SETTLED / fineness
        settled[rows] = still
        for state, replacement in zip(trail, _rows(after, still), strict=True):
            for value, settled_value in zip(state, replacement, strict=True):
                value[rows[still]] = settled_value
        moving = np.isfinite(change) & ~still
        rows, before = rows[moving], _rows(after, moving)
        if not rows.size:
            break
    return part._replace(settled=settled)


def _rows(trail: list[State], rows: Mask | slice | NDArray[np.intp]) -> list[State]:
    """Take some lanes of a march."""
    return [take(state, rows) for state in trail]


def in_order(parts: list[tuple[NDArray[np.intp], dict[str, Any]]]) -> dict[str, Any]:
    """Put the results of parts back into the order of the lanes."""
    order = np.argsort(np.concatenate([lanes for lanes, _ in parts]))
    return {
        name: np.concatenate([values[name] for _, values in parts])[order] for name in parts[0][1]
    }
