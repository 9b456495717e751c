"""Tables of discs on spokes, and where a disc lies in them."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask, Numbers
from engine.physics.machine.bolts import BoltCircle, washer_place
from engine.physics.machine.web import (
    FINE_HUB_PLACES,
    HOLES,
    HUB_PLACES,
    LARGEST_HUB,
    NARROWEST,
    SPOKES,
    WEB_RANGE,
    WebShape,
    least_hub,
    widest_spoke,
    widest_wall,
)
from engine.physics.machine.web_kernel import FIRST, NEVER, SHARE, SPEED, weighted_rows

WEB_TABLES = "disc-webs.npz"
"""File of the tables."""
LEAST_LOG = -50.0
"""Logarithm of a force or stress that is none."""
FINER, WAVE_BORES, FINER_WIDTHS = 4, 2, 2
"""Steps in one step of the solved places: of the bore, of the bore where waves are stored, of the
width."""


@dataclass(frozen=True)
class WebTables:
    """Waves and peak stresses over number of spokes, bore, spoke width, hub and so on.

    Axes: spokes (each number, then each number of round holes, whose hub follows from the width of
    their walls, so that all hubs are alike, then each number of bolts), radius ratio, width (even
    steps of its logarithm from `NARROWEST` to the widest), then as said; hubs as `FINE_HUB_PLACES`.
    For bolts width is that of washers, and hubs are bolt circles; see `washer_place`.
    """

    bores: Lanes
    """Radius ratios [-], evenly spaced."""
    gripped: Lanes
    """Whole web held: quantity, nodal diameters. Quantities: logarithm of speed
    [sqrt(D / (rho h)) / r_o^2], B, slope of the logarithm with Poisson's ratio, softening by heat,
    fluid, share; of the second wave asked, then of the first: the lowest that may count."""
    hub: Lanes
    """Hub alone held: hub, then the same."""
    hub_free: Lanes
    """Logarithm of the peak stress over the plain ring's with the hub free on its shaft: hub,
    shaft hole."""
    hub_held: Lanes
    """The same with the hub held by its spacers: hub, fillet."""
    rest_gripped: Lanes
    """Whole web held, the disc at rest: mode, quantity. Quantities: logarithm of frequency
    [sqrt(D / (rho h)) / r_o^2], slope of the logarithm with Poisson's ratio."""
    rest_hub: Lanes
    """Hub alone held, the disc at rest: hub, then the same."""
    hub_pull: Lanes
    """Logarithm of the force with which a spoke pulls on a hub that its spacers hold
    [density speed^2 thickness r_o^3]: hub."""


def web_tables(
    *,
    bores: Array,
    gripped: Array,
    hub: Array,
    hub_free: Array,
    hub_held: Array,
    rest_gripped: Array,
    rest_hub: Array,
    hub_pull: Array,
    bolts: Array | None = None,
    rest_bolts: Array | None = None,
    bolts_peak: Array | None = None,
) -> WebTables:
    """Make the tables ready: places between the solved ones.

    Shapes: as `WebTables`, but waves and modes at rest at fewer radius ratios, `WAVE_BORES` steps
    in each step of `bores`, and the others at the solved places only: `bores`, few widths, and hubs
    as `HUB_PLACES`.

    Parameters
    ----------
    bores : Array
        Solved radius ratios [-], in equal or unequal steps.
    gripped, hub, rest_gripped, rest_hub : Array
        Waves and modes at rest [-].
    hub_free, hub_held, hub_pull : Array
        Peak stresses as ratios, and logarithms of forces [-].
    bolts, rest_bolts, bolts_peak : Array or None
        Waves, modes at rest and peak stresses of rings on bolts [-], at all bolt circles; None: the
        tables have none.

    Returns
    -------
    WebTables
        Evenly spaced in radius ratio and in the logarithm of width.

    Notes
    -----
    Monotone cubics.

    References
    ----------
    Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 1984.

    Examples
    --------
    >>> line, waves = np.linspace(0.0, 1.0, 3), np.zeros((1, 5, 3))
    >>> solved = line[None, :, None, None] + np.zeros((1, 3, 2, 3))
    >>> made = web_tables(bores=line, gripped=waves, hub=waves, hub_free=np.exp(solved),
    ...                   hub_held=np.exp(solved), rest_gripped=waves, rest_hub=waves,
    ...                   hub_pull=solved)
    >>> made.hub_pull.shape, round(float(made.hub_free[0, 1, 2, 1]), 6)
    ((1, 9, 3, 5), 0.125)

    """
    given = np.asarray(bores, dtype=float)
    every = fine_bores(bores=given, finer=FINER)
    stored = fine_bores(bores=given, finer=WAVE_BORES)

    def along(table: Array) -> Lanes:
        return _between(stored, np.asarray(table, dtype=float), every, axis=1)

    def over_widths(table: Array) -> Lanes:
        values = np.asarray(table, dtype=float)
        places = np.arange(values.shape[2], dtype=float)
        values = _between(given, values, every, axis=1)
        return _between(places, values, fine_widths(count=places.size), axis=2)

    def finer(table: Array) -> Lanes:
        values = over_widths(table)
        return _between(np.array(HUB_PLACES), values, np.array(FINE_HUB_PLACES), axis=3)

    of_webs = WebTables(
        bores=every,
        gripped=along(gripped),
        hub=along(hub),
        hub_free=finer(np.log(hub_free)),
        hub_held=finer(np.log(hub_held)),
        rest_gripped=along(rest_gripped),
        rest_hub=along(rest_hub),
        hub_pull=finer(hub_pull),
    )
    if bolts is None or rest_bolts is None or bolts_peak is None:
        return of_webs
    return _with_bolts(of_webs, along(bolts), along(rest_bolts), over_widths(np.log(bolts_peak)))


