"""The least that discs hold up: a pressure that no march through a gap exceeds at the bore.

Fluid that enters more slowly than the discs turn gains swirl inward, never less than free of
torque; from the speed of the discs on it keeps at least that. Swirl costs pressure, rho v^2 / r.
Inertia, wall shear against the inflow and uneven profiles cost more. Torque is taken from below:
laminar flow between parallel plates, far from their edge (Nusselt number 7.541: Shah and London,
Laminar Flow Forced Convection in Ducts, 1978), or half of Hirs's turbulent shear where that is
more. Uneven profiles may break it; it is checked against all marches that have an answer.
"""

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.flow.match import Circuit, Throughflow
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.turbulence_kernel import TURBULENT_ABOVE, Turbulence

PLATES = 7.541
"""Nusselt number of parallel plates at one temperature; over the gap, shear of both walls."""
STEPS = 400


def highest_exit_pressure(fluid: Fluid, circuit: Circuit, flow: Throughflow) -> Lanes:
    """Pressure at the bore without the drop that is not sure [Pa], by lane."""
    rim, radius = circuit.rim_radius, circuit.rim_radius.copy()
    pressure, enthalpy = flow.entry.pressure, flow.entry.enthalpy
    state = fluid.state(pressure=pressure, enthalpy=enthalpy)
    density, viscosity = state.density, state.viscosity
    through = 2 * np.pi * density / (flow.rotor_flow / circuit.gap_count)
    step = (rim - circuit.bore_radius) / STEPS
    momentum = np.minimum(flow.ring.swirl * rim, circuit.angular_speed * rim**2)
    drop = np.zeros_like(rim)
    for _ in range(STEPS):
        radius -= step / 2
        slip = np.abs(circuit.angular_speed * radius - momentum / radius)
        kinematic = viscosity / density
        turbulent = Turbulence().shear * slip * (slip * circuit.gap / kinematic) ** -0.25
        turbulent[2 * slip * circuit.gap / kinematic < TURBULENT_ABOVE] = 0.0
        shear = np.maximum(PLATES * kinematic / circuit.gap, turbulent)
        pull = shear * through * radius * step
        of_discs = circuit.angular_speed * radius**2
        momentum = np.minimum((momentum + pull * of_discs) / (1 + pull), of_discs)
        drop += np.maximum(momentum, 0.0) ** 2 / radius**3 * step
        radius -= step / 2
    # Density falls with pressure as at constant enthalpy, where the fluid is lightest.
    lower = fluid.state(pressure=circuit.back_pressure, enthalpy=enthalpy).density
    power = np.log(lower / density) / np.log(circuit.back_pressure / pressure)
    rest = 1 - np.clip(power, 0.0, 0.999)
    return pressure * np.maximum(1 - rest * drop * density / pressure, 0.0) ** (1 / rest)
