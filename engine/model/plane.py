"""A build followed in the plane of its discs, from its matched point on."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from engine.columns import Builds
from engine.model.circuit import lanes_of
from engine.model.hose import matched_circuit
from engine.model.power import shaft_to_terminals
from engine.physics.arrays import Reason
from engine.physics.flow.match import Circuit, Throughflow
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.plane.answer import PlaneFlow, Progress
from engine.physics.plane.solve import plane_flow
from engine.study.study import Study


def plane_of_build(
    study: Study, build: Builds, progress: Callable[[Progress], None] | None = None
) -> PlaneFlow | None:
    """Follow one build, a table of one lane, in the plane; None without an operating point."""
    fluid, circuit, flow, matched = matched_build(study, build)
    if not matched:
        return None
    count = round(lanes_of(study, build)["nozzle_count"].item())
    return plane_flow(**plane_numbers(fluid, circuit, flow), nozzle_count=count, progress=progress)


def plane_powers(values: Mapping[str, Any], flow: PlaneFlow) -> dict[str, float]:
    """Rotor and electric power of a build by its plane flow [W], by column key.

    `values` are the columns of the build. What the rotor loses on the way to the terminals is
    taken from them; NaN where the flow has not settled.
    """
    rotor = flow.rotor_torque * values["speed"] + values["web_power"] if flow.settled else np.nan
    shaft = rotor - sum(values[key] for key in ("loss_windage", "loss_bearing", "loss_seal"))
    _, electric = shaft_to_terminals(values, np.asarray(shaft))
    return {"rotor_power": float(rotor), "electric_power": float(electric)}


def matched_build(study: Study, build: Builds) -> tuple[Fluid, Circuit, Throughflow, bool]:
    """Fluid, circuit and matched point of one build, and whether there is such a point."""
    fluid, circuit, flow, status = matched_circuit(study, build, study.search.flow)
    return fluid, circuit, flow, bool(status.item() == Reason.MATCHED)


def plane_numbers(fluid: Fluid, circuit: Circuit, flow: Throughflow) -> dict[str, Any]:
    """Gather what `plane_flow` takes of one matched build, but the number of its nozzles."""
    numbers = {
        "throat_area": circuit.throat_area,
        "discharge_coefficient": circuit.nozzle_discharge,
        "velocity_coefficient": circuit.nozzle_velocity,
        "inlet_angle": circuit.inlet_angle,
        "ring_pressure": flow.rim_pressure,
        "ring_enthalpy": flow.ring.enthalpy,
        "bore_pressure": flow.gap.exit_pressure,
        "leakage_share": flow.leakage / flow.jet.mass_flow,
        "rim_radius": circuit.rim_radius,
        "bore_radius": circuit.bore_radius,
        "rim_clearance": circuit.rim_clearance,
        "stack_height": circuit.stack_height,
        "gap": circuit.gap,
        "disc_thickness": circuit.disc_thickness,
        "angular_speed": circuit.angular_speed,
        "transition_factor": circuit.transition_factor,
    }
    return {
        "fluid": fluid,
        "nozzle": circuit.nozzle,
        "gap_count": round(circuit.gap_count.item()),
        **{name: float(value.item()) for name, value in numbers.items()},
    }