def _with_bolts(webs: WebTables, waves: Lanes, rest: Lanes, peak: Lanes) -> WebTables:
    """Put rings on bolts behind the others."""
    kinds = len(waves)

    def joined(table: Lanes, more: Array) -> Lanes:
        shape = (kinds, *table.shape[1:])
        return np.concatenate([table, np.broadcast_to(more, shape)])

    # No web is gripped, and no hub held or pulled.
    never = np.zeros(webs.gripped.shape[3:])
    never[[SPEED, SPEED + FIRST]], never[[SHARE, SHARE + FIRST]] = np.log(2 * NEVER), 1.0
    return WebTables(
        bores=webs.bores,
        gripped=joined(webs.gripped, never),
        hub=joined(webs.hub, waves),
        hub_free=joined(webs.hub_free, peak),
        hub_held=joined(webs.hub_held, LEAST_LOG),
        rest_gripped=joined(webs.rest_gripped, np.nan),
        rest_hub=joined(webs.rest_hub, rest),
        hub_pull=joined(webs.hub_pull, LEAST_LOG),
    )


def fine_bores(*, bores: Array, finer: int) -> Lanes:
    """Radius ratios between which the product interpolates.

    Parameters
    ----------
    bores : Array
        Solved radius ratios [-], rising, of one axis.
    finer : int
        How many times as many steps [-].

    Returns
    -------
    Lanes
        Radius ratios [-], evenly spaced.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> fine_bores(bores=np.array([0.0, 0.5]), finer=4).tolist()
    [0.0, 0.125, 0.25, 0.375, 0.5]

    """
    given = np.asarray(bores, dtype=float)
    return np.linspace(given[0], given[-1], finer * (given.size - 1) + 1)


def fine_widths(*, count: int) -> Lanes:
    """Widths between which the product interpolates.

    Parameters
    ----------
    count : int
        Number of solved widths [-], 2 or more.

    Returns
    -------
    Lanes
        Places [-], counted in solved widths.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> fine_widths(count=2).tolist()
    [0.0, 0.5, 1.0]

    """
    return np.linspace(0, count - 1, FINER_WIDTHS * (count - 1) + 1)


def _between(x: Lanes, values: Lanes, wanted: Lanes, *, axis: int) -> Lanes:
    """Monotone cubic interpolation along an axis."""
    y = np.moveaxis(values, axis, 0)
    shape = (-1,) + (1,) * (y.ndim - 1)
    step = np.diff(x).reshape(shape)
    rise = np.diff(y, axis=0) / step
    slope = np.empty_like(y)
    slope[0], slope[-1] = rise[0], rise[-1]
    before, after = step[:-1], step[1:]
    share = (before + 2 * after) / (3 * (before + after))
    same = rise[:-1] * rise[1:] > 0
    mixed = share * rise[1:] + (1 - share) * rise[:-1]
    slope[1:-1] = np.where(same, rise[:-1] * rise[1:] / np.where(same, mixed, 1.0), 0.0)
    at = np.clip(np.searchsorted(x, wanted, side="right") - 1, 0, x.size - 2)
    t = ((wanted - x[at]) / np.diff(x)[at]).reshape(shape)
    h = step[at]
    found = (
        (1 + 2 * t) * (1 - t) ** 2 * y[at]
        + t * (1 - t) ** 2 * h * slope[at]
        + t**2 * (3 - 2 * t) * y[at + 1]
        + t**2 * (t - 1) * h * slope[at + 1]
    )
    return np.ascontiguousarray(np.moveaxis(found, 0, axis))


