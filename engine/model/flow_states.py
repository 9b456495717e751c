"""Pressures, speeds and states of the flow on its way through the machine."""

import numpy as np

from engine.columns import Results
from engine.physics.arrays import Lanes
from engine.physics.flow.match import Circuit, Throughflow
from engine.physics.flow.outlet import probe_rise
from engine.physics.fluids.fluid_kernel import Fluid
from engine.study.supply import Source


def phases(source: Source, *, circuit: Circuit, flow: Throughflow) -> Results:
    """How wet a vapour becomes and how near a liquid comes to boiling, by column key.

    The lowest pressure of a liquid is in the throat of a convergent-divergent nozzle (Bernoulli) or
    behind the exhaust. A vortex in the exhaust is not considered.
    """
    fluid, gap, nozzle = source.fluid, flow.gap, circuit.nozzle
    drop = nozzle.stagnation_pressure - flow.rim_pressure
    throat = nozzle.stagnation_pressure - drop * nozzle.area_ratio**2
    lowest = np.minimum(
        np.maximum(throat, source.vapour_pressure),
        np.minimum(circuit.back_pressure, gap.exit_pressure),
    )
    return {
        "jet_quality": fluid.quality(pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy),
        "rim_quality": fluid.quality(pressure=flow.rim_pressure, enthalpy=flow.ring.enthalpy),
        "exit_wetness": 1 - fluid.quality(pressure=gap.exit_pressure, enthalpy=gap.exit_enthalpy),
        "cavitation_margin": lowest / source.vapour_pressure,
    }


def _nozzle_reynolds(fluid: Fluid, circuit: Circuit, flow: Throughflow) -> Lanes:
    """Reynolds number of the nozzles, with the viscosity of the jet."""
    width = circuit.throat_area / (circuit.nozzle_count * circuit.stack_height)
    diameter = 2 * width * circuit.stack_height / (width + circuit.stack_height)
    viscosity = fluid.viscosity(pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy)
    return np.asarray(flow.jet.mass_flow * diameter / (circuit.throat_area * viscosity))


def exhaust_temperature(fluid: Fluid, *, circuit: Circuit, flow: Throughflow) -> Lanes:
    """Temperature of what leaves the gaps and the web [K]."""
    gap, web = flow.gap, flow.web_torque * circuit.angular_speed
    return fluid.temperature(
        pressure=gap.exit_pressure, enthalpy=gap.exit_total_enthalpy - web / flow.rotor_flow
    )


def states(source: Source, *, circuit: Circuit, flow: Throughflow, exhaust: Lanes) -> Results:
    """Pressures, speeds and characteristic numbers of the flow, by column key.

    `exhaust` is that of `exhaust_temperature`.
    """
    fluid, ring, gap = source.fluid, flow.ring, flow.gap
    rim_speed = circuit.angular_speed * circuit.rim_radius
    sound = fluid.sound_speed(pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy)
    kinematic = ring.viscosity / ring.density
    return {
        "nozzle_pressure": circuit.nozzle.stagnation_pressure,
        "rim_pressure": flow.rim_pressure,
        "gap_exit_pressure": gap.exit_pressure,
        "rim_swirl_ratio": ring.swirl / rim_speed,
        "ring_fastest": ring.fastest,
        "ring_slowest": ring.slowest,
        "core_swirl_ratio": ring.core_speed / rim_speed,
        "nozzle_reynolds": _nozzle_reynolds(source.fluid, circuit, flow),
        "jet_speed": flow.jet.speed,
        "jet_mach": flow.jet.speed / sound,
        "exhaust_temperature": exhaust,
        "bore_swirl": gap.exit_swirl,
        "web_share": flow.caught,
        "outlet_swirl": flow.outlet_swirl,
        "outlet_angle": np.arctan2(flow.outlet_swirl, flow.exhaust_speed),
        "outlet_rise": probe_rise(
            density=fluid.density(pressure=gap.exit_pressure, enthalpy=gap.exit_enthalpy),
            speed=np.hypot(flow.outlet_swirl, flow.exhaust_speed),
            sound_speed=flow.exhaust_sound,
        ),
        "exhaust_fill": flow.filled,
        "exhaust_mach": flow.exhaust_speed / flow.exhaust_sound,
        "gap_reynolds": gap.largest_reynolds,
        "turbulent_share": gap.turbulent_share,
        "ekman_number": circuit.gap * np.sqrt(circuit.angular_speed / kinematic),
        "gap_mach": gap.largest_mach,
        "backflow_share": gap.backflow_share,
        **phases(source, circuit=circuit, flow=flow),
    }
