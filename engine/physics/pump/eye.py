"""From the suction flange through the eye into the gaps of a pump."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.flow.geometry import exhaust_area
from engine.physics.fluids.fluid_kernel import Fluid

CONTRACTION = 0.5
"""Loss of a sharp contraction from a wide space, over the dynamic pressure behind it."""


@dataclass(frozen=True)
class EyeFlow:
    """From the flange to just inside the gaps, one value a lane."""

    axial_speed: Lanes
    """In the eye [m/s]."""
    pressure: Lanes
    """Static, in the eye [Pa]."""
    entry_speed: Lanes
    """Radial, just inside the gaps [m/s]."""
    entry_pressure: Lanes
    """Static, there [Pa]."""
    entry_enthalpy: Lanes
    """Static, there [J/kg]."""
    density: Lanes
    """There [kg/m3]."""
    eye_loss: Lanes
    """Loss of the turn into the eye [J/kg]."""
    entry_loss: Lanes
    """Loss of the contraction into the gaps [J/kg]."""


def flow_into_gaps(
    *,
    fluid: Fluid,
    pressure: Array,
    enthalpy: Array,
    mass_flow: Array,
    eye_radius: Array,
    shaft_radius: Array,
    suction_ends: Array,
    blockage: Array,
    eye_loss: Array,
    gap: Array,
    gap_count: Array,
    disc_thickness: Array,
    entry_factor: Array,
    swirl: Array,
) -> EyeFlow:
    """Follow the flow from the suction flange to just inside the gaps.

    All arguments but the fluid broadcast; the results have their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    pressure, enthalpy : Array
        Total pressure [Pa] and enthalpy [J/kg] at the suction flange.
    mass_flow : Array
        Flow through all gaps, with what leaks back to the eye [kg/s], above 0.
    eye_radius, shaft_radius : Array
        Radii [m], eye above shaft.
    suction_ends : Array
        Ends of the stack that take in [-], 1 or 2.
    blockage : Array
        Share of the eye that hub and spokes block [-], 0 to below 1.
    eye_loss : Array
        Loss of the turn over the dynamic pressure of the axial flow [-].
    gap, disc_thickness : Array
        Distance between discs and their thickness [m].
    gap_count : Array
        Number of gaps [-].
    entry_factor : Array
        Loss of the contraction over that of a sharp edge [-].
    swirl : Array
        Circumferential speed that spokes and hub give before the gaps [m/s]. It leaves the static
        pressure alone: the spokes pay for it.

    Returns
    -------
    EyeFlow
        Speeds, pressures and losses; NaN where the eye is no wider than the shaft.

    Notes
    -----
    Density in eye and entry is that at the flange; a blower's air is 1 % thinner in the eye at
    most. A loss of 0.8 for the turn is weakly founded: bends of 90 degrees lose 0.3 to 1.

    References
    ----------
    Turn and contraction, 0.5 (1 - area ratio): Idelchik, Handbook of Hydraulic Resistance, 3rd ed.
    1994, ch. 3, 4 and 6 (from memory).

    """
    given = (pressure, enthalpy, mass_flow, gap, disc_thickness)
    p, h, flow, width, thick = (np.asarray(value, dtype=float) for value in given)
    density = fluid.density(pressure=p, enthalpy=h)
    area = exhaust_area(
        bore_radius=eye_radius,
        shaft_radius=shaft_radius,
        exhaust_ends=suction_ends,
        blockage=blockage,
    )
    axial = flow / (density * area)
    radial = flow / (density * 2 * np.pi * np.asarray(eye_radius) * width * gap_count)
    turn = eye_loss * axial**2 / 2
    contraction = entry_factor * CONTRACTION * (1 - width / (width + thick)) * radial**2 / 2
    eye_pressure = p - density * (turn + axial**2 / 2)
    entry_pressure = p - density * (turn + contraction + radial**2 / 2)
    # The swirl of the spokes comes with its work, so only the radial head lowers the enthalpy.
    static = np.asarray(h - radial**2 / 2)
    shape = np.broadcast_shapes(entry_pressure.shape, np.shape(swirl))
    found = (axial, eye_pressure, radial, entry_pressure, static, density, turn, contraction)
    return EyeFlow(*(np.broadcast_to(value, shape) for value in found))
