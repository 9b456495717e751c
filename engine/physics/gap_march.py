"""The thin-gap equations, compressible, one implicit step at a time from rim to bore.

In the frame of the discs, with x = r / r_o, t = 1 - x, z across the half gap, U0 the inward speed
at the rim: flux phi = -rho r u / (rho_0 r_o U0), swirl g = r (v - Omega r) / (r_o U0), density
s = rho / rho_0, spin N = Omega r_o / U0, drag c = 4 x (mu + eddies) r_o / (rho_0 U0 b^2), drift
w = -(integral of phi_t from mid-gap) and a forcing G that keeps the mean flux at one:

    (phi^2)_t + (w phi)_z + phi^2 / x - phi^2 s_t / s - (c phi_z)_z
        + s^2 (g^2 / x + 2 N x g) + s x^2 G = 0                          mean(phi) = 1
    (phi g)_t + (w g)_z - 2 x N phi - (c g_z)_z = 0
    p_t = rho_0 U0^2 (G - s x N^2)                                       s = rho(p, h) / rho_0

h comes from rothalpy, conserved in the mass-flux mean. The first two are in conservation form: so
they keep angular momentum step by step, whatever the length of the step.
"""

from typing import NamedTuple

import numpy as np

from engine.physics.arrays import Lanes, Mask
from engine.physics.fluid_kernel import Fluid
from engine.physics.gap_grid import HalfGap
from engine.physics.gap_state import Rim, State, gap_reynolds, take
from engine.physics.gap_turbulence import eddy_viscosity, turbulent_weight

_BACKWARD = {1: (1.0,), 2: (2.0, -1 / 2), 3: (3.0, -3 / 2, 1 / 3)}
_EXTRAPOLATED = {1: (1.0,), 2: (1.0,), 3: (1.0,), 4: (2.0, -1.0), 5: (3.0, -3.0, 1.0)}
_AHEAD = {0: (), 1: (1.0,), 2: (2.0, -1 / 2)}
_TOLERANCE = 3e-4
_MOST_ITERATIONS = 20
_TINY = 1e-30


class _Carried(NamedTuple):
    """What the steps behind leave to the next: their part of each derivative."""

    flux: Lanes
    momentum: Lanes
    angular: Lanes
    density: Lanes
    pressure: Lanes
    braking: Lanes


class _Ahead(NamedTuple):
    """Derivative where fluid comes from the bore side: rate times unknown plus the rest."""

    reverse: Mask
    rate: Lanes
    flux: Lanes
    swirl: Lanes


class _Step(NamedTuple):
    """One step of the march."""

    ratio: Lanes
    rate: Lanes
    """Weight of the unknown in its own derivative along the march [-]."""
    drag: Lanes
    old: _Carried
    ahead: _Ahead


def sweep(
    *,
    rim: Rim,
    fluid: Fluid,
    grid: HalfGap,
    n_steps: int,
    before: list[State] | None = None,
) -> list[State]:
    """March all lanes from rim to bore; a lane that fails is NaN from there on.

    Shapes: one block of lanes, as columns; see `gap_state`.

    Parameters
    ----------
    rim : Rim
        Entry of each lane.
    fluid : Fluid
        Properties.
    grid : HalfGap
        Nodes across the gap.
    n_steps : int
        Steps from rim to bore, at least 3.
    before : list of State, optional
        Previous sweep, from which fluid that moves outward takes its derivative.

    Returns
    -------
    list of State
        n_steps + 1 states from rim to bore.

    Notes
    -----
    Steps are even in sqrt(t), so that they are short where the layers at the walls begin.

    References
    ----------
    Backward differences: Gear 1971, Numerical Initial Value Problems, table 11.1 (from memory).

    Examples
    --------
    >>> from engine.physics.gap_grid import half_gap
    >>> from engine.fluidtables import gas
    >>> values = (2e5, 4e5, 2.4, 10.0, 15.0, 8.0, 0.075, 0.6, 3e-4)
    >>> rim = Rim(*(np.full((1, 1), value) for value in values))
    >>> trail = sweep(rim=rim, fluid=gas("air"), grid=half_gap(n_nodes=8), n_steps=20)
    >>> len(trail), round(trail[-1].ratio.item(), 6)
    (21, 0.4)

    """
    trail = [_entry(rim=rim, fluid=fluid, grid=grid)]
    for k in range(1, n_steps + 1):
        place = k / n_steps
        # The first step leaves a singular point and takes its true length, not that of the map.
        length = rim.span * place * (place if k == 1 else 2 / n_steps)
        guess = _expected(trail, 1 - rim.span * place**2)
        drag = _drag(rim=rim, fluid=fluid, state=guess)
        weights = _BACKWARD[min(k, 3)]
        step = _Step(
            ratio=guess.ratio,
            rate=sum(weights) / length,
            drag=drag,
            old=_Carried(
                *(_sum(weights, v) / length for v in zip(*map(_carry, trail[-3:]), strict=True))
            ),
            ahead=_ahead(behind=trail[-1], before=before, k=k, length=length),
        )
        state = _settle(rim=rim, fluid=fluid, grid=grid, step=step, guess=guess)
        lost = np.isnan(state.density[:, 0]) & np.isfinite(trail[-1].density[:, 0])
        if lost.any():
            # Where the core turns back within a step, what is behind is the better guess.
            guess = take(trail[-1]._replace(ratio=guess.ratio), lost)
            found = _settle(
                rim=take(rim, lost), fluid=fluid, grid=grid, step=take(step, lost), guess=guess
            )
            for value, second in zip(state, found, strict=True):
                value[lost] = second
        pressure, enthalpy = _thermal(rim=rim, grid=grid, step=step, state=state)
        wall = (state.swirl @ grid.slope[0])[:, None]
        braking = (step.old.braking - step.drag * wall) / step.rate
        trail.append(state._replace(pressure=pressure, enthalpy=enthalpy, braking=braking))
    return trail


