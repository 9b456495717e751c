"""Profiles across a gap: their moments, and one implicit step of them.

Modes and equations are those of `modes`: inflow 1, a1, a2; radius times relative swirl b0, b1, b2.

A march against reversed flow is ill-posed. An inflow that would reverse is therefore limited to the
standing profile, which just does not reverse anywhere. There are two ways. A *push* is a force
along the inertia of the standing profile: it is part of the equations, so errors fall with the
square of the steps. *Flattening* scales the shape of the profile, and swirl is solved with the same
share of the drift. Where the response to a push departs too far from the standing profile, or the
discs turn faster than the fluid, which then leaves along the walls, flattening is used.
"""

from typing import NamedTuple

from engine.physics.compiled import inlined, root
from engine.physics.gap.modes import DRAG, DRIFT, FLATNESS, PULL, REVERSING, TRIPLE

PUSHED, FLATTENED = 1 / 3, 1.0
"""Squared departure of the response to a push from the standing profile, over the square of that
profile. Up to the first value the push alone limits an inflow, from the second on flattening."""
TURNS = 0.5
"""Least share of a reversal that a response is taken to undo."""
FIRM = 0.2
"""Least effect, over their size, of the two equations of the inflow on any change of it. Where
reversed flow leads ahead they have less, or turn a change round: no inflow, or one beyond infinity,
then answers them, and a last digit chooses it. So far as they lack it, the inflow is held at the
expected one. That holds back a change from one solution of a step to the next, not the solution."""
STEADY, OSCILLATING = 0.8, 1.2
"""Squared difference of the last two changes of an inflow over the sum of their squares. Up to the
first value profiles are extrapolated from three steps, from the second on from two."""
STILL = 1e-12
"""Square of a change of an inflow that counts as none, so that rounding does not oscillate."""
HELD = 1 + 1e-9
"""A profile counts as held if it reverses when its shape grows by this factor."""
TINY = 1e-30
"""Keeps a divisor from being 0."""


class Modes(NamedTuple):
    """Profiles by their modes; the first mode of the inflow is 1."""

    a1: float
    a2: float
    b0: float  # [m2/s]
    b1: float
    b2: float


class Moments(NamedTuple):
    """Means across the gap that the balances along the radius need."""

    moment: float  # mass-flux mean of radius times relative swirl [m2/s]
    square: float  # mass-flux mean of its square [m4/s2]
    cube: float  # mean of the cubed inflow
    dissipation: float  # mean of the squared slope of the inflow


class Forces(NamedTuple):
    """Coefficients of eqs. (1) and (2) at one radius."""

    viscous: float  # friction, laminar [1/m2]
    drag: float  # friction at the walls, turbulent [1/m2]
    mixing: float  # damping of f1 and f2, turbulent [1/m2]
    widening: float  # change of the mean radial speed [1/m2]
    turning: float  # twice the angular speed [1/s]
    lift: float  # 1 / (radius times inflow)^2 [s2/m4]
    outrun: float  # lift / radius^2, its sign changed in an outward march [s2/m6]
    lead: float  # 1 where the fluid turns clearly faster than the discs, 0 where slower [-]


@inlined
def combined(x: float, one: Modes, y: float, two: Modes) -> Modes:
    """Weighted sum of two sets of modes."""
    return Modes(
        x * one.a1 + y * two.a1,
        x * one.a2 + y * two.a2,
        x * one.b0 + y * two.b0,
        x * one.b1 + y * two.b1,
        x * one.b2 + y * two.b2,
    )


@inlined
def steadiness(last: Modes, before: Modes, earlier: Modes) -> float:
    """1 where an inflow changes steadily from step to step, 0 where it oscillates."""
    one1, one2 = last.a1 - before.a1, last.a2 - before.a2
    two1, two2 = before.a1 - earlier.a1, before.a2 - earlier.a2
    bend = (one1 - two1) * (one1 - two1) + (one2 - two2) * (one2 - two2)
    bend /= one1 * one1 + one2 * one2 + two1 * two1 + two2 * two2 + STILL
    return min(max((OSCILLATING - bend) / (OSCILLATING - STEADY), 0.0), 1.0)


