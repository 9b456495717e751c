"""How well a workshop can hold the gap: what tolerances, pressure and heat leave at the rim."""

import math

import numpy as np

from engine.physics.arrays import Array


def pressure_bending(
    *,
    pressure_difference: Array,
    r_inner: Array,
    r_outer: Array,
    thickness: Array,
    youngs_modulus: Array,
    poisson: Array,
) -> Array:
    """Deflection of the rim of a disc clamped at its bore, under uniform pressure on one face.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    pressure_difference : Array
        Pressure on one face less that on the other [Pa].
    r_inner, r_outer : Array
        Clamp and rim radius [m], 0 < r_inner < r_outer.
    thickness : Array
        Disc thickness [m].
    youngs_modulus : Array
        Young's modulus [Pa].
    poisson : Array
        Poisson's ratio [-].

    Returns
    -------
    Array
        Deflection [m], with the sign of the pressure; NaN where the radii are out of order.

    Notes
    -----
    Plate equation with slope x^3/16 - x ln(x)/4 + x/8 + A x/2 + B/x, x = r/r_outer, slope zero at
    the clamp and no moment at the rim. Stiffening by rotation is not counted.

    References
    ----------
    Derived here; Roark's Formulas for Stress and Strain, 7th ed. 2002, table 11.2, case 2l.

    Examples
    --------
    >>> w = pressure_bending(pressure_difference=1000.0, r_inner=0.03, r_outer=0.075,
    ...                      thickness=1e-3, youngs_modulus=193e9, poisson=0.29)
    >>> round(float(w) * 1e6, 1)
    31.9

    """
    x, nu = _ratio(r_inner, r_outer), np.asarray(poisson)
    log = np.log(x)
    load = x**2 / 16 - log / 4 + 1 / 8
    b = ((1 + 3 * nu) / 16 - (1 + nu) * load) / ((1 + nu) / x**2 + 1 - nu)
    half_a = -(load + b / x**2)
    bending = (1 - x**4) / 64 + x**2 * log / 8 + (1 - x**2) * (1 / 8 + half_a / 2) - b * log
    rigidity = youngs_modulus * np.power(thickness, 3) / (12 * (1 - nu**2))
    return np.asarray(pressure_difference * np.power(r_outer, 4) / rigidity * bending)


def end_disc_heat_flux(
    *,
    density: Array,
    specific_heat: Array,
    rim_speed: Array,
    temperature_difference: Array,
    thickness: Array,
    conductivity: Array,
) -> Array:
    """Heat flux through an end disc, from the side chamber into the last gap.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Density of the gas at the rim [kg/m3].
    specific_heat : Array
        Specific heat of the gas at constant pressure [J/(kg K)].
    rim_speed : Array
        Circumferential speed of the rim [m/s], > 0.
    temperature_difference : Array
        Temperature in the side chamber less that in the gap, mean along the radius [K].
    thickness : Array
        Disc thickness [m].
    conductivity : Array
        Thermal conductivity of the disc through its thickness [W/(m K)].

    Returns
    -------
    Array
        Heat flux [W/m2].

    Notes
    -----
    Heat transfer of either face by Reynolds' analogy, h = C_f/2 density c_p V with C_f = 0.005 and
    V half the rim speed; the resistance of the disc in series. Good to an order of magnitude.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> q = end_disc_heat_flux(density=3.0, specific_heat=1005.0, rim_speed=150.0,
    ...                        temperature_difference=10.0, thickness=1e-3, conductivity=15.0)
    >>> round(float(q))
    2774

    """
    transfer = 0.0025 * density * specific_heat * rim_speed / 2
    return temperature_difference / (2 / transfer + np.divide(thickness, conductivity))


def heat_bending(
    *,
    heat_flux: Array,
    conductivity: Array,
    expansion: Array,
    r_inner: Array,
    r_outer: Array,
    poisson: Array,
) -> Array:
    """Deflection of the rim of a disc clamped at its bore, with a heat flux through it.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    heat_flux : Array
        Heat flux through the disc from face to face [W/m2].
    conductivity : Array
        Thermal conductivity of the disc through its thickness [W/(m K)].
    expansion : Array
        Linear thermal expansion [1/K].
    r_inner, r_outer : Array
        Clamp and rim radius [m], 0 < r_inner < r_outer.
    poisson : Array
        Poisson's ratio [-].

    Returns
    -------
    Array
        Deflection toward the colder side [m]; NaN where the radii are out of order.

    Notes
    -----
    The warm face is convex. The free curvature is expansion heat_flux/conductivity, for any
    thickness; a slope A r + B/r of the plate is added so that the slope is zero at the clamp.

    References
    ----------
    Derived here from Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959,
    art. 14 and 17.

    Examples
    --------
    >>> w = heat_bending(heat_flux=5000.0, conductivity=15.0, expansion=17e-6, r_inner=0.03,
    ...                  r_outer=0.075, poisson=0.29)
    >>> round(float(w) * 1e6, 1)
    8.0

    """
    x = _ratio(r_inner, r_outer)
    curvature = expansion * np.divide(heat_flux, conductivity)
    held = (1 + poisson) / (1 + poisson + (1 - np.asarray(poisson)) * x**2)
    return curvature * np.square(r_outer) * held * ((1 - x**2) / 2 + x**2 * np.log(x))


