"""Profiles of the flow across a gap as three modes each of inflow and swirl, and one step of them.

With z from mid-gap (0) to wall (1), inflow over its mean is phi = f0 + a1 f1 + a2 f2 and radius
times relative swirl is J = b0 f0 + b1 f1 + b2 f2. All modes vanish at the wall; f0 has mean 1 and
is as flat as that allows, f1 and f2 have mean 0 and are orthonormal and orthogonal to f0. With the
distance eta = (rim radius^2 - r^2) / 2 and the drift W = -(integral of phi_eta from mid-gap):

    phi phi_eta + W phi_z + widening phi^2 - viscous phi_zz + lift (turning J + J^2 / r^2) = P
    phi J_eta   + W J_z   - turning phi    - viscous J_zz                                  = 0

Turbulence replaces most of the viscous terms: `drag` takes from the means of phi and J at the wall
layer and `mixing` damps f1 and f2 of both. Galerkin's method: the first equation weighted by f1
and f2, which takes the uniform P out, the second by all three.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial import Polynomial

from engine.physics.arrays import Lanes

_POWERS = (2, 4, 10)
"""Of 1 - z^power, which span the modes; the last is there for thin layers at the walls."""

WALL_LAYER = 0.87
"""Where across the half gap turbulent friction takes hold; fitted as `gap.Turbulence` is."""


def _mean(shape: Polynomial) -> float:
    return float(shape.integ()(1.0))


def _modes() -> tuple[Polynomial, Polynomial, Polynomial]:
    """Build the three modes as polynomials of z, by Gram and Schmidt's process."""
    raw = [1 - Polynomial.basis(power) for power in _POWERS]
    raw = [shape / _mean(shape) for shape in raw]
    first = raw[1] - raw[0]
    first = first / np.sqrt(_mean(first**2))
    second = raw[2] - raw[0]
    second = second - _mean(first * second) * first
    second = second / np.sqrt(_mean(second**2))
    flat = raw[0] - _mean(raw[0] * first) * first - _mean(raw[0] * second) * second
    return flat, first, second


_MODES = _modes()
_SLOPES = [f.deriv() for f in _MODES]
_PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
_PLACE = ((0, 1, 2), (1, 3, 4), (2, 4, 5))
"""Where the entry (k, j) of a symmetric matrix stands among the pairs."""
FLATNESS = _mean(_MODES[0] ** 2)
"""Mean square of f0; that of f1 and f2 is 1."""
_DRAG = [[_mean(p * q) for q in _SLOPES] for p in _SLOPES]
_PAIR_DRAG = np.array([_DRAG[k][j] * (1 if k == j else 2) for k, j in _PAIRS])
_TRIPLE = np.array([[_mean(_MODES[k] * _MODES[j] * f) for f in _MODES] for k, j in _PAIRS])
_PULL = [float(_TRIPLE[0, 0] * f(WALL_LAYER) / _MODES[0](WALL_LAYER)) for f in _MODES]
"""Of turbulent friction on the three modes: flat profiles lose speed as they should."""
_COUNTED = np.array([1.0, 2.0, 2.0, 1.0, 2.0, 1.0])[:, None]
_DRIFT = np.array(
    [
        [[_mean(_MODES[k] * slope * _MODES[j].integ()) for slope in _SLOPES] for j in (1, 2)]
        for k in range(3)
    ]
)
"""By test mode k, by change of inflow j: what the drift carries, of each mode it acts on."""
_OF_INFLOW = np.concatenate([_TRIPLE, _DRIFT[1:].reshape(4, 3)])
_OF_SWIRL = np.concatenate([_TRIPLE, _DRIFT.reshape(6, 3)])
_ACROSS = np.array([0.0, 0.3, 0.5, 0.7, 0.85, 1.0 - 1e-9])
_REVERSING = -np.array([f(_ACROSS) / _MODES[0](_ACROSS) for f in _MODES[1:]]).T


def entry(*, moment: Lanes) -> tuple[Lanes, Lanes]:
    """Give the modes of a plug, with its mass-flux mean swirl.

    Parameters
    ----------
    moment : Lanes
        Radius times relative swirl [m2/s].

    Returns
    -------
    inflow, swirl : Lanes
        Modes, (mode, lane) [-], [m2/s].

    References
    ----------
    Derived here.

    Examples
    --------
    >>> inflow, swirl = entry(moment=np.array([2.0]))
    >>> round(float(Moments.of(inflow, swirl).moment[0]), 12)
    2.0

    """
    zero = np.zeros_like(moment)
    return np.stack([zero + 1, zero, zero]), np.stack([moment / FLATNESS, zero, zero])


