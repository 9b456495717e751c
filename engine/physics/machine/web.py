"""Shape of a disc's web: what holds its ring, a hub with spokes or round holes around a hub."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask, ValidRange

WEB_RANGE = ValidRange(
    "finite elements of webs; the ends of the tables",
    {
        "radius_ratio": (0.08, 0.84),
        "width_ratio": (0.06, np.inf),
        "hub_ratio": (0.1, np.inf),
        "poisson": (0.2, 0.4),
        "thickness_ratio": (0.0, 0.1),
    },
)
"""Bore over rim radius; spoke width and hub radius over bore radius; Poisson's ratio; thickness
over rim radius. Wider spokes and larger hubs count as the widest and largest of the tables, which
hold less."""

SPOKES = (3, 4, 5, 6, 8, 12)
"""Numbers of spokes in the tables."""
HOLES = SPOKES[:4]
"""Numbers of round holes in the tables: more leave less open between walls that can be cut."""
HOLDS = ("spokes", "holes", "bolts")
"""What holds the ring: spokes, the walls between round holes, or bolts with washers (see `bolts`).
Tables have all numbers of the first, then all of the second and so on."""
NODAL_DIAMETERS = np.arange(1, 13)
"""Nodal diameters of the waves, which stand on the last axis."""
LEAST_SHARE = 0.1
"""A wave of n nodal diameters counts where n holds at least this share of the squared amplitude of
a mode along the rim."""
LEAST_WALL = 1.5e-3
"""Least metal around the shaft hole of a cut part [m]; common practice, no source."""
LEAST_SPOKE = 2e-3
"""Narrowest spoke, or wall between two holes [m]; common practice, no source."""
LEAST_OPENING = 1e-3
"""Least radial height of an opening [m]; common practice, no source."""
FILLET_OF_SPOKE, FILLET_OF_LENGTH = 1 / 3, 1 / 4
"""Largest fillet, over spoke width and over the spoke's length; a choice of the drawing."""
HUB_PLAY = 1.1
"""Room between the roots of neighbouring spokes, over the least; a choice of the drawing."""
SMALLEST_HUB, LARGEST_HUB = 0.12, 0.8
HUB_PLACES = (0.0, 0.45, 1.0)
"""Hubs of the tables: from the smallest that a web can have to the largest, over bore radius."""
FINE_HUB_PLACES = (0.0, 0.225, 0.45, 0.725, 1.0)
"""The same between which the product interpolates."""
NARROWEST = 0.06
"""Narrowest spoke or wall of the tables, over bore radius."""
LEAST_OPEN = 0.15
"""Share of the bore's circle that the smallest holes of the tables leave open."""
HOLE_PLACES = (0.3, 0.6, 0.85)
"""Shaft holes of the tables, over the hub."""
FILLET_PLACES = (0.5, 1.0)
"""Fillets of the tables, over the largest."""
MODES_AT_REST = 6
"""Modes of the disc at rest in the tables, the lowest."""
REFERENCE_POISSON = 0.3
WASHERS = (0.05, 0.4)
"""Smallest and largest washer of the tables: its radius over the width of the ring."""
ROUND_WASHER = 0.93
"""A round washer holds as one of the tables does that is this much smaller: they were solved with
squares. From the frequencies of six whole discs of other elements."""
WIDEST_WASHER = 0.8
"""Widest washer of the tables, over the angle from one bolt to the next."""


@dataclass(frozen=True)
class WebShape:
    """Hub, spokes and fillets between shaft hole and exhaust bore, or hub and holes [m]."""

    hub_radius: Lanes
    """Of holes: of the circle that they touch from outside."""
    spoke_width: Lanes
    """Or that of the wall between two holes, where it is narrowest."""
    fillet: Lanes
    """Or the radius of a hole."""
    fits: Mask
    """Whether a web fills the blocked share; else the nearest that can be cut stands here."""
    holes: Mask | bool = False
    """Whether it has round holes, not spokes."""


