"""Areas and lengths that follow from the searched dimensions and the machine."""

import numpy as np

from engine.physics.arrays import Array, Lanes


def stack_height(*, disc_count: Array, disc_thickness: Array, gap: Array) -> Lanes:
    """Axial length of the discs and the gaps between them.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    disc_count : Array
        Number of discs [-], at least 2.
    disc_thickness : Array
        Thickness of one disc [m].
    gap : Array
        Space between neighbouring discs [m].

    Returns
    -------
    Lanes
        Height [m]; NaN with fewer than two discs, or a length that is not positive.

    References
    ----------
    Geometry, derived here.

    Examples
    --------
    >>> float(stack_height(disc_count=11, disc_thickness=1e-3, gap=0.5e-3).round(4))
    0.016

    """
    height = disc_count * disc_thickness + (disc_count - 1) * gap
    good = (np.asarray(disc_count) >= 2) & (np.asarray(disc_thickness) > 0) & (np.asarray(gap) > 0)
    return np.where(good, height, np.nan)


def edge_share(*, disc_count: Array, disc_thickness: Array, gap: Array) -> Lanes:
    """Share of the stack's height that the edges of the discs take.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    disc_count : Array
        Number of discs [-], at least 2.
    disc_thickness : Array
        Thickness of one disc [m].
    gap : Array
        Space between neighbouring discs [m].

    Returns
    -------
    Lanes
        Share [-]; NaN with fewer than two discs, or a length that is not positive.

    References
    ----------
    Geometry, derived here.

    Examples
    --------
    >>> float(edge_share(disc_count=5, disc_thickness=1e-3, gap=0.5e-3).round(3))
    0.714

    """
    height = stack_height(disc_count=disc_count, disc_thickness=disc_thickness, gap=gap)
    return np.asarray(disc_count * disc_thickness / height)


def throat_area(*, nozzle_count: Array, nozzle_width: Array, nozzle_height: Array) -> Lanes:
    """Throat area of all nozzles together, as slots the height of the stack.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    nozzle_count : Array
        Number of nozzles [-].
    nozzle_width, nozzle_height : Array
        Width across the jet [m] and height along the axis [m].

    Returns
    -------
    Lanes
        Area [m2].

    References
    ----------
    Geometry, derived here.

    Examples
    --------
    >>> float(throat_area(nozzle_count=4, nozzle_width=1e-3, nozzle_height=0.02).round(6))
    8e-05

    """
    return np.asarray(nozzle_count * nozzle_width * nozzle_height, dtype=float)


def nozzle_footprint(
    *, nozzle_count: Array, exit_width: Array, inlet_angle: Array, rim_radius: Array
) -> Lanes:
    """Share of the rim's circumference that the nozzle exits take.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    nozzle_count : Array
        Number of nozzles [-].
    exit_width : Array
        Exit width of one nozzle, measured across the jet [m].
    inlet_angle : Array
        Angle of the jets from the tangent [rad], above 0.
    rim_radius : Array
        Outer radius of the discs [m].

    Returns
    -------
    Lanes
        Share [-]; above 1 the nozzles overlap.

    References
    ----------
    Geometry, derived here: a jet of width w at angle alpha spans w / sin(alpha) of the rim.

    Examples
    --------
    >>> share = nozzle_footprint(
    ...     nozzle_count=4, exit_width=1e-3, inlet_angle=0.2, rim_radius=0.075
    ... )
    >>> round(float(share), 4)
    0.0427

    """
    return np.asarray(
        nozzle_count * exit_width / (np.sin(inlet_angle) * 2 * np.pi * rim_radius), dtype=float
    )


def casing_angle(*, inlet_angle: Array, rim_radius: Array, rim_clearance: Array) -> Lanes:
    """Angle of the jets from the tangent where they leave the casing.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    inlet_angle : Array
        Angle of the jets from the tangent where they meet the rim [rad], 0 to pi / 2.
    rim_radius : Array
        Outer radius of the discs [m].
    rim_clearance : Array
        Radial distance between rim and casing [m], at least 0.

    Returns
    -------
    Lanes
        Angle [rad], at least `inlet_angle`.

    References
    ----------
    Geometry, derived here: a jet's axis is a straight line, so it passes the shaft's axis at the
    same distance, r cos(angle), wherever it is looked at.

    Examples
    --------
    >>> angle = casing_angle(inlet_angle=np.radians(6), rim_radius=45e-3, rim_clearance=0.5e-3)
    >>> round(float(np.degrees(angle)), 1)
    10.4

    """
    share = rim_radius / (np.asarray(rim_radius, dtype=float) + rim_clearance)
    return np.asarray(np.arccos(share * np.cos(inlet_angle)))


def mouth_depth(
    *, inlet_angle: Array, rim_radius: Array, rim_clearance: Array, exit_width: Array
) -> Lanes:
    """Depth of the outer wall of a nozzle inside the casing bore, where it opens.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    inlet_angle : Array
        Angle of the jets from the tangent where they meet the rim [rad], 0 to pi / 2.
    rim_radius : Array
        Outer radius of the discs [m].
    rim_clearance : Array
        Radial distance between rim and casing [m], at least 0.
    exit_width : Array
        Width of a nozzle at its exit, across the jet [m].

    Returns
    -------
    Lanes
        Casing radius less the distance of that wall from the shaft's axis [m]. Where it is not
        above 0 the nozzle does not open into the casing bore and cannot be cut.

    References
    ----------
    Geometry, derived here: the jet's axis passes the shaft's axis at the rim's radius times the
    cosine of the inlet angle, and the wall half of the width further out.

    Examples
    --------
    >>> depth = mouth_depth(inlet_angle=np.radians(6), rim_radius=45e-3, rim_clearance=0.5e-3,
    ...                     exit_width=0.5e-3)
    >>> round(float(depth) * 1e3, 2)
    0.5

    """
    axis = np.asarray(rim_radius, dtype=float) * np.cos(inlet_angle)
    return np.asarray(rim_radius + np.asarray(rim_clearance) - axis - np.asarray(exit_width) / 2)


def exhaust_area(
    *, bore_radius: Array, shaft_radius: Array, exhaust_ends: Array, blockage: Array
) -> Lanes:
    """Free area of the annulus between shaft and exhaust bore.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    bore_radius, shaft_radius : Array
        Radii of the exhaust bore [m] and the shaft [m].
    exhaust_ends : Array
        Ends at which the flow leaves [-], 1 or 2.
    blockage : Array
        Share blocked by spokes or hub [-], 0 to below 1.

    Returns
    -------
    Lanes
        Area [m2]; NaN where the bore is not wider than the shaft.

    References
    ----------
    Geometry, derived here.

    Examples
    --------
    >>> area = exhaust_area(bore_radius=0.03, shaft_radius=0.01, exhaust_ends=2, blockage=0.25)
    >>> round(float(area), 6)
    0.00377

    """
    area = exhaust_ends * np.pi * (np.square(bore_radius) - np.square(shaft_radius))
    return np.where(area > 0, area * (1 - np.asarray(blockage)), np.nan)
