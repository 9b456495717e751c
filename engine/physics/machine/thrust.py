"""Axial force of the pressure on a stack whose exhaust leaves at one end only."""

import numpy as np

from engine.physics.arrays import Array, Lanes


def axial_thrust(
    *, closed_pressure: Array, exit_pressure: Array, bore_radius: Array, shaft_radius: Array
) -> Lanes:
    """Largest axial force on a stack that is closed at one end.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    closed_pressure : Array
        Around the rim, and so in the side chamber of the closed end [Pa].
    exit_pressure : Array
        At the inner end of the gaps, inside the exhaust bore [Pa].
    bore_radius, shaft_radius : Array
        Of the exhaust bore and of the shaft [m].

    Returns
    -------
    Lanes
        Force towards the open end [N].

    Notes
    -----
    Outside the bore the pressures on both end discs are equal and cancel. Inside it the closed end
    has the pressure of its side chamber outside and that of the exhaust inside. Fluid that turns in
    the chamber lowers the pressure towards the shaft, which is not credited.

    References
    ----------
    Derived here from the balance of forces.

    Examples
    --------
    >>> float(axial_thrust(closed_pressure=3e5, exit_pressure=1e5, bore_radius=0.016,
    ...                    shaft_radius=0.004).round(1))
    150.8

    """
    area = np.pi * (np.square(bore_radius) - np.square(shaft_radius))
    return np.asarray((closed_pressure - exit_pressure) * area)
