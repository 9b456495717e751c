"""One call from builds to results: the only place that knows the order of the physics."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS, base_key
from engine.feed import states, supply_side
from engine.limits import MATCHED
from engine.loads import SWING_COLUMNS, steadiness, with_loads
from engine.mechanics import bearing_drag, gap_hold, masses, rim_gas, strength
from engine.physics.arrays import Lanes, Reason, first_reason
from engine.physics.drive import generator_output
from engine.physics.fluid_kernel import Fluid
from engine.physics.geometry import exhaust_area, throat_area
from engine.physics.losses import FlowAccount, account_of_flow
from engine.physics.margins import HIGHEST_RUNAWAY
from engine.physics.match import Circuit, Level, Throughflow, match_rim_pressure
from engine.physics.nozzle import nozzle_from_supply
from engine.physics.windage import end_face_torque
from engine.shape import area_ratio, shape_of
from engine.study import Study
from engine.supply import Source, source_at, source_of
from engine.validity import notes_of, rechecked

if TYPE_CHECKING:
    from engine.physics.gap_profiles import GapProfiles

MODEL_VERSION = 6
"""Raised whenever the same study gives other numbers."""

Builds = Mapping[str, NDArray[Any]]
Results = dict[str, NDArray[Any]]

RUNAWAY_COLUMNS = ("runaway_ratio", "survives_load_loss")
SUPPLY_COLUMNS = ("supply_pressure", "supply_temperature")
RECHECK_COLUMNS = ("resolved_power", "resolved_difference", "backflow_share")


def evaluate(study: Study, builds: Builds) -> Results:
    """Every column of every build, by key, SI.

    `builds` maps the study's searched keys to arrays of equal length; a machine key may be given
    too and then stands in for the study's. A build without operating point has a reason as its
    status and NaN where a number would need one; its dimensions, stresses and margins stay.
    The runaway columns are filled only where a limit or an aim of the study names them, because
    they cost ten times the rest; `with_runaway` fills them for a few. A column `gap_flow` among
    the builds stands in for the study's level, `supply_pressure` and `supply_temperature` for
    those of its supply.
    """
    results = _evaluate(study, builds, _level(study, builds))
    named = {base_key(key) for key in (*study.all_limits, *study.aims)}
    if named.intersection(RUNAWAY_COLUMNS):
        results = with_runaway(study, results)
    if named.intersection(SWING_COLUMNS):
        results = with_swing(study, results)
    return results


def with_recheck(study: Study, results: Results) -> Results:
    """Results with the gap flow resolved across the gap, beside what the search saw."""
    resolved = results
    if _level(study, results) != "resolved":
        resolved = _evaluate(study, builds_of(study, results), "resolved")
    power, seen = resolved["electric_power"], results["electric_power"]
    matched = results["status"] == MATCHED
    with np.errstate(invalid="ignore", divide="ignore"):
        difference = (power - seen) / np.abs(seen)
    return results | {
        "resolved_power": power,
        "resolved_difference": difference,
        "backflow_share": resolved["backflow_share"],
        "validity": np.where(matched, rechecked(results["validity"], difference), ""),
    }


def with_runaway(study: Study, results: Results) -> Results:
    """Results with the runaway columns filled in.

    The speed at which the net torque vanishes with the load thrown off. Iron loss of the
    generator is left out, so the ratio is on the safe side.
    """
    lanes = np.flatnonzero(results["shaft_torque"] > 0)
    ratio = np.full(results["speed"].shape, np.nan)
    given, level = builds_of(study, results), _level(study, results)

    def torque(log_ratio: Lanes, lane: NDArray[np.int64]) -> Lanes:
        faster = {key: values[lane] for key, values in given.items()}
        faster["speed"] = faster["speed"] * np.exp(log_ratio)
        # Beyond the last operating point the stack pumps against the supply and is braked.
        evaluated = _evaluate(study, faster, level)
        return np.nan_to_num(evaluated["shaft_torque"], nan=-1.0)

    highest = np.full(lanes.shape, np.log(HIGHEST_RUNAWAY))
    if lanes.size:
        runs_away = torque(highest, lanes) >= 0
        ratio[lanes[runs_away]] = HIGHEST_RUNAWAY
        lanes, highest = lanes[~runs_away], highest[~runs_away]
    if lanes.size:
        from scipy.optimize import elementwise  # noqa: PLC0415  not before it is needed

        found = elementwise.find_root(
            torque,
            (np.zeros(lanes.shape), highest),
            args=(lanes,),
            tolerances={"xatol": 1e-4, "xrtol": 0.0, "fatol": 0.0, "frtol": 0.0},
        )
        ratio[lanes] = np.exp(found.x)
    survives = np.where(np.isfinite(ratio), results["safety_margin"] >= ratio, np.nan)
    return results | {"runaway_ratio": ratio, "survives_load_loss": survives}


def with_swing(study: Study, results: Results) -> Results:
    """Results with the columns of the supply's swing filled in; as they are without loads."""
    if study.loads is None:
        return results
    given, level = builds_of(study, results), _level(study, results)
    supply = study.supply
    swing = study.loads.supply_swing * (supply.pressure - supply.back_pressure)
    usual = results.get("supply_pressure", np.full(results["speed"].shape, supply.pressure))
    low, high = (
        _evaluate(study, {**given, "supply_pressure": usual + by}, level)["electric_power"]
        for by in (-swing, swing)
    )
    return results | steadiness(study.loads, results["electric_power"], low=low, high=high)