@dataclass(frozen=True)
class Moments:
    """Means across the gap that the balances need, by lane."""

    moment: Lanes  # mass-flux mean of radius times relative swirl [m2/s]
    square: Lanes  # mass-flux mean of its square [m4/s2]
    cube: Lanes  # mean of the cubed inflow [-]
    dissipation: Lanes  # mean of the squared slope of the inflow [-]

    @classmethod
    def of(cls, inflow: Lanes, swirl: Lanes) -> "Moments":
        """Moments of the modes (mode, lane)."""
        flux = _COUNTED * (_TRIPLE @ inflow)
        of_inflow, of_swirl = _pairs(inflow), _pairs(swirl)
        return cls(
            moment=FLATNESS * swirl[0] + inflow[1] * swirl[1] + inflow[2] * swirl[2],
            square=(flux * of_swirl).sum(axis=0),
            cube=(flux * of_inflow).sum(axis=0),
            dissipation=_PAIR_DRAG @ of_inflow,
        )

    def ahead(self, before: "Moments") -> "Moments":
        """Moments one step on if they change as they did since `before`, at most twofold."""
        square, cube = (
            np.clip(2 * now - last, now / 2, 2 * now)
            for now, last in ((self.square, before.square), (self.cube, before.cube))
        )
        return replace(self, square=square, cube=cube)


def _pairs(modes: Lanes) -> Lanes:
    return np.stack([modes[k] * modes[j] for k, j in _PAIRS])


@dataclass(frozen=True)
class Forces:
    """What acts on the profiles at one radius, by lane; see the equations above."""

    viscous: Lanes  # [1/m2]
    drag: Lanes  # [1/m2]
    mixing: Lanes  # [1/m2]
    widening: Lanes  # [1/m2]
    turning: Lanes  # twice the angular speed [1/s]
    lift: Lanes  # 1 / (radius times inflow)^2 [s2/m4]
    radius: Lanes  # [m]


@dataclass(frozen=True)
class Stencil:
    """Derivatives along eta at the end of a step, and about where the modes will be there."""

    rate: Lanes  # derivative = rate times unknown less what is carried [1/m2]
    carried_inflow: Lanes
    carried_swirl: Lanes
    inflow: Lanes  # expected: what products are taken with
    swirl: Lanes


def first_order(*, rate: Lanes, last: tuple[Lanes, Lanes]) -> Stencil:
    """Backward difference over one step.

    Parameters
    ----------
    rate : Lanes
        1 over the length of the step [1/m2].
    last : tuple of Lanes
        Inflow and swirl, (mode, lane), at its beginning.

    Returns
    -------
    Stencil
        Expecting no change.

    References
    ----------
    Euler's.

    Examples
    --------
    >>> step = first_order(rate=np.array([2.0]), last=entry(moment=np.array([1.0])))
    >>> float(step.carried_inflow[0, 0])
    2.0

    """
    inflow, swirl = last
    return Stencil(rate, rate * inflow, rate * swirl, inflow, swirl)


def second_order(
    *, weight: Lanes, last: tuple[Lanes, Lanes], before: tuple[Lanes, Lanes]
) -> Stencil:
    """Backward difference over two steps of a variable in which they are even.

    Parameters
    ----------
    weight : Lanes
        1 over the length of the step, by the slope of eta at its end [1/m2].
    last, before : tuple of Lanes
        Inflow and swirl, (mode, lane), one and two steps behind.

    Returns
    -------
    Stencil
        Expecting the same change again.

    References
    ----------
    Gear 1971, Numerical Initial Value Problems, table 11.1 (from memory).

    Examples
    --------
    >>> modes = entry(moment=np.array([1.0]))
    >>> float(second_order(weight=np.array([2.0]), last=modes, before=modes).carried_inflow[0, 0])
    3.0

    """
    inflow, swirl = (2 * a - b for a, b in zip(last, before, strict=True))
    old_inflow, old_swirl = (weight * (2 * a - 0.5 * b) for a, b in zip(last, before, strict=True))
    return Stencil(1.5 * weight, old_inflow, old_swirl, inflow, swirl)