@dataclass(frozen=True)
class Places:
    """Where each lane lies in the tables: lower corner and weight along each axis."""

    web: WebShape
    n_widths: int
    """Widths of the tables."""
    rows: Numbers
    """Lower corner in spokes, radius ratio and width, counted through."""
    bore: Lanes
    width: Lanes
    hub: Numbers
    hub_weight: Lanes
    inside: Mask
    """Whether the tables hold the lane, and its web fills the blocked share."""

    bolts: BoltCircle | None = None
    """None: no lane has any."""

    @classmethod
    def of(
        cls,
        tables: WebTables,
        *,
        web: WebShape,
        spokes: Array,
        r_inner: Array,
        r_outer: Array,
        bolts: BoltCircle | None = None,
    ) -> "Places":
        """Place lanes of exhaust bore `r_inner` and rim radius `r_outer` [m]."""
        ratio = np.asarray(r_inner / r_outer, dtype=float)
        n_bores, n_widths = tables.gripped.shape[1:3]
        known = np.array(SPOKES)
        count = np.broadcast_to(np.asarray(spokes, dtype=float), ratio.shape)
        kind = np.clip(np.searchsorted(known, count), 0, known.size - 1)
        low, high = WEB_RANGE.bounds["radius_ratio"]
        along = _share((ratio - low) / (high - low)) * (n_bores - 1)
        bore = np.minimum(along.astype(np.int64), n_bores - 2)
        width_ratio = web.spoke_width / r_inner
        hub_ratio = web.hub_radius / r_inner
        widest = np.where(web.holes, widest_wall(spokes=count), widest_spoke(spokes=count))
        steps = np.log(width_ratio / NARROWEST) / np.log(widest / NARROWEST)
        smallest = least_hub(width_ratio=np.minimum(width_ratio, widest), spokes=count)
        room = (hub_ratio - smallest) / (LARGEST_HUB - smallest)
        outside = WEB_RANGE.outside(
            radius_ratio=ratio, width_ratio=width_ratio, hub_ratio=hub_ratio
        )
        inside = (known[kind] == count) & ~outside & web.fits
        kind = kind + np.where(web.holes, known.size, 0)
        if bolts is not None and np.any(bolts.chosen):
            wide, out = washer_place(bolts=bolts, r_inner=r_inner, r_outer=r_outer)
            steps, room = np.where(bolts.chosen, wide, steps), np.where(bolts.chosen, out, room)
            inside &= ~bolts.chosen | (bolts.fits & (wide > -1e-9))
            kind = kind + np.where(bolts.chosen, known.size + len(HOLES), 0)
        across = _share(steps) * (n_widths - 1)
        width = np.minimum(across.astype(np.int64), n_widths - 2)
        hub, hub_weight = _lower(room, FINE_HUB_PLACES)
        rows = (kind * n_bores + bore) * n_widths + width
        bore_weight, width_weight = along - bore, across - width
        return cls(web, n_widths, rows, bore_weight, width_weight, hub, hub_weight, inside, bolts)

    def of_web(self, table: Lanes) -> Lanes:
        """Interpolate what belongs to the web held whole."""
        return self._between(table, table.shape[3:], n_hubs=1)

    def of_hub(self, table: Lanes) -> Lanes:
        """Interpolate what belongs to the hub held alone."""
        return self._between(table, table.shape[4:], n_hubs=table.shape[3])

    def of_stress(self, table: Lanes, place: Lanes, places: tuple[float, ...]) -> Lanes:
        """Interpolate a stress over hub and one more axis."""
        at, weight = _lower(place, places)
        along = self.of_hub(table)
        lanes = np.arange(at.size)
        return along[lanes, at] + weight * (along[lanes, at + 1] - along[lanes, at])

    @property
    def where(self) -> tuple[Numbers, int, Lanes, Lanes, Numbers, Lanes]:
        """Place of each lane as the kernels take it."""
        return self.rows, self.n_widths, self.bore, self.width, self.hub, self.hub_weight

    def _between(self, table: Lanes, tail: tuple[int, ...], *, n_hubs: int) -> Lanes:
        """Sum of the values at the corners around each lane, by weight."""
        flat = table.reshape(-1, n_hubs, int(np.prod(tail)))
        found = np.empty((self.rows.size, flat.shape[2]))
        weighted_rows(flat, *self.where, found)
        return found.reshape(-1, *tail)


def _share(value: Lanes) -> Lanes:
    """Bring values between 0 and 1; NaN to 0."""
    return np.minimum(np.fmax(value, 0.0), 1.0)


def _lower(value: Lanes, places: tuple[float, ...]) -> tuple[Numbers, Lanes]:
    """Place below each value, and how far it is towards the next one; the first for NaN."""
    steps = np.array(places)
    clean = np.minimum(np.fmax(value, steps[0]), steps[-1])
    at = np.minimum(np.searchsorted(steps, clean, side="right") - 1, steps.size - 2)
    return at, (clean - steps[at]) / (steps[at + 1] - steps[at])
