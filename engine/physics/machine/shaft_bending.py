"""Critical speed of a stepped shaft with all that it carries, between bearings that give way."""

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.compiled import on_every_core
from engine.physics.machine.shaft_kernel import MOST_NODES, lowest_whirls

FEWEST = 512
"""Lanes worth a thread: a lane takes 2 us, and starting threads as much as some 200 lanes."""
TOO_MANY = f"{{}} nodes are more than {MOST_NODES}"


def shear_stiffness(*, youngs_modulus: Array, poisson: Array, diameter: Array) -> Array:
    """Shear force per shear angle of a round bar.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    youngs_modulus : Array
        Young's modulus [Pa].
    poisson : Array
        Poisson's ratio [-].
    diameter : Array
        Of the bar [m].

    Returns
    -------
    Array
        kappa G A [N].

    References
    ----------
    Cowper, J. Appl. Mech. 33, 1966: kappa = 6 (1 + nu)/(7 + 6 nu), from memory.

    Examples
    --------
    >>> round(float(shear_stiffness(youngs_modulus=205e9, poisson=0.3, diameter=0.01)) / 1e6, 2)
    5.49

    """
    kappa = 6 * (1 + np.asarray(poisson)) / (7 + 6 * np.asarray(poisson))
    rigidity = np.asarray(youngs_modulus) / (2 * (1 + np.asarray(poisson)))
    return np.asarray(kappa * rigidity * np.pi / 4 * np.square(diameter))


def whirl_speed(
    *,
    place: Lanes,
    bending_stiffness: Lanes,
    shear_stiffness: Lanes,
    mass: Lanes,
    polar_inertia: Lanes,
    point_mass: Lanes,
    point_tilt: Lanes,
    support: Lanes,
) -> Lanes:
    """Lowest speed at which unbalance makes a shaft whirl.

    All arguments but one stand along the shaft first, then by lane: (node, lane) or
    (element, lane), with one element less than nodes; the result is (lane,).

    Parameters
    ----------
    place : Lanes
        Of the nodes along the shaft [m], rising; at most `MOST_NODES`.
    bending_stiffness : Lanes
        E I of each element [N m2], > 0.
    shear_stiffness : Lanes
        kappa G A of each element [N], > 0; infinite for a beam without shear.
    mass : Lanes
        Of each element with what it carries, per length [kg/m].
    polar_inertia : Lanes
        Of the same about the shaft's axis, per length [kg m]. Thin slices are taken, so that half
        of it acts about a diameter.
    point_mass : Lanes
        Carried at each node [kg].
    point_tilt : Lanes
        Inertia of the same about a diameter less that about the axis [kg m2]; negative for a disc.
    support : Lanes
        Radial stiffness of the bearing at each node [N/m]; 0 where there is none. At least two
        nodes need one. Bearings let the shaft tilt.

    Returns
    -------
    Lanes
        Angular speed [rad/s]; NaN where a number is none, infinite or out of order, or where no
        speed whirls.

    Raises
    ------
    ValueError
        Where there are more than `MOST_NODES` nodes.

    Notes
    -----
    Timoshenko beams between nodes, with consistent mass. Unbalance turns with the shaft, so whirl
    is forward and as fast as the rotation; then the gyroscopic moment of a slice acts as an inertia
    against tilt of Id - Ip, and one eigenvalue gives the critical speed. Bearings are the same in
    all directions. Discs are taken as rigid in their plane: rings do whirl on their spokes, but any
    disc on three narrow spokes yields at 0.7 of that speed or less, and in series with the shaft
    (Dunkerley) it lowers the critical speed by 0.1 to 1.1 % on the bundled fronts. Out of its plane
    the pack, joined at its webs, lies between the two ways to hold a disc in `web_waves`. Inverse
    iteration finds it; the signs of the pivots prove that it is the lowest
    (Sylvester), within 1e-6 of its square.

    References
    ----------
    Friswell, Penny, Garvey and Lees, Dynamics of Rotating Machines, 2010, ch. 5 and 6: the
    matrices, from memory.

    Examples
    --------
    >>> import numpy as np
    >>> place = np.linspace(0.0, 0.3, 11)[:, None]
    >>> one, node = np.ones((10, 1)), np.zeros((11, 1))
    >>> held = node.copy()
    >>> held[[0, 10]] = 1e12
    >>> v = whirl_speed(place=place, bending_stiffness=100.6 * one, shear_stiffness=np.inf * one,
    ...                 mass=0.6165 * one, polar_inertia=0.0 * one, point_mass=node,
    ...                 point_tilt=node, support=held)
    >>> round(float(v[0]))  # pi^2 / L^2 sqrt(E I / m)
    1401

    """
    if len(place) > MOST_NODES:
        raise ValueError(TOO_MANY.format(len(place)))
    at, bending, shear, heavy, polar, points, tilts, held = (
        np.ascontiguousarray(values, dtype=float)
        for values in (
            place,
            bending_stiffness,
            shear_stiffness,
            mass,
            polar_inertia,
            point_mass,
            point_tilt,
            support,
        )
    )
    n_lanes = at.shape[1]
    found = np.full(n_lanes, np.nan)

    def work(first: int, last: int) -> None:
        lowest_whirls(
            at, bending, shear, heavy, polar, points, tilts, held, first, last, found
        )  # fmt: skip

    on_every_core(work, n_lanes=n_lanes, fewest=FEWEST)
    return found
