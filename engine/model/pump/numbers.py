"""Columns of a pump's powers, and of the states of its fluid."""

import numpy as np

from engine.columns import Builds, Results
from engine.model.bearings import Running
from engine.model.pump.duty import Suction
from engine.physics.arrays import Lanes
from engine.physics.flow.geometry import stack_height
from engine.physics.machine.motor import motor_input
from engine.physics.machine.web import WebShape
from engine.physics.pump.build import PumpFlow
from engine.physics.pump.gentle import free_passage
from engine.physics.pump.suction import least_flow, radial_thrust
from engine.study.pump.study import PumpStudy
from engine.study.pump.supply import npsh_head, pumped_of

WARMEST = 10.0
"""Warming [K] that the smallest flow allows; common practice, no source."""
FINEST = 1e-5
"""Step in which the free passage is told, down [m]: finer, a front would be of one build."""
BEST_THROAT = 0.45
"""Speed in the throat over the swirl there at a collector's best: 0.39 to 0.54 were computed."""
OF_FLOW = (
    "loss_windage", "loss_edge", "loss_leakage", "loss_eye", "loss_gap", "loss_mouth",
    "loss_vaneless", "loss_throat", "loss_collector", "loss_cone",
)  # fmt: skip
"""Losses that the flow itself has."""
OF_STATE = (
    "flow", "head", "pressure_rise", "npsh_required", "temperature_rise", "specific_speed",
    "specific_diameter", "rim_pressure", "turbulent_share", "backflow_share", "ekman_number",
    "discharge_angle", "eye_speed", "throat_speed", "throat_ratio", "residence_time", "ring_shear",
)  # fmt: skip
"""Numbers of the flow that are columns as they are."""


def height_of(build: Builds) -> Lanes:
    """Height of the stack [m]."""
    return np.asarray(
        stack_height(
            disc_count=build["disc_count"],
            disc_thickness=build["disc_thickness"],
            gap=build["gap"],
        )
    )


def sideways_of(build: Builds, flow: PumpFlow, *, rho: Lanes) -> Lanes:
    """Radial thrust of a collector [N], whose best flow is taken as that of its best throat."""
    return radial_thrust(
        density=rho,
        head=flow.head,
        flow=flow.flow,
        best_flow=flow.flow * BEST_THROAT / flow.throat_ratio,
        disc_diameter=build["disc_diameter"],
        stack_height=height_of(build),
    )


def powers(build: Builds, flow: PumpFlow, running: Running) -> Results:
    """Every power from the motor's terminals to the discharge, by column key."""
    speed = build["speed"]
    bearings, seals = speed * running.drag, speed * build["shaft_seal_torque"]
    shaft = flow.fluid_power + bearings + seals
    driven = shaft / build["drive_efficiency"]
    motor_speed = speed / build["drive_ratio"]
    electric = motor_input(
        output_power=driven,
        speed=motor_speed,
        rated_power=build["motor_power"],
        rated_speed=build["motor_speed"],
        rated_efficiency=build["motor_efficiency"],
        iron_share=build["motor_iron_share"],
    )
    losses = {
        "loss_motor": electric - driven,
        "loss_drive": driven - shaft,
        "loss_seal": seals,
        "loss_bearing": bearings,
        **{key: getattr(flow, key) for key in OF_FLOW},
    }
    return {
        "electric_power": electric,
        "shaft_power": shaft,
        "shaft_torque": shaft / speed,
        "rotor_power": flow.rotor_power,
        "rotor_torque": flow.rotor_power / speed,
        "hydraulic_power": flow.hydraulic_power,
        "pump_efficiency": flow.hydraulic_power / shaft,
        "wire_to_water": flow.hydraulic_power / electric,
        "rotor_efficiency": flow.rotor_efficiency,
        "volumetric_efficiency": flow.volumetric_efficiency,
        **losses,
        "loss_balance": electric - flow.hydraulic_power - sum(losses.values()),
        "motor_load": driven * build["motor_speed"] / (build["motor_power"] * motor_speed),
    }


def states(study: PumpStudy, build: Builds, flow: PumpFlow, suction: Suction) -> Results:
    """Heads, speeds and states on the way, by column key."""
    heat_capacity = pumped_of(study.supply).heat_capacity
    available = npsh_head(study.supply) + 0.0 * flow.head
    found = {key: getattr(flow, key) for key in OF_STATE}
    if study.supply.is_gas:  # a rise of pressure warms a gas, and all of the power is in it
        found["temperature_rise"] = flow.fluid_power / (flow.mass_flow * heat_capacity)
    return {
        **found,
        "npsh_available": available,
        "npsh_margin": available - flow.npsh_required,
        "least_flow": least_flow(
            shutoff_power=flow.fluid_power,
            density=suction.density,
            specific_heat=heat_capacity,
            warming=WARMEST,
        ),
        "rotor_flow": flow.through,
        "leakage_flow": flow.leakage,
        "rim_swirl_ratio": flow.rim_swirl / (build["speed"] * build["disc_diameter"] / 2),
        "gap_reynolds": flow.largest_reynolds,
    }


def passage(build: Builds, web: WebShape, rim_gap: Lanes) -> Lanes:
    """Largest sphere that passes [m]."""
    eye = build["eye_diameter"] / 2
    passes = free_passage(
        gap=rim_gap,
        eye_width=eye - web.hub_radius,
        spoke_distance=np.where(
            build["hold"] == "holes",
            2 * web.fillet,
            np.pi * (eye + web.hub_radius) / build["spokes"] - web.spoke_width,
        ),
        throat_area=build["throat_area"],
        port_diameter=build["port_diameter"],
    )
    return np.maximum(np.floor(passes / FINEST + 1e-9) * FINEST, 0.0)
