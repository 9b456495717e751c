"""Standing waves and peak stress of a disc as it is cut, a ring on its web."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask
from engine.physics.machine.web import (
    FILLET_PLACES,
    HOLE_PLACES,
    LEAST_SHARE,
    NODAL_DIAMETERS,
    REFERENCE_POISSON,
    ROUND_WASHER,
    WEB_RANGE,
    largest_fillet,
)
from engine.physics.machine.web_kernel import EITHER, HUB, WEB, standing_waves
from engine.physics.machine.web_places import Places, WebTables

Hold = Literal["web", "hub", "either"]
"""What spacers hold of a disc: its whole web, its hub, or whichever has the lower wave."""
_HOLDS: dict[Hold, int] = {"either": EITHER, "web": WEB, "hub": HUB}


@dataclass(frozen=True)
class WebWaves:
    """Waves of each disc by nodal diameters, on the last axis, as `NODAL_DIAMETERS`."""

    speed: Lanes
    """Angular speed at which the wave stands still [rad/s]; infinite where it never does."""
    stiffening: Lanes
    """Southwell's B of its shape [-]."""
    share: Lanes
    """Of that number of nodal diameters in the mode's squared amplitude along the rim [-]."""
    hub_only: Mask
    """Whether the wave is the lower one where the hub alone is held, not the whole web."""


@dataclass(frozen=True)
class ForcedWave:
    """The lowest wave that something forces, and the lowest of all."""

    speed: Lanes
    """[rad/s]"""
    nodal_diameters: Lanes
    """[-]"""
    any_speed: Lanes
    """Lowest speed at which a wave stands still, whether forced or not [rad/s]."""
    any_nodal_diameters: Lanes
    """[-]"""


