"""Flow through one gap at the resolved level: its profiles are solved across the width."""

from functools import partial
from typing import Any

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import compiled, on_every_core
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.answer import GapFlow
from engine.physics.gap.resolved_grid import HalfGap, half_gap
from engine.physics.gap.resolved_march_kernel import march_lane
from engine.physics.gap.resolved_step_kernel import Across, room_for
from engine.physics.gap.resolved_sweep_kernel import (
    N_EXIT,
    SETTLED,
    exit_of,
    rim_of,
    trail_for,
    write_resolved,
)
from engine.physics.gap.turbulence import mixing_length

GRID = half_gap(n_nodes=14, stretch=1.75)
"""Nodes across the half gap."""
N_STEPS = 50
"""Radial steps of a march."""
REPEATED_SWEEPS = 20
"""Most repeated sweeps of a march with backflow."""


def march(
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
    grid: HalfGap = GRID,
    n_steps: int = N_STEPS,
    repeated_sweeps: int = REPEATED_SWEEPS,
) -> GapFlow:
    """March the flow through one gap from rim to bore, with its profiles across the width.

    Shapes: all arrays broadcast; every field of the result has their common shape.

    Parameters
    ----------
    fluid : Fluid
        Properties at pressure and enthalpy.
    rim_pressure : Array
        Static pressure at the entry of the gap, behind the contraction [Pa].
    rim_enthalpy : Array
        Static enthalpy there [J/kg].
    rim_swirl : Array
        Circumferential velocity there in the laboratory frame, uniform across the gap [m/s].
    mass_flow : Array
        Flow through one gap [kg/s], positive inward.
    gap : Array
        Width of the gap [m].
    rim_radius, bore_radius : Array
        Where the gap begins and ends [m].
    angular_speed : Array
        Of the discs [rad/s]; 0 is allowed.
    grid : HalfGap, optional
        Nodes across the half gap.
    n_steps : int, optional
        Steps from rim to bore.
    repeated_sweeps : int, optional
        Most repeats for lanes with backflow before all stations are solved at once; 0 leaves them
        at the first sweep, not settled.

    Returns
    -------
    GapFlow
        NaN, with `settled` false, where the input is no gap with inward flow, where the flow
        chokes (`choked` true) and where a step does not converge. Where a flow with backflow does
        not settle, the first sweep is returned with `settled` false.

    Notes
    -----
    Thin-gap boundary-layer equations in the frame of the disc: pressure and density uniform across
    the gap, rothalpy conserved in the mass-flux mean, no heat through the walls. Chebyshev
    collocation, backward differences of third order along the march, Newton's method on each step
    (`resolved_step_kernel`). Eddy viscosity by `turbulence`. One lane at a time.

    Where fluid moves outward an inward march is ill-posed. The first sweep drops the radial
    derivative there; further sweeps take it from the sweep before. Where they do not settle, all
    stations are solved at once (`resolved_whole_kernel`), which takes some 0.1 s. Where the flow
    enters slower than the rim and the gap is several Ekman layers wide (b sqrt(Omega/nu) above 6),
    the walls throw fluid out at the rim, and there may be no solution. A lane that does not
    converge at a radial Mach number above 0.4 counts as choked: the steps are too coarse to come
    closer to 1.

    Expected error against a tenfold refinement without backflow: 0.3 % on torque, 0.45 % on
    pressure drop.

    References
    ----------
    Equations: derived here (`resolved_step_kernel`). Boundary layers with reversed flow: Reyhner
    and Fluegge-Lotz 1968, Int. J. Non-Linear Mech. 3, 173-199 (from memory).

    Examples
    --------
    Creeping flow between discs at rest: pressure falls by 12 mu u / b^2 per metre.

    >>> import swirlstack as sw
    >>> air = sw.gas("air")
    >>> flow = march(fluid=air, rim_pressure=2e5, rim_enthalpy=4e5, rim_swirl=0.0,
    ...     mass_flow=1e-6, gap=1e-4, rim_radius=0.05, bore_radius=0.02, angular_speed=0.0)
    >>> state = air.state(pressure=2e5, enthalpy=4e5)
    >>> slope = 6 * state.viscosity * 1e-6 / (np.pi * 1e-4**3 * state.density)
    >>> round(float((2e5 - flow.exit_pressure) / (slope * np.log(0.05 / 0.02))), 2)
    1.0

    """
    given, shape = as_lanes(
        rim_pressure,
        rim_enthalpy,
        rim_swirl,
        mass_flow,
        gap,
        rim_radius,
        bore_radius,
        angular_speed,
    )
    found = np.empty((N_EXIT, given[0].size))
    settings = (
        fluid.record,
        across_of(grid=grid),
        n_steps,
        *patience(n_steps=n_steps, repeated_sweeps=repeated_sweeps),
    )
    work = partial(_march, *settings, np.stack(given), found)
    on_every_core(work, n_lanes=found.shape[1], fewest=1)
    return flow_of_rows(found=found.reshape(N_EXIT, *shape))


