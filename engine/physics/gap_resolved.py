"""Flow in a gap resolved across its width: the answer of a march from rim to bore."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask
from engine.physics.gap_flow import GapFlow, GapFluid
from engine.physics.gap_grid import HalfGap, half_gap
from engine.physics.gap_march import Rim, State, gap_reynolds, sweep
from engine.physics.gap_turbulence import LAMINAR_BELOW, turbulent_weight

LAMINAR_GRID = half_gap(n_nodes=12)
TURBULENT_GRID = half_gap(n_nodes=20, stretch=1.5)
N_STEPS = 60
CHOKED_MACH = 0.95
_LANES_AT_ONCE = 128
_MOST_SWEEPS = 20
_SETTLED = 2e-4


@dataclass(frozen=True)
class Resolution:
    """How finely a march is resolved."""

    laminar: HalfGap = LAMINAR_GRID
    turbulent: HalfGap = TURBULENT_GRID
    n_steps: int = N_STEPS


STANDARD = Resolution()


@dataclass(frozen=True)
class _March:
    """A march of some lanes on one grid."""

    rim: Rim
    grid: HalfGap
    trail: list[State]
    settled: Mask


def march(
    *,
    fluid: GapFluid,
    rim_pressure: Array,
    rim_enthalpy: Array,
    rim_swirl: Array,
    mass_flow: Array,
    gap: Array,
    rim_radius: Array,
    bore_radius: Array,
    angular_speed: Array,
    resolution: Resolution = STANDARD,
) -> GapFlow:
    """Flow through one gap, resolved across its width."""
    rim = _rim(
        fluid=fluid,
        rim_pressure=rim_pressure,
        rim_enthalpy=rim_enthalpy,
        rim_swirl=rim_swirl,
        mass_flow=mass_flow,
        gap=gap,
        rim_radius=rim_radius,
        bore_radius=bore_radius,
        angular_speed=angular_speed,
    )
    out = {}
    n = rim.pressure.size
    parts = []
    for i in range(0, n, _LANES_AT_ONCE):
        parts.append(
            _block(fluid=fluid, rim=rim.rows(slice(i, i + _LANES_AT_ONCE)), resolution=resolution)
        )
    return GapFlow(*(np.concatenate(v) for v in zip(*parts, strict=True)))


def _block(*, fluid, rim, resolution):
    with np.errstate(all="ignore"):
        lam = _laminar = _march(
            fluid=fluid,
            rim=rim,
            grid=resolution.laminar,
            n_steps=resolution.n_steps,
            turbulent=False,
        )
        a = _summary(fluid=fluid, m=lam)
        turb = a[5] > LAMINAR_BELOW
        if turb.any():
            t = _march(
                fluid=fluid,
                rim=rim.rows(turb),
                grid=resolution.turbulent,
                n_steps=resolution.n_steps,
                turbulent=True,
            )
            b = _summary(fluid=fluid, m=t)
            for x, y in zip(a, b, strict=True):
                x[turb] = y
    return a


def _march(*, fluid, rim, grid, n_steps, turbulent) -> _March:
    trail = sweep(rim=rim, fluid=fluid, grid=grid, n_steps=n_steps, turbulent=turbulent)
    settled = np.ones(rim.spin.size, dtype=np.bool_)
    lanes = np.flatnonzero(np.any([(s.flux < 0).any(axis=1) for s in trail], axis=0))
    settled[lanes] = False
    before = [State(*(v[lanes] for v in s)) for s in trail]
    for _ in range(_MOST_SWEEPS):
        if not lanes.size:
            break
        after = sweep(
            rim=rim.rows(lanes),
            fluid=fluid,
            grid=grid,
            n_steps=n_steps,
            turbulent=turbulent,
            before=before,
        )
        change = np.max(
            [np.abs(a.flux - b.flux).max(axis=1) for a, b in zip(after, before)], axis=0
        )
        p0 = rim.pressure[lanes, 0]
        change = np.abs(
            (after[-1].pressure - before[-1].pressure)[:, 0] / (p0 - before[-1].pressure[:, 0])
        )
        done = change < _SETTLED
        good = np.isfinite(change)
        for s, a in zip(trail, after):
            for v, w in zip(s, a):
                v[lanes[good]] = w[good]
        settled[lanes[done]] = True
        keep = good & ~done
        lanes = lanes[keep]
        before = [State(*(v[keep] for v in s)) for s in after]
    return _March(rim=rim, grid=grid, trail=trail, settled=settled)


def _rim(
    *,
    fluid: GapFluid,
    rim_pressure: Array,
    rim_enthalpy: Array,
    rim_swirl: Array,
    mass_flow: Array,
    gap: Array,
    rim_radius: Array,
    bore_radius: Array,
    angular_speed: Array,
) -> Rim:
    pressure, enthalpy, swirl, flow, width, outer, inner, speed = (
        np.ravel(a)[:, None].astype(np.float64)
        for a in np.broadcast_arrays(
            rim_pressure,
            rim_enthalpy,
            rim_swirl,
            mass_flow,
            gap,
            rim_radius,
            bore_radius,
            angular_speed,
        )
    )
    good = (flow > 0) & (width > 0) & (inner > 0) & (inner < outer) & (pressure > 0)
    flow = np.where(good, flow, np.nan)
    density = fluid.density(pressure=pressure, enthalpy=enthalpy)
    radial_speed = flow / (2 * np.pi * outer * width * density)
    return Rim(
        pressure=pressure,
        enthalpy=enthalpy,
        density=density,
        radial_speed=radial_speed,
        spin=speed * outer / radial_speed,
        plug=(swirl - speed * outer) / radial_speed,
        radius=outer,
        span=(outer - inner) / outer,
        gap=width,
    )


def _summary(*, fluid, m):
    rim, trail, grid = m.rim, m.trail, m.grid
    out = trail[-1]
    speed = rim.radial_speed[:, 0]
    flow = 2 * np.pi * (rim.radius * rim.gap * rim.density)[:, 0] * speed
    scale = flow * rim.radius[:, 0] * speed
    angular = (out.flux * out.swirl) @ grid.weights
    spin, ratio = rim.spin[:, 0], out.ratio[:, 0]
    torque = scale * (rim.plug[:, 0] + spin - angular - spin * ratio**2)
    swirl = speed * (angular + spin * ratio**2) / ratio
    radii = np.stack([s.ratio[:, 0] for s in trail])
    share = -np.gradient(radii, axis=0) / rim.span[:, 0]
    share[[0, -1]] /= 2
    reynolds = np.stack([gap_reynolds(rim=rim, grid=grid, state=s)[:, 0] for s in trail])
    mach = []
    rmach = []
    for s in trail:
        a = fluid.sound_speed(pressure=s.pressure, enthalpy=s.enthalpy)
        u = rim.radial_speed / (s.ratio * s.density)
        v = rim.radial_speed / s.ratio * (s.swirl @ grid.weights)[:, None]
        mach.append((np.hypot(u, v) / a)[:, 0])
        rmach.append((u / a)[:, 0])
    rm = np.nanmax(np.stack(rmach), axis=0)
    nowall = [scale * 0]
    choked = (rm > CHOKED_MACH) | (np.isnan(torque) & (rm > 0.6))
    return [
        out.pressure[:, 0] + 0,
        out.enthalpy[:, 0] + 0,
        swirl,
        torque,
        torque,
        np.nanmax(reynolds, axis=0),
        np.sum(share * turbulent_weight(reynolds=reynolds), axis=0),
        np.nanmax(np.stack(mach), axis=0),
        np.sum(share * np.stack([s.flux[:, -1] < 0 for s in trail]), axis=0),
        choked,
        m.settled & np.isfinite(torque),
    ]
