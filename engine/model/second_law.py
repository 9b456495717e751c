"""What no machine can do: give more than the fluid holds."""

import numpy as np

from engine.columns import LOSSES, Builds
from engine.physics.arrays import Lanes, Mask

ROUNDING = 1e-9
"""Loss over isentropic power that counts as rounding."""


def breaks_second_law(numbers: Builds, *, swirl_in: Lanes, swirl_out: Lanes) -> Mask:
    """Mark lanes that no machine can be, so that no search finds where the model flatters.

    Shapes: one value a lane.

    Parameters
    ----------
    numbers : Builds
        Results of the lanes by column key, among them every loss and power [SI].
    swirl_in, swirl_out : Lanes
        Circumferential speed at the rim and at the bore of the gaps [m/s].

    Returns
    -------
    Mask
        True where a loss is negative or no number, an efficiency is above 1, or the discs took more
        angular momentum than came in, so that the fluid left turning backward.

    References
    ----------
    Second law of thermodynamics and moment of momentum (textbooks); derived here.

    """
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = np.array([numbers[key] for key in LOSSES]) / numbers["isentropic_power"]
        driven = numbers["rotor_power"] > 0
        # Each comparison is false for a number that is none.
        fine = (shares >= -ROUNDING).all(axis=0)
        fine &= numbers["turbine_efficiency"] <= 1
        fine &= ~driven | ~(numbers["rotor_efficiency"] > 1)
        fine &= swirl_out >= -ROUNDING * np.abs(swirl_in)
    return np.asarray(~fine, dtype=np.bool_)
