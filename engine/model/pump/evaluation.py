"""One call from builds of a pump to results: the only place that knows the order of the physics."""

import numpy as np

from engine.columns import COLUMNS, Builds, Results, base_key, columns_of
from engine.model.bearings import Running, bearing_results, run_bearings
from engine.model.circuit import lanes_of
from engine.model.gap_hold import RimGas, gap_hold
from engine.model.lasting import bearing_thrust
from engine.model.parts import part_faults
from engine.model.pump.duty import RUNS, SHUT, Suction, at_flow, lanes_of_circuit, on_duty
from engine.model.pump.stack import as_of_pump, stack_of
from engine.model.pump.validity import notes_of_pump
from engine.model.rotor import masses
from engine.model.shaft import bearing_stiffness, critical_speed, rotor_line
from engine.model.shaft_layout import collar_radius
from engine.model.strength import places_of, strength
from engine.physics.arrays import Lanes, Mask
from engine.physics.flow.geometry import exhaust_area, stack_height
from engine.physics.flow.windage import end_face_torque
from engine.physics.machine.motor import motor_input
from engine.physics.machine.web import WebShape
from engine.model.pump.through import PumpCircuit, PumpFlow
from engine.study.pump.study import PumpStudy
from engine.study.pump.supply import GRAVITY, liquid_of, npsh_available

BAD_GEOMETRY = "bad geometry"
WARMEST = 10.0
"""Warming [K] that the smallest flow allows; common practice, no source."""
SHUT_COLUMNS = ("shutoff_head", "head_droop")
"""Columns that need more flows than that of the duty; filled where asked for, or on a front."""
SHUT_SHARES = (0.02, 0.2, 0.4, 0.6, 0.8)
"""Flows over that of the duty between which the curve is looked at for its highest head."""
AS_THEY_ARE = (
    "disc_count", "gap", "eye_loss", "entry_factor", "transition_factor", "rim_clearance",
    "casing_factor", "throat_area", "throat_factor", "port_diameter", "cone_loss", "ring_length",
    "ring_factor", "suction_ends",
)  # fmt: skip
"""Numbers of a build that its circuit takes as they are."""


def evaluate_pump(study: PumpStudy, builds: Builds) -> Results:
    """Every column of every build, by key, SI; NaN where there is no operating point.

    Dimensions, stresses and margins are given all the same, unless the build cannot exist. Head at
    shut-off and droop take five more flows, and are given where an aim or a limit names them.
    """
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        results = _evaluate(study, lanes_of(study, builds))
        named = {base_key(key) for key in (*study.all_limits, *study.aims)}
        return with_shut(study, results) if named & set(SHUT_COLUMNS) else results


def with_shut(study: PumpStudy, results: Results) -> Results:
    """Results with head at shut-off and droop of every build that runs."""
    rows = np.flatnonzero(results["status"] == RUNS)
    found = {key: np.full(len(results["status"]), np.nan) for key in SHUT_COLUMNS}
    if rows.size:
        few = {key: values[rows] for key, values in results.items()}
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            heads = [few["head"]]
            for share in SHUT_SHARES:
                flow, _ = _at_flow(study, few, share * few["flow"])
                heads.append(flow.rise / _weight(study))
        stacked = np.stack(heads)
        most = np.nanmax(stacked, axis=0)
        found["shutoff_head"][rows] = stacked[1]
        found["head_droop"][rows] = np.maximum(1 - stacked[1] / most, 0.0)
    return results | found


def _at_flow(study: PumpStudy, build: Builds, flow: Lanes) -> tuple[PumpFlow, Mask]:
    """Run builds at a flow [m3/s]."""
    stack = stack_of(build)
    height = _height(build)
    return at_flow(_suction(study, build), _circuit(build, stack, height), flow)


def pump_rechecked(study: PumpStudy, results: Results) -> Results:
    """Results as they are: the resolved level has no outward flow yet, and confirms none."""
    del study
    return results


def _weight(study: PumpStudy) -> float:
    return liquid_of(study.supply).density_value * GRAVITY


def _height(build: Builds) -> Lanes:
    return np.asarray(
        stack_height(
            disc_count=build["disc_count"],
            disc_thickness=build["disc_thickness"],
            gap=build["gap"],
        )
    )


def _suction(study: PumpStudy, build: Builds) -> Suction:
    """Take what comes in, in lanes of their own temperature where the builds have one."""
    n_lanes, fluid = len(build["speed"]), liquid_of(study.supply)
    warm = build.get("supply_temperature", np.full(n_lanes, study.supply.temperature))
    pressure = np.full(n_lanes, study.supply.pressure)
    return Suction(fluid, pressure, fluid.enthalpy(pressure=pressure, temperature=warm))