@inlined
def _products(x0: float, x1: float, x2: float) -> tuple[float, float, float, float, float, float]:
    """Means of a profile times two modes: 00, 01, 02, 11, 12, 22."""
    return (
        TRIPLE[0] * x0 + TRIPLE[1] * x1 + TRIPLE[2] * x2,
        TRIPLE[1] * x0 + TRIPLE[3] * x1 + TRIPLE[4] * x2,
        TRIPLE[2] * x0 + TRIPLE[4] * x1 + TRIPLE[5] * x2,
        TRIPLE[3] * x0 + TRIPLE[6] * x1 + TRIPLE[7] * x2,
        TRIPLE[4] * x0 + TRIPLE[7] * x1 + TRIPLE[8] * x2,
        TRIPLE[5] * x0 + TRIPLE[8] * x1 + TRIPLE[9] * x2,
    )


@inlined
def moments_of(m: Modes) -> Moments:
    """Moments of profiles, from the means of products of modes."""
    f00, f01, f02, f11, f12, f22 = _products(1.0, m.a1, m.a2)
    square = m.b0 * (f00 * m.b0 + 2 * (f01 * m.b1 + f02 * m.b2))
    square += f11 * m.b1 * m.b1 + 2 * f12 * m.b1 * m.b2 + f22 * m.b2 * m.b2
    cube = f00 + 2 * (f01 * m.a1 + f02 * m.a2)
    cube += f11 * m.a1 * m.a1 + 2 * f12 * m.a1 * m.a2 + f22 * m.a2 * m.a2
    dissipation = DRAG[0] + 2 * (DRAG[1] * m.a1 + DRAG[2] * m.a2)
    dissipation += DRAG[3] * m.a1 * m.a1 + 2 * DRAG[4] * m.a1 * m.a2 + DRAG[5] * m.a2 * m.a2
    moment = FLATNESS * m.b0 + m.a1 * m.b1 + m.a2 * m.b2
    return Moments(moment, square, cube, dissipation)


@inlined
def _left_standing(a1: float, a2: float) -> float:
    """Largest factor, up to 1, of the shape of an inflow with which it does not reverse."""
    most = 1.0
    for row in REVERSING:
        most = max(most, row[0] * a1 + row[1] * a2)
    return 1 / most if most > 1 else 1.0


@inlined
def stands(m: Modes) -> float:
    """1 where a profile is held so that it just does not reverse, 0 elsewhere."""
    return 1.0 if _left_standing(HELD * m.a1, HELD * m.a2) < 1 else 0.0


@inlined
def mean_square(m: Modes) -> float:
    """Mean of the squared inflow; f1 and f2 are orthonormal and orthogonal to f0."""
    return FLATNESS + m.a1 * m.a1 + m.a2 * m.a2


@inlined
def _push(a1: float, a2: float, u1: float, u2: float) -> float:
    """Multiple of the response u that an inflow must lose so that it does not reverse.

    Where the response hardly turns the inflow back, or not at all, it is taken to do so by `TURNS`
    at least, so that the multiple is continuous; what still reverses is flattened.
    """
    most = 0.0
    for row in REVERSING:
        over, back = row[0] * a1 + row[1] * a2 - 1, row[0] * u1 + row[1] * u2
        most = max(most, over / max(back, TURNS))
    return most


@inlined
def _drift(k: int, j: int, x0: float, x1: float, x2: float) -> float:
    """Convection of a profile by the drift of inflow mode j, weighted by mode k."""
    row = DRIFT[2 * k + j - 1]
    return row[0] * x0 + row[1] * x1 + row[2] * x2