def web_shape(
    *,
    shaft_radius: Array,
    bore_radius: Array,
    blockage: Array,
    spokes: Array,
    holes: Mask | bool = False,
) -> WebShape:
    """Find the web that blocks a share of the exhaust annulus, with spokes or with round holes.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    shaft_radius, bore_radius : Array
        Shaft hole and exhaust bore [m], 0 < shaft_radius < bore_radius.
    blockage : Array
        Share of the annulus between them that metal fills [-].
    spokes : Array
        Number of spokes or of holes [-], 3 or more.
    holes : Mask or bool
        Where holes are wanted instead of spokes; no unit.

    Returns
    -------
    WebShape
        Radii and widths [m]; spokes and walls are never narrower than `LEAST_SPOKE`. NaN where the
        radii are out of order.

    Notes
    -----
    The hub of spokes is as large as a spoke is wide, or as the roots of the spokes need, or as the
    shaft hole needs. The area of a fillet is that in a square corner. Round holes are as large as
    their share asks and touch the circle of the bore from inside.

    References
    ----------
    Derived here; the build sheet draws the same web.

    Examples
    --------
    >>> web = web_shape(shaft_radius=4e-3, bore_radius=35e-3, blockage=0.25, spokes=3)
    >>> round(float(web.spoke_width) * 1e3, 1), round(float(web.hub_radius) * 1e3, 1)
    (9.0, 9.0)

    """
    shaft, bore, share, count = np.broadcast_arrays(
        *(np.asarray(each, dtype=float) for each in (shaft_radius, bore_radius, blockage, spokes))
    )
    spoked = _spoked(shaft, bore, share, count)
    if not np.any(holes):
        return spoked
    holed, chosen = _holed(shaft, bore, share, count), np.broadcast_to(holes, shaft.shape)
    both = zip(vars(holed).values(), vars(spoked).values(), strict=True)
    return WebShape(*(np.where(chosen, one, other) for one, other in both))


def _spoked(shaft: Lanes, bore: Lanes, share: Lanes, count: Lanes) -> WebShape:
    """Web with spokes that blocks a share."""
    good = (shaft > 0) & (shaft < bore)
    wanted = share * np.pi * (bore**2 - shaft**2)
    by_width = hub_of_spoke(spokes=count)
    most = np.maximum((bore - LEAST_OPENING) / by_width, LEAST_SPOKE)
    width = np.clip(wanted / (count * bore), LEAST_SPOKE, most)
    blocked = np.zeros_like(width)
    # Newton steps; the area is nearly quadratic in the width.
    for _ in range(6):
        hub = np.maximum(by_width * width, shaft + LEAST_WALL)
        grown = np.where(by_width * width > shaft + LEAST_WALL, by_width, 0.0)
        half = width / 2
        bend = width * np.minimum(half / hub, 1.0) / 6 - width * half / bore / 6
        fillet = largest_fillet(spoke_width=width, length=bore - hub)
        corners = (4 - np.pi) * count * _convenient(fillet) ** 2
        arms = count * width * (bore - hub + bend)
        blocked = np.pi * (hub**2 - shaft**2) + arms + corners
        slope = 2 * np.pi * hub * grown + count * (bore - hub - width * grown)
        slope = np.maximum(slope, 0.2 * count * bore)
        width = np.clip(width + (wanted - blocked) / slope, LEAST_SPOKE, most)
    hub = np.maximum(by_width * width, shaft + LEAST_WALL)
    fillet = largest_fillet(spoke_width=width, length=bore - hub)
    fits = good & (np.abs(blocked - wanted) < 0.02 * wanted) & (hub < bore - LEAST_OPENING)
    nothing = np.where(good, 0.0, np.nan)
    return WebShape(hub + nothing, width + nothing, _convenient(fillet) + nothing, fits)


