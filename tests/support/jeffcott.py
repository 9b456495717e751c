"""Closed form of a uniform shaft between rigid bearings with its load in the middle."""

import numpy as np

SHAFT_SHARE = 17 / 35
"""Share of the mass of a uniform shaft that counts as moving with its middle, 0.486 (Rayleigh)."""


def jeffcott(
    *, span: float, diameter: float, youngs_modulus: float, density: float, load: float
) -> float:
    """Lowest critical speed [rad/s] by Jeffcott, Phil. Mag. 37, 1919, of sizes in SI.

    The shaft bends as under a central load, w/w_middle = 3 x/L - 4 (x/L)^3, so 17/35 of its mass
    counts (Rayleigh, Theory of Sound, vol. 1, art. 182; the share derived here).
    """
    stiffness = 48 * youngs_modulus * np.pi / 64 * diameter**4 / span**3
    shaft = density * span * np.pi / 4 * diameter**2
    return float(np.sqrt(stiffness / (load + SHAFT_SHARE * shaft)))
