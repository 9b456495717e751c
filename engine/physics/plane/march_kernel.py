"""The march of all cells to a steady state: Heun's method, each cell with a step of its own."""

import math

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, entry, root
from engine.physics.plane.circles_kernel import through_circles
from engine.physics.plane.ends_kernel import enter_by_mouth, leave_by_bore, rub_on_casing
from engine.physics.plane.flux_kernel import N_STATE
from engine.physics.plane.grid import GHOSTS, Grid
from engine.physics.plane.inside_kernel import bend, leak, rub_on_discs
from engine.physics.plane.law import Law
from engine.physics.plane.radii_kernel import through_radii
from engine.physics.plane.surroundings import (
    DENSITY,
    JET_MASS,
    PRESSURE,
    RADIAL,
    RING_MASS,
    SWIRL,
    Mouth,
    Surroundings,
)

LEAST = 1e-3
"""Least density and pressure, over those of the law's state: keeps the start alive."""


@entry
def to_conserved(law: Law, grid: Grid, field: Lanes, held: Lanes) -> None:
    """Mass, radial and angular momentum and energy, each by volume, from a field."""
    for row in range(grid.centres.size):
        for at in range(grid.widths.size):
            density, u, v = field[DENSITY, row, at], field[RADIAL, row, at], field[SWIRL, row, at]
            held[DENSITY, row, at], held[RADIAL, row, at] = density, density * u
            held[SWIRL, row, at] = density * v * grid.centres[row]
            inner = field[PRESSURE, row, at] / (law.exponent - 1)
            held[PRESSURE, row, at] = inner + 0.5 * density * (u * u + v * v)


@entry
def to_field(law: Law, grid: Grid, held: Lanes, field: Lanes) -> None:
    """Take density, speeds and pressure from what is conserved, and repeat the ends as ghosts."""
    excess, last = law.exponent - 1, grid.widths.size - GHOSTS
    least_density, least_pressure = LEAST * law.density, LEAST * law.pressure
    for row in range(grid.centres.size):
        per_radius = 1 / grid.centres[row]
        for at in range(GHOSTS, last):
            density = max(held[DENSITY, row, at], least_density)
            per_density = 1 / density
            u = held[RADIAL, row, at] * per_density
            v = held[SWIRL, row, at] * per_density * per_radius
            inner = held[PRESSURE, row, at] - 0.5 * density * (u * u + v * v)
            field[DENSITY, row, at], field[RADIAL, row, at] = density, u
            field[SWIRL, row, at] = v
            field[PRESSURE, row, at] = max(excess * inner, least_pressure)
        for k in range(N_STATE):
            for i in range(GHOSTS):
                field[k, row, i] = field[k, row, last - GHOSTS + i]
                field[k, row, last + i] = field[k, row, GHOSTS + i]


@compiled
def viscosities(law: Law, field: Lanes, viscosity: Lanes) -> None:
    """Viscosity of each cell, by the law's power of P / rho [Pa s]."""
    per_content = law.density / law.pressure
    for row in range(viscosity.shape[0]):
        for at in range(viscosity.shape[1]):
            ratio = field[PRESSURE, row, at] / field[DENSITY, row, at] * per_content
            viscosity[row, at] = law.viscosity * math.exp(law.viscosity_power * math.log(ratio))


@compiled
def rates(
    law: Law,
    grid: Grid,
    around: Surroundings,
    mouth: Mouth,
    drawn: float,
    field: Lanes,
    viscosity: Lanes,
    rate: Lanes,
    entering: Lanes,
    tally: Lanes,
) -> None:
    """Rates of what each cell holds (per volume, times volume), and the sums over all cells."""
    rate[:] = 0.0
    tally[:] = 0.0
    through_circles(law, grid, around, field, viscosity, rate, entering)
    through_radii(law.exponent, grid, field, rate)
    leave_by_bore(law, grid, around, field, rate, tally)
    enter_by_mouth(law, grid, mouth, field, rate, tally)
    rub_on_casing(grid, around, mouth, field, viscosity, rate, tally)
    bend(grid, field, rate)
    if around.discs_rub:
        rub_on_discs(grid, around, field, viscosity, rate, tally)
    leak(law, grid, drawn, field, rate, tally)


