"""Published estimates of what a burst does to a wall, and of what a pressure asks of a casing.

They are far apart, none was made for thin stacked discs, and none is a verdict.
"""

import numpy as np

from engine.physics.arrays import Array, Lanes

THIRD = np.pi / 3
"""Half the angle of a third of a disc [rad], the fragment that carries most energy of motion."""
PERFORATION = 1.44e9
"""Energy [J] that perforates mild steel, over (diameter times thickness)^1.5 [m3]: 17,400 ft lbf
per cubic inch."""
PLATE_FACTOR = 0.3
"""UG-34's C of a flat end that is bolted on."""


def fragment_radius(*, r_inner: Array, r_outer: Array, half_angle: float = THIRD) -> Lanes:
    """Distance of the centre of mass of a sector of a ring from its axis.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 <= r_inner < r_outer.
    half_angle : float
        Half the angle of the sector [rad].

    Returns
    -------
    Lanes
        Radius [m].

    References
    ----------
    Derived here from the areas.

    Examples
    --------
    >>> float(fragment_radius(r_inner=0.0, r_outer=1.0).round(4))
    0.5513

    """
    cubes = np.power(r_outer, 3) - np.power(r_inner, 3)
    squares = np.square(r_outer) - np.square(r_inner)
    return np.asarray(2 / 3 * np.sin(half_angle) / half_angle * cubes / squares)


def fragment_energy(*, mass: Array, speed: Array, radius: Array) -> Lanes:
    """Energy of motion of a fragment that flies off, without that of its own rotation.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mass : Array
        Of the fragment [kg].
    speed : Array
        Angular speed at which it comes off [rad/s].
    radius : Array
        Of its centre of mass [m].

    Returns
    -------
    Lanes
        Energy [J].

    References
    ----------
    Derived here: half m v squared.

    Examples
    --------
    >>> float(fragment_energy(mass=0.05, speed=4000.0, radius=0.05))
    1000.0

    """
    return np.asarray(mass * np.square(np.multiply(speed, radius)) / 2)


def perforation_thickness(*, energy: Array, diameter: Array) -> Lanes:
    """Thickness of mild steel that a hard missile just perforates.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    energy : Array
        Energy of motion [J].
    diameter : Array
        Of a circle as large as the struck area [m], > 0.

    Returns
    -------
    Lanes
        Thickness [m].

    References
    ----------
    Ballistic Research Laboratory's formula as in BC-TOP-9A, Design of Structures for Missile
    Impact, Bechtel 1974, from memory: T = E^(2/3)/(672 D) in inches and ft lbf.

    Examples
    --------
    >>> float(perforation_thickness(energy=927.0, diameter=0.025).round(5))
    0.00298

    """
    return np.asarray(np.power(np.divide(energy, PERFORATION), 2 / 3) / diameter)


def ring_thickness(
    *, energy: Array, radius: Array, height: Array, stress: Array, strain: Array
) -> Lanes:
    """Thickness of a ring that takes an energy up by stretching all round.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    energy : Array
        Of all fragments together [J].
    radius : Array
        Inner radius of the ring [m].
    height : Array
        Length of the ring along the axis [m].
    stress : Array
        Flow stress of the ring [Pa].
    strain : Array
        Strain to which it may stretch [-].

    Returns
    -------
    Lanes
        Thickness [m].

    References
    ----------
    Derived here: volume times stress times strain. Common practice for a first size, no source.

    Examples
    --------
    >>> t = ring_thickness(energy=2781.0, radius=0.046, height=0.012, stress=400e6, strain=0.1)
    >>> float(t.round(4))
    0.0169

    """
    area = np.divide(energy, np.pi * stress * np.multiply(strain, height))
    return np.asarray(np.sqrt(np.square(radius) + area) - radius)


def shell_thickness(*, pressure: Array, radius: Array, stress: Array, joint: Array) -> Lanes:
    """Thickness of a cylindrical shell under internal pressure.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    pressure : Array
        Over the surroundings [Pa].
    radius : Array
        Inner radius [m].
    stress : Array
        Allowable stress [Pa].
    joint : Array
        Efficiency of the welded joint [-].

    Returns
    -------
    Lanes
        Thickness [m], without an allowance for corrosion.

    References
    ----------
    ASME Boiler and Pressure Vessel Code VIII-1, UG-27(c)(1), from memory.

    Examples
    --------
    >>> float(shell_thickness(pressure=6e5, radius=0.046, stress=138e6, joint=0.7).round(5))
    0.00029

    """
    return np.asarray(np.multiply(pressure, radius) / (np.multiply(stress, joint) - 0.6 * pressure))


def wall_hoop_stress(*, pressure: Array, r_inner: Array, r_outer: Array) -> Lanes:
    """Hoop stress at the inside of a thick cylinder under internal pressure.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    pressure : Array
        Over the surroundings [Pa].
    r_inner, r_outer : Array
        Of the wall [m], r_inner < r_outer.

    Returns
    -------
    Lanes
        Stress [Pa].

    References
    ----------
    Lame; Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 28.

    Examples
    --------
    >>> float(wall_hoop_stress(pressure=6e5, r_inner=0.046, r_outer=0.066).round(-4)) / 1e6
    1.73

    """
    inner, outer = np.square(r_inner), np.square(r_outer)
    return np.asarray(pressure * (outer + inner) / (outer - inner))


def end_plate_thickness(*, pressure: Array, diameter: Array, stress: Array) -> Lanes:
    """Thickness of a flat end under pressure.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    pressure : Array
        Over the surroundings [Pa].
    diameter : Array
        On which the pressure acts [m].
    stress : Array
        Allowable stress [Pa].

    Returns
    -------
    Lanes
        Thickness [m].

    References
    ----------
    ASME Boiler and Pressure Vessel Code VIII-1, UG-34(c)(2) with C = 0.3, from memory; the moment
    of the bolts is not in it.

    Examples
    --------
    >>> float(end_plate_thickness(pressure=6e5, diameter=0.092, stress=138e6).round(4))
    0.0033

    """
    return np.asarray(diameter * np.sqrt(np.divide(PLATE_FACTOR * pressure, stress)))


def bolt_force(*, pressure: Array, diameter: Array, bolts: int) -> Lanes:
    """Force of the pressure on each bolt of an end plate.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    pressure : Array
        Over the surroundings [Pa].
    diameter : Array
        On which the pressure acts [m].
    bolts : int
        Number of bolts.

    Returns
    -------
    Lanes
        Force [N], without preload and prying.

    References
    ----------
    Derived here from the balance of forces.

    Examples
    --------
    >>> float(bolt_force(pressure=6e5, diameter=0.092, bolts=6).round(0))
    665.0

    """
    return np.asarray(pressure * np.pi * np.square(diameter) / 4 / bolts)