def _entry(*, rim: Rim, fluid: Fluid, grid: HalfGap) -> State:
    one = np.ones_like(rim.spin)
    plug = np.ones(grid.n_nodes)
    state = State(
        flux=one * plug,
        swirl=rim.plug * plug,
        forcing=0 * one,
        density=one,
        pressure=rim.pressure,
        enthalpy=rim.enthalpy,
        braking=0 * one,
        drag=one,
        ratio=one,
    )
    return state._replace(drag=_drag(rim=rim, fluid=fluid, state=state))


def _drag(*, rim: Rim, fluid: Fluid, state: State) -> Lanes:
    viscosity = fluid.viscosity(pressure=state.pressure, enthalpy=state.enthalpy)
    diffusion = viscosity * rim.radius / (rim.density * rim.radial_speed * rim.gap**2)
    return np.asarray(4 * state.ratio * diffusion)


def _carry(state: State) -> _Carried:
    return _Carried(
        flux=state.flux,
        momentum=state.flux**2,
        angular=state.flux * state.swirl,
        density=state.density,
        pressure=state.pressure,
        braking=state.braking,
    )


def _sum(weights: tuple[float, ...], values: tuple[Lanes, ...]) -> Lanes:
    """Weighted sum, the newest (last) value first."""
    return np.asarray(sum(w * v for w, v in zip(weights, values[::-1], strict=True)))


def _expected(trail: list[State], ratio: Lanes) -> State:
    """Extrapolate the march to the next state."""
    weights = _EXTRAPOLATED[min(len(trail), 5)]
    values = zip(*trail[-len(weights) :], strict=True)
    return State(*(_sum(weights, v) for v in values))._replace(ratio=ratio)


def _ahead(*, behind: State, before: list[State] | None, k: int, length: Lanes) -> _Ahead:
    """Find the derivative of outward-moving fluid: none at first, then that of the last sweep.

    At the bore nothing is known of the fluid that comes back in, so it keeps what it has. Which
    nodes flow outward is taken from what is behind, not from the guess: extrapolation makes
    negative values at the wall out of a layer that grows.
    """
    if before is None:
        zero = np.zeros_like(behind.flux)
        return _Ahead(reverse=behind.flux < 0, rate=0 * length, flux=zero, swirl=zero)
    after = before[k + 1 : k + 3][::-1]
    weights = _AHEAD[len(after)]
    return _Ahead(
        reverse=before[k].flux < 0,
        rate=-sum(weights) / length,
        flux=_sum(weights, tuple(s.flux for s in after)) / length,
        swirl=_sum(weights, tuple(s.swirl for s in after)) / length,
    )


def _settle(*, rim: Rim, fluid: Fluid, grid: HalfGap, step: _Step, guess: State) -> State:
    """Newton's method on one step; NaN in lanes that do not converge.

    A lane that has converged, or is lost, leaves: it costs nothing more and does not depend on its
    neighbours.
    """
    n = grid.n_nodes
    settled = State(*(np.full_like(value, np.nan) for value in guess))
    rows = np.flatnonzero(np.isfinite(guess.density))
    rim, step, state = take(rim, rows), take(step, rows), take(guess, rows)
    state = state._replace(drag=step.drag)
    for _ in range(_MOST_ITERATIONS):
        residual, jacobian = _equations(rim=rim, fluid=fluid, grid=grid, step=step, state=state)
        change = _solve(jacobian, residual)
        longest = np.abs(change[:, :n]).max(axis=1, keepdims=True)
        longest = np.maximum(longest, np.abs(change[:, -1:]) / (0.5 * state.density))
        change = change / np.maximum(1, longest)
        state = state._replace(
            flux=state.flux - change[:, :n],
            swirl=state.swirl - change[:, n:-2],
            forcing=state.forcing - change[:, -2:-1],
            density=state.density - change[:, -1:],
        )
        change[:, n:-2] /= 1 + np.abs(state.swirl).max(axis=1, keepdims=True)
        change[:, -2] = 0
        error = np.abs(change).max(axis=1)
        done, still = error < _TOLERANCE, error >= _TOLERANCE
        for value, found in zip(settled, take(state, done), strict=True):
            value[rows[done]] = found
        rows = rows[still]
        if not rows.size:
            break
        rim, step, state = take(rim, still), take(step, still), take(state, still)
    return settled


