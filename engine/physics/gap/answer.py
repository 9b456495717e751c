"""The result of a march through a gap, the same at both levels."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from engine.physics.arrays import Lanes, Mask


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


Marcher: TypeAlias = Callable[..., GapFlow]
"""A march of either level: `averaged.march` or `resolved.march`."""