def _circuit(build: Builds, stack: Builds, height: Lanes) -> PumpCircuit:
    eye, shaft = build["eye_diameter"] / 2, build["shaft_diameter"] / 2
    nothing = 0.0 * height
    return PumpCircuit(
        **{key: build[key] + nothing for key in AS_THEY_ARE},
        thickness=build["disc_thickness"] + nothing,
        eye_radius=eye + nothing,
        shaft_radius=shaft + nothing,
        rim_radius=build["disc_diameter"] / 2 + nothing,
        angular_speed=build["speed"] + nothing,
        eye_area=exhaust_area(
            bore_radius=eye,
            shaft_radius=shaft,
            exhaust_ends=stack["exhaust_ends"],
            blockage=stack["exhaust_blockage"],
        ),
        ring_radius=np.minimum(collar_radius(build["eye_diameter"]), build["disc_diameter"] / 2),
        ring_clearance=build["seal_clearance"] + nothing,
    )


def _evaluate(study: PumpStudy, build: Results) -> Results:
    n_lanes = len(build["speed"])
    stack = stack_of(build)
    height = _height(build)
    dimensions = {
        "stack_height": height,
        "eye_ratio": build["eye_diameter"] / build["disc_diameter"],
        "eye_width": (build["eye_diameter"] - build["shaft_diameter"]) / 2,
        "rim_speed": build["speed"] * build["disc_diameter"] / 2,
    }
    # Flow on its duty.
    circuit, suction = _circuit(build, stack, height), _suction(study, build)
    exists = np.isfinite(height) & (circuit.eye_radius < circuit.rim_radius)
    exists &= (circuit.eye_area > 0) & (circuit.angular_speed > 0)
    rows = np.flatnonzero(exists)
    status = np.full(n_lanes, BAD_GEOMETRY, dtype=f"U{len(SHUT)}")
    flow, status[rows] = _spread_out(
        *on_duty(suction.of(rows), lanes_of_circuit(circuit, rows), study.duty), rows, n_lanes
    )
    # Machine, with discs as warm as the fluid.
    warm = np.full(n_lanes, study.supply.temperature)
    places = places_of(stack)
    line = rotor_line(stack, height=height, hub_radius=places.web.hub_radius)
    mass = dimensions | masses(stack, line)
    rho = suction.fluid.density_value
    gas = RimGas(
        density=np.full(n_lanes, rho),
        radial_speed=flow.through / (circuit.gaps * 2 * np.pi * circuit.eye_radius * circuit.gap),
        specific_heat=np.full(n_lanes, suction.fluid.heat_capacity),
        warmer_outside=np.zeros(n_lanes),
    )
    held = gap_hold(stack, gas=gas, disc_temperature=warm)
    running = run_bearings(
        stack,
        line,
        shaft_temperature=warm,
        thrust=flow.axial_thrust,
        torque=flow.gap_power / build["speed"],
        sideways=flow.radial_thrust,
    )
    numbers = {
        **held,
        **_powers(study, build, flow, running, suction),
        **_states(study, build, flow, suction),
        **bearing_thrust(stack, flow.axial_thrust),
        **bearing_results(stack, running),
        "radial_thrust": flow.radial_thrust,
        "free_passage": _passage(build, places.web, held["rim_gap"]),
    }
    # Strength, which needs no operating point.
    stiffness = bearing_stiffness(stack, line)
    mass["bearing_stiffness"] = stiffness.min(axis=0)
    mechanics = as_of_pump(
        strength(
            stack,
            places=places,
            critical_speed=critical_speed(line, stiffness),
            disc_temperature=warm,
            rim_hotter_by=np.zeros(n_lanes),
            fluid_density=np.full(n_lanes, rho),
        )
    )
    faults = np.where(exists, part_faults(stack, disc_temperature=warm), "")
    runs = (status == RUNS) & (faults == "")
    mass, mechanics = (_only(exists, columns) for columns in (mass, mechanics))
    numbers = {key: np.where(runs, values, np.nan) for key, values in numbers.items()}
    reynolds = circuit.angular_speed * circuit.rim_radius**2 / _viscosity(suction) * rho
    notes = notes_of_pump(stack, {**mass, **numbers}, places.web, disc_reynolds=reynolds)
    results = {
        **build,
        **mass,
        **mechanics,
        **numbers,
        **dict.fromkeys(SHUT_COLUMNS, np.full(n_lanes, np.nan)),
        "status": np.where(faults == "", status, faults),
        "gap_flow": np.full(n_lanes, "averaged"),
        "validity": np.where(runs, notes, ""),
    }
    known = columns_of("pump")
    kept = {key: values for key, values in results.items() if key in known}
    kept |= {key: build[key] for key in ("supply_temperature",) if key in build}
    return {key: kept[key] for key in COLUMNS if key in kept}


def _spread_out(
    flow: PumpFlow, status: Lanes, rows: Lanes, n_lanes: int
) -> tuple[PumpFlow, Lanes]:
    """Put lanes that exist back among all, with NaN in the others."""
    if len(rows) == n_lanes:
        return flow, status

    def wide(values: object) -> object:
        if isinstance(values, dict):
            return {key: wide(each) for key, each in values.items()}
        if isinstance(values, np.ndarray):
            found = np.full(n_lanes, False if values.dtype == bool else np.nan)
            found[rows] = values
            return found
        return type(values)(**{k: wide(v) for k, v in vars(values).items()})

    return PumpFlow(**{key: wide(each) for key, each in vars(flow).items()}), status  # type: ignore[arg-type]


