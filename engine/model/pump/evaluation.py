"""One call from builds of a pump to results: the only place that knows the order of the physics."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS, Builds, Results, base_key, columns_of
from engine.model.bearings import bearing_results, run_bearings
from engine.model.circuit import lanes_of
from engine.model.dimensions import room_of_nut
from engine.model.gap_hold import RimGas, gap_hold
from engine.model.lasting import bearing_thrust
from engine.model.parts import part_faults
from engine.model.pump.duty import RUNS, SHUT, Suction, lanes_of_build, on_duty
from engine.model.pump.numbers import height_of, passage, powers, sideways_of, states
from engine.model.pump.stack import as_of_pump, stack_of
from engine.model.pump.validity import notes_of_pump, rechecked_notes
from engine.model.rotor import masses
from engine.model.shaft import bearing_stiffness, critical_speed, rotor_line
from engine.model.shaft_layout import collar_radius
from engine.model.strength import places_of, strength
from engine.physics.arrays import Lanes, Mask
from engine.physics.gap.outward import march_outward_rows
from engine.physics.pump.build import PumpBuild, PumpFlow
from engine.physics.pump.flow import pump_through
from engine.physics.pump.gentle import shear_in_gaps
from engine.study.pump.study import PumpStudy
from engine.study.pump.supply import pumped_of

BAD_GEOMETRY = "bad geometry"
DUTY_FLOW = "duty_flow"
"""Delivered flow [m3/s] of each lane, where builds state one in place of the study's duty."""
SHUT_COLUMNS = ("shutoff_head", "head_droop")
"""Columns that need more flows than that of the duty; filled where asked for, or on a front."""
SHEAR_COLUMNS = ("shear_median", "share_above_50_pa", "share_above_150_pa")
"""Columns that need the profiles across the gap; filled like those."""
RECHECK_COLUMNS = ("resolved_head", "head_difference")
"""Columns of the gap flow resolved across the gap; filled on a front."""
SHUT_SHARES = (0.02, 0.2, 0.4, 0.6, 0.8)
"""Flows over that of the duty between which the curve is looked at for its highest head."""
AS_THEY_ARE = (
    "disc_count", "disc_thickness", "gap", "suction_ends", "throat_area", "port_diameter",
    "rim_clearance", "side_gap", "seal_clearance", "ring_length", "eye_blockage", "eye_loss",
    "entry_factor", "transition_factor", "ring_factor", "throat_factor", "cone_loss",
    "casing_factor", "windage_factor",
)  # fmt: skip
"""Numbers of a build that the flow takes as they are."""


def evaluate_pump(study: PumpStudy, builds: Builds) -> Results:
    """Every column of every build, by key, SI; NaN where there is no operating point.

    Builds with a flow of their own, `DUTY_FLOW`, deliver that and not the study's duty. Dimensions,
    stresses and margins are given all the same, unless the build cannot exist. Head at shut-off and
    droop take five more flows, shear keeps the profiles: they are given where an aim or a limit
    names them, and on a front.
    """
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        results = _evaluate(study, lanes_of(study, builds))
        named = {base_key(key) for key in (*study.all_limits, *study.aims)}
        results = with_shut(study, results) if named & set(SHUT_COLUMNS) else results
        return with_shear(study, results) if named & set(SHEAR_COLUMNS) else results


def with_shear(study: PumpStudy, results: Results) -> Results:
    """Results with the shear that the fluid meets in the gaps of every build that runs."""
    rows = np.flatnonzero(results["status"] == RUNS)
    found = {key: np.full(len(results["status"]), np.nan) for key in SHEAR_COLUMNS}
    if rows.size:
        few = {key: values[rows] for key, values in results.items()}
        suction = _suction(study, few)
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            _, trail = march_outward_rows(
                fluid=suction.fluid,
                eye_pressure=suction.pressure,
                eye_enthalpy=suction.enthalpy,
                eye_swirl=0.0,
                mass_flow=few["rotor_flow"] / (few["disc_count"] - 1),
                gap=few["gap"],
                eye_radius=few["eye_diameter"] / 2,
                rim_radius=few["disc_diameter"] / 2,
                angular_speed=few["speed"],
                transition_factor=few["transition_factor"],
            )
            shear = shear_in_gaps(trail=trail, gap=few["gap"])
        told = zip(found, (shear.median, *shear.share_above), strict=True)
        found = {key: _placed(each, rows, found[key]) for key, each in told}
    return results | found