def inside_one_gap(study: Study, builds: Builds) -> "GapProfiles":
    """Velocities, pressure and particle path inside a gap of each build, at its matched point.

    The rim state is that of the resolved level; NaN where there is no operating point.
    """
    from engine.physics.gap_profiles import profiles  # noqa: PLC0415  not before it is needed

    build = _lanes(study, builds_of(study, builds))
    source = _source(study, build)
    fluid = source.fluid
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        circuit, status = _circuit(study, source, build, shape_of(build))
        flow, status = _matched(fluid, circuit, status, "resolved")
        alive = np.where(status == Reason.MATCHED, 1.0, np.nan)
        return profiles(
            fluid=fluid,
            rim_pressure=flow.entry.pressure * alive,
            rim_enthalpy=flow.entry.enthalpy,
            rim_swirl=flow.ring.swirl,
            mass_flow=flow.rotor_flow / circuit.gap_count,
            gap=circuit.gap,
            rim_radius=circuit.rim_radius,
            bore_radius=circuit.bore_radius,
            angular_speed=circuit.angular_speed,
        )


def builds_of(study: Study, table: Builds) -> Results:
    """Take what defines the builds of a table, without their results."""
    drawn = [key for key in SUPPLY_COLUMNS if key in table]
    return {key: table[key] for key in (*study.searched(), *study.fixed(), *drawn)}


def _level(study: Study, table: Builds) -> Level:
    """Level of gap flow of a table, the study's where it names none; one at a time."""
    flow = study.search.flow
    (level,) = np.unique(table.get("gap_flow", flow)).tolist() or [flow]
    return "averaged" if level == "averaged" else "resolved"


