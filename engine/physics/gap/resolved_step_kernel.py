"""One implicit step of the march through a gap at the resolved level.

Thin-gap equations, compressible. In the frame of the discs, with x = r / r_o, t = 1 - x, z across
the half gap, U0 the inward speed and rho_0 the density at the rim: flux phi = -rho r u / (rho_0 r_o
U0), swirl g = r (v - Omega r) / (r_o U0), density s = rho / rho_0, spin N = Omega r_o / U0, drag
c = 4 x (mu + eddy viscosity) r_o / (rho_0 U0 b^2), drift w = -(integral of phi_t from mid-gap) and
a forcing G that keeps the mean flux at 1:

    (phi^2)_t + (w phi)_z + phi^2 / x - phi^2 s_t / s - (c phi_z)_z
        + s^2 (g^2 / x + 2 N x g) + s x^2 G = 0                                     (1)
    (phi g)_t + (w g)_z - 2 x N phi - (c g_z)_z = 0                                 (2)
    mean(phi) = 1                                                                   (3)
    s = rho(p, h) / rho_0                                                           (4)
    p_t = rho_0 U0^2 (G - s x N^2)                                                  (5)

(1) is radial momentum, (2) angular momentum, both in conservation form: each step conserves angular
momentum, whatever its length. Enthalpy h follows from rothalpy, conserved in the mass-flux mean.

A state is a row of 2 n + 7 numbers for n interior nodes. Unknowns: 0 to n - 1 flux, n to 2 n - 1
swirl, 2 n forcing, 2 n + 1 density. Then: 2 n + 2 pressure [Pa], 2 n + 3 static enthalpy [J/kg],
2 n + 4 braking (angular momentum taken by the walls since the rim, in the scale of the swirl),
2 n + 5 drag without eddies, 2 n + 6 x.
An outward march begins at the eye, with x = r / r_eye = 1 + t and phi and U0 outward. Then phi^2 /
x, the bracket of (1), 2 x N phi and s x N^2 change sign: they have the factor `way`, 1 or -1.
Names in the code: `ratio` x, `forcing` G, `density` s, `spin` N, `flux` phi, `swirl` g, `drift` w.
A derivative with t is `rate` times the unknown less a known part from the steps behind.
"""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import (
    compiled,
    inlined,
    less,
    less_rows,
    shared,
    sum_rows,
    whole_quads,
    whole_spans,
)
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import fluid_state
from engine.physics.gap.elimination_kernel import (
    dot,
    factorise,
    substitute,
)
from engine.physics.gap.resolved_eddies_kernel import eddies, slopes_of_stresses
from engine.physics.gap.resolved_room_kernel import (
    AHEAD_FLUX,
    AHEAD_SWIRL,
    DRIFT,
    EDDY,
    FLUX_CURVE,
    FLUX_SLOPE,
    OLD_ANGULAR,
    OLD_FLUX,
    OLD_MOMENTUM,
    OLD_SWIRL,
    PASSING,
    REVERSE,
    STRESS,
    SWIRL_CURVE,
    SWIRL_SLOPE,
    Across,
    Rim,
    Room,
    Step,
)
from engine.physics.gap.turbulence_kernel import weight_and_slope

TOLERANCE, ROUGHLY = 1e-7, 1e-3
"""Largest error left in the profiles, relative to their size; and the same in a march that is only
a first guess of another."""
MOST_CHANGES = 40
"""Most iterations of Newton's method in one step."""
SLOW = 0.15
"""Ratio of successive errors above which the Jacobian is calculated anew."""
LEAST_SWIRL = 1e-9
"""Keeps the relative error of a vanishing swirl finite."""


@compiled
def state_at(
    record: FluidRecord, pressure: float, enthalpy: float
) -> tuple[float, float, float, float, float]:
    """`fluid_state`, compiled once for all its callers here."""
    return fluid_state(record, pressure, enthalpy)


@compiled
def gap_reynolds(rim: Rim, across: Across, state: Lanes) -> float:
    """Gap Reynolds number 2 b V_rel / nu with gap-mean velocities."""
    n = across.weights.size
    mean = state[2 * n + 1] * dot(across.weights, state, n)
    return float(8 * rim.radius / (rim.gap * state[2 * n + 5]) * math.sqrt(1 + mean * mean))