def _solve(jacobian: Lanes, residual: Lanes) -> Lanes:
    """Newton's change; NaN in a lane without one."""
    lost = ~np.isfinite(residual).all(axis=1)
    jacobian[lost] = np.eye(residual.shape[1])
    try:
        change = np.linalg.solve(jacobian, residual[..., None])
    except np.linalg.LinAlgError:
        singular = np.linalg.det(jacobian) == 0
        jacobian[singular] = np.eye(residual.shape[1])
        change = np.linalg.solve(jacobian, residual[..., None])
        change[singular] = np.nan
    return np.asarray(change[..., 0], dtype=np.float64)


def _thermal(*, rim: Rim, grid: HalfGap, step: _Step, state: State) -> tuple[Lanes, Lanes]:
    """Pressure and mass-flux mean static enthalpy, from momentum and conserved rothalpy."""
    speed = rim.radial_speed
    push = rim.density * speed**2 * (state.forcing - state.density * step.ratio * rim.spin**2)
    pressure = (push + step.old.pressure) / step.rate
    squares = (state.flux / state.density) ** 2 + state.swirl**2
    motion = (state.flux * squares) @ grid.weights
    rothalpy = rim.enthalpy + speed**2 / 2 * (1 + rim.plug**2 - rim.spin**2)
    carried = speed**2 / 2 * ((rim.spin * step.ratio) ** 2 - motion[:, None] / step.ratio**2)
    return pressure, rothalpy + carried


def _equations(
    *, rim: Rim, fluid: Fluid, grid: HalfGap, step: _Step, state: State
) -> tuple[Lanes, Lanes]:
    """Residual and Jacobian of one step; unknowns are flux, swirl, forcing, density."""
    flux, swirl, density = state.flux, state.swirl, state.density
    ratio, rate, old, ahead = step.ratio, step.rate, step.old, step.ahead
    n = grid.n_nodes
    drift = (old.flux - rate * flux) @ grid.integral.T
    flux_slope, swirl_slope = flux @ grid.slope.T, swirl @ grid.slope.T
    back_flux = ahead.rate * flux + ahead.flux
    back_swirl = ahead.rate * swirl + ahead.swirl
    flux_term = np.where(ahead.reverse, flux * back_flux, flux * old.flux - old.momentum)
    swirl_term = np.where(ahead.reverse, flux * back_swirl, swirl * old.flux - old.angular)
    turning = swirl**2 / ratio + 2 * rim.spin * ratio * swirl
    widening = 1 / ratio - rate + old.density / density
    residual = np.empty((flux.shape[0], 2 * n + 2))
    residual[:, :n] = (
        flux_term
        + drift * flux_slope[:, 1:]
        + flux**2 * widening
        - step.drag * (flux @ grid.second.T)
        + density**2 * turning
        + density * ratio**2 * state.forcing
    )
    residual[:, n:-2] = (
        swirl_term
        + drift * swirl_slope[:, 1:]
        - 2 * ratio * rim.spin * flux
        - step.drag * (swirl @ grid.second.T)
    )
    residual[:, -2] = flux @ grid.weights - 1

    jacobian = np.zeros((flux.shape[0], 2 * n + 2, 2 * n + 2))
    across = drift[..., None] * grid.slope[1:] - step.drag[..., None] * grid.second
    stretch = -rate[..., None] * grid.integral
    diagonal = np.arange(n)
    jacobian[:, :n, :n] = across + flux_slope[:, 1:, None] * stretch
    jacobian[:, n:-2, n:-2] = across
    jacobian[:, n:-2, :n] = swirl_slope[:, 1:, None] * stretch
    jacobian[:, diagonal, diagonal] += (
        np.where(ahead.reverse, back_flux + ahead.rate * flux, old.flux) + 2 * flux * widening
    )
    jacobian[:, diagonal, n + diagonal] = density**2 * (2 * swirl / ratio + 2 * rim.spin * ratio)
    jacobian[:, n + diagonal, n + diagonal] += np.where(ahead.reverse, ahead.rate * flux, old.flux)
    jacobian[:, n + diagonal, diagonal] += np.where(ahead.reverse, back_swirl, 0) - (
        2 * ratio * rim.spin
    )
    jacobian[:, :n, -2] = density * ratio**2
    jacobian[:, :n, -1] = (
        2 * density * turning + ratio**2 * state.forcing - flux**2 * old.density / density**2
    )
    jacobian[:, -2, :n] = grid.weights
    residual[:, -1:], jacobian[:, -1] = _density_equation(
        rim=rim, fluid=fluid, grid=grid, step=step, state=state
    )
    weight, weight_slope = turbulent_weight(reynolds=gap_reynolds(rim=rim, grid=grid, state=state))
    if np.any(weight > 0):
        _add_eddies(
            rim=rim,
            grid=grid,
            state=state,
            slopes=(flux_slope, swirl_slope),
            transition=(weight, weight_slope),
            residual=residual,
            jacobian=jacobian,
        )
    return residual, jacobian


