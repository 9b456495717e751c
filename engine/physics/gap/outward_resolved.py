"""Flow outward through one gap of a pump, at the resolved level.

The march is that of `resolved`, from the eye to the rim, with the signs of an outward flow.
"""

from dataclasses import fields

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.fluids.fluid import Kind
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.answer import OUTWARD, GapOutflow
from engine.physics.gap.resolved import GRID, N_STEPS, REPEATED_SWEEPS, flow_of_rows, march_rows
from engine.physics.gap.resolved_grid import HalfGap
from engine.physics.gap.resolved_room_kernel import Rim

AMPLE = 1e6
"""Pressure [Pa] to which that of a liquid is raised for the march, and lowered again after it: only
differences matter to it, and a march wants a pressure above zero."""


def march_outward_resolved(
    *,
    fluid: Fluid,
    eye_pressure: Array,
    eye_enthalpy: Array,
    eye_swirl: Array,
    mass_flow: Array,
    gap: Array,
    eye_radius: Array,
    rim_radius: Array,
    angular_speed: Array,
    transition_factor: Array = 1.0,
    grid: HalfGap = GRID,
    n_steps: int = N_STEPS,
    repeated_sweeps: int = REPEATED_SWEEPS,
) -> GapOutflow:
    """March the flow of a pump through one gap, with its profiles across the width.

    Shapes: all arrays broadcast; every field of the result has their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    eye_pressure, eye_enthalpy : Array
        Static pressure [Pa] and enthalpy [J/kg] just inside the gap; a gas needs one above 0.
    eye_swirl : Array
        Circumferential speed at entry in the laboratory frame, uniform across the gap [m/s].
    mass_flow : Array
        Outward flow through one gap [kg/s], above 0.
    gap, eye_radius, rim_radius : Array
        Wall distance [m] and radii [m], 0 < eye_radius < rim_radius.
    angular_speed : Array
        Speed of the discs [rad/s], >= 0.
    transition_factor : Array
        Reynolds numbers at which the flow turns turbulent over those of a plane channel [-], > 0.
    grid : HalfGap, optional
        Nodes across the half gap.
    n_steps, repeated_sweeps : int, optional
        As in `resolved.march` [-].

    Returns
    -------
    GapOutflow
        As `outward.march_outward` gives it. Its backflow share is that of the radius on which the
        fluid in mid-gap or at the walls flows back. NaN, with `settled` false, as there; where a
        flow with backflow does not settle, the first sweep is returned with `settled` false.

    References
    ----------
    Equations: derived here (`resolved_step_kernel`); four terms change their sign.

    Examples
    --------
    Little flow through a narrow gap turns with the discs.

    >>> import swirlstack as sw
    >>> air = sw.gas("air")
    >>> flow = march_outward_resolved(fluid=air, eye_pressure=1e5, eye_enthalpy=4.2e5,
    ...     eye_swirl=4.0, mass_flow=1e-8, gap=1e-4, eye_radius=0.02, rim_radius=0.05,
    ...     angular_speed=200.0)
    >>> round(float(flow.rim_swirl), 2)
    10.0

    """
    given, shape = as_lanes(
        eye_pressure,
        eye_enthalpy,
        eye_swirl,
        mass_flow,
        gap,
        eye_radius,
        rim_radius,
        angular_speed,
        transition_factor,
    )
    pressure, enthalpy, swirl, flow, _, eye, outer, omega, _ = given
    pressure[~(omega >= 0)] = np.nan
    raised = np.zeros_like(pressure)
    if fluid.record.kind == Kind.LIQUID:
        raised = AMPLE - pressure
        enthalpy += raised / fluid.density(pressure=pressure, enthalpy=enthalpy)
        pressure += raised
    found, trails, rows = march_rows(
        fluid=fluid,
        given=np.stack(given),
        grid=grid,
        n_steps=n_steps,
        repeated_sweeps=repeated_sweeps,
        n_kept=flow.size,
        way=OUTWARD,
    )
    end, rim = flow_of_rows(found=found), Rim(*rows.T)
    with np.errstate(all="ignore"):
        speed, momentum, kinetic = _at_rim(rim, grid, trails[:, -1], omega * outer)
        none = 0.0 * end.exit_pressure
        back = np.maximum(end.backflow_share, end.wall_backflow_share)
        lowest = trails[..., 2 * grid.n_nodes + 2].min(axis=1)
        sunk = raised / fluid.density(pressure=pressure, enthalpy=enthalpy)
    answer = GapOutflow(
        rim_pressure=end.exit_pressure - raised,
        rim_enthalpy=end.exit_enthalpy - sunk,
        rim_total_enthalpy=end.exit_total_enthalpy - sunk,
        rim_swirl=end.exit_swirl,
        rim_speed=speed + none,
        rim_momentum=momentum + none,
        rim_kinetic_energy=kinetic + none,
        torque=flow * (outer * end.exit_swirl - eye * swirl),
        lowest_pressure=lowest - raised + none,
        largest_reynolds=end.largest_reynolds,
        turbulent_share=end.turbulent_share,
        largest_mach=end.largest_mach,
        backflow_share=back,
        choked=end.choked,
        settled=end.settled,
    )
    return GapOutflow(**{f.name: getattr(answer, f.name).reshape(shape) for f in fields(answer)})


def _at_rim(
    rim: Rim, grid: HalfGap, states: Lanes, wall_speed: Lanes
) -> tuple[Lanes, Lanes, Lanes]:
    """Mean radial speed, its mean square, and kinetic energy by the mass flux, of last states."""
    n = grid.n_nodes
    flux, swirl = states[:, :n], states[:, n : 2 * n]
    scale = rim.radial_speed / states[:, -1]
    speed = scale / states[:, 2 * n + 1]
    around = wall_speed[:, None] + scale[:, None] * swirl
    out = speed[:, None] * flux
    return speed, out**2 @ grid.weights, (flux * (around**2 + out**2)) @ grid.weights / 2