def _placed(values: NDArray[Any], rows: NDArray[np.int64], among: NDArray[Any]) -> NDArray[Any]:
    """Put values into some rows of others."""
    among[rows] = values
    return among


def with_shut(study: PumpStudy, results: Results) -> Results:
    """Results with head at shut-off and droop of every build that runs."""
    rows = np.flatnonzero(results["status"] == RUNS)
    found = {key: np.full(len(results["status"]), np.nan) for key in SHUT_COLUMNS}
    if rows.size:
        few = {key: values[rows] for key, values in results.items()}
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            heads = [few["head"]]
            heads += [_at_flow(study, few, share * few["flow"]).head for share in SHUT_SHARES]
        stacked = np.stack(heads)
        most = np.nanmax(stacked, axis=0)
        found["shutoff_head"][rows] = stacked[1]
        found["head_droop"][rows] = np.maximum(1 - stacked[1] / most, 0.0)
    return results | found


def _at_flow(study: PumpStudy, build: Builds, flow: Lanes) -> PumpFlow:
    """Run builds at a flow [m3/s]."""
    return _suction(study, build).delivered(flow_build(build), flow)


def pump_rechecked(study: PumpStudy, results: Results) -> Results:
    """Results with head at the resolved level, at the same flow through the gaps.

    Where fluid flows back at either level, or the resolved flow does not settle, there is none and
    the notes say so.
    """
    from engine.physics.gap.outward_resolved import march_outward_resolved  # noqa: PLC0415

    rows = np.flatnonzero(results["status"] == RUNS)
    found = {key: np.full(len(results["status"]), np.nan) for key in RECHECK_COLUMNS}
    notes = results["validity"].copy()
    if rows.size:
        few = {key: values[rows] for key, values in results.items()}
        suction = _suction(study, few)
        flow = pump_through(
            build=flow_build(few),
            fluid=suction.fluid,
            pressure=suction.pressure,
            enthalpy=suction.enthalpy,
            through=few["rotor_flow"],
            march=march_outward_resolved,
        )
        sure = flow.settled & (flow.backflow_share == 0) & (few["backflow_share"] == 0)
        head = np.where(sure, flow.head, np.nan)
        difference = head / few["head"] - 1
        found["resolved_head"][rows], found["head_difference"][rows] = head, difference
        notes = _placed(rechecked_notes(few["validity"], difference), rows, notes.astype("U512"))
    return results | found | {"validity": np.array(notes.tolist())}


def _suction(study: PumpStudy, build: Builds) -> Suction:
    """Take what comes in, in lanes of their own temperature where the builds have one."""
    n_lanes, pumped = len(build["speed"]), pumped_of(study.supply)
    warm = build.get("supply_temperature", np.full(n_lanes, study.supply.temperature))
    pressure = np.full(n_lanes, study.supply.pressure)
    enthalpy = pumped.fluid.enthalpy(pressure=pressure, temperature=warm)
    density = pumped.density_at(pressure=pressure, enthalpy=enthalpy)
    return Suction(pumped.fluid, pressure, enthalpy, density)


def flow_build(build: Builds) -> PumpBuild:
    """Take what of a build its flow depends on, one value a lane."""
    nothing = np.zeros(np.shape(build["speed"]))
    return PumpBuild(
        **{key: build[key] + nothing for key in AS_THEY_ARE},
        rim_radius=build["disc_diameter"] / 2 + nothing,
        eye_radius=build["eye_diameter"] / 2 + nothing,
        shaft_radius=build["shaft_diameter"] / 2 + nothing,
        angular_speed=build["speed"] + nothing,
        ring_radius=np.minimum(collar_radius(build["eye_diameter"]), build["disc_diameter"] / 2)
        + nothing,
        eye_swirl_ratio=nothing,
    )


