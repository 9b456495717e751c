"""How a pump handles what is in the fluid: shear in the gaps, and what passes."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.gap.averaged import TURBULENCE
from engine.physics.gap.averaged_kernel import N_KEPT
from engine.physics.gap.modes import shapes_of_modes
from engine.physics.pump.gentle_kernel import ACROSS, worst_stresses

LINES = 40
"""Stream lines between mid-gap and wall."""
THRESHOLDS = (50.0, 150.0)
"""Stresses above which the share of the flow is told [Pa]."""


@dataclass(frozen=True)
class Shear:
    """Largest shear stress that the fluid meets on its way through the gaps, one value a lane."""

    median: Lanes
    """Exceeded for half of the flow [Pa]."""
    share_above: tuple[Lanes, ...]
    """Share of the flow that meets more than each threshold [-]."""


def shear_in_gaps(*, trail: Lanes, gap: Array, thresholds: tuple[float, ...] = THRESHOLDS) -> Shear:
    """Take the stresses on stream lines from the profiles of an outward march.

    Parameters
    ----------
    trail : Lanes
        Profiles that `gap.outward.march_outward_rows` keeps, (station, row, *lanes) [SI].
    gap : Array
        Wall distance [m]; broadcasts to the lanes.
    thresholds : tuple
        Stresses [Pa].

    Returns
    -------
    Shear
        In the shape of the lanes; NaN where the march has no answer.

    Notes
    -----
    Stress: viscosity times the slope of the velocity; in turbulent flow most of it is that at the
    wall, falling to none in mid-gap. Forty stream lines carry even shares of the flow from eye to
    rim. No peak is told: the stress at the wall where a gap begins has no bound, and grows with
    the fineness of the steps. Wear ring and side chambers are not in it.

    No haemolysis index is given: its published laws differ eighty-fold for one pump, and their
    constants could not be read at the source.

    References
    ----------
    Derived here from the profiles of `gap.modes`.

    """
    shape = trail.shape[2:]
    (width,), _ = as_lanes(np.broadcast_to(np.asarray(gap, dtype=float), shape))
    rows = np.ascontiguousarray(trail.reshape(trail.shape[0] * N_KEPT, width.size))
    found = np.empty((LINES, width.size))
    modes = shapes_of_modes(places=np.linspace(0.0, 1.0, ACROSS))
    worst_stresses(TURBULENCE, rows, width, *modes, np.empty((LINES, 1)), found)
    found[:, ~np.isfinite(rows).all(axis=0)] = np.nan
    ordered = np.sort(found, axis=0)
    middle = ordered[LINES // 2 - 1 : LINES // 2 + 1].mean(axis=0)
    shares = tuple(_above(ordered, limit).reshape(shape) for limit in thresholds)
    return Shear(middle.reshape(shape), shares)


def _above(ordered: Lanes, limit: float) -> Lanes:
    """Share of the lines above a stress, with the part of a line by the two beside it."""
    below = (ordered <= limit).sum(axis=0)
    every = np.arange(ordered.shape[1])
    low = ordered[np.clip(below - 1, 0, LINES - 1), every]
    high = ordered[np.clip(below, 0, LINES - 1), every]
    inside = (below > 0) & (below < LINES)
    with np.errstate(all="ignore"):
        part = np.where(inside, (limit - low) / (high - low), 0.5)
    share = 1 - (below - 0.5 + np.clip(part, 0.0, 1.0)) / LINES
    return np.where(np.isnan(ordered[0]), np.nan, np.clip(share, 0.0, 1.0))


def free_passage(
    *,
    gap: Array,
    eye_width: Array,
    spoke_distance: Array,
    throat_area: Array,
    port_diameter: Array,
) -> Lanes:
    """Largest sphere that passes a pump; the wear ring is left out.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    gap : Array
        Narrowest local gap, what the process leaves of the drawn one [m].
    eye_width : Array
        Radial distance between shaft or hub and eye [m].
    spoke_distance : Array
        Distance between neighbouring spokes where they are closest [m].
    throat_area : Array
        Of a round throat [m2].
    port_diameter : Array
        [m].

    Returns
    -------
    Lanes
        Diameter [m]. Many solids bridge what one passes: a third of it is a rule of thumb. Fibres
        hang on spokes and bolts at any size.

    References
    ----------
    Geometry, derived here; the third: common practice, no source.

    Examples
    --------
    >>> float(free_passage(gap=0.4e-3, eye_width=5e-3, spoke_distance=8e-3, throat_area=6e-5,
    ...                    port_diameter=0.016))
    0.0004

    """
    round_throat = np.sqrt(4 * np.asarray(throat_area, dtype=float) / np.pi)
    ways = np.broadcast_arrays(gap, eye_width, spoke_distance, round_throat, port_diameter)
    return np.asarray(np.minimum.reduce([np.asarray(way, dtype=float) for way in ways]))
