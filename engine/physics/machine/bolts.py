"""Bolts with washers in the gaps, which hold the rings of a pack between its end plates."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask
from engine.physics.machine.web import LEAST_WALL, ROUND_WASHER, WASHERS, WIDEST_WASHER


@dataclass(frozen=True)
class BoltCircle:
    """Bolts of every lane, where a lane has any [m]."""

    circle: Lanes
    """Radius of the circle on which they lie."""
    washer: Lanes
    """Radius of a washer."""
    hole: Lanes
    """Radius of the hole for a bolt."""
    chosen: Mask
    """Whether bolts hold the rings of the lane."""
    fits: Mask
    """Whether washers lie on the ring, apart from each other, with metal around the holes."""


def bolt_circle(
    *,
    r_inner: Array,
    r_outer: Array,
    bolts: Array,
    circle: Array,
    bolt: Array,
    washer: Array,
    chosen: Mask | bool = True,
) -> BoltCircle:
    """Find where bolts stand in the rings, and whether they fit.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    r_inner, r_outer : Array
        Bore and rim radius of the ring [m], 0 < r_inner < r_outer.
    bolts : Array
        Number of bolts, evenly spaced [-], 3 or more.
    circle : Array
        Diameter of the circle on which they lie [m]; NaN is midway between bore and rim.
    bolt, washer : Array
        Diameter of a bolt, whose hole fits closely, and of a washer [m].
    chosen : Mask or bool
        Where bolts are wanted; no unit.

    Returns
    -------
    BoltCircle
        Radii [m]; nothing fits where a number is NaN or the radii are out of order.

    Notes
    -----
    Washers lie whole on the ring, `LEAST_WALL` remains between hole and edge, and a washer takes no
    more than `WIDEST_WASHER` of the way from one bolt to the next.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> found = bolt_circle(r_inner=0.02, r_outer=0.05, bolts=6.0, circle=np.nan, bolt=3e-3,
    ...                     washer=7e-3)
    >>> float(found.circle), bool(found.fits)
    (0.035, True)

    """
    inner, outer, count, around, hole, wide, mine = np.broadcast_arrays(
        r_inner, r_outer, bolts, circle, np.divide(bolt, 2), np.divide(washer, 2), chosen
    )
    middle = np.where(np.isnan(around), (inner + outer) / 2, around / 2)
    room = np.minimum(middle - inner, outer - middle)
    fits = (wide <= room) & (hole + LEAST_WALL <= room) & (hole < wide) & (inner > 0)
    fits &= wide <= WIDEST_WASHER * np.pi / count * middle
    return BoltCircle(middle, wide, hole, np.asarray(mine, dtype=bool), fits)


def washer_place(*, bolts: BoltCircle, r_inner: Array, r_outer: Array) -> tuple[Lanes, Lanes]:
    """Places of washer and bolt circle in the tables, 0 to 1 where these hold them.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    bolts : BoltCircle
        Result of `bolt_circle`.
    r_inner, r_outer : Array
        Bore and rim radius [m].

    Returns
    -------
    tuple of Lanes
        Along even steps of the logarithm of what a washer holds over the ring, and from washers
        that touch the bore to washers that touch the rim [-].

    References
    ----------
    Derived here.

    Examples
    --------
    >>> found = bolt_circle(r_inner=0.02, r_outer=0.05, bolts=6.0, circle=np.nan, bolt=3e-3,
    ...                     washer=7e-3)
    >>> wide, out = washer_place(bolts=found, r_inner=0.02, r_outer=0.05)
    >>> round(float(wide), 3), round(float(out), 3)
    (0.373, 0.5)

    """
    ring, held = np.subtract(r_outer, r_inner), ROUND_WASHER * bolts.washer
    with np.errstate(divide="ignore", invalid="ignore"):
        wide = np.log(held / ring / WASHERS[0]) / np.log(WASHERS[1] / WASHERS[0])
        out = (bolts.circle - r_inner - held) / (ring - 2 * held)
    return np.asarray(wide), np.where(ring > 2 * held, out, 0.5)


def washer_drag(
    *,
    density: Array,
    viscosity: Array,
    swirl: Array,
    flow: Array,
    bolts: Array,
    circle: Array,
    washer: Array,
    gap: Array,
    gap_count: Array,
) -> Array:
    """Power that washers in the gaps dissipate, at most.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Density of the fluid at the bolt circle [kg/m3].
    viscosity : Array
        Dynamic viscosity there [Pa s].
    swirl : Array
        Circumferential speed of the fluid relative to the discs where it meets the washers [m/s];
        its sign does not matter.
    flow : Array
        Mass flow through all gaps [kg/s].
    bolts : Array
        Number of bolts [-].
    circle : Array
        Radius of their circle [m].
    washer : Array
        Diameter of a washer [m].
    gap : Array
        Width of a gap [m].
    gap_count : Array
        Number of gaps [-].

    Returns
    -------
    Array
        Power of all washers [W]; NaN where washers fill the circle.

    Notes
    -----
    A washer is a piece of a long cylinder across the flow, as both its ends touch a disc; the flow
    is faster between washers by the share of the circle that they block. What passes the circle
    meets them turn by turn and loses swirl, W1 = W / (1 + F / (m W)) with the force F at first: so
    they dissipate no more than the energy of the swirl. The washers drive the discs with what they
    take, and slower swirl loses less behind them: both are left out, so the power is an upper
    bound. Drag coefficient 1 + 10 Re^(-2/3) by diameter: within some 20 % from Re 1 to 200,000.

    References
    ----------
    White, Viscous Fluid Flow, 2nd ed. 1991, for the drag coefficient (from memory); the rest is
    derived here.

    Examples
    --------
    >>> power = washer_drag(density=1.2, viscosity=1.8e-5, swirl=60.0, flow=1e-3, bolts=5.0,
    ...                     circle=0.03, washer=6e-3, gap=4e-4, gap_count=1.0)
    >>> round(float(power), 2)
    1.21

    """
    share = bolts * washer / (2 * np.pi * circle)
    slot = np.where(share < 1, (1 - share) * gap_count * 2 * np.pi * circle * gap, np.nan)
    inflow = flow / (slot * density)
    around = np.abs(swirl)
    speed = np.hypot(around / (1 - share), inflow)
    with np.errstate(divide="ignore", invalid="ignore"):
        reynolds = density * speed * washer / viscosity
        coefficient = 1 + 10 * np.power(reynolds, -2 / 3)
        force = coefficient * density * speed**2 / 2 * washer * gap * bolts * gap_count
        along, across = force * around / ((1 - share) * speed), force * inflow / speed
        left = 1 / (1 + along / (flow * around))
    caught = np.where(around > 0, flow * np.square(around) / 2 * (1 - np.square(left)), 0.0)
    return np.asarray(np.where(speed > 0, caught + across * inflow, 0.0) + 0.0 * slot)