def _evaluate(study: PumpStudy, build: Results) -> Results:
    n_lanes = len(build["speed"])
    stack = stack_of(build)
    height = height_of(build)
    dimensions = {
        "stack_height": height,
        "eye_ratio": build["eye_diameter"] / build["disc_diameter"],
        "eye_width": (build["eye_diameter"] - build["shaft_diameter"]) / 2,
        "nut_clearance": room_of_nut(build),
        "rim_speed": build["speed"] * build["disc_diameter"] / 2,
    }
    # Flow on its duty.
    wet, suction = flow_build(build), _suction(study, build)
    exists = np.isfinite(height) & (build["eye_diameter"] < build["disc_diameter"])
    exists &= (build["shaft_diameter"] < build["eye_diameter"]) & (build["speed"] > 0)
    rows = np.flatnonzero(exists)
    asked = build[DUTY_FLOW][rows] if DUTY_FLOW in build else None
    flow, told = on_duty(suction.of(rows), lanes_of_build(wet, rows), study.duty, asked)
    flow = _spread_out(flow, rows, n_lanes)
    status = np.full(n_lanes, BAD_GEOMETRY, dtype=f"U{len(SHUT)}")
    status[rows] = told
    sideways = sideways_of(build, flow, rho=suction.density)
    # Machine, with discs as warm as the fluid.
    warm = np.full(n_lanes, study.supply.temperature)
    places = places_of(stack)
    line = rotor_line(stack, height=height, hub_radius=places.web.hub_radius)
    mass = dimensions | masses(stack, line)
    rho, heat_capacity = suction.density, pumped_of(study.supply).heat_capacity
    gas = RimGas(
        density=rho,
        radial_speed=flow.through
        / (rho * (build["disc_count"] - 1) * np.pi * build["eye_diameter"] * build["gap"]),
        specific_heat=np.full(n_lanes, heat_capacity),
        warmer_outside=np.zeros(n_lanes),
    )
    held = gap_hold(stack, gas=gas, disc_temperature=warm)
    running = run_bearings(
        stack,
        line,
        shaft_temperature=warm,
        thrust=flow.axial_thrust,
        torque=flow.fluid_power / build["speed"],
        sideways=sideways,
    )
    numbers = {
        **held,
        **powers(build, flow, running),
        **states(study, build, flow, suction),
        "rim_rise": flow.rim_pressure - suction.pressure,
        **bearing_thrust(stack, flow.axial_thrust),
        **bearing_results(stack, running),
        "radial_thrust": sideways,
        "free_passage": passage(build, places.web, held["rim_gap"]),
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
            fluid_density=rho,
        )
    )
    faults = np.where(exists, part_faults(stack, disc_temperature=warm), "")
    runs = (status == RUNS) & (faults == "")
    mass, mechanics = (_only(exists, columns) for columns in (mass, mechanics))
    numbers = {key: np.where(runs, values, np.nan) for key, values in numbers.items()}
    viscosity = suction.fluid.viscosity(pressure=suction.pressure, enthalpy=suction.enthalpy)
    reynolds = rho * build["speed"] * (build["disc_diameter"] / 2) ** 2 / viscosity
    notes = notes_of_pump(
        stack,
        {**mass, **numbers},
        places.web,
        disc_reynolds=reynolds,
        pressure_ratio=1 + study.supply.is_gas * numbers["pressure_rise"] / suction.pressure,
    )
    results = {
        **build,
        **mass,
        **mechanics,
        **numbers,
        **dict.fromkeys(
            (*SHUT_COLUMNS, *SHEAR_COLUMNS, *RECHECK_COLUMNS), np.full(n_lanes, np.nan)
        ),
        "status": np.where(faults == "", status, faults),
        "gap_flow": np.full(n_lanes, "averaged"),
        "validity": np.where(runs, notes, ""),
    }
    known = columns_of(study.works_as)
    kept = {key: values for key, values in results.items() if key in known}
    kept |= {key: build[key] for key in ("supply_temperature",) if key in build}
    return {key: kept[key] for key in COLUMNS if key in kept}


def _spread_out(flow: PumpFlow, rows: NDArray[np.int64], n_lanes: int) -> PumpFlow:
    """Put lanes that exist back among all, with NaN in the others."""
    if len(rows) == n_lanes:
        return flow

    def wide(values: Lanes) -> NDArray[Any]:
        found = np.full(n_lanes, False if values.dtype == np.bool_ else np.nan)
        found[rows] = values
        return found

    return PumpFlow(**{key: wide(each) for key, each in vars(flow).items()})


def _only(exists: Mask, columns: Results) -> Results:
    """Columns without the numbers of lanes that cannot exist, but for the ratio that tells why."""
    blank = {
        key: np.where(exists, values, "" if values.dtype.kind == "U" else np.nan)
        for key, values in columns.items()
    }
    return blank | {key: columns[key] for key in ("eye_ratio",) if key in columns}