def _holed(shaft: Lanes, bore: Lanes, share: Lanes, count: Lanes) -> WebShape:
    """Web with round holes that blocks a share."""
    good = (shaft > 0) & (shaft < bore)
    sine, open_area = np.sin(np.pi / count), bore**2 - shaft**2
    most = (bore * sine - LEAST_SPOKE / 2) / (1 + sine)  # as the walls need
    most = np.minimum(most, (bore - shaft - LEAST_WALL) / 2)  # as the hub needs
    wanted = np.sqrt(np.maximum((1 - share) * open_area, 0.0) / count)
    hole = np.maximum(np.minimum(wanted, most), 0.0)
    filled = 1 - count * hole**2 / np.where(good, open_area, 1.0)
    fits = (
        good
        & (count <= HOLES[-1])
        & (hole > LEAST_OPENING / 2)
        & (np.abs(filled - share) < 0.02 * share)
    )
    nothing = np.where(good, 0.0, np.nan)
    wall = 2 * ((bore - hole) * sine - hole)
    return WebShape(bore - 2 * hole + nothing, wall + nothing, hole + nothing, fits, True)


def largest_fillet(*, spoke_width: Array, length: Array) -> Array:
    """Root fillet that the drawing gives a spoke, before it is rounded down.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    spoke_width : Array
        Width of a spoke [m].
    length : Array
        Bore less hub radius [m]; its sign does not count.

    Returns
    -------
    Array
        Fillet radius [m].

    References
    ----------
    Derived here; the build sheet draws the same web.

    Examples
    --------
    >>> round(float(largest_fillet(spoke_width=9e-3, length=26e-3)) * 1e3, 2)
    3.0

    """
    limit: Lanes = np.minimum(FILLET_OF_SPOKE * spoke_width, FILLET_OF_LENGTH * np.abs(length))
    return limit


def hub_of_spoke(*, spokes: Array) -> Array:
    """Hub radius over spoke width at which the root fillets of neighbouring spokes just fit.

    Parameters
    ----------
    spokes : Array
        Number of spokes [-], 3 or more.

    Returns
    -------
    Array
        Ratio [-], of the shape of `spokes`, at least 1.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> float(hub_of_spoke(spokes=3)), round(float(hub_of_spoke(spokes=12)), 2)
    (1.0, 3.21)

    """
    roots = HUB_PLAY * (0.5 + FILLET_OF_SPOKE) / np.sin(np.pi / np.asarray(spokes))
    return np.maximum(1.0, roots - FILLET_OF_SPOKE)


def least_hub(*, width_ratio: Array, spokes: Array) -> Array:
    """Smallest hub that the roots of the spokes leave room for, over bore radius.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    width_ratio : Array
        Spoke width over bore radius [-].
    spokes : Array
        Number of spokes [-], 3 or more.

    Returns
    -------
    Array
        Hub radius over bore radius [-], at least `SMALLEST_HUB`.

    References
    ----------
    Derived here: neighbouring root fillets must not meet.

    Examples
    --------
    >>> round(float(least_hub(width_ratio=0.2, spokes=6)), 2)
    0.3

    """
    hub: Lanes = np.maximum(width_ratio * hub_of_spoke(spokes=spokes), SMALLEST_HUB)
    return hub


def widest_spoke(*, spokes: Array) -> Array:
    """Widest spoke of the tables, over bore radius.

    Parameters
    ----------
    spokes : Array
        Number of spokes [-], 3 or more.

    Returns
    -------
    Array
        Width over bore radius [-], of the shape of `spokes`: its hub takes 0.75 of the bore.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> float(widest_spoke(spokes=3))
    0.75

    """
    return 0.75 / least_hub(width_ratio=1.0, spokes=spokes)


def widest_wall(*, spokes: Array) -> Array:
    """Widest wall between two holes of the tables, over bore radius.

    Parameters
    ----------
    spokes : Array
        Number of holes [-], 3 or more.

    Returns
    -------
    Array
        Width over bore radius [-], of the shape of `spokes`: the holes leave `LEAST_OPEN`.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> round(float(widest_wall(spokes=6)), 3)
    0.526

    """
    hole, sine = np.sqrt(LEAST_OPEN / np.asarray(spokes)), np.sin(np.pi / np.asarray(spokes))
    wall: Lanes = 2 * ((1 - hole) * sine - hole)
    return wall


def _convenient(fillet: Array) -> Lanes:
    """Round a radius down to a convenient number, as the drawing does."""
    step = np.where(fillet >= 1e-3, 0.5e-3, 0.1e-3)
    return np.floor(fillet / step + 1e-9) * step