@compiled
def thermal(rim: Rim, across: Across, step: Step, state: Lanes) -> tuple[float, float]:
    """Pressure by eq. (5), and mass-flux mean static enthalpy."""
    n, speed = across.weights.size, rim.radial_speed
    forcing, density, square = state[2 * n], state[2 * n + 1], speed * speed
    push = rim.density * square * (forcing - rim.way * density * step.ratio * rim.spin * rim.spin)
    pressure = (push + step.old.pressure) / step.rate
    return pressure, enthalpy_of(rim, across, step.ratio, state)


@compiled
def enthalpy_of(rim: Rim, across: Across, ratio: float, state: Lanes) -> float:
    """Mass-flux mean static enthalpy by conserved rothalpy."""
    # Kinetic energy carried, and rothalpy.
    n, square, motion = across.weights.size, rim.radial_speed * rim.radial_speed, 0.0
    density = state[2 * n + 1]
    for j in range(n):
        inward, around = state[j] / density, state[n + j]
        motion += across.weights[j] * state[j] * (inward * inward + around * around)
    turned = rim.spin * ratio
    rothalpy = rim.enthalpy + square / 2 * (1 + rim.plug * rim.plug - rim.spin * rim.spin)
    carried = square / 2 * (turned * turned - motion / (ratio * ratio))
    return float(rothalpy + carried)


@inlined
def upwind(step: Step, flux: float, nodes: Lanes, j: int) -> tuple[float, float, float]:
    """Weight of an unknown, and known parts for flux and swirl, on the side fluid comes from."""
    if step.either and flux > 0:
        return step.rate, -nodes[OLD_FLUX, j], -nodes[OLD_SWIRL, j]
    return step.ahead_rate, nodes[AHEAD_FLUX, j], nodes[AHEAD_SWIRL, j]


@shared
def equations(
    record: FluidRecord, rim: Rim, across: Across, step: Step, state: Lanes, room: Room
) -> None:
    """Residual of one step, eqs. (1) to (4); fills in `room.nodes` for the Jacobian."""
    # Derivatives across the gap, and the drift by continuity.
    n, nodes, residual = across.weights.size, room.nodes, room.residual
    ratio, rate, spin = step.ratio, step.rate, rim.spin
    forcing, density = state[2 * n], state[2 * n + 1]
    inside, all_nodes = whole_spans(n), whole_spans(n + 1)
    sum_rows(across.slope_t, state, 0, 0, n, nodes, FLUX_SLOPE, all_nodes)
    sum_rows(across.slope_t, state, 0, n, n, nodes, SWIRL_SLOPE, all_nodes)
    for j in range(n):
        nodes[PASSING, j] = nodes[OLD_FLUX, j] - rate * state[j]
    sum_rows(across.integral_t, nodes, PASSING, 0, n, nodes, DRIFT, inside)
    # Laminar friction, or with turbulence the divergence of all stresses.
    weight, _ = weight_and_slope(gap_reynolds(rim, across, state) / rim.transition)
    if weight > 0:
        viscous = 1.0
        eddies(rim, across, weight, state, room)
        for slope, curve in ((FLUX_SLOPE, FLUX_CURVE), (SWIRL_SLOPE, SWIRL_CURVE)):
            for k in range(n + 1):
                nodes[STRESS, k] = (step.drag + nodes[EDDY, k]) * nodes[slope, k]
            sum_rows(across.divergence_t, nodes, STRESS, 0, n + 1, nodes, curve, inside)
    else:
        viscous = step.drag
        sum_rows(across.second_t, state, 0, 0, n, nodes, FLUX_CURVE, inside)
        sum_rows(across.second_t, state, 0, n, n, nodes, SWIRL_CURVE, inside)
    widening = rim.way / ratio - rate + step.old.density / density
    # Radial and angular momentum at each node, eqs. (1) and (2), and the mean flux.
    mean = 0.0
    for j in range(n):
        flux, swirl = state[j], state[n + j]
        flux_term = flux * nodes[OLD_FLUX, j] - nodes[OLD_MOMENTUM, j]
        swirl_term = swirl * nodes[OLD_FLUX, j] - nodes[OLD_ANGULAR, j]
        # Where fluid moves outward, its derivative comes from the bore side.
        back = nodes[REVERSE, j]
        if back > 0:
            pace, known_flux, known_swirl = upwind(step, flux, nodes, j)
            flux_term += back * (flux * (pace * flux + known_flux) - flux_term)
            swirl_term += back * (flux * (pace * swirl + known_swirl) - swirl_term)
        turning = rim.way * (swirl * swirl / ratio + 2 * spin * ratio * swirl)
        drift = nodes[DRIFT, j]
        residual[j] = (
            flux_term
            + drift * nodes[FLUX_SLOPE, j + 1]
            + flux * flux * widening
            - viscous * nodes[FLUX_CURVE, j]
            + density * density * turning
            + density * ratio * ratio * forcing
        )
        residual[n + j] = (
            swirl_term
            + drift * nodes[SWIRL_SLOPE, j + 1]
            - rim.way * 2 * ratio * spin * flux
            - viscous * nodes[SWIRL_CURVE, j]
        )
        mean += across.weights[j] * flux
    # Mean flux, eq. (3), and density, eq. (4).
    residual[2 * n] = mean - 1
    pressure, enthalpy = thermal(rim, across, step, state)
    there = state_at(record, pressure, enthalpy)[0]
    residual[2 * n + 1] = density - there / rim.density