def _density_equation(
    *, rim: Rim, fluid: Fluid, grid: HalfGap, step: _Step, state: State
) -> tuple[Lanes, Lanes]:
    """Residual of the density against the state of the fluid, and its row of the Jacobian."""
    flux, swirl, density, ratio = state.flux, state.swirl, state.density, step.ratio
    pressure, enthalpy = _thermal(rim=rim, grid=grid, step=step, state=state)
    there = fluid.state(pressure=pressure, enthalpy=enthalpy)
    by_pressure = there.by_pressure * rim.radial_speed**2 / step.rate
    by_enthalpy = there.by_enthalpy * (rim.radial_speed / ratio) ** 2 / rim.density
    squares = 3 * (flux / density) ** 2 + swirl**2
    cubes = (flux**3 @ grid.weights)[:, None] / density**3
    row = [
        by_enthalpy * grid.weights * squares / 2,
        by_enthalpy * grid.weights * flux * swirl,
        -by_pressure,
        1 + by_pressure * ratio * rim.spin**2 - by_enthalpy * cubes,
    ]
    return density - there.density / rim.density, np.hstack(row)


def _add_eddies(
    *,
    rim: Rim,
    grid: HalfGap,
    state: State,
    slopes: tuple[Lanes, Lanes],
    transition: tuple[Lanes, Lanes],
    residual: Lanes,
    jacobian: Lanes,
) -> None:
    """Add the eddy stress to the residual and the Jacobian of one step, in place."""
    n = grid.n_nodes
    flux_slope, swirl_slope = slopes
    scale = 2 * rim.radius / (rim.gap * state.drag)
    along, around = flux_slope, swirl_slope * state.density
    size = np.hypot(along, around) + _TINY
    along, around = along / size, around / size
    weight, weight_slope = transition
    ratio, sensitivity = eddy_viscosity(wall_distance=1 - grid.nodes, shear=scale * size)
    full = state.drag * ratio
    eddy = weight * full
    residual[:, :n] -= (eddy * flux_slope) @ grid.divergence.T
    residual[:, n:-2] -= (eddy * swirl_slope) @ grid.divergence.T

    def spread(stress: Lanes) -> Lanes:
        return np.asarray(grid.divergence @ (stress[..., None] * grid.slope))

    density = state.density[..., None]
    crossed = spread(eddy * along * around)
    jacobian[:, :n, :n] -= spread(eddy * (1 + along**2))
    jacobian[:, n:-2, n:-2] -= spread(eddy * (1 + around**2))
    jacobian[:, :n, n:-2] -= crossed * density
    jacobian[:, n:-2, :n] -= crossed / density

    def through(change: Lanes) -> Lanes:
        return np.hstack([(change * slope) @ grid.divergence.T for slope in slopes])

    mean_swirl = (state.swirl @ grid.weights)[:, None] * state.density
    by_mean = weight_slope * mean_swirl / (1 + mean_swirl**2)
    by_swirl = by_mean * state.density * grid.weights
    by_wall = grid.slope[0] / size[:, :1]
    causes = [
        np.hstack([along[:, :1] * by_wall, around[:, :1] * state.density * by_wall]),
        np.hstack([0 * by_swirl, by_swirl]),
    ]
    effects = [through(eddy * sensitivity), through(full)]
    jacobian[:, :-2, :-2] -= np.stack(effects, axis=2) @ np.stack(causes, axis=1)
    stretch = around * swirl_slope / size
    by_density = eddy * (stretch + sensitivity * stretch[:, :1])
    jacobian[:, :-2, -1] -= through(by_density + full * by_mean * mean_swirl / state.density)
