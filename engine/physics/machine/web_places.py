"""Tables of discs on spokes, and where a disc lies in them."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask, Numbers
from engine.physics.machine.web import (
    HUB_PLACES,
    LARGEST_HUB,
    NARROWEST,
    SPOKES,
    WEB_RANGE,
    WebShape,
    least_hub,
    widest_spoke,
)
from engine.physics.machine.web_kernel import weighted_rows

WEB_TABLES = "disc-webs.npz"
"""File of the tables."""
_FINER = 4  # places between two radius ratios of the tables, by cubics
_WIDTHS = 5  # spoke widths of the tables


@dataclass(frozen=True)
class WebTables:
    """Waves and peak stresses over number of spokes, bore, spoke width, hub and so on.

    Axes: spokes, radius ratio, width (even steps of its logarithm from `NARROWEST` to the widest),
    then as said.
    """

    bores: Lanes
    """Radius ratios [-], evenly spaced."""
    gripped: Lanes
    """Whole web held: quantity, nodal diameters. Quantities: logarithm of speed
    [sqrt(D / (rho h)) / r_o^2], B, slope of the logarithm with Poisson's ratio, softening by heat,
    fluid, share."""
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
) -> WebTables:
    """Make the tables ready: places between the solved radius ratios by monotone cubics.

    Shapes: as `WebTables`, but with few radius ratios.

    Parameters
    ----------
    bores, gripped, hub, hub_free, hub_held, rest_gripped, rest_hub, hub_pull : Array
        Solved radius ratios [-] and tables; stresses are ratios, not logarithms [-].

    Returns
    -------
    WebTables
        Evenly spaced in radius ratio.

    References
    ----------
    Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 1984.

    Examples
    --------
    >>> line = np.linspace(0.0, 1.0, 3)
    >>> made = web_tables(bores=line, gripped=line[None], hub=line[None], hub_free=line[None] + 1,
    ...                   hub_held=line[None] + 1, rest_gripped=line[None],
    ...                   rest_hub=line[None], hub_pull=line[None])
    >>> float(made.gripped[0, 1])
    0.125

    """
    given = np.asarray(bores, dtype=float)
    finer = np.linspace(given[0], given[-1], _FINER * (given.size - 1) + 1)
    stress = np.log(hub_free), np.log(hub_held)
    solved = (gripped, hub, *stress, rest_gripped, rest_hub, hub_pull)
    return WebTables(finer, *(_between(given, np.asarray(each, float), finer) for each in solved))


def _between(x: Lanes, values: Lanes, wanted: Lanes) -> Lanes:
    """Monotone cubic interpolation along the second axis."""
    y = np.moveaxis(values, 1, 0)
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
    return np.ascontiguousarray(np.moveaxis(found, 0, 1))


@dataclass(frozen=True)
class Places:
    """Where each lane lies in the tables: lower corner and weight along each axis."""

    web: WebShape
    rows: Numbers
    """Lower corner in spokes, radius ratio and width, counted through."""
    bore: Lanes
    width: Lanes
    hub: Numbers
    hub_weight: Lanes
    inside: Mask
    """Whether the tables hold the lane, and its web fills the blocked share."""

    @classmethod
    def of(
        cls, tables: WebTables, *, web: WebShape, spokes: Array, r_inner: Array, r_outer: Array
    ) -> "Places":
        """Place lanes of exhaust bore `r_inner` and rim radius `r_outer` [m]."""
        ratio, n_bores = np.asarray(r_inner / r_outer, dtype=float), tables.bores.size
        known = np.array(SPOKES)
        count = np.broadcast_to(np.asarray(spokes, dtype=float), ratio.shape)
        kind = np.clip(np.searchsorted(known, count), 0, known.size - 1)
        low, high = WEB_RANGE.bounds["radius_ratio"]
        along = np.nan_to_num(np.clip((ratio - low) / (high - low), 0, 1)) * (n_bores - 1)
        bore = np.minimum(along.astype(np.int64), n_bores - 2)
        width_ratio = web.spoke_width / r_inner
        hub_ratio = web.hub_radius / r_inner
        widest = widest_spoke(spokes=count)
        steps = np.log(width_ratio / NARROWEST) / np.log(widest / NARROWEST)
        across = np.nan_to_num(np.clip(steps, 0, 1)) * (_WIDTHS - 1)
        width = np.minimum(across.astype(np.int64), _WIDTHS - 2)
        smallest = least_hub(width_ratio=np.minimum(width_ratio, widest), spokes=count)
        room = (hub_ratio - smallest) / (LARGEST_HUB - smallest)
        hub, hub_weight = _lower(np.clip(room, 0, 1), HUB_PLACES)
        outside = WEB_RANGE.outside(
            radius_ratio=ratio, width_ratio=width_ratio, hub_ratio=hub_ratio
        )
        inside = (known[kind] == count) & ~outside & web.fits
        rows = (kind * n_bores + bore) * _WIDTHS + width
        return cls(web, rows, along - bore, across - width, hub, hub_weight, inside)

    def of_web(self, table: Lanes) -> Lanes:
        """Interpolate what belongs to the web held whole."""
        return self._between(table, table.shape[3:], n_hubs=1)

    def of_hub(self, table: Lanes) -> Lanes:
        """Interpolate what belongs to the hub held alone."""
        return self._between(table, table.shape[4:], n_hubs=table.shape[3])

    def of_stress(self, table: Lanes, place: Lanes, places: tuple[float, ...]) -> Lanes:
        """Interpolate a stress over hub and one more axis."""
        at, weight = _lower(np.clip(place, places[0], places[-1]), places)
        along = self.of_hub(table)
        lanes = np.arange(at.size)
        return along[lanes, at] + weight * (along[lanes, at + 1] - along[lanes, at])

    @property
    def where(self) -> tuple[Numbers, int, Lanes, Lanes, Numbers, Lanes]:
        """Place of each lane as the kernels take it."""
        return self.rows, _WIDTHS, self.bore, self.width, self.hub, self.hub_weight

    def _between(self, table: Lanes, tail: tuple[int, ...], *, n_hubs: int) -> Lanes:
        """Sum of the values at the corners around each lane, by weight."""
        flat = table.reshape(-1, n_hubs, int(np.prod(tail)))
        found = np.empty((self.rows.size, flat.shape[2]))
        weighted_rows(flat, *self.where, found)
        return found.reshape(-1, *tail)


def _lower(value: Lanes, places: tuple[float, ...]) -> tuple[Numbers, Lanes]:
    """Place below each value, and how far it is towards the next one."""
    steps = np.array(places)
    clean = np.nan_to_num(value, nan=steps[0])
    at = np.clip(np.searchsorted(steps, clean, side="right") - 1, 0, steps.size - 2)
    return at, (clean - steps[at]) / (steps[at + 1] - steps[at])