@compiled
def _steps(law: Law, grid: Grid, field: Lanes, courant: float, per_volume: Lanes) -> None:
    """Time step of each cell over its volume [s/m3]."""
    for row in range(grid.centres.size):
        inner, outer = grid.faces[row], grid.faces[row + 1]
        plan = grid.heights[row] * 0.5 * (outer * outer - inner * inner)
        per_depth, per_radius = 1 / (outer - inner), 1 / grid.centres[row]
        for at in range(GHOSTS, grid.widths.size - GHOSTS):
            sound = root(law.exponent * field[PRESSURE, row, at] / field[DENSITY, row, at])
            across = (abs(field[RADIAL, row, at]) + sound) * per_depth
            along = (abs(field[SWIRL, row, at]) + sound) * per_radius / grid.widths[at]
            per_volume[row, at] = courant / ((across + along) * plan * grid.widths[at])


@compiled
def _same_step(grid: Grid, time_step: float, per_volume: Lanes) -> None:
    """One time step for all cells, over the volume of each [s/m3]."""
    for row in range(grid.centres.size):
        inner, outer = grid.faces[row], grid.faces[row + 1]
        plan = grid.heights[row] * 0.5 * (outer * outer - inner * inner)
        for at in range(GHOSTS, grid.widths.size - GHOSTS):
            per_volume[row, at] = time_step / (plan * grid.widths[at])


@compiled
def _go_on(per_volume: Lanes, rate: Lanes, before: Lanes, share: float, held: Lanes) -> None:
    """Change what the cells hold by the rates; the result counts by a share, `before` the rest."""
    rest, last = 1 - share, held.shape[2] - GHOSTS
    for k in range(N_STATE):
        for row in range(held.shape[1]):
            for at in range(GHOSTS, last):
                onward = held[k, row, at] + per_volume[row, at] * rate[k, row, at]
                held[k, row, at] = rest * before[k, row, at] + share * onward


@compiled
def _change(before: Lanes, held: Lanes) -> float:
    """Mean relative change of density."""
    change, last = 0.0, held.shape[2] - GHOSTS
    for row in range(held.shape[1]):
        for at in range(GHOSTS, last):
            old = before[DENSITY, row, at]
            change += abs(held[DENSITY, row, at] - old) / old
    return change / (held.shape[1] * (last - GHOSTS))


@compiled
def _drawn(around: Surroundings, sums: Lanes) -> float:
    """Share of the ring's mass that leaks each second [1/s]."""
    if not sums[RING_MASS] > 0:
        return 0.0
    return around.leakage_share * sums[JET_MASS] / sums[RING_MASS]


@entry
def advance(
    law: Law,
    grid: Grid,
    around: Surroundings,
    mouth: Mouth,
    held: Lanes,
    field: Lanes,
    entering: Lanes,
    tally: Lanes,
    courant: float,
    time_step: float,
    steps: int,
) -> float:
    """March the cells; a `time_step` above 0 is the same for all. Gives the last change of density.

    `held`, by volume, changes in place; `field` [SI] is that of its end, `entering` and `tally`
    become means over the steps. A `tally` of a march before tells the leakage to begin with.
    """
    rows, columns = grid.centres.size, grid.widths.size
    rate, before = np.zeros((N_STATE, rows, columns)), np.zeros((N_STATE, rows, columns))
    per_volume, viscosity = np.zeros((rows, columns)), np.zeros((rows, columns))
    into, sums = np.zeros_like(entering), np.zeros_like(tally)
    drawn, change = _drawn(around, tally), 0.0
    tally[:] = 0.0
    entering[:] = 0.0
    to_field(law, grid, held, field)
    for _ in range(steps):
        viscosities(law, field, viscosity)
        before[:] = held
        if time_step > 0:
            _same_step(grid, time_step, per_volume)
        else:
            _steps(law, grid, field, courant, per_volume)
        # Heun: to the end by the rates here, then the mean of the rates at both ends.
        for share in (1.0, 0.5):
            rates(law, grid, around, mouth, drawn, field, viscosity, rate, into, sums)
            drawn = _drawn(around, sums)
            _go_on(per_volume, rate, before, share, held)
            to_field(law, grid, held, field)
        for j in range(tally.size):
            tally[j] += sums[j] / steps
        for k in range(entering.shape[0]):
            for at in range(columns):
                entering[k, at] += into[k, at] / steps
        change = _change(before, held)
    return change