def flow_of_rows(*, found: Lanes) -> GapFlow:
    """Take the result of the march from the rows that `write_resolved` fills.

    Parameters
    ----------
    found : Lanes
        Fields of `answer.GapFlow` in their order, along the first axis [SI].

    Returns
    -------
    GapFlow
        The same by name.

    References
    ----------
    None: selection of rows.

    """
    flags: list[Any] = [found[-2] == 1, found[-1] == 1]
    return GapFlow(*found[:-2], *flags)


def patience(*, n_steps: int, repeated_sweeps: int) -> tuple[int, float]:
    """Most repeated sweeps for a number of steps, and the change at which they end.

    Parameters
    ----------
    n_steps : int
        Steps from rim to bore [-].
    repeated_sweeps : int
        Most repeats with the usual number of steps [-].

    Returns
    -------
    repeats : int
        Most repeats.
    still : float
        Change of pressure drop and torque between two sweeps at which the march has settled [-].

    Notes
    -----
    A sweep passes changes on by one step. So finer steps need more sweeps and a smaller change to
    stop at.

    References
    ----------
    Derived here.

    """
    fineness = n_steps / N_STEPS
    return round(repeated_sweeps * fineness), SETTLED / fineness


def across_of(*, grid: HalfGap) -> Across:
    """Matrices across the gap as the kernels read them.

    Parameters
    ----------
    grid : HalfGap
        Nodes across the half gap.

    Returns
    -------
    Across
        The same with transposes and mixing lengths.

    References
    ----------
    None: selection of matrices.

    """
    matrices = [grid.slope, grid.divergence, grid.second, grid.integral]
    pairs = [np.ascontiguousarray(m) for matrix in matrices for m in (matrix, matrix.T)]
    distance = 1 - grid.nodes
    lengths = mixing_length(wall_distance=distance)
    plain = (grid.weights, grid.middle, distance, lengths)
    return Across(*pairs, *map(np.ascontiguousarray, plain))


@compiled
def _march(
    record: FluidRecord,
    across: Across,
    n_steps: int,
    repeats: int,
    still: float,
    given: Lanes,
    found: Lanes,
    first: int,
    last: int,
) -> None:
    n = across.weights.size
    room = room_for(n)
    trail, before, one = trail_for(n_steps, n), trail_for(n_steps, n), trail_for(n_steps, n)
    for i in range(first, last):
        p, h, swirl, flow = given[0, i], given[1, i], given[2, i], given[3, i]
        gap, outer, inner, omega = given[4, i], given[5, i], given[6, i], given[7, i]
        rim = rim_of(record, p, h, swirl, flow, gap, outer, inner, omega)
        reached, settled = march_lane(record, rim, across, repeats, still, trail, before, one, room)
        end = exit_of(record, rim, across, trail, reached, settled)
        write_resolved(found, 0, i, end)