def web_waves(
    *,
    places: Places,
    r_outer: Array,
    thickness: Array,
    density: Array,
    youngs_modulus: Array,
    poisson: Array,
    expansion: Array,
    temperature_difference: Array,
    fluid_mass: Array,
    gap: Array,
    tables: WebTables,
    hold: Hold = "either",
) -> WebWaves:
    """Speeds at which waves stand still in a disc on spokes, the lower end of two ways to hold it.

    All arguments are arrays of one axis, or broadcast with it; the results have the waves on one
    more axis.

    Parameters
    ----------
    places : Places
        Where the discs lie in the tables [-]; bore over rim radius from 0.08 to 0.84.
    r_outer : Array
        Rim radius [m].
    thickness : Array
        Disc thickness [m].
    density : Array
        Disc material [kg/m3].
    youngs_modulus : Array
        Young's modulus [Pa].
    poisson : Array
        Poisson's ratio [-], 0.2 to 0.4.
    expansion : Array
        Linear thermal expansion [1/K].
    temperature_difference : Array
        Rim temperature less bore temperature [K], linear between them.
    fluid_mass : Array
        Mass of the fluid in both gaps of a disc over that of the disc [-].
    gap : Array
        Axial space between neighbouring discs [m].
    tables : WebTables
        Result of `web_tables`.
    hold : Hold
        What holds the disc; no unit.

    Returns
    -------
    WebWaves
        Speeds [rad/s], stiffening, shares and hold; NaN outside `WEB_RANGE`, where no web fills the
        blocked share, or where no table has this number of spokes.

    Notes
    -----
    Kirchhoff plate with the in-plane stress of spin. The web is held in one of two ways, and the
    lower speed counts for each number of nodal diameters: spacers grip it whole, out of plane and
    in plane; or they hold the hub only, and spokes bend and stretch. Fillets are left out of the
    waves. Fluid: neighbours move against each other and pump it in and out of gaps open at rim and
    bore; it turns with the disc and is incompressible; the gap is narrow (at a twentieth of the rim
    radius the mass is 0.2 to 3 % too small for 1 to 8 nodal diameters); first order with the shape
    of the dry mode, at most 5 % above the solution with the fluid, however dense. Against finer
    meshes speeds are within 1.5 %; how near they are between the places of the tables, see
    `engine.physics.machine`.

    References
    ----------
    Leissa, Vibration of Plates, NASA SP-160, 1969; Lamb and Southwell, Proc. R. Soc. A 99, 1921;
    tables solved for this project by finite elements; fluid derived here.

    Examples
    --------
    >>> from engine.physics.machine.web import web_shape
    >>> from engine.physics.machine.web_places import Places, web_tables
    >>> same = np.zeros((6, 3, 9, 12, 12)) + np.log(5.0) * np.eye(12)[0][:, np.newaxis]
    >>> ones = np.ones((6, 2, 5, 3, 3))
    >>> tables = web_tables(bores=np.array([0.08, 0.84]), gripped=same,
    ...                     hub=np.stack([same] * 5, axis=3), hub_free=ones, hub_held=ones,
    ...                     rest_gripped=same, rest_hub=same, hub_pull=ones)
    >>> bore = np.array([0.021])
    >>> web = web_shape(shaft_radius=0.004, bore_radius=bore, blockage=0.25, spokes=3)
    >>> places = Places.of(tables, web=web, spokes=3, r_inner=bore, r_outer=0.045)
    >>> wave = web_waves(places=places, r_outer=0.045, thickness=5e-4, density=7900.0,
    ...                  youngs_modulus=193e9, poisson=0.3, expansion=0.0,
    ...                  temperature_difference=0.0, fluid_mass=0.0, gap=5e-4, tables=tables)
    >>> wave.speed[0, :2].round(0).tolist()  # 5 sqrt(D / (rho h)) / r_o^2
    [1847.0, 1847.0]

    """
    scale = _scale(r_outer, thickness, density, youngs_modulus, poisson)
    strain = np.multiply(expansion, temperature_difference) * np.square(r_outer / thickness)
    heat = 12 * (1 - np.square(poisson)) * strain
    moved = 2 * fluid_mass * np.square(r_outer / gap)
    off = np.asarray(poisson, dtype=float) - REFERENCE_POISSON
    scale = np.where(places.inside & ~WEB_RANGE.outside(poisson=poisson), scale, np.nan)
    found = np.empty((4, places.rows.size, NODAL_DIAMETERS.size))
    lanes = [np.broadcast_to(each, places.rows.shape) for each in (off, heat, moved, scale)]
    standing_waves(
        _by_rows(tables.gripped, 1),
        _by_rows(tables.hub, tables.hub.shape[3]),
        _HOLDS[hold],
        LEAST_SHARE,
        *places.where,
        lanes[0],
        lanes[1],
        lanes[2],
        lanes[3],
        found,
    )
    return WebWaves(speed=found[0], stiffening=found[1], share=found[2], hub_only=found[3] > 0)


def _by_rows(table: Lanes, n_hubs: int) -> Lanes:
    """Table as the kernel takes it: row, hub, column."""
    return table.reshape(-1, n_hubs, table.shape[-2] * table.shape[-1])


def forced_wave(*, speed: Array, nozzle_count: Array) -> ForcedWave:
    """Lowest speed at which a wave stands still that nozzles or an uneven casing force.

    Shapes: speed (lane, waves) as `WebWaves`; nozzle_count broadcasts with its first axis.

    Parameters
    ----------
    speed : Array
        Angular speeds by nodal diameters [rad/s].
    nozzle_count : Array
        Number of nozzles, evenly spaced around the rim [-], 1 or more.

    Returns
    -------
    ForcedWave
        Speeds [rad/s] and nodal diameters; NaN where speeds are NaN.

    Notes
    -----
    N equal nozzles push with N, 2 N, 3 N ... lobes that stand still in space. One lobe is always
    forced, by whatever makes the casing uneven. More nozzles than the tables have nodal diameters
    count as forcing every wave. Nozzles that are not alike force all waves, the more the less
    alike they are; that is why the margin goes by the lowest of all.

    References
    ----------
    Tobias and Arnold, The influence of dynamical imperfection on the vibration of rotating disks,
    Proc. Inst. Mech. Eng. 171, 1957 (from memory).

    Examples
    --------
    >>> speeds = np.full((1, 12), 900.0)
    >>> speeds[0, 1:4] = 400.0, 300.0, 500.0
    >>> wave = forced_wave(speed=speeds, nozzle_count=2.0)
    >>> wave.speed.tolist(), wave.nodal_diameters.tolist(), wave.any_speed.tolist()
    ([400.0], [2.0], [300.0])

    """
    count = np.asarray(nozzle_count, dtype=float)[..., np.newaxis]
    n = NODAL_DIAMETERS
    forced = (np.mod(n, count) == 0) | (n == 1) | (count > n[-1])
    known = np.asarray(speed, dtype=float)
    unknown = np.isnan(known).any(axis=-1)

    def lowest(speeds: Lanes) -> tuple[Lanes, Lanes]:
        least = np.where(unknown, np.nan, np.min(speeds, axis=-1))
        first = n[np.argmin(speeds, axis=-1)]
        return least, np.where(np.isfinite(least), first, np.nan)

    return ForcedWave(*lowest(np.where(forced, known, np.inf)), *lowest(known))