def unequal_gap_pressure(*, density: Array, radial_speed: Array, gap: Array, error: Array) -> Array:
    """Pressure difference between two neighbouring gaps of unequal width.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Density of the gas at the rim [kg/m3].
    radial_speed : Array
        Mean radial speed in a gap at the rim [m/s].
    gap : Array
        Drawn gap [m].
    error : Array
        Difference of the two gaps [m].

    Returns
    -------
    Array
        Pressure difference, mean along the radius [Pa].

    Notes
    -----
    Both gaps have the same pressures at the rim and at the bore. With laminar friction the speed in
    a gap is proportional to the square of the gap, so just inside the rim the pressure in the wider
    gap is lower by the change of dynamic head. The difference vanishes towards the bore, so half of
    it counts: density speed^2 error/gap. Good to an order of magnitude; turbulent friction gives
    about a third.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> p = unequal_gap_pressure(density=3.0, radial_speed=20.0, gap=0.3e-3, error=0.03e-3)
    >>> round(float(p))
    120

    """
    return density * np.square(radial_speed) * np.divide(error, gap)


def rim_gap_loss(
    *,
    diameter: Array,
    flatness: Array,
    spacer_tolerance: Array,
    run_out: Array,
    bending: Array = 0.0,
) -> Array:
    """Largest loss of a gap at the rim, with every tolerance at its worst.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    diameter : Array
        Disc diameter [m].
    flatness : Array
        Largest departure of the rim from the plane of the clamped part, over diameter [-].
    spacer_tolerance : Array
        Plus or minus tolerance of one spacer [m].
    run_out : Array
        Axial run-out of one disc, total reading at the rim [m].
    bending : Array
        Bending of a disc by pressure and heat [m].

    Returns
    -------
    Array
        Loss [m]. The local gap is the drawn gap less this; below 0 the discs touch.

    Notes
    -----
    Both neighbouring discs lean in by their full flatness and half their run-out.

    References
    ----------
    Worst-case sum of tolerances, common practice.

    Examples
    --------
    >>> loss = rim_gap_loss(diameter=0.15, flatness=0.5e-3, spacer_tolerance=10e-6, run_out=20e-6)
    >>> round(float(loss) * 1e3, 3)
    0.18

    """
    return 2 * np.multiply(flatness, diameter) + spacer_tolerance + run_out + np.abs(bending)


def gap_yield(
    *,
    disc_count: Array,
    gap: Array,
    diameter: Array,
    flatness: Array,
    spacer_tolerance: Array,
    run_out: Array,
    bending: Array = 0.0,
    kept: Array = 0.5,
    sigmas: Array = 3.0,
) -> Array:
    """Share of stacks in which every gap keeps at least a given part of its drawn width.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    disc_count : Array
        Discs in the stack [-]; gaps are one fewer.
    gap : Array
        Drawn gap [m].
    diameter : Array
        Disc diameter [m].
    flatness : Array
        Largest departure of the rim from the plane of the clamped part, over diameter [-].
    spacer_tolerance : Array
        Plus or minus tolerance of one spacer [m].
    run_out : Array
        Axial run-out of one disc, total reading at the rim [m].
    bending : Array
        Bending of a disc by pressure and heat [m]; the same in every gap.
    kept : Array
        Part of the drawn gap that must stay [-].
    sigmas : Array
        Standard deviations in a tolerance [-].

    Returns
    -------
    Array
        Share [-].

    Notes
    -----
    Errors are taken as independent and normally distributed, and gaps as independent. In truth a
    disc that leans into one gap opens the next, which lowers the share by up to about 0.01.

    References
    ----------
    Root-sum-square stack-up, common practice.

    Examples
    --------
    >>> share = gap_yield(disc_count=21, gap=0.3e-3, diameter=0.15, flatness=0.5e-3,
    ...                   spacer_tolerance=10e-6, run_out=20e-6)
    >>> round(float(share), 4)
    0.9997

    """
    leaning = 2 * np.square(np.multiply(flatness, diameter))
    spread = np.sqrt(leaning + np.square(spacer_tolerance) + np.square(run_out) / 2) / sigmas
    room = gap * (1 - np.asarray(kept)) - np.abs(bending)
    share = _share_below(room / spread)
    with np.errstate(divide="ignore", invalid="ignore"):  # log of a share of 0
        return np.asarray(np.exp(np.subtract(disc_count, 1) * np.log(share)))


def smallest_holdable_gap(*, loss: Array, smallest_spacer: Array, kept: Array = 0.5) -> Array:
    """Smallest drawn gap of which a given part stays at the rim, with every tolerance at its worst.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    loss : Array
        Largest loss of a gap at the rim [m].
    smallest_spacer : Array
        Thinnest spacer that can be made or bought [m].
    kept : Array
        Part of the drawn gap that must stay [-], below 1.

    Returns
    -------
    Array
        Gap [m].

    References
    ----------
    Derived here from the definition of gap hold.

    Examples
    --------
    >>> round(float(smallest_holdable_gap(loss=0.18e-3, smallest_spacer=0.1e-3)) * 1e3, 3)
    0.36

    """
    return np.maximum(loss / (1 - np.asarray(kept)), smallest_spacer)


def _share_below(deviations: Array) -> Array:
    """Share of a normal distribution below a number of standard deviations."""
    # SciPy has this too but takes a fifth of a second to load.
    return np.asarray(np.vectorize(math.erfc, otypes=[float])(-deviations / math.sqrt(2)) / 2)


def _ratio(r_inner: Array, r_outer: Array) -> Array:
    """Clamp over rim radius; NaN where the radii are out of order."""
    ratio = np.asarray(r_inner, dtype=float) / r_outer
    return np.where((ratio > 0) & (ratio < 1), ratio, np.nan)