@shared
def slopes(
    record: FluidRecord, rim: Rim, across: Across, step: Step, state: Lanes, room: Room
) -> None:
    """Jacobian of one step, at the state for which `equations` was last called."""
    n, nodes, jacobian = across.weights.size, room.nodes, room.matrix
    ratio, rate, spin = step.ratio, step.rate, rim.spin
    forcing, density, old_density = state[2 * n], state[2 * n + 1], step.old.density
    inside = whole_quads(n)
    widening = rim.way / ratio - rate + old_density / density
    weight, by_reynolds = weight_and_slope(gap_reynolds(rim, across, state) / rim.transition)
    if weight > 0:
        slopes_of_stresses(across, step.drag, by_reynolds, state, room)
    else:
        _slopes_of_friction(across, step.drag, jacobian)
    # Rows of eq. (1), `upper`, and of eq. (2), `lower`.
    for i in range(n):
        # Drift: full rows.
        flux, swirl, drift = state[i], state[n + i], nodes[DRIFT, i]
        upper, lower = jacobian[i], jacobian[n + i]
        whole, by_drift = (i + 1, n + 2 + i), rate * nodes[FLUX_SLOPE, i + 1]
        less_rows(jacobian, i, 0, across.rows, whole, (-drift, by_drift), 0, inside)
        less(jacobian, n + i, n, across.rows, i + 1, -drift, 0, inside)
        by_drift = rate * nodes[SWIRL_SLOPE, i + 1]
        less(jacobian, n + i, 0, across.rows, n + 2 + i, by_drift, 0, inside)
        # Convection along the march, from behind or from the bore side.
        back = nodes[REVERSE, i]
        by_flux = by_swirl = nodes[OLD_FLUX, i]
        if back > 0:
            pace, known_flux, known_swirl = upwind(step, flux, nodes, i)
            by_flux += back * (2 * pace * flux + known_flux - by_flux)
            by_swirl += back * (pace * flux - by_swirl)
            lower[i] += back * (pace * swirl + known_swirl)
        lower[n + i] += by_swirl
        # Widening, centrifugal and Coriolis force, forcing and density.
        turning = rim.way * (swirl * swirl / ratio + 2 * spin * ratio * swirl)
        upper[i] += by_flux + 2 * flux * widening
        upper[n + i] += rim.way * density * density * (2 * swirl / ratio + 2 * spin * ratio)
        lower[i] -= rim.way * 2 * ratio * spin
        upper[2 * n] += density * ratio * ratio
        upper[2 * n + 1] += (
            2 * density * turning
            + ratio * ratio * forcing
            - flux * flux * old_density / (density * density)
        )
    # Rows of eqs. (3) and (4).
    _slopes_of_density(record, rim, across, step, state, jacobian)