def implicit_step(*, forces: Forces, stencil: Stencil) -> tuple[Lanes, Lanes]:
    """Solve one implicit step for the modes of inflow and swirl.

    Parameters
    ----------
    forces : Forces
        At the end of the step.
    stencil : Stencil
        Derivatives there.

    Returns
    -------
    inflow, swirl : Lanes
        Modes at the end of the step, (mode, lane).

    Notes
    -----
    A march against reversed flow is ill-posed. So a profile that would turn back anywhere is
    flattened until it stands still there, and with the same share of the drift, swirl is solved
    again. Elimination goes without pivots: the diagonal blocks are positive and turning couples
    them skewly.

    References
    ----------
    Derived here. Dropping the reversed convection: Reyhner and Fluegge-Lotz 1968, Int. J.
    Non-Linear Mech. 3, 173-199 (from memory).

    Examples
    --------
    Viscous flow without swirl ends as a parabola, whose mean cube is 54/35.

    >>> none, one = np.zeros(1), np.ones(1)
    >>> forces = Forces(viscous=1e9 * one, drag=none, mixing=none, widening=none, turning=none,
    ...     lift=one, radius=one)
    >>> plug = first_order(rate=one, last=entry(moment=none))
    >>> found = implicit_step(forces=forces, stencil=plug)
    >>> round(float(Moments.of(*found).cube[0] * 35), 6)
    54.0

    """
    system, drift = _system(forces=forces, stencil=stencil)
    found = _solved(system.copy())
    inflow = np.stack([np.ones_like(found[0]), found[3], found[4]])
    kept, share = _flattened(inflow)
    swirl = found[:3].copy()
    back = share != 1
    if back.any():
        again = system[:, :, back]
        again[3:] = np.eye(2, 6, 3)[:, :, None]
        again[3:, 5] = kept[1:, back]
        change = (stencil.rate * kept[1:] - stencil.carried_inflow[1:])[:, back]
        pairs = drift[:, back].reshape(3, 2, -1)
        again[:3, 5] -= (1 - share[back]) * (pairs * change).sum(axis=1)
        swirl[:, back] = _solved(again)[:3]
    return kept, swirl


def _solved(system: Lanes) -> Lanes:
    """Gauss's elimination, on all lanes at once and in place."""
    n = len(system)
    for i in range(n):
        row = system[i, i + 1 :]
        row /= system[i, i]
        system[i + 1 :, i + 1 :] -= system[i + 1 :, i, None] * row
    found = system[:, -1]
    for i in range(n - 1, 0, -1):
        found[:i] -= system[:i, i] * found[i]
    return found


def _flattened(inflow: Lanes) -> tuple[Lanes, Lanes]:
    """Flatten profiles until they are nowhere reversed; and what is left of their shape."""
    share = 1 / np.maximum((_REVERSING @ inflow[1:]).max(axis=0), 1.0)
    return np.stack([inflow[0], share * inflow[1], share * inflow[2]]), share


def _system(*, forces: Forces, stencil: Stencil) -> tuple[Lanes, Lanes]:
    """Equations of a step, (row, column, lane) for b0, b1, b2, a1, a2; and the drift of swirl."""
    rate, old_inflow, old_swirl = stencil.rate, stencil.carried_inflow, stencil.carried_swirl
    inward, _ = _flattened(stencil.inflow)
    flux, drift_of_inflow = np.split(_OF_INFLOW @ inward, [6])
    turns, drift_of_swirl = np.split(_OF_SWIRL @ stencil.swirl, [6])
    system = np.empty((5, 6, rate.size))
    squares = turns * (forces.lift / forces.radius**2)
    coriolis = forces.lift * forces.turning
    system = np.empty((5, 6, rate.size))
    for k in range(3):
        for j in range(3):
            at = _PLACE[k][j]
            system[k, j] = flux[at] * rate + _DRAG[k][j] * forces.viscous
        for j in (1, 2):
            system[k, 2 + j] = -rate * drift_of_swirl[2 * k + j - 1]
        known = flux[list(_PLACE[k])] * old_swirl
        system[k, 5] = known[0] + known[1] + known[2]
        system[k, 5] -= drift_of_swirl[2 * k] * old_inflow[1]
        system[k, 5] -= drift_of_swirl[2 * k + 1] * old_inflow[2]
        system[k, 0] += _PULL[k] * forces.drag
    system[0, 5] += FLATNESS * forces.turning
    for k in (1, 2):
        row = system[2 + k]
        row[:3] = squares[list(_PLACE[k])]
        row[k] += coriolis
        row[5] = -flux[k] * forces.widening - _DRAG[k][0] * forces.viscous - _PULL[k] * forces.drag
        for j in (1, 2):
            carries = flux[_PLACE[k][j]] - drift_of_inflow[2 * (k - 1) + j - 1]
            row[2 + j] = carries * rate + flux[_PLACE[k][j]] * forces.widening
            row[2 + j] += _DRAG[k][j] * forces.viscous
            row[5] += carries * old_inflow[j]
        row[2 + k] += forces.mixing
        system[k, k] += forces.mixing
        system[k, 2 + k] -= forces.turning
    return system, drift_of_swirl
