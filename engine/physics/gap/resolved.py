"""Flow through one gap at the resolved level: its profiles are solved across the width."""

from functools import partial
from typing import Any, TypeAlias

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import SPAN, on_every_core
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.answer import INWARD, GapFlow
from engine.physics.gap.resolved_exit_kernel import N_EXIT
from engine.physics.gap.resolved_grid import HalfGap, carried, half_gap
from engine.physics.gap.resolved_march_kernel import march_lanes
from engine.physics.gap.resolved_mesh_kernel import Effort
from engine.physics.gap.resolved_room_kernel import Across, Rim
from engine.physics.gap.resolved_sweep_kernel import SETTLED
from engine.physics.gap.turbulence import mixing_length

MeshGiven: TypeAlias = tuple[Across, int, Effort]
"""Nodes across, steps, and effort of a mesh."""

GRID = half_gap(n_nodes=12, stretch=2.0)
"""Nodes across the half gap."""
N_STEPS = 30
"""Radial steps of a march."""
FINER_GRID, FINER_STEPS = half_gap(n_nodes=14, stretch=2.0), 50
"""The same on the mesh for a lane whose search does not converge on the usual one."""
COARSE_GRID, COARSE_STEPS = half_gap(n_nodes=8, stretch=2.0), 16
"""The same on the mesh that tells whether a lane has a matched point where a search finds none."""
COARSER = 10
"""Tolerance there over the usual one."""
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
    transition_factor: Array = 1.0,
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
    transition_factor : Array
        Reynolds numbers at which the flow turns turbulent over those of a plane channel [-], > 0.
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
    derivative there. From that guess all stations are solved at once (`resolved_whole_kernel`), in
    some 5 ms. Where that fails, further sweeps take the derivative from the sweep before, and last
    a more viscous fluid leads in; a lane that fails costs some 0.1 s. Where the flow
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
        transition_factor,
    )
    found, _, _ = march_rows(
        fluid=fluid,
        given=np.stack(given),
        grid=grid,
        n_steps=n_steps,
        repeated_sweeps=repeated_sweeps,
        n_kept=0,
    )
    return flow_of_rows(found=found.reshape(N_EXIT, *shape))


def march_rows(
    *,
    fluid: Fluid,
    given: Lanes,
    grid: HalfGap,
    n_steps: int,
    repeated_sweeps: int,
    n_kept: int,
    way: float = INWARD,
) -> tuple[Lanes, Lanes, Lanes]:
    """March lanes given in rows; for `march` and `profiles`, which share its machine code.

    Parameters
    ----------
    fluid : Fluid
        Properties at pressure and enthalpy.
    given : Lanes
        Arguments of `march` from `rim_pressure` to `transition_factor`, (argument, lane) [SI].
    grid : HalfGap
        Nodes across the half gap.
    n_steps, repeated_sweeps : int
        As in `march` [-].
    n_kept : int
        Lanes from the first whose states at all stations are kept [-].
    way : float
        1 for an inward march. -1 for an outward one: then the eye is given in place of the rim, the
        rim in place of the bore, and the flow counts outward [-].

    Returns
    -------
    found : Lanes
        Rows that `flow_of_rows` reads, (row, lane) [SI].
    trails : Lanes
        States of the lanes kept, (lane, station, state), as in `resolved_step_kernel`.
    rims : Lanes
        Fields of their `Rim`, (lane, field) [SI].

    References
    ----------
    None: selection of rows.

    """
    n, n_lanes = grid.n_nodes, given.shape[1]
    found = np.empty((N_EXIT, n_lanes))
    trails = np.empty((n_kept, n_steps + 1, 2 * n + 7))
    rims = np.empty((n_kept, len(Rim._fields)))
    patient = patience(n_steps=n_steps, repeated_sweeps=repeated_sweeps)
    settings = (fluid.record, across_of(grid=grid), n_steps, *patient, way)
    work = partial(march_lanes, *settings, given, found, trails, rims)
    on_every_core(work, n_lanes=n_lanes, fewest=1)
    return found, trails, rims


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


def meshes(
    *, tolerance: float, grid: HalfGap = GRID, n_steps: int = N_STEPS
) -> tuple[MeshGiven, MeshGiven, Lanes]:
    """Coarse and fine mesh of a match, and the matrix from the nodes of one to the other.

    Parameters
    ----------
    tolerance : float
        Largest mismatch of a matched lane without backflow on the fine mesh [-].
    grid : HalfGap
        Nodes across the half gap, of the fine mesh.
    n_steps : int
        Radial steps there, 4 or more [-].

    Returns
    -------
    coarse, fine : tuple[Across, int, Effort]
        Nodes across, steps, and how closely marches are matched.
    carried : Lanes
        Interior values on the coarse nodes to those on the fine ones [-].

    References
    ----------
    Derived here.

    """
    made = []
    for nodes, steps, by in ((COARSE_GRID, COARSE_STEPS, COARSER), (grid, n_steps, 1)):
        repeats, still = patience(n_steps=steps, repeated_sweeps=REPEATED_SWEEPS)
        made.append((across_of(grid=nodes), steps, Effort(repeats, still, tolerance * by)))
    carry = np.ascontiguousarray(carried(source=COARSE_GRID, target=grid))
    return made[0], made[1], carry


def across_of(*, grid: HalfGap) -> Across:
    """Matrices across the gap as the kernels read them.

    Parameters
    ----------
    grid : HalfGap
        Nodes across the half gap.

    Returns
    -------
    Across
        The same, padded, with transposes and mixing lengths.

    References
    ----------
    None: selection of matrices.

    """
    matrices = [grid.slope, grid.divergence, grid.second, grid.integral]
    pairs = [_padded(m) for matrix in matrices for m in (matrix, matrix.T)]
    distance = 1 - grid.nodes
    lengths = mixing_length(wall_distance=distance)
    rows = _padded(np.vstack([grid.slope, grid.weights, grid.integral, grid.second]))
    plain = (grid.weights, grid.middle, distance, lengths, rows)
    return Across(*pairs, *map(np.ascontiguousarray, plain))


def _padded(matrix: Lanes) -> Lanes:
    """Matrix with rows of whole spans."""
    return np.ascontiguousarray(np.pad(matrix, ((0, 0), (0, -matrix.shape[1] % SPAN))))