@compiled
def _slopes_of_friction(across: Across, drag: float, jacobian: Lanes) -> None:
    """Set the rows of eqs. (1) and (2) to laminar friction."""
    n = across.weights.size
    for i in range(n):
        for j in range(jacobian.shape[1]):
            jacobian[i, j] = jacobian[n + i, j] = 0.0
        less(jacobian, i, 0, across.second, i, drag, 0, whole_quads(n))
        less(jacobian, n + i, n, across.second, i, drag, 0, whole_quads(n))


@compiled
def _slopes_of_density(
    record: FluidRecord, rim: Rim, across: Across, step: Step, state: Lanes, jacobian: Lanes
) -> None:
    """Last two rows of the Jacobian: mean flux, eq. (3), and density, eq. (4)."""
    # Density with forcing, by the pressure, and with flux and swirl, by the enthalpy.
    n, ratio = across.weights.size, step.ratio
    density = state[2 * n + 1]
    pressure, enthalpy = thermal(rim, across, step, state)
    _, by_pressure, by_enthalpy, _, _ = state_at(record, pressure, enthalpy)
    speed = rim.radial_speed
    of_pressure = by_pressure * speed * speed / step.rate
    of_enthalpy = by_enthalpy * speed * speed / (ratio * ratio * rim.density)
    mean, last, cubes = jacobian[2 * n], jacobian[2 * n + 1], 0.0
    for j in range(n):
        flux, swirl, weight = state[j], state[n + j], across.weights[j]
        inward = flux / density
        mean[j], mean[n + j] = weight, 0.0
        last[j] = of_enthalpy * weight * (3 * inward * inward + swirl * swirl) / 2
        last[n + j] = of_enthalpy * weight * flux * swirl
        cubes += weight * inward * inward * inward
    mean[2 * n] = mean[2 * n + 1] = 0.0
    last[2 * n] = -of_pressure
    last[2 * n + 1] = 1 + rim.way * of_pressure * ratio * rim.spin * rim.spin - of_enthalpy * cubes


@compiled
def _change(n: int, state: Lanes, change: Lanes, way: float) -> float:
    """Subtract a change from the state, shortened where it is long; its size, NaN if not finite.

    Outward the forcing counts too. It moves no profile, as the mean flux is given, so a Jacobian
    of another step leaves a share of its error, and extrapolation makes seven times that of it.
    """
    longest, largest, total = 1.0, 0.0, 0.0
    for j in range(2 * n + 2):
        total += change[j]
    if not math.isfinite(total):
        return math.nan
    # Shorten: flux changes by at most 1, density by at most half.
    for j in range(n):
        longest = max(longest, abs(change[j]))
    longest = max(longest, abs(change[2 * n + 1]) / (0.5 * state[2 * n + 1]))
    error = 0.0
    for j in range(2 * n + 2):
        state[j] -= change[j] / longest
    # Size: swirl relative to its largest value.
    for j in range(n):
        largest = max(largest, abs(state[n + j]))
    for j in range(n):
        error = max(error, abs(change[j]), abs(change[n + j]) / (LEAST_SWIRL + largest))
    if way < 0:
        error = max(error, abs(change[2 * n]) / (1 + abs(state[2 * n])))
    return float(max(error, abs(change[2 * n + 1])) / longest)


@compiled
def settle(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    step: Step,
    state: Lanes,
    room: Room,
    known: bool,
    tolerance: float,
) -> tuple[bool, bool]:
    """Solve one step from a first guess in `state`, which becomes the answer.

    Newton's method with a Jacobian that is kept as long as it converges fast. `known` tells whether
    `room.factors` are those of the step before. Returns whether the step converged, and whether
    the Jacobian may serve the next step.
    """
    n, last, fresh = across.weights.size, math.inf, False
    for _ in range(MOST_CHANGES):
        equations(record, rim, across, step, state, room)
        if not known:
            slopes(record, rim, across, step, state, room)
            if not factorise(room.matrix, room.factors):
                return False, False
            known = fresh = True
        substitute(room.factors, room.residual)
        error = _change(n, state, room.residual, rim.way)
        if math.isnan(error):
            return False, False
        left = min(error / last, 1.0) if last < math.inf else 1.0
        if error * left < tolerance or (fresh and error < math.sqrt(tolerance)):
            return True, True
        known, fresh, last = left < SLOW or last == math.inf, False, error
    return False, False
