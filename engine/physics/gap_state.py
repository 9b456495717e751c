"""The flow in a gap at one radius, as the resolved level carries it from rim to bore.

What has one value a lane is a column, shape (lane, 1); what varies across the gap has shape
(lane, node).
"""

from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Lanes, Mask
from engine.physics.gap_grid import HalfGap

Record = TypeVar("Record")


class Rim(NamedTuple):
    """What each lane brings to the rim, with its scales; columns."""

    pressure: Lanes
    """Static pressure [Pa]."""
    enthalpy: Lanes
    """Static enthalpy [J/kg]."""
    density: Lanes
    """Density [kg/m3]."""
    radial_speed: Lanes
    """Inward speed [m/s]."""
    spin: Lanes
    """Rim speed of the wall over radial speed [-]."""
    plug: Lanes
    """Relative swirl of the entering plug over radial speed [-]."""
    radius: Lanes
    """Rim radius [m]."""
    span: Lanes
    """(Rim radius - bore radius) / rim radius [-]."""
    gap: Lanes
    """Width of the gap [m]."""


class State(NamedTuple):
    """The flow at one radius."""

    flux: Lanes
    """Radial mass flux over its gap mean, at the interior nodes [-]."""
    swirl: Lanes
    """Relative angular momentum over (rim radius x radial speed at the rim) [-]."""
    forcing: Lanes
    """The constant of the radial equation, which holds the mean flux at one [-]."""
    density: Lanes
    """Density over that at the rim [-]."""
    pressure: Lanes
    """Static pressure [Pa]."""
    enthalpy: Lanes
    """Static enthalpy, mass-flux mean [J/kg]."""
    braking: Lanes
    """Angular momentum the walls have taken since the rim, in the scale of the swirl [-]."""
    drag: Lanes
    """4 x mu / (mu_rim Re*), x the radius over that of the rim [-]."""
    ratio: Lanes
    """Radius over rim radius [-]."""


def take(record: Record, rows: Mask | slice | NDArray[np.intp]) -> Record:
    """Take some lanes of a record of arrays.

    Parameters
    ----------
    record : Record
        A Rim, a State or a step: named tuple, lane first in every array.
    rows : Mask or slice or NDArray[np.intp]
        Which lanes.

    Returns
    -------
    Record
        The same record with these lanes only.

    Examples
    --------
    >>> take(Rim(*np.ones((9, 5, 1))), slice(2)).gap.shape
    (2, 1)

    """
    whole: Any = record
    taken: Record = whole._make(
        take(value, rows) if isinstance(value, tuple) else value[rows] for value in whole
    )
    return taken


def gap_reynolds(*, rim: Rim, grid: HalfGap, state: State) -> Lanes:
    """Gap Reynolds number 2 b V_rel / nu with gap-mean velocities.

    Parameters
    ----------
    rim : Rim
        Entry of each lane.
    grid : HalfGap
        Nodes across the gap.
    state : State
        Flow at one radius.

    Returns
    -------
    Lanes
        The number [-], column.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from engine.physics.gap_grid import half_gap
    >>> grid, one = half_gap(n_nodes=6), np.ones((1, 1))
    >>> swirl = 0 * one * grid.weights
    >>> still = State(swirl, swirl, one, one, one, one, one, 0.1 * one, one)
    >>> gap_reynolds(rim=Rim(*np.ones((9, 1, 1))), grid=grid, state=still).item()
    80.0

    """
    mean_swirl = (state.swirl @ grid.weights)[:, None]
    speed = np.hypot(1, state.density * mean_swirl)
    return np.asarray(8 * rim.radius / (rim.gap * state.drag) * speed)