def peak_stress_ratio(
    *,
    places: Places,
    shaft_radius: Array,
    r_inner: Array,
    tables: WebTables,
) -> Array:
    """Largest stress of spin in ring, web and hub over the plain ring's hoop stress at its bore.

    All arguments are arrays of one axis, or broadcast with it; the result has that axis.

    Parameters
    ----------
    places : Places
        Where the discs lie in the tables [-].
    shaft_radius, r_inner : Array
        Shaft hole and exhaust bore radius [m].
    tables : WebTables
        Result of `web_tables`.

    Returns
    -------
    Array
        Ratio [-], the larger of that with the hub free on its shaft and that with the hub held by
        its spacers, or that of a ring on bolts, free to stretch; NaN outside `WEB_RANGE`, where no
        web fills the blocked share or bolts do not fit, or where no table has this number of
        spokes.

    Notes
    -----
    Von Mises stress, plane stress, elastic, Poisson's ratio 0.3 (another one moves it by 1 %).
    Shaft hole and fillets are part of it, the cut edge is not: a laser anneals full-hard sheet.
    Shaft holes outside 0.3 to 0.85 of the hub count as the nearest end.

    References
    ----------
    Tables solved for this project by finite elements; the plain ring by Timoshenko and Goodier,
    Theory of Elasticity, 3rd ed. 1970, art. 32.

    Examples
    --------
    >>> from engine.physics.machine.web import web_shape
    >>> from engine.physics.machine.web_places import Places, web_tables
    >>> none = np.zeros((6, 3, 9, 12, 12))
    >>> free, held = np.full((6, 2, 5, 3, 3), 2.5), np.full((6, 2, 5, 3, 2), 2.0)
    >>> tables = web_tables(bores=np.array([0.08, 0.84]), gripped=none, hub=none, hub_free=free,
    ...                     hub_held=held, rest_gripped=none, rest_hub=none, hub_pull=held)
    >>> bore = np.array([0.021])
    >>> web = web_shape(shaft_radius=0.004, bore_radius=bore, blockage=0.25, spokes=3)
    >>> places = Places.of(tables, web=web, spokes=3, r_inner=bore, r_outer=0.045)
    >>> peak_stress_ratio(places=places, shaft_radius=0.004, r_inner=bore,
    ...                   tables=tables).tolist()  # the larger of both
    [2.5]

    """
    web = places.web
    hub = web.hub_radius
    largest = largest_fillet(spoke_width=web.spoke_width, length=r_inner - hub)
    with np.errstate(divide="ignore", invalid="ignore"):
        hole = np.asarray(shaft_radius / hub)
        if places.bolts is not None:
            bolts = places.bolts
            hole = np.where(bolts.chosen, bolts.hole / (ROUND_WASHER * bolts.washer), hole)
        free = places.of_stress(tables.hub_free, hole, HOLE_PLACES)
        fillet = np.log(web.fillet / largest)
        held = places.of_stress(tables.hub_held, fillet, tuple(np.log(FILLET_PLACES)))
    return np.where(places.inside, np.exp(np.maximum(free, held)), np.nan)


