"""Radial growth of a spinning disc at any radius, for the collar seals that run on its bore."""

import numpy as np

from engine.physics.arrays import Array
from engine.physics.machine.disc import rotating_stress


def growth_at_radius(
    *,
    density: Array,
    speed: Array,
    r_inner: Array,
    r_outer: Array,
    poisson: Array,
    youngs_modulus: Array,
    radius: Array,
) -> Array:
    """Radial growth of a rotating annulus at a radius.

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
    radius : Array
        Where [m], from bore to rim.

    Returns
    -------
    Array
        Growth [m]; NaN where the radii are out of order.

    Notes
    -----
    The collar is taken to follow the bore of its end disc, free of hub and spokes, which hold it
    back: growth is too large rather than too small.

    References
    ----------
    Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 32: u = r (hoop - nu radial)/E.

    Examples
    --------
    >>> u = growth_at_radius(density=8000.0, speed=2094.395, r_inner=0.02, r_outer=0.08,
    ...                      poisson=0.29, youngs_modulus=193e9, radius=0.02)
    >>> round(float(u) * 1e6, 2)
    19.4

    """
    stress = rotating_stress(
        density=density,
        speed=speed,
        r_inner=r_inner,
        r_outer=r_outer,
        poisson=poisson,
        radius=radius,
    )
    return np.asarray(radius * (stress.hoop - poisson * stress.radial) / youngs_modulus)
