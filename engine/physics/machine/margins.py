"""How far a build may overspeed before it fails, and what fails first."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Array, Lanes

MODES = (
    "yield",
    "burst",
    "standing wave",
    "shaft bending",
    "bearing limit",
    "rim rub",
    "generator limit",
    "seal rub",
)
"""What can fail, in the order of `safety_margin`'s arguments; on a tie the first one governs."""
HIGHEST_RUNAWAY = 20.0
"""Largest ratio of runaway to operating speed that is searched; it stands for all above [-]."""


@dataclass(frozen=True)
class SafetyMargin:
    """The lowest failing speed of each build."""

    margin: Lanes
    """Lowest failing speed over operating speed [-]."""
    mode: NDArray[np.str_]
    """Which of `MODES` fails there; '' where any failing speed is unknown."""


def stress_margin(
    *,
    bore_stress: Array,
    yield_strength: Array,
    notch_factor: Array,
    trip_factor: Array,
    thermal_stress: Array = 0.0,
) -> Array:
    """Yield strength over the notched bore stress at trip speed.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    bore_stress : Array
        Hoop stress at the bore at operating speed, without notch factor [Pa].
    yield_strength : Array
        At the disc's temperature [Pa].
    notch_factor : Array
        Stress concentration at the bore [-].
    trip_factor : Array
        Speed at which the overspeed trip acts, over operating speed [-].
    thermal_stress : Array
        Thermal hoop stress at the bore [Pa], tension positive; compression is not credited.

    Returns
    -------
    Array
        Margin [-]; below 1 the disc yields before the trip acts.

    References
    ----------
    Derived here from the definition.

    Examples
    --------
    >>> float(stress_margin(bore_stress=50e6, yield_strength=200e6, notch_factor=2.0,
    ...                     trip_factor=1.0))
    2.0

    """
    stress = bore_stress * np.square(trip_factor) + np.maximum(thermal_stress, 0.0)
    return np.asarray(yield_strength / (notch_factor * stress))


def safety_margin(
    *,
    speed: Array,
    yield_speed: Array,
    burst_speed: Array,
    wave_speed: Array,
    shaft_speed: Array,
    bearing_speed: Array,
    rub_speed: Array,
    generator_speed: Array,
    seal_rub_speed: Array,
) -> SafetyMargin:
    """Lowest failing speed over operating speed, and the mode that governs.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    speed : Array
        Operating speed [rad/s], > 0.
    yield_speed : Array
        Speed at which the notched bore yields [rad/s].
    burst_speed : Array
        Speed at which the disc bursts [rad/s].
    wave_speed : Array
        Speed at which a wave stands still in a disc [rad/s]; infinite where none can.
    shaft_speed : Array
        First bending critical speed of the shaft [rad/s].
    bearing_speed : Array
        Limit of the bearings [rad/s].
    rub_speed : Array
        Speed at which the rim closes its clearance [rad/s].
    generator_speed : Array
        Speed of the stack at which the generator turns as fast as it may [rad/s].
    seal_rub_speed : Array
        Speed at which the bore closes the clearance of its collar seal [rad/s].

    Returns
    -------
    SafetyMargin
        Margin [-] and governing mode. A failing speed that is not known (NaN) makes the margin
        NaN: a missing number never makes a build look safe.

    References
    ----------
    Derived here from the definition.

    Examples
    --------
    >>> found = safety_margin(speed=1000.0, yield_speed=2500.0, burst_speed=4000.0,
    ...                       wave_speed=1300.0, shaft_speed=1500.0, bearing_speed=2618.0,
    ...                       rub_speed=5000.0, generator_speed=2513.0,
    ...                       seal_rub_speed=4000.0)
    >>> float(found.margin), str(found.mode)
    (1.3, 'standing wave')

    """
    turning = np.where(np.greater(speed, 0), np.inf, np.nan)
    discs = (yield_speed, burst_speed, wave_speed, shaft_speed, bearing_speed, rub_speed)
    speeds = (*discs, generator_speed, seal_rub_speed, turning)
    failing = np.stack(np.broadcast_arrays(*speeds))
    lowest = np.min(failing, axis=0)
    governing = np.where(np.isnan(lowest), -1, np.argmin(failing, axis=0))
    with np.errstate(divide="ignore", invalid="ignore"):
        return SafetyMargin(np.asarray(lowest / speed), np.array((*MODES, ""))[governing])
