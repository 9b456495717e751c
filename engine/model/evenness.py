"""How evenly the gaps of a stack share the flow: a range, for a few designs."""

import numpy as np

from engine.columns import Builds, Results
from engine.model.circuit import lanes_of
from engine.model.hose import matched_circuit
from engine.physics.arrays import Array, Lanes, Reason
from engine.physics.flow.manifold import FRICTION, MOMENTUM, uneven_flow
from engine.physics.flow.match import Circuit, Throughflow
from engine.physics.flow.rim import enter_gap
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap import averaged
from engine.stage_columns import LATE, of_stage
from engine.study.study import Study, most_stages

STEP = 0.1
"""Share by which the flow of a gap is lowered to see how its pressure follows. Over 1 % what a
march leaves open shows: one design of 176 in shop air seemed to pass more against more pressure."""


def evenness(study: Study, builds: Builds) -> Results:
    """Both ends of how unevenly the gaps share the flow, by column key; NaN without a match.

    Of each stage that a build of the study may have.
    """
    return {
        of_stage(key, stage): values
        for stage in range(1, most_stages(study) + 1)
        for key, values in zip(LATE, _of_stage(study, builds, stage), strict=True)
    }


def _of_stage(study: Study, builds: Builds, stage: int) -> list[Lanes]:
    hold = lanes_of(study, builds)["hold"]
    fluid, circuit, flow, status = matched_circuit(study, builds, "averaged", stage=stage)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        density = fluid.density(pressure=flow.gap.exit_pressure, enthalpy=flow.gap.exit_enthalpy)
        stiff = _stiffness(fluid, circuit, flow)
        stiff = np.where(status == Reason.MATCHED, stiff, np.nan)
        return [
            uneven_flow(
                dynamic_pressure=density * flow.exhaust_speed**2 / 2,
                stiffness=stiff,
                length_ratio=_length_ratio(circuit, hold),
                momentum=momentum,
                friction=friction,
            )
            for momentum, friction in zip(MOMENTUM, FRICTION, strict=True)
        ]


def _stiffness(fluid: Fluid, circuit: Circuit, flow: Throughflow) -> Lanes:
    """Fall of the pressure behind a gap for each e-fold of flow, with the ring as it is [Pa]."""
    less = (1 - STEP) * flow.rotor_flow / circuit.gap_count
    entry = enter_gap(
        fluid=fluid,
        ring=flow.ring,
        ring_pressure=flow.rim_pressure,
        gap_flow=less,
        gap=circuit.gap,
        disc_thickness=circuit.disc_thickness,
        rim_radius=circuit.rim_radius,
        entry_factor=circuit.entry_factor,
    )
    gap = averaged.march(
        fluid=fluid,
        rim_pressure=entry.pressure,
        rim_enthalpy=entry.enthalpy,
        rim_swirl=flow.ring.swirl,
        mass_flow=less,
        gap=circuit.gap,
        rim_radius=circuit.rim_radius,
        bore_radius=circuit.bore_radius,
        angular_speed=circuit.angular_speed,
        transition_factor=circuit.transition_factor,
    )
    return np.asarray((gap.exit_pressure - flow.gap.exit_pressure) / -np.log1p(-STEP))


def _length_ratio(circuit: Circuit, hold: Array) -> Lanes:
    """Way along which the flow joins towards one outlet, over the passage's hydraulic diameter."""
    ends, bore, hub = circuit.seal_count, circuit.bore_radius, circuit.hub_radius
    spoked = 2 * np.pi * (bore + hub) + 2 * circuit.spokes * (bore - hub)
    edges = np.where(hold == "holes", np.pi * circuit.spokes * (bore - hub), spoked)
    # With bolts nothing but a tube around the shaft stands in the stack.
    edges = np.where(hold == "bolts", 2 * np.pi * (bore + hub), edges)
    return np.asarray(circuit.stack_height / ends / (4 * circuit.exhaust_area / ends / edges))
