"""Velocities inside one gap and the path of a particle, for drawing."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.resolved import GRID, N_STEPS, REPEATED_SWEEPS, march_rows
from engine.physics.gap.resolved_grid import HalfGap
from engine.physics.gap.resolved_room_kernel import Rim


@dataclass(frozen=True)
class GapProfiles:
    """Flow inside one gap, for drawing; first axis lanes, second axis stations from rim to bore."""

    radius: Lanes
    """Radius of each station, (lane, station) [m]."""
    pressure: Lanes
    """Static pressure, (lane, station) [Pa]."""
    mean_swirl: Lanes
    """Gap-mean circumferential velocity in the laboratory frame, (lane, station) [m/s]."""
    mean_inflow: Lanes
    """Gap-mean inward velocity, (lane, station) [m/s]."""
    path_angle: Lanes
    """Angle turned since the rim by a particle at the mean velocity, (lane, station) [rad]."""
    path_angle_on_disc: Lanes
    """The same angle as seen from the disc, (lane, station) [rad]."""
    height: Lanes
    """Distance from one wall, (lane, node) [m]."""
    inflow: Lanes
    """Inward velocity across the gap, (lane, station, node) [m/s]."""
    swirl: Lanes
    """Circumferential velocity across the gap in the laboratory frame, the same shape [m/s]."""
    turns: Lanes
    """Turns of that particle from rim to bore in the laboratory frame, (lane,) [-]."""
    residence_time: Lanes
    """Time of that particle from rim to bore, (lane,) [s]."""


def profiles(
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
) -> GapProfiles:
    """Velocities, pressure and the path of a particle inside one gap, for a few lanes to draw.

    Shapes: all arrays broadcast and are flattened to one axis of lanes.

    Parameters
    ----------
    fluid : Fluid
        Properties at pressure and enthalpy.
    rim_pressure, rim_enthalpy, rim_swirl, mass_flow : Array
        Entry into the gap, as in `resolved.march` [Pa], [J/kg], [m/s], [kg/s].
    gap, rim_radius, bore_radius, angular_speed : Array
        Gap [m], radii [m] and speed of the discs [rad/s].
    transition_factor : Array
        As in `resolved.march` [-].
    grid : HalfGap, optional
        Nodes across the half gap.
    n_steps : int, optional
        Steps from rim to bore.

    Returns
    -------
    GapProfiles
        NaN from the first station that did not converge.

    Notes
    -----
    The particle moves with the gap-mean velocities. One in mid-gap is faster, one near a wall
    slower.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> import swirlstack as sw
    >>> shape = profiles(fluid=sw.gas("air"), rim_pressure=2e5, rim_enthalpy=4e5, rim_swirl=200.0,
    ...     mass_flow=2e-3, gap=3e-4, rim_radius=0.075, bore_radius=0.03, angular_speed=2000.0)
    >>> shape.swirl.shape, round(shape.turns.item(), 1)
    ((1, 31, 26), 0.9)

    """
    given, _ = as_lanes(
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
    _, trails, rows = march_rows(
        fluid=fluid,
        given=np.stack(given),
        grid=grid,
        n_steps=n_steps,
        repeated_sweeps=REPEATED_SWEEPS,
        n_kept=given[0].size,
    )
    with np.errstate(all="ignore"):
        return _drawn(rim=Rim(*rows.T[..., None]), grid=grid, trails=trails)


def _drawn(*, rim: Rim, grid: HalfGap, trails: Lanes) -> GapProfiles:
    """Profiles of marches, (lane, station, state); fields of `rim` have the shape (lane, 1)."""
    n = grid.n_nodes
    flux, swirl = trails[..., :n], trails[..., n : 2 * n]
    density, pressure, ratio = trails[..., 2 * n + 1], trails[..., 2 * n + 2], trails[..., -1]
    speed = rim.radial_speed / ratio
    wall = rim.spin * rim.radial_speed * ratio
    mean_inflow = speed / density
    mean_slip = speed * (swirl @ grid.weights)
    radius = rim.radius * ratio
    time = _running_integral(1 / mean_inflow, -radius)
    on_disc = _running_integral(mean_slip / (mean_inflow * radius), -radius)
    path = on_disc + wall[:, :1] / rim.radius * time
    half = (1 + grid.nodes) / 2
    return GapProfiles(
        radius=radius,
        pressure=pressure,
        mean_swirl=mean_slip + wall,
        mean_inflow=mean_inflow,
        path_angle=path,
        path_angle_on_disc=on_disc,
        height=rim.gap * np.concatenate([1 - half, half[::-1]]),
        inflow=mean_inflow[..., None] * _across(flux),
        swirl=speed[..., None] * _across(swirl) + wall[..., None],
        turns=path[:, -1] / (2 * np.pi),
        residence_time=time[:, -1],
    )


def _across(interior: Lanes) -> Lanes:
    """Values from wall to wall, (lane, station, node), from those on the interior nodes."""
    half = np.pad(interior, ((0, 0), (0, 0), (1, 0)))
    return np.concatenate([half, half[..., ::-1]], axis=-1)


def _running_integral(integrand: Lanes, along: Lanes) -> Lanes:
    """Integral from the first station to each, by the trapezoidal rule."""
    pieces = (integrand[:, 1:] + integrand[:, :-1]) / 2 * np.diff(along)
    return np.pad(np.cumsum(pieces, axis=1), ((0, 0), (1, 0)))