def _viscosity(suction: Suction) -> Lanes:
    state = suction.fluid.state(pressure=suction.pressure, enthalpy=suction.enthalpy)
    return np.asarray(state.viscosity)


def _powers(
    study: PumpStudy, build: Builds, flow: PumpFlow, running: Running, suction: Suction
) -> Results:
    """Every power from the motor's terminals to the discharge, by column key."""
    speed, rho = build["speed"], suction.fluid.density_value
    faces = speed * build["windage_factor"] * end_face_torque(
        density=rho,
        viscosity=_viscosity(suction),
        angular_speed=speed,
        rim_radius=build["disc_diameter"] / 2,
        side_gap=build["side_gap"],
    )  # fmt: skip
    bearings = speed * running.drag
    seals = speed * build["shaft_seal_torque"]
    wet = flow.gap_power + flow.edge_torque * speed + faces
    shaft = wet + bearings + seals
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
    hydraulic = flow.delivered * flow.rise
    losses = {
        "loss_motor": electric - driven,
        "loss_drive": driven - shaft,
        "loss_seal": seals,
        "loss_bearing": bearings,
        "loss_windage": faces,
        **{f"loss_{place}": watts for place, watts in flow.losses.items()},
    }
    warming = wet - hydraulic
    capacity = rho * suction.fluid.heat_capacity
    rated = build["motor_power"] * motor_speed / build["motor_speed"]
    return {
        "electric_power": electric,
        "shaft_power": shaft,
        "shaft_torque": shaft / speed,
        "rotor_power": flow.gap_power,
        "rotor_torque": flow.gap_power / speed,
        "hydraulic_power": hydraulic,
        "pump_efficiency": hydraulic / shaft,
        "wire_to_water": hydraulic / electric,
        "rotor_efficiency": flow.rotor_rise * flow.through / flow.gap_power,
        "volumetric_efficiency": flow.delivered / flow.through,
        **losses,
        "loss_balance": electric - hydraulic - sum(losses.values()),
        "motor_load": driven / rated,
        "temperature_rise": warming / (capacity * flow.delivered),
        "least_flow": warming / (capacity * WARMEST),
    }


def _states(study: PumpStudy, build: Builds, flow: PumpFlow, suction: Suction) -> Results:
    """Heads, speeds and states on the way, by column key."""
    rho, rim = suction.fluid.density_value, build["disc_diameter"] / 2
    head = flow.rise / (rho * GRAVITY)
    fast = GRAVITY * np.maximum(head, 0.0)
    needed = (suction.pressure - flow.lowest_pressure) / (rho * GRAVITY)
    volume = np.pi * (rim**2 - (build["eye_diameter"] / 2) ** 2) * build["gap"]
    gaps = build["disc_count"] - 1
    available = np.full(head.shape, npsh_available(study.supply))
    return {
        "flow": flow.delivered,
        "head": head,
        "pressure_rise": flow.rise,
        "npsh_available": available,
        "npsh_required": needed,
        "npsh_margin": available - needed,
        "specific_speed": build["speed"] * np.sqrt(flow.delivered) / fast**0.75,
        "specific_diameter": 2 * rim * fast**0.25 / np.sqrt(flow.delivered),
        "rotor_flow": rho * flow.through,
        "leakage_flow": rho * flow.leak,
        "rim_pressure": flow.ring_pressure,
        "rim_swirl_ratio": flow.gap.rim_swirl / (build["speed"] * rim),
        "gap_reynolds": flow.gap.largest_reynolds,
        "turbulent_share": flow.gap.turbulent_share,
        "backflow_share": flow.gap.backflow_share,
        "ekman_number": build["gap"] * np.sqrt(build["speed"] * rho / _viscosity(suction)),
        "discharge_angle": flow.discharge_angle,
        "eye_speed": flow.eye_speed,
        "throat_speed": flow.throat_speed,
        "throat_ratio": flow.throat_speed / flow.throat_swirl,
        "residence_time": volume * gaps / flow.through,
        "ring_shear": flow.ring_shear,
    }


def _passage(build: Builds, web: WebShape, rim_gap: Lanes) -> Lanes:
    """Largest sphere that passes gap, eye, throat and port [m]; the wear ring is not its way."""
    eye = build["eye_diameter"] / 2
    beside = eye - web.hub_radius
    between = np.pi * (eye + web.hub_radius) / build["spokes"] - web.spoke_width
    throat = np.sqrt(4 * build["throat_area"] / np.pi)
    ways = (rim_gap, beside, between, throat, build["port_diameter"])
    return np.asarray(np.maximum(np.min(np.stack(np.broadcast_arrays(*ways)), axis=0), 0.0))


def _only(exists: Mask, columns: Results) -> Results:
    """Columns without the numbers of lanes that cannot exist, but for the ratio that tells why."""
    blank = {
        key: np.where(exists, values, "" if values.dtype.kind == "U" else np.nan)
        for key, values in columns.items()
    }
    return blank | {key: columns[key] for key in ("eye_ratio",) if key in columns}
