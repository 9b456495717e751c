"""The result of a march through a gap, the same at both levels."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from engine.physics.arrays import Lanes, Mask

INWARD, OUTWARD = 1.0, -1.0
"""Ways of a march: from the rim to the bore of a turbine, or from the eye to the rim of a pump."""


@dataclass(frozen=True)
class GapFlow:
    """Flow through one gap, one value a lane; NaN (and False) where a lane has no answer."""

    exit_pressure: Lanes
    """Static pressure at the bore [Pa]."""
    exit_enthalpy: Lanes
    """Static enthalpy at the bore, mass-flux mean [J/kg]."""
    exit_total_enthalpy: Lanes
    """Total enthalpy there in the laboratory frame, mass-flux mean [J/kg]."""
    exit_swirl: Lanes
    """Circumferential velocity at the bore in the laboratory frame, mass-flux mean [m/s]."""
    torque: Lanes
    """Torque on both walls of the gap, by the change of angular momentum [N m]."""
    wall_torque: Lanes
    """The same torque, by the shear at the walls [N m]."""
    largest_reynolds: Lanes
    """Largest 2 b V_rel / nu along the radius [-]."""
    turbulent_share: Lanes
    """Share of the radius that is turbulent; transition counts by its weight [-]."""
    largest_mach: Lanes
    """Largest Mach number of the gap-mean relative velocity [-]."""
    backflow_share: Lanes
    """Share of the radius where the fluid in mid-gap moves outward [-]."""
    wall_backflow_share: Lanes
    """Share of the radius where the fluid at the walls moves outward [-]."""
    choked: Mask
    """Whether the radial velocity reaches the speed of sound before the bore."""
    settled: Mask
    """Whether every step converged, and with backflow the repeated sweeps too."""


@dataclass(frozen=True)
class GapOutflow:
    """Outward flow through one gap, one value a lane; NaN where a lane has no answer."""

    rim_pressure: Lanes
    """Static pressure at the rim, just inside the gap [Pa]."""
    rim_enthalpy: Lanes
    """Static enthalpy there, mass-flux mean [J/kg]."""
    rim_total_enthalpy: Lanes
    """Total enthalpy there in the laboratory frame, mass-flux mean [J/kg]."""
    rim_swirl: Lanes
    """Circumferential speed there in the laboratory frame, mass-flux mean [m/s]."""
    rim_speed: Lanes
    """Mean radial speed there [m/s]."""
    rim_momentum: Lanes
    """Mean across the gap of the squared radial speed there [m2/s2]."""
    rim_kinetic_energy: Lanes
    """Mass-flux mean of half the squared speed there, in the laboratory frame [J/kg]."""
    torque: Lanes
    """Torque of both walls of the gap on the fluid, by the rise of angular momentum [N m]."""
    lowest_pressure: Lanes
    """Lowest static pressure from the entry on [Pa]."""
    largest_reynolds: Lanes
    """Largest 2 b V_rel / nu along the radius [-]."""
    turbulent_share: Lanes
    """Share of the radius that is turbulent; transition counts by its weight [-]."""
    largest_mach: Lanes
    """Largest Mach number of the gap-mean relative velocity [-]."""
    backflow_share: Lanes
    """Share of the radius where some of the fluid would flow back inward [-]. At the averaged level
    its profile is held at standing still there, and the answer is no more than indicative."""
    choked: Mask
    """Whether the radial speed reaches that of sound before the rim."""
    settled: Mask
    """Whether every step has an answer."""


Marcher: TypeAlias = Callable[..., GapFlow]
"""A march of either level: `averaged.march` or `resolved.march`."""
