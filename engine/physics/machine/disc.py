"""Stress and growth of a spinning flat disc with a central hole."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Mask


@dataclass(frozen=True)
class DiscStress:
    """In-plane stresses along the radius."""

    radial: Array
    """[Pa]"""
    hoop: Array
    """[Pa]"""


def rotating_stress(
    *, density: Array, speed: Array, r_inner: Array, r_outer: Array, poisson: Array, radius: Array
) -> DiscStress:
    """Radial and hoop stress of a rotating annulus in plane stress.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    density : Array
        Disc material [kg/m3].
    speed : Array
        Angular speed [rad/s]. The sign does not matter.
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 < r_inner < r_outer.
    poisson : Array
        Poisson's ratio [-].
    radius : Array
        Radius of the stress [m], from r_inner to r_outer.

    Returns
    -------
    DiscStress
        Stresses [Pa]; NaN where the radii are out of order.

    Notes
    -----
    Elastic, uniform thickness, free edges, no temperature difference.

    References
    ----------
    Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 32.

    Examples
    --------
    >>> s = rotating_stress(density=8000.0, speed=2094.395, r_inner=0.02, r_outer=0.08,
    ...                     poisson=0.29, radius=0.04)
    >>> round(float(s.radial) / 1e6, 2)
    51.95

    """
    load = density * np.square(speed) / 8
    squares = np.square(r_inner) + np.square(r_outer)
    with np.errstate(divide="ignore", invalid="ignore"):
        product = np.square(r_inner) * np.square(r_outer) / np.square(radius)
    radial = load * (3 + poisson) * (squares - product - np.square(radius))
    hoop = load * ((3 + poisson) * (squares + product) - (1 + 3 * poisson) * np.square(radius))
    inside = _within(r_inner, radius, r_outer)
    return DiscStress(np.where(inside, radial, np.nan), np.where(inside, hoop, np.nan))


def bore_hoop_stress(
    *, density: Array, speed: Array, r_inner: Array, r_outer: Array, poisson: Array
) -> Array:
    """Hoop stress at the bore of a rotating annulus, the largest stress in it.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Disc material [kg/m3].
    speed : Array
        Angular speed [rad/s]. The sign does not matter.
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 < r_inner < r_outer.
    poisson : Array
        Poisson's ratio [-].

    Returns
    -------
    Array
        Hoop stress at the bore [Pa]; NaN where the radii are out of order.

    References
    ----------
    Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 32.

    Examples
    --------
    >>> s = bore_hoop_stress(density=7850.0, speed=1000.0, r_inner=0.02, r_outer=0.1, poisson=0.3)
    >>> round(float(s) / 1e6, 1)
    65.3

    """
    shape = (3 + poisson) * np.square(r_outer) + (1 - poisson) * np.square(r_inner)
    stress = density * np.square(speed) / 4 * shape
    return np.where(_within(r_inner, r_inner, r_outer), stress, np.nan)


def mean_hoop_stress(*, density: Array, speed: Array, r_inner: Array, r_outer: Array) -> Array:
    """Mean hoop stress over the cross-section of a rotating annulus.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Disc material [kg/m3].
    speed : Array
        Angular speed [rad/s]. The sign does not matter.
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 < r_inner < r_outer.

    Returns
    -------
    Array
        Mean hoop stress [Pa]; NaN where the radii are out of order.

    Notes
    -----
    Half the centrifugal force of half the disc over the cross-section that carries it. So it holds
    for any material law.

    References
    ----------
    Robinson, Bursting tests of steam-turbine disk wheels, Trans. ASME 66, 1944.

    Examples
    --------
    >>> s = mean_hoop_stress(density=8000.0, speed=2094.395, r_inner=0.02, r_outer=0.08)
    >>> round(float(s) / 1e6, 2)
    98.26

    """
    shape = (np.square(r_outer) + r_outer * r_inner + np.square(r_inner)) / 3
    stress = density * np.square(speed) * shape
    return np.where(_within(r_inner, r_inner, r_outer), stress, np.nan)


def thermal_stress(
    *,
    youngs_modulus: Array,
    expansion: Array,
    temperature_difference: Array,
    r_inner: Array,
    r_outer: Array,
    radius: Array,
) -> DiscStress:
    """Stress of an annulus whose temperature rises in a straight line from bore to rim.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    youngs_modulus : Array
        Young's modulus [Pa].
    expansion : Array
        Linear thermal expansion [1/K].
    temperature_difference : Array
        Rim temperature less bore temperature [K]; positive with hot gas at the rim.
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 < r_inner < r_outer.
    radius : Array
        Radius of the stress [m], from r_inner to r_outer.

    Returns
    -------
    DiscStress
        Stresses [Pa]; with a hot rim the bore is in tension (hoop > 0) and the rim in compression.
        NaN where the radii are out of order.

    References
    ----------
    Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 150, with T linear in r.

    Examples
    --------
    >>> s = thermal_stress(youngs_modulus=200e9, expansion=12e-6, temperature_difference=50.0,
    ...                    r_inner=0.02, r_outer=0.08, radius=0.02)
    >>> round(float(s.hoop) / 1e6, 2), round(float(s.radial) + 0.0, 6)
    (72.0, 0.0)

    """
    stiffness = youngs_modulus * expansion * temperature_difference
    span = r_outer - r_inner

    def content(r: Array) -> Array:
        """Integral of the share of the temperature rise times radius, from the bore to r."""
        return (r - r_inner) ** 2 * (2 * r + r_inner) / (6 * span)

    inside = _within(r_inner, radius, r_outer)
    with np.errstate(divide="ignore", invalid="ignore"):
        whole = content(r_outer) / (np.square(r_outer) - np.square(r_inner))
        part, bore = content(radius) / np.square(radius), np.square(r_inner / radius)
        radial = stiffness * ((1 - bore) * whole - part)
        hoop = stiffness * ((1 + bore) * whole + part - (radius - r_inner) / span)
    return DiscStress(np.where(inside, radial, np.nan), np.where(inside, hoop, np.nan))


def yield_speed(
    *,
    density: Array,
    r_inner: Array,
    r_outer: Array,
    poisson: Array,
    yield_strength: Array,
    notch_factor: Array,
    thermal_stress: Array = 0.0,
) -> Array:
    """Speed at which the notched bore stress reaches yield.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Disc material [kg/m3].
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 < r_inner < r_outer.
    poisson : Array
        Poisson's ratio [-].
    yield_strength : Array
        At the disc's temperature [Pa].
    notch_factor : Array
        Stress concentration at the bore [-]: 1 plain, about 2 with spokes or bolt holes.
    thermal_stress : Array
        Thermal hoop stress at the bore [Pa], tension positive; compression is not credited.

    Returns
    -------
    Array
        Angular speed [rad/s]; 0 where the thermal stress alone reaches yield. NaN where the radii
        are out of order.

    References
    ----------
    Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 32; notch factors: common
    practice, no source.

    Examples
    --------
    >>> v = yield_speed(density=8000.0, r_inner=0.02, r_outer=0.08, poisson=0.29,
    ...                 yield_strength=205e6, notch_factor=2.0)
    >>> round(float(v) * 60 / (2 * 3.14159265))
    14799

    """
    per_square = bore_hoop_stress(
        density=density, speed=1.0, r_inner=r_inner, r_outer=r_outer, poisson=poisson
    )
    left = yield_strength / notch_factor - np.maximum(thermal_stress, 0.0)
    return np.sqrt(np.maximum(left, 0.0) / per_square)


def burst_speed(
    *,
    density: Array,
    r_inner: Array,
    r_outer: Array,
    ultimate_strength: Array,
    burst_factor: Array,
) -> Array:
    """Speed at which the mean hoop stress reaches a share of the ultimate strength.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Disc material [kg/m3].
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 < r_inner < r_outer.
    ultimate_strength : Array
        At the disc's temperature [Pa].
    burst_factor : Array
        Mean hoop stress at burst over ultimate strength [-]; 0.85 usual, 0.75 for brittle or
        uncertain material.

    Returns
    -------
    Array
        Angular speed [rad/s]; NaN where the radii are out of order.

    Notes
    -----
    Ductile discs yield until the stress is even before they burst, so neither notch nor thermal
    stress counts. A brittle disc may burst from its notch; there the yield speed governs.

    References
    ----------
    Robinson, Bursting tests of steam-turbine disk wheels, Trans. ASME 66, 1944.

    Examples
    --------
    >>> v = burst_speed(density=8000.0, r_inner=0.02, r_outer=0.08, ultimate_strength=515e6,
    ...                 burst_factor=0.85)
    >>> round(float(v) * 60 / (2 * 3.14159265))
    42214

    """
    per_square = mean_hoop_stress(density=density, speed=1.0, r_inner=r_inner, r_outer=r_outer)
    return np.sqrt(burst_factor * ultimate_strength / per_square)


def elastic_growth(
    *,
    density: Array,
    speed: Array,
    r_inner: Array,
    r_outer: Array,
    poisson: Array,
    youngs_modulus: Array,
    radius: Array | None = None,
) -> Array:
    """Radial growth of a rotating annulus at a radius, or of its rim.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Disc material [kg/m3].
    speed : Array
        Angular speed [rad/s]. The sign does not matter.
    r_inner, r_outer : Array
        Bore and rim radius [m], 0 < r_inner < r_outer.
    poisson : Array
        Poisson's ratio [-].
    youngs_modulus : Array
        Young's modulus [Pa].
    radius : Array, optional
        Where [m], from bore to rim; the rim if left out.

    Returns
    -------
    Array
        Growth [m]; NaN where the radii are out of order.

    References
    ----------
    Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 32: u = r (hoop - nu radial)/E.

    Examples
    --------
    >>> u = elastic_growth(density=8000.0, speed=2094.395, r_inner=0.02, r_outer=0.08,
    ...                    poisson=0.29, youngs_modulus=193e9)
    >>> round(float(u) * 1e6, 2)
    21.31

    """
    at = r_outer if radius is None else radius
    stress = rotating_stress(
        density=density,
        speed=speed,
        r_inner=r_inner,
        r_outer=r_outer,
        poisson=poisson,
        radius=at,
    )
    return np.asarray(at * (stress.hoop - poisson * stress.radial) / youngs_modulus)


def thermal_growth(*, expansion: Array, r_outer: Array, temperature_rise: Array) -> Array:
    """Radial growth of the rim by warming, without load.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    expansion : Array
        Linear thermal expansion [1/K].
    r_outer : Array
        Rim radius [m].
    temperature_rise : Array
        Disc temperature, averaged over its area, less that at which the disc was measured [K].

    Returns
    -------
    Array
        Growth [m], negative on cooling.

    References
    ----------
    Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 150: the rim of a free annulus
    follows the area mean of temperature, for any distribution along the radius.

    Examples
    --------
    >>> round(float(thermal_growth(expansion=12e-6, r_outer=0.1, temperature_rise=50.0)), 9)
    6e-05

    """
    return np.asarray(expansion * r_outer * temperature_rise)


def rub_speed(*, growth: Array, speed: Array, clearance: Array, thermal_growth: Array) -> Array:
    """Speed at which the growing rim closes its clearance.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    growth : Array
        Elastic growth of the rim at `speed` [m].
    speed : Array
        Angular speed of that growth [rad/s], > 0.
    clearance : Array
        Radial clearance between rim and casing, both cold and at rest [m].
    thermal_growth : Array
        Growth of the rim over the casing by temperature [m].

    Returns
    -------
    Array
        Angular speed [rad/s]; 0 where heat alone closes the clearance, NaN where speed is 0.

    References
    ----------
    Derived here: elastic growth is proportional to the square of speed.

    Examples
    --------
    >>> float(rub_speed(growth=20e-6, speed=1000.0, clearance=0.5e-3, thermal_growth=0.0))
    5000.0

    """
    left = np.maximum(clearance - thermal_growth, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return speed * np.sqrt(left / growth)


def _within(r_inner: Array, radius: Array, r_outer: Array) -> Mask:
    inside = np.less_equal(r_inner, radius) & np.less_equal(radius, r_outer)
    return np.greater(r_inner, 0) & np.less(r_inner, r_outer) & inside
