"""Mass, inertia and balance of the rotor."""

import numpy as np

from engine.physics.arrays import Array

SIZE_STEPS = (
    1.0, 3.0, 6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0, 180.0, 250.0, 315.0, 400.0, 500.0
)  # fmt: skip
"""Ends of the steps of basic sizes [mm]; ISO 286-1."""


def annulus_mass(*, density: Array, thickness: Array, r_inner: Array, r_outer: Array) -> Array:
    """Mass of a flat annulus.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Material [kg/m3].
    thickness : Array
        Thickness, or length along the axis [m].
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 <= r_inner < r_outer; 0 is a full disc or shaft.

    Returns
    -------
    Array
        Mass [kg].

    References
    ----------
    Derived here from the volume.

    Examples
    --------
    >>> round(float(annulus_mass(density=8000.0, thickness=1e-3, r_inner=0.02, r_outer=0.08)), 4)
    0.1508

    """
    return density * thickness * np.pi * (np.square(r_outer) - np.square(r_inner))


def polar_inertia(*, mass: Array, r_inner: Array, r_outer: Array) -> Array:
    """Moment of inertia of a flat annulus about its axis.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mass : Array
        Mass of the annulus [kg].
    r_inner, r_outer : Array
        Bore and rim radius [m].

    Returns
    -------
    Array
        Moment of inertia [kg m2].

    References
    ----------
    Derived here from the volume.

    Examples
    --------
    >>> round(float(polar_inertia(mass=2.0, r_inner=0.0, r_outer=0.1)), 6)
    0.01

    """
    return mass * (np.square(r_outer) + np.square(r_inner)) / 2


def stored_energy(*, inertia: Array, speed: Array) -> Array:
    """Kinetic energy of rotation, which a casing must contain if the rotor bursts.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    inertia : Array
        Moment of inertia of everything that turns [kg m2].
    speed : Array
        Angular speed [rad/s].

    Returns
    -------
    Array
        Energy [J].

    References
    ----------
    Derived here: half I times speed squared.

    Examples
    --------
    >>> float(stored_energy(inertia=0.01, speed=1000.0))
    5000.0

    """
    return inertia * np.square(speed) / 2


def permissible_unbalance(*, balance_grade: Array, mass: Array, speed: Array) -> Array:
    """Residual unbalance that a balance grade allows for the whole rotor.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    balance_grade : Array
        Eccentricity times speed [m/s]: G 2.5 is 2.5e-3.
    mass : Array
        Rotor mass [kg].
    speed : Array
        Highest service speed [rad/s], > 0.

    Returns
    -------
    Array
        Unbalance [kg m].

    References
    ----------
    ISO 21940-11:2016, 6.2 and table 1.

    Examples
    --------
    >>> u = permissible_unbalance(balance_grade=6.3e-3, mass=2.0, speed=1047.198)
    >>> round(float(u) * 1e6, 2)
    12.03

    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(np.multiply(balance_grade, mass), speed)


def fit_clearance(*, diameter: Array) -> Array:
    """Largest clearance of a hole H7 on a shaft h6.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    diameter : Array
        Basic size [m], 1 to 500 mm.

    Returns
    -------
    Array
        Clearance [m]: both tolerances, IT7 and IT6. NaN where the diameter is none.

    Notes
    -----
    i = 0.45 D^(1/3) + 0.001 D in micrometres, D in mm the geometric mean of the ends of its step of
    sizes; IT6 is 10 i, IT7 is 16 i. The printed tables round each to whole micrometres.

    References
    ----------
    ISO 286-1:2010, annex A, from memory.

    Examples
    --------
    >>> round(float(fit_clearance(diameter=8e-3)) * 1e6, 1)  # the table has 9 + 15
    23.4

    """
    size = np.asarray(diameter, dtype=float) * 1e3
    steps = np.array(SIZE_STEPS)
    place = np.clip(np.searchsorted(steps, size - 1e-9), 1, steps.size - 1)
    mean = np.sqrt(steps[place - 1] * steps[place]) + 0.0 * size
    return np.asarray((10 + 16) * (0.45 * np.cbrt(mean) + 0.001 * mean) * 1e-6)


def raw_unbalance(
    *,
    disc_count: Array,
    density: Array,
    thickness: Array,
    r_inner: Array,
    r_outer: Array,
    taper: Array,
    eccentricity: Array,
) -> Array:
    """Estimate the unbalance of a stack as assembled, before balancing.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    disc_count : Array
        Discs in the stack [-].
    density : Array
        Disc material [kg/m3].
    thickness : Array
        Disc thickness [m].
    r_inner, r_outer : Array
        Bore and rim radius [m].
    taper : Array
        Change of thickness straight across one disc, rim to rim [m].
    eccentricity : Array
        Offset of the rim from the disc's seat on the shaft [m].

    Returns
    -------
    Array
        Unbalance [kg m], root mean square over stacks whose discs are all at their tolerances and
        assembled at random angles.

    Notes
    -----
    Taper moves mass by density taper pi (r_o^4 - r_i^4)/(8 r_o); an offset rim by density
    thickness pi r_o^2 eccentricity (the bore is the seat and stays centred). Errors of discs at
    random angles add up by the root of their number. Run-out tilts a disc and makes a couple, which
    is small for thin discs and not counted.

    References
    ----------
    Derived here from the moments of a tapered and of an offset disc.

    Examples
    --------
    >>> u = raw_unbalance(disc_count=25, density=8000.0, thickness=1e-3, r_inner=0.02,
    ...                   r_outer=0.08, taper=0.0, eccentricity=50e-6)
    >>> round(float(u) * 1e6, 2)
    40.21

    """
    moment = np.power(r_outer, 4) - np.power(r_inner, 4)
    tapered = density * taper * np.pi * moment / (8 * np.asarray(r_outer))
    offset = density * thickness * np.pi * np.square(r_outer) * eccentricity
    return np.asarray(np.sqrt(disc_count) * np.hypot(tapered, offset))
