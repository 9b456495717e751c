"""What acts on the cells from outside: discs, casing, nozzles, exhaust; and what is summed up."""

from typing import NamedTuple

from engine.physics.arrays import Lanes

DENSITY, RADIAL, SWIRL, PRESSURE = range(4)
"""Rows of a field: density, radial speed (outward), circumferential speed, shifted pressure."""
(
    BORE_MASS,
    BORE_MOMENTUM,
    BORE_ENERGY,
    JET_MASS,
    JET_MOMENTUM,
    JET_ENERGY,
    MOUTH_PUSH,
    MOUTH_AREA,
    CASING_TORQUE,
    CASING_HEAT,
    EDGE_TORQUE,
    EDGE_HEAT,
    GAP_TORQUE,
    GAP_HEAT,
    LEAK_MASS,
    LEAK_MOMENTUM,
    LEAK_ENERGY,
    RING_MASS,
    N_TALLY,
) = range(19)
"""Sums over the cells, each of one sector: flows of mass [kg/s], angular momentum [N m] and energy
[W] through bore, mouth and seals; torques [N m] and heat of friction [W]; pressure on the mouth [N]
and its area [m2]; fluid in the ring [kg]."""


class Surroundings(NamedTuple):
    """Walls and ends of a sector."""

    angular_speed: float  # of the discs [rad/s]
    gap: float  # [m]
    transition: float  # factor on the Reynolds numbers of transition between the discs [-]
    clearance: float  # [m]
    edge_share: float  # share of the stack height that disc edges take; 0 for no edge friction [-]
    entry_loss: float  # of the contraction at the edges, over (1 - height ratio)^2 [-]
    leakage_share: float  # of the inflow [-]
    bore_pressure: float  # shifted [Pa]
    closure: int  # friction of casing and edges, see `friction_kernel`
    discs_rub: bool  # False: no friction in the gaps
    lengths: Lanes  # mixing length at each circle [m]


class Mouth(NamedTuple):
    """What the jets bring."""

    cover: Lanes  # share of the casing that is mouth, by column with ghosts [-]
    flux: float  # of mass, over the area of the mouth [kg/(s m2)]
    radial: float  # outward, so below 0 [m/s]
    swirl: float  # [m/s]
    total: float  # total enthalpy as the law counts it [J/kg]