def _evaluate(study: Study, builds: Builds, level: Level) -> Results:
    build = _lanes(study, builds)
    n_lanes = len(build["speed"])
    source = _source(study, build)
    fluid = source.fluid
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        shape = shape_of(build)
        circuit, status = _circuit(study, source, build, shape)
        flow, status = _matched(fluid, circuit, status, level)
        account = account_of_flow(
            fluid=fluid,
            flow=flow,
            supply_pressure=circuit.nozzle.stagnation_pressure,
            supply_enthalpy=circuit.nozzle.stagnation_enthalpy,
            back_pressure=circuit.back_pressure,
            angular_speed=circuit.angular_speed,
        )
        hot = np.full(n_lanes, source.temperature)
        mass = shape | masses(build, height=shape["stack_height"])
        held = gap_hold(build, gas=rim_gas(fluid, flow), disc_temperature=hot)
        power = _power(build, flow, account, mass["rotor_mass"])
        spent = supply_side(
            study.supply,
            source,
            mass_flow=flow.jet.mass_flow,
            electric_power=power["electric_power"],
        )
        flowing = states(source, circuit=circuit, flow=flow)
        numbers = {**power, **spent, **flowing, **held}
        mechanics = strength(
            build,
            masses=mass,
            disc_temperature=hot,
            rim_hotter_by=_rim_hotter_by(fluid, circuit),
        )
        matched = status == Reason.MATCHED
        numbers = {key: np.where(matched, values, np.nan) for key, values in numbers.items()}
        validity = np.where(matched, notes_of(build, flowing, flow), "")
    names = np.array([reason.name.lower().replace("_", " ") for reason in Reason])
    results = {
        **build,
        **mass,
        **mechanics,
        **numbers,
        "status": names[status],
        "gap_flow": np.full(n_lanes, level),
        "validity": validity,
    }
    later = (*RUNAWAY_COLUMNS, *RECHECK_COLUMNS, *SWING_COLUMNS)
    results = dict.fromkeys(later, np.full(n_lanes, np.nan)) | with_loads(study.loads, results)
    return {key: results[key] for key in COLUMNS if key in results}


def _lanes(study: Study, builds: Builds) -> Results:
    """Machine numbers and builds, a value a lane."""
    n_lanes = len(next(iter(builds.values())))
    return {
        key: np.broadcast_to(np.asarray(value), (n_lanes,))
        for key, value in {**study.fixed(), **builds}.items()
    }


def _source(study: Study, build: Builds) -> Source:
    """Supply of the study, or of the lanes where the builds bring their own."""
    stated = source_of(study.supply)
    if not any(key in build for key in SUPPLY_COLUMNS):
        return stated
    return source_at(
        study.supply,
        pressure=build.get("supply_pressure", np.asarray(stated.pressure)),
        temperature=build.get("supply_temperature", np.asarray(stated.temperature)),
    )


def _matched(
    fluid: Fluid, circuit: Circuit, status: NDArray[np.int64], level: Level
) -> tuple[Throughflow, NDArray[np.int64]]:
    """Flow at the matched point; the resolved level starts from the averaged one's answer."""
    flow, status = match_rim_pressure(fluid=fluid, circuit=circuit, status=status)
    if level == "averaged":
        return flow, status
    return match_rim_pressure(
        fluid=fluid,
        circuit=circuit,
        status=status,
        level=level,
        guess=flow.rim_pressure,
    )


def _circuit(
    study: Study, source: Source, build: Builds, shape: Results
) -> tuple[Circuit, NDArray[np.int64]]:
    fluid = source.fluid
    n_lanes = len(build["speed"])
    rim, bore = build["disc_diameter"] / 2, build["exhaust_bore"] / 2
    pressure = np.full(n_lanes, source.pressure)
    back = np.full(n_lanes, study.supply.back_pressure)
    nozzle = nozzle_from_supply(
        fluid=fluid,
        pressure=pressure,
        enthalpy=np.full(n_lanes, source.enthalpy),
        area_ratio=area_ratio(build),
    )
    height = shape["stack_height"]
    circuit = Circuit(
        nozzle=nozzle,
        throat_area=throat_area(
            nozzle_count=build["nozzle_count"],
            nozzle_width=build["nozzle_width"],
            nozzle_height=height,
        ),
        exhaust_area=exhaust_area(
            bore_radius=bore,
            shaft_radius=build["shaft_diameter"] / 2,
            exhaust_ends=build["exhaust_ends"],
            blockage=build["exhaust_blockage"],
        ),
        rim_radius=rim,
        bore_radius=bore,
        stack_height=height,
        gap_count=build["disc_count"] - 1.0,
        angular_speed=build["speed"],
        back_pressure=back,
        seal_count=build["exhaust_ends"] * 1.0,
        **{
            key: build[key] * 1.0
            for key in (
                "nozzle_discharge",
                "nozzle_velocity",
                "inlet_angle",
                "rim_mixing",
                "rim_clearance",
                "gap",
                "disc_thickness",
                "exhaust_loss",
                "seal_clearance",
                "seal_throttles",
                "seal_discharge",
            )
        },
    )
    status = np.full(n_lanes, int(Reason.MATCHED))
    buildable = np.isfinite(height) & (bore < rim) & (circuit.exhaust_area > 0)
    buildable &= (build["speed"] > 0) & (shape["nozzle_footprint"] <= 1)
    status = first_reason(status, ~buildable, Reason.BAD_GEOMETRY)
    end = fluid.isentropic_enthalpy(
        pressure=pressure, enthalpy=nozzle.stagnation_enthalpy, end_pressure=back
    )
    fed = np.isfinite(nozzle.choked_flux) & np.isfinite(end) & (back < pressure)
    return circuit, first_reason(status, ~fed, Reason.BAD_SUPPLY)


