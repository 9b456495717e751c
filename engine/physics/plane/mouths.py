"""The nozzles as the casing sees them: jets at the pressure in front of their mouths."""

import math
from dataclasses import dataclass

from engine.physics.flow.nozzle import Nozzle, jet_from_nozzle
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.plane.grid import Grid, cover_of
from engine.physics.plane.law import Law, jet_state
from engine.physics.plane.surroundings import Mouth


@dataclass(frozen=True)
class Nozzles:
    """All nozzles of a machine."""

    fluid: Fluid
    nozzle: Nozzle  # of unit throat area, one lane
    throat_area: float  # together [m2]
    discharge: float  # coefficient of flow [-]
    velocity: float  # coefficient of speed [-]
    count: int
    angle: float  # from the tangent of the casing [rad]
    height: float  # of the stack [m]


@dataclass(frozen=True)
class Jets:
    """The jets, expanded to one pressure."""

    flow: float  # of all nozzles [kg/s]
    speed: float  # [m/s]
    density: float  # by the solver's law [kg/m3]
    total: float  # total enthalpy as the law counts it [J/kg]
    thickness: float  # of one [m]
    arc: float  # of the casing that one takes [m]


def nozzle_jet(*, nozzles: Nozzles, pressure: float) -> tuple[float, float]:
    """Flow and speed of the jets against a pressure.

    Parameters
    ----------
    nozzles : Nozzles
        The nozzles [-].
    pressure : float
        Pressure in front of the mouths [Pa].

    Returns
    -------
    tuple[float, float]
        Flow of all nozzles [kg/s] and speed [m/s].

    References
    ----------
    `nozzle.jet_from_nozzle`.

    """
    jet = jet_from_nozzle(
        fluid=nozzles.fluid,
        nozzle=nozzles.nozzle,
        throat_area=nozzles.throat_area,
        back_pressure=pressure,
        discharge_coefficient=nozzles.discharge,
        velocity_coefficient=nozzles.velocity,
    )
    return float(jet.mass_flow.item()), float(jet.speed.item())


def jets_at(*, nozzles: Nozzles, law: Law, pressure: float) -> Jets:
    """Expand the jets to a pressure, and tell the arc of the casing that each takes.

    Parameters
    ----------
    nozzles : Nozzles
        The nozzles [-].
    law : Law
        The solver's law [-].
    pressure : float
        Pressure in front of the mouths [Pa].

    Returns
    -------
    Jets
        The jets; speed 0 and an infinite arc where the pressure is not below that of the supply.

    References
    ----------
    Geometry, derived here: a jet of thickness s at the angle alpha takes the arc s / sin(alpha).

    """
    flow, speed = nozzle_jet(nozzles=nozzles, pressure=pressure)
    enthalpy = float(nozzles.nozzle.stagnation_enthalpy.item())
    density, total = jet_state(law=law, pressure=pressure, enthalpy=enthalpy, speed=speed)
    through = density * speed * nozzles.count * nozzles.height
    thickness = flow / through if through > 0 else math.inf
    return Jets(flow, speed, density, total, thickness, thickness / math.sin(nozzles.angle))


def mouth_of(*, grid: Grid, nozzles: Nozzles, jets: Jets) -> Mouth:
    """Spread the jet of one nozzle over its arc of the casing.

    Parameters
    ----------
    grid : Grid
        The cells [-].
    nozzles : Nozzles
        The nozzles [-].
    jets : Jets
        The jets [-].

    Returns
    -------
    Mouth
        What comes in through the columns at the mouth.

    References
    ----------
    Geometry, derived here.

    """
    casing = float(grid.faces[-1])
    arc = min(jets.arc / casing, 2 * math.pi / nozzles.count)
    return Mouth(
        cover=cover_of(grid=grid, mouth=arc),
        flux=jets.flow / nozzles.count / (arc * casing * nozzles.height),
        radial=-jets.speed * math.sin(nozzles.angle),
        swirl=jets.speed * math.cos(nozzles.angle),
        total=jets.total,
    )
