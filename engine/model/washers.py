"""What the washers of bolts take from the flow in the gaps."""

from collections.abc import Sequence

import numpy as np

from engine.model.bolts import bolts_of_build
from engine.model.lanes import added
from engine.model.stages import Stage
from engine.physics.arrays import Lanes
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.machine.bolts import washer_drag


def drag_of_bolts(fluid: Fluid, stages: Sequence[Stage]) -> Lanes:
    """Power that the washers of all stages dissipate, at most [W]; 0 without bolts."""
    return added([_drag(fluid, stage) for stage in stages])


def _drag(fluid: Fluid, stage: Stage) -> Lanes:
    """Power of one stage, with the mean state in its gaps and swirl that goes evenly with r^2."""
    flow, circuit, build = stage.flow, stage.circuit, stage.build
    bolts = bolts_of_build(build)
    if bolts is None:
        return np.zeros_like(flow.rotor_flow)
    state = fluid.state(
        pressure=(flow.entry.pressure + flow.gap.exit_pressure) / 2,
        enthalpy=(flow.entry.enthalpy + flow.gap.exit_enthalpy) / 2,
    )
    rim, bore, speed = circuit.rim_radius, circuit.bore_radius, circuit.angular_speed
    out = (bolts.circle**2 - bore**2) / (rim**2 - bore**2)
    at_bore, at_rim = flow.gap.exit_swirl - speed * bore, flow.ring.swirl - speed * rim
    power = washer_drag(
        density=state.density,
        viscosity=state.viscosity,
        swirl=at_bore + out * (at_rim - at_bore),
        flow=flow.rotor_flow,
        bolts=build["spokes"],
        circle=bolts.circle,
        washer=2 * bolts.washer,
        gap=circuit.gap,
        gap_count=circuit.gap_count,
    )
    return np.where(bolts.chosen, power, 0.0)