@dataclass(frozen=True)
class RestModes:
    """Natural frequencies of a clamped disc at rest, the lowest first, on the last axis [rad/s].

    Two modes of the same shape turned against each other count once.
    """

    hub: Lanes
    """Held at its hub alone."""
    web: Lanes
    """Held at its whole web."""


def modes_at_rest(
    *,
    places: Places,
    r_outer: Array,
    thickness: Array,
    density: Array,
    youngs_modulus: Array,
    poisson: Array,
    tables: WebTables,
) -> RestModes:
    """Frequencies at which a disc on spokes rings when it is tapped, clamped and at rest.

    All arguments are arrays of one axis, or broadcast with it; the results have the modes on one
    more axis.

    Parameters
    ----------
    places : Places
        Where the discs lie in the tables [-].
    r_outer : Array
        Rim radius [m].
    thickness : Array
        Disc thickness [m].
    density : Array
        Disc material [kg/m3].
    youngs_modulus : Array
        Young's modulus [Pa].
    poisson : Array
        Poisson's ratio [-], 0.2 to 0.4.
    tables : WebTables
        Result of `web_tables`.

    Returns
    -------
    RestModes
        The lowest `MODES_AT_REST` frequencies of both ways to hold the disc; NaN as in `web_waves`.

    Notes
    -----
    Kirchhoff plate, fillets left out. Air is left out too: it lowers a frequency by half of 0.67
    density of air r_o / (density thickness) for each face (Lamb 1920, for a clamped disc; less
    with a free rim), 1 % for steel of 0.5 mm and 65 mm.

    References
    ----------
    Leissa, Vibration of Plates, NASA SP-160, 1969; tables solved for this project by finite
    elements.

    Examples
    --------
    >>> from engine.physics.machine.web import web_shape
    >>> from engine.physics.machine.web_places import Places, web_tables
    >>> same = np.zeros((6, 3, 9, 6, 2)) + np.log(5.0) * np.eye(2)[0]
    >>> hubs, ones = np.stack([same] * 5, axis=3), np.ones((6, 2, 5, 3, 3))
    >>> tables = web_tables(bores=np.array([0.08, 0.84]), gripped=same, hub=hubs, hub_free=ones,
    ...                     hub_held=ones, rest_gripped=same, rest_hub=hubs, hub_pull=ones)
    >>> bore = np.array([0.021])
    >>> web = web_shape(shaft_radius=0.004, bore_radius=bore, blockage=0.25, spokes=3)
    >>> places = Places.of(tables, web=web, spokes=3, r_inner=bore, r_outer=0.045)
    >>> modes = modes_at_rest(places=places, r_outer=0.045, thickness=5e-4, density=7900.0,
    ...                       youngs_modulus=193e9, poisson=0.3, tables=tables)
    >>> (modes.hub[0, :2] / (2 * np.pi)).round(0).tolist()  # 5 sqrt(D / (rho h)) / r_o^2, in Hz
    [294.0, 294.0]

    """
    scale = _scale(r_outer, thickness, density, youngs_modulus, poisson)
    off = (np.asarray(poisson, dtype=float) - REFERENCE_POISSON)[..., np.newaxis]
    inside = (places.inside & ~WEB_RANGE.outside(poisson=poisson))[..., np.newaxis]

    def of_hold(table: Lanes) -> Lanes:
        frequency = np.exp(table[..., 0] + table[..., 1] * off) * scale[..., np.newaxis]
        return np.where(inside, np.sort(frequency, axis=-1), np.nan)

    return RestModes(
        hub=of_hold(places.of_hub(tables.rest_hub)), web=of_hold(places.of_web(tables.rest_gripped))
    )


def _scale(
    r_outer: Array, thickness: Array, density: Array, youngs_modulus: Array, poisson: Array
) -> Lanes:
    """Give the unit of speeds and frequencies of the tables [rad/s]."""
    rigidity = youngs_modulus * np.power(thickness, 3) / (12 * (1 - np.square(poisson)))
    return np.asarray(np.sqrt(rigidity / (density * thickness)) / np.square(r_outer))