@inlined
def implicit_step(  # noqa: PLR0915  five equations written out
    forces: Forces, rate: float, carried: Modes, expected: Modes
) -> Modes:
    """Solve one implicit step for the modes of inflow and swirl.

    `rate` times an unknown less `carried` is its derivative along eta [1/m2]; products are made
    linear with the `expected` modes. Reversed flow is limited by push or flattening, see above
    (dropping the reversed convection: Reyhner and Fluegge-Lotz 1968, Int. J. Non-Linear Mech. 3,
    173-199, from memory; the rest derived here).

    Symbols: e, s expected modes of inflow and swirl; f_kj, t_kj means of inflow and of swirl times
    modes k and j; d_kj swirl carried by the drift of inflow mode j, weighted by mode k; k_ij
    inertia of the inflow with its drift; c, g carried modes of inflow and swirl; m_kj the matrix,
    rows 0 to 2 eq. (2) by f0, f1, f2, rows 3 and 4 eq. (1) by f1, f2, columns b0, b1, b2, a1, a2;
    r_k the right-hand sides; p_k reciprocal pivots; `least` the least eigenvalue of the symmetric
    part of the two equations left; h standing profile; u response to a push;
    w, q changes by flattening.
    """
    # Expected profiles, the inflow flattened where it reverses, and means with them.
    viscous, drag, mixing, turning = forces.viscous, forces.drag, forces.mixing, forces.turning
    kept = _left_standing(expected.a1, expected.a2)
    e1, e2 = kept * expected.a1, kept * expected.a2
    s0, s1, s2 = expected.b0, expected.b1, expected.b2
    f00, f01, f02, f11, f12, f22 = _products(1.0, e1, e2)
    _, t01, t02, t11, t12, t22 = _products(s0, s1, s2)
    d01, d02 = _drift(0, 1, s0, s1, s2), _drift(0, 2, s0, s1, s2)
    d11, d12 = _drift(1, 1, s0, s1, s2), _drift(1, 2, s0, s1, s2)
    d21, d22 = _drift(2, 1, s0, s1, s2), _drift(2, 2, s0, s1, s2)
    # Swirl, eq. (2): rows 0 to 2, coupled to a1 and a2 by the drift and the Coriolis force.
    m00 = f00 * rate + DRAG[0] * viscous + PULL[0] * drag
    m01 = f01 * rate + DRAG[1] * viscous
    m02 = f02 * rate + DRAG[2] * viscous
    m10 = m01 + PULL[1] * drag
    m11 = f11 * rate + DRAG[3] * viscous + mixing
    m12 = f12 * rate + DRAG[4] * viscous
    m20 = m02 + PULL[2] * drag
    m21 = m12
    m22 = f22 * rate + DRAG[5] * viscous + mixing
    m03, m04 = -rate * d01, -rate * d02
    m13, m14 = -rate * d11 - turning, -rate * d12
    m23, m24 = -rate * d21, -rate * d22 - turning
    # Right-hand sides of the swirl.
    c1, c2, g0, g1, g2 = carried
    r0 = f00 * g0 + f01 * g1 + f02 * g2 - d01 * c1 - d02 * c2 + FLATNESS * turning
    r1 = f01 * g0 + f11 * g1 + f12 * g2 - d11 * c1 - d12 * c2
    r2 = f02 * g0 + f12 * g1 + f22 * g2 - d21 * c1 - d22 * c2
    # Inflow, eq. (1): rows 3 and 4, coupled to the swirl by the centrifugal and Coriolis force.
    lift, widening = forces.lift, forces.widening
    part = forces.outrun
    m30, m31, m32 = t01 * part, t11 * part + lift * turning, t12 * part
    m40, m41, m42 = t02 * part, t12 * part, t22 * part + lift * turning
    # Inertia, widening and friction of the inflow; right-hand sides.
    k11, k12 = f11 - _drift(1, 1, 1.0, e1, e2), f12 - _drift(1, 2, 1.0, e1, e2)
    k21, k22 = f12 - _drift(2, 1, 1.0, e1, e2), f22 - _drift(2, 2, 1.0, e1, e2)
    m33 = k11 * rate + f11 * widening + DRAG[3] * viscous + mixing
    m34 = k12 * rate + f12 * widening + DRAG[4] * viscous
    m43 = k21 * rate + f12 * widening + DRAG[4] * viscous
    m44 = k22 * rate + f22 * widening + DRAG[5] * viscous + mixing
    r3 = k11 * c1 + k12 * c2 - f01 * widening - DRAG[1] * viscous - PULL[1] * drag
    r4 = k21 * c1 + k22 * c2 - f02 * widening - DRAG[2] * viscous - PULL[2] * drag
    # Elimination of b0, b1, b2. No pivoting: the diagonal blocks are positive and coupled by the
    # Coriolis force skew-symmetrically.
    p0 = 1 / m00
    m01, m02, m03, m04, r0 = m01 * p0, m02 * p0, m03 * p0, m04 * p0, r0 * p0
    m11, m12, m13 = m11 - m10 * m01, m12 - m10 * m02, m13 - m10 * m03
    m14, r1 = m14 - m10 * m04, r1 - m10 * r0
    m21, m22, m23 = m21 - m20 * m01, m22 - m20 * m02, m23 - m20 * m03
    m24, r2 = m24 - m20 * m04, r2 - m20 * r0
    m31, m32, m33 = m31 - m30 * m01, m32 - m30 * m02, m33 - m30 * m03
    m34, r3 = m34 - m30 * m04, r3 - m30 * r0
    m41, m42, m43 = m41 - m40 * m01, m42 - m40 * m02, m43 - m40 * m03
    m44, r4 = m44 - m40 * m04, r4 - m40 * r0
    # Column of b1.
    p1 = 1 / m11
    m12, m13, m14, r1 = m12 * p1, m13 * p1, m14 * p1, r1 * p1
    m22, m23, m24, r2 = m22 - m21 * m12, m23 - m21 * m13, m24 - m21 * m14, r2 - m21 * r1
    m32, m33, m34, r3 = m32 - m31 * m12, m33 - m31 * m13, m34 - m31 * m14, r3 - m31 * r1
    m42, m43, m44, r4 = m42 - m41 * m12, m43 - m41 * m13, m44 - m41 * m14, r4 - m41 * r1
    # Column of b2.
    p2 = 1 / m22
    m23, m24, r2 = m23 * p2, m24 * p2, r2 * p2
    m33, m34, r3 = m33 - m32 * m23, m34 - m32 * m24, r3 - m32 * r2
    m43, m44, r4 = m43 - m42 * m23, m44 - m42 * m24, r4 - m42 * r2
    # The two equations left give the inflow.
    even, uneven, both = (m33 + m44) / 2, (m33 - m44) / 2, (m34 + m43) / 2
    least = even - root(uneven * uneven + both * both)
    size = root(m33 * m33 + m34 * m34 + m43 * m43 + m44 * m44)
    lacking = max(FIRM * size - least, 0.0)
    m33, m44, r3, r4 = m33 + lacking, m44 + lacking, r3 + lacking * e1, r4 + lacking * e2
    whole = 1 / (m33 * m44 - m34 * m43)
    a1, a2 = (r3 * m44 - m34 * r4) * whole, (m33 * r4 - m43 * r3) * whole
    # Response to a push along the inertia of the standing profile; to first order that profile.
    kept = _left_standing(a1, a2)
    h1, h2 = kept * a1, kept * a2
    g1, g2 = (k11 * h1 + k12 * h2) * rate, (k21 * h1 + k22 * h2) * rate
    u1, u2 = (g1 * m44 - m34 * g2) * whole, (m33 * g2 - m43 * g1) * whole
    # Weight of the push against flattening.
    departure = (u1 - h1) * (u1 - h1) + (u2 - h2) * (u2 - h2)
    weight = (FLATTENED - departure / (h1 * h1 + h2 * h2 + TINY)) / (FLATTENED - PUSHED)
    weight = min(max(weight, 0.0), 1.0)
    pushed = forces.lead * weight * weight * (3 - 2 * weight)
    u1, u2 = pushed * u1 + (1 - pushed) * a1, pushed * u2 + (1 - pushed) * a2
    # Limit the inflow.
    push = _push(a1, a2, u1, u2)
    a1, a2 = a1 - push * u1, a2 - push * u2
    left = _left_standing(a1, a2)
    a1, a2 = left * a1, left * a2
    # A flattened inflow carries less swirl: the same elimination of that change.
    lost = (1 - pushed) * (1 - kept)
    w1, w2 = lost * (rate * a1 - c1), lost * (rate * a2 - c2)
    q0 = -(d01 * w1 + d02 * w2) * p0
    q1 = (-(d11 * w1 + d12 * w2) - m10 * q0) * p1
    q2 = (-(d21 * w1 + d22 * w2) - m20 * q0 - m21 * q1) * p2
    # Back substitution for the swirl.
    b2 = r2 + q2 - m23 * a1 - m24 * a2
    b1 = r1 + q1 - m13 * a1 - m14 * a2 - m12 * b2
    b0 = r0 + q0 - m03 * a1 - m04 * a2 - m02 * b2 - m01 * b1
    return Modes(a1, a2, b0, b1, b2)