def _rim_hotter_by(fluid: Fluid, circuit: Circuit) -> Lanes:
    """Temperature difference along the discs, which take up the relative total temperature."""
    pressure, enthalpy = circuit.nozzle.stagnation_pressure, circuit.nozzle.stagnation_enthalpy
    # By the heat capacity of the supply, so that no speed leaves the fluid's range.
    warmer, cooler = (
        fluid.temperature(pressure=pressure, enthalpy=enthalpy - step) for step in (0.0, 1e3)
    )
    turning = circuit.angular_speed**2 * (circuit.rim_radius**2 - circuit.bore_radius**2) / 2
    return np.asarray(turning * (warmer - cooler) / 1e3)


def _power(build: Builds, flow: Throughflow, account: FlowAccount, rotor_mass: Lanes) -> Results:
    """Every power from supply to terminals."""
    speed = build["speed"]
    windage = (
        speed
        * build["windage_factor"]
        * end_face_torque(
            density=flow.ring.density,
            viscosity=flow.ring.viscosity,
            angular_speed=speed,
            rim_radius=build["disc_diameter"] / 2,
            side_gap=build["side_gap"],
        )
    )
    bearings = speed * bearing_drag(build, rotor_mass=rotor_mass)
    seals = speed * build["shaft_seal_torque"]
    shaft = account.rotor - windage - bearings - seals
    driven = np.where(shaft > 0, shaft * build["drive_efficiency"], shaft)
    generator_speed = speed / build["drive_ratio"]
    electric = generator_output(
        input_power=driven,
        speed=generator_speed,
        rated_power=build["generator_power"],
        rated_speed=build["generator_speed"],
        rated_efficiency=build["generator_efficiency"],
        iron_share=build["generator_iron_share"],
    )
    losses = {
        "loss_nozzle": account.nozzle,
        "loss_mixing": account.mixing,
        "loss_casing": account.casing,
        "loss_entry": account.entry,
        "loss_gap": account.gap,
        "loss_leaving": account.leaving,
        "loss_leakage": account.leakage,
        "loss_windage": windage,
        "loss_bearing": bearings,
        "loss_seal": seals,
        "loss_drive": shaft - driven,
        "loss_generator": driven - electric,
    }
    return {
        "electric_power": electric,
        "shaft_power": shaft,
        "shaft_torque": shaft / speed,
        "rotor_power": account.rotor,
        "rotor_torque": account.rotor / speed,
        "isentropic_power": account.isentropic,
        "turbine_efficiency": shaft / account.isentropic,
        "rotor_efficiency": account.disc_efficiency,
        "mass_flow": flow.jet.mass_flow,
        "rotor_flow": flow.rotor_flow,
        "leakage_flow": flow.leakage,
        **losses,
        "loss_balance": account.isentropic - electric - sum(losses.values()),
        "generator_load": electric
        / (build["generator_power"] * generator_speed / build["generator_speed"]),
    }
