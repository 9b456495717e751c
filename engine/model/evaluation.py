"""One call from builds to results: the only place that knows the order of the physics."""

from collections.abc import Collection
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from engine.catalogue import process_values
from engine.columns import COLUMNS, Builds, Results, base_key
from engine.model.circuit import (
    NOZZLE_COEFFICIENTS,
    SUPPLY_COLUMNS,
    lanes_of,
    rim_hotter_by,
    source_of_lanes,
)
from engine.model.driven import driven, driven_stages
from engine.model.evenness import evenness
from engine.model.flow_states import states
from engine.model.gap_hold import gap_hold, rim_gas
from engine.model.hose import matched_circuit
from engine.model.lanes import Rows, by_stages, rows_of, some_lanes, together
from engine.model.limits import MATCHED
from engine.model.load_loss import (
    FOLLOWED,
    TRIP_COLUMNS,
    Reading,
    SupplyState,
    behind_valve,
    survives_by_bound,
    survives_followed,
    trip_columns,
)
from engine.model.loads import SWING_COLUMNS, steadiness, with_loads
from engine.model.power import supply_side
from engine.model.pump.evaluation import evaluate_pump, pump_rechecked
from engine.model.rotor import masses
from engine.model.runaway import BESIDE, runaway_ratio, torque_told
from engine.model.settled_speed import at_settled_speed, without_lost
from engine.model.shaft import RotorLine, bearing_stiffness, critical_speed
from engine.model.stage_results import of_later_stages, worst_of
from engine.model.stages import whole_stack
from engine.model.strength import places_of, strength
from engine.model.validity import notes_of, rechecked, runaway_told, unevenly_shared
from engine.physics.arrays import Lanes, Mask, Reason, in_lanes, repeated
from engine.physics.flow.match import Circuit, Level
from engine.physics.fluids.fluid_kernel import Fluid
from engine.stage_columns import LATE, LATE_OF_STAGES
from engine.study.pump.study import PumpStudy
from engine.study.study import Study, most_stages

if TYPE_CHECKING:
    from engine.physics.gap.profiles import GapProfiles


RUNAWAY_COLUMNS = ("runaway_ratio", "survives_load_loss")
"""Columns that `with_runaway` fills."""
RECHECK_COLUMNS = ("resolved_power", "resolved_difference", "backflow_share")
"""Columns that `with_recheck` fills."""
LATE_COLUMNS = (
    *RUNAWAY_COLUMNS,
    *TRIP_COLUMNS,
    *RECHECK_COLUMNS,
    *SWING_COLUMNS,
    *LATE,
)
"""Columns that are left empty unless asked for, as they take long."""

REASONS = np.array([reason.name.lower().replace("_", " ") for reason in Reason])
"""Words for a status."""


def evaluate(
    study: Study, builds: Builds, *, but: Collection[str] = (), worded: bool = True
) -> Results:
    """Every column of every build, by key, SI.

    `builds` maps the searched keys of the study to arrays of equal length. It may also hold machine
    keys, `gap_flow`, `supply_pressure` and `supply_temperature`; they replace those of the study.

    A build without operating point has a reason as its status and NaN in the columns that need one;
    its dimensions, stresses and margins are given all the same, unless it cannot exist.

    The columns of runaway cost ten times the rest, those of the trip thirty times, those of the
    supply's swing and of how evenly gaps share the flow twice. They are filled only where a limit
    or an aim of the study names them; `with_runaway`, `with_trip`, `with_swing` and `with_evenness`
    fill them for a few builds. Whether a design survives with its trip costs next to nothing: a
    bound decides it for nearly all. `but` names
    such columns that are not asked for though the study names them. Samples are not `worded`: they
    need no notes and no names of loads.
    """
    if isinstance(study, PumpStudy):
        return evaluate_pump(study, builds)
    builds, lost = at_settled_speed(
        study, builds, lambda there: driven(study, there, "averaged")["shaft_torque"]
    )
    found, line = _evaluate(study, builds, _level(study, builds), worded=worded)
    results = without_lost(found, lost)
    named = {base_key(key) for key in (*study.all_limits, *study.aims)} - set(but)
    if named.intersection(RUNAWAY_COLUMNS):
        results = with_runaway(study, results)
    if named.intersection(TRIP_COLUMNS):
        if named.isdisjoint(set(TRIP_COLUMNS) - {"survives_trip"}):
            results = with_trip_decided(study, results, line)
        else:
            results = with_trip(study, results)
    if named.intersection(SWING_COLUMNS):
        results = with_swing(study, results)
    if named.intersection((*LATE, *LATE_OF_STAGES)):
        results = with_evenness(study, results)
    return results


def with_recheck(study: Study, results: Results) -> Results:
    """Results with the columns of the recheck: the same builds at the resolved level."""
    if isinstance(study, PumpStudy):
        return pump_rechecked(study, results)
    resolved = results
    if _level(study, results) != "resolved":
        resolved, _ = _evaluate(study, builds_of(study, results), "resolved")
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
    """Results with the columns of runaway filled in.

    Runaway speed is that at which the net torque first vanishes without load. The iron loss of the
    generator is left out, so the ratio is on the safe side. It comes from the averaged gap flow at
    either level, where need be beyond what an operating point is allowed, and then a note says so:
    see `runaway`.
    """
    given = builds_of(study, results)

    running = results["shaft_torque"]

    def at(lane: NDArray[np.int64], ratio: Lanes) -> Results:
        faster = rows_of(given, lane)
        faster["speed"] = faster["speed"] * ratio
        return driven(study, faster, "beyond")

    ratio = runaway_ratio(lambda lane, r: torque_told(at(lane, r)), running)
    validity, lanes = results["validity"].astype(object), np.flatnonzero(np.isfinite(ratio))
    if lanes.size:
        below = at(lanes, ratio[lanes] * np.exp(-BESIDE))
        validity[lanes] = runaway_told(results["validity"][lanes], below)
    # A build survives where nothing fails below its runaway speed.
    survives = np.where(np.isfinite(ratio), results["safety_margin"] >= ratio, np.nan)
    told = {"validity": validity.astype(str)}
    return results | {"runaway_ratio": ratio, "survives_load_loss": survives} | told


def with_trip(study: Study, results: Results) -> Results:
    """Results with the columns of the trip filled in, and those of runaway, on which they rest."""
    if not np.isfinite(results["runaway_ratio"]).any():
        results = with_runaway(study, results)
    return results | trip_columns(results, _supply_of(study, results), _reading(study, results))


def with_trip_decided(study: Study, results: Results, line: RotorLine | None = None) -> Results:
    """Results that say which designs survive a lost load with their trip.

    A bound decides for nearly all. The trip of the others is followed, and only theirs. `line` is
    that of the designs, where it is known.
    """
    given, state = builds_of(study, results), _supply_of(study, results)
    survives, undecided = survives_by_bound(results, state)
    rows = np.flatnonzero(undecided)
    if rows.size:
        few = rows_of(given | {key: results[key] for key in FOLLOWED}, rows)
        read = _reading(study, few, line, rows)
        survives[rows] = survives_followed(few, state.of_lanes(rows), read)
    return results | {"survives_trip": survives}


def _supply_of(study: Study, results: Results) -> SupplyState:
    """Supply of some designs, as the trip needs it."""
    source = source_of_lanes(study, results)
    return SupplyState.of(source, study.supply.back_pressure, len(results["speed"]))


def _reading(
    study: Study, results: Results, line: RotorLine | None = None, rows: Rows | None = None
) -> Reading:
    """Give what reads torque and flow without load of designs whose shafts are `rows` of `line`."""
    given, supply = builds_of(study, results), study.supply
    full = in_lanes(source_of_lanes(study, given).pressure, len(results["speed"]))

    def read(lane: NDArray[np.int64], ratio: Lanes, share: Lanes) -> tuple[Lanes, Lanes]:
        """Torque and flow by the averaged gap flow, whose scale the results themselves give."""
        there = rows_of(given, lane)
        there["speed"] = there["speed"] * ratio
        there["supply_pressure"] = supply.back_pressure + share * (
            full[lane] - supply.back_pressure
        )
        known = None if line is None or rows is None else line.of(rows[lane])
        found = driven(study, there, "beyond", known)
        return found["shaft_torque"], found["mass_flow"]

    return read


def with_swing(study: Study, results: Results) -> Results:
    """Results with the columns of the supply's swing; unchanged where there are no loads."""
    if study.loads is None:
        return results
    given, level = builds_of(study, results), _level(study, results)
    supply = study.supply
    swing = study.loads.supply_swing * (supply.pressure - supply.back_pressure)
    usual = results.get("supply_pressure", np.full(results["speed"].shape, supply.pressure))
    low, high = (
        driven(study, {**given, "supply_pressure": usual + by}, level)["electric_power"]
        for by in (-swing, swing)
    )
    return results | steadiness(study.loads, results["electric_power"], low=low, high=high)


def with_evenness(study: Study, results: Results) -> Results:
    """Results with the columns of how evenly the gaps share the flow, and a note where not."""
    found = evenness(study, builds_of(study, results))
    most = np.fmax.reduce([each for key, each in found.items() if key.startswith(LATE[-1])])
    validity = unevenly_shared(results["validity"], most)
    return results | found | {"validity": validity}


def inside_one_gap(study: Study, builds: Builds, *, stage: int = 1) -> "GapProfiles":
    """Velocities, pressure and particle path inside a gap of each build, at its matched point.

    At the resolved level; NaN where there is no operating point.
    """
    from engine.physics.gap.profiles import profiles  # noqa: PLC0415  not before it is needed

    given = builds_of(study, builds)
    fluid, circuit, flow, status = matched_circuit(study, given, "resolved", stage=stage)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
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
            transition_factor=circuit.transition_factor,
        )


def builds_of(study: Study, table: Builds) -> Results:
    """Take the columns of a table that define its builds, without results."""
    drawn = [key for key in SUPPLY_COLUMNS if key in table]
    return {key: table[key] for key in (*study.searched(), *study.fixed(), *drawn)}


def _only(exists: Mask, columns: Results) -> Results:
    """Columns without the numbers of lanes that cannot exist, but for the ratios that tell why."""
    if exists.all():
        return columns
    kept = {key: columns[key] for key in ("nozzle_footprint", "bore_ratio") if key in columns}
    blank = {
        key: np.where(exists, values, "" if values.dtype.kind == "U" else np.nan)
        for key, values in columns.items()
    }
    return blank | kept


def as_cut(study: Study, n_lanes: int) -> Results:
    """Clearance of the seals as it is made, where a fit has found another one by their leakage."""
    drawn = {} if study.fit is None else study.fit.drawn
    return {key: repeated(drawn[key], n_lanes) for key in ("seal_clearance",) if key in drawn}


def _gap_density(fluid: Fluid, circuit: Circuit, running: Lanes) -> Lanes:
    """Density in the gaps at the rim, where it is highest; that of the supply if nothing runs."""
    supply = fluid.density(
        pressure=circuit.nozzle.stagnation_pressure, enthalpy=circuit.nozzle.stagnation_enthalpy
    )
    return np.where(np.isfinite(running), running, supply)


def _level(study: Study, table: Builds) -> Level:
    """Level of gap flow of a table, the same in all lanes; that of the study if it names none."""
    flow = study.search.flow
    if "gap_flow" in table:
        (flow,) = np.unique(table["gap_flow"]).tolist() or [flow]
    return "averaged" if flow == "averaged" else "resolved"


def _evaluate(
    study: Study, builds: Builds, level: Level, *, worded: bool = True
) -> tuple[Results, RotorLine | None]:
    """Every column that needs one evaluation, with NaN in the others.

    Also gives the shafts, where all have as many beams.
    """
    build = lanes_of(study, builds)
    parts = [
        (rows, *_evaluated(study, some_lanes(build, rows), count, level, worded=worded))
        for count, rows in by_stages(build)
    ]
    found: Results = together([(rows, results) for rows, results, _ in parts])
    return found, parts[0][2] if len(parts) == 1 else None


def _evaluated(
    study: Study, build: Results, count: int, level: Level, *, worded: bool
) -> tuple[Results, RotorLine]:
    """Every column of builds that all have so many stages, and their shafts."""
    # Flow: circuit, matched point, power balance.
    n_lanes = len(build["speed"])
    found = driven_stages(study, build, count, level)
    source, stages = found.source, found.stages
    fluid, circuit, power, line = source.fluid, stages[0].circuit, found.power, found.line
    hot, status, faults = found.disc_temperature, found.status, found.faults
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        # Machine, with discs as hot as the supply: masses, gap, power of the supply.
        flowing = [
            states(source, circuit=stage.circuit, flow=stage.flow, exhaust=exhaust)
            for stage, exhaust in zip(stages, found.exhaust_temperatures, strict=True)
        ]
        places = places_of(build, found.web)
        process = process_values(build["process"], build["disc_thickness"])
        mass = found.dimensions | masses(whole_stack(found.alone), line, process)
        gases = [rim_gas(fluid, stage.flow) for stage in stages]
        held = worst_of(
            [
                gap_hold(stage.build, gas=gas, disc_temperature=hot, process=process)
                for stage, gas in zip(stages, gases, strict=True)
            ]
        )
        spent = supply_side(
            study.supply,
            source,
            mass_flow=power["mass_flow"],
            electric_power=power["electric_power"],
        )
        shut = behind_valve(build, source, power["mass_flow"])
        numbers = {**power, **spent, **worst_of(flowing), **held, **shut}
        # Strength, which needs no operating point. The first stage has the hottest discs in the
        # densest fluid.
        stiffness = bearing_stiffness(build, line)
        mass["bearing_stiffness"] = stiffness.min(axis=0)
        mechanics = strength(
            build | as_cut(study, n_lanes),
            places=places,
            critical_speed=critical_speed(line, stiffness),
            disc_temperature=hot,
            rim_hotter_by=rim_hotter_by(fluid, circuit),
            fluid_density=_gap_density(fluid, circuit, gases[0].density),
        )
        # NaN and no notes where there is no operating point; no machine where it cannot exist.
        matched = found.matched
        mass, mechanics = (_only(found.exists, columns) for columns in (mass, mechanics))
        if most_stages(study) > 1:
            numbers |= of_later_stages(stages, flowing, found.accounts)
        if not matched.all():
            numbers = {key: np.where(matched, values, np.nan) for key, values in numbers.items()}
        seen = [
            (stage.build, numbers | stage.dimensions | each, stage.flow)
            for stage, each in zip(stages, flowing, strict=True)
        ]
        validity = (
            np.where(matched, notes_of(seen, places.web), "") if worded else repeated("", n_lanes)
        )
    # Columns in the order of the table of columns.
    results = {
        **build,
        **{key: getattr(circuit, key) for key in NOZZLE_COEFFICIENTS},
        **mass,
        **mechanics,
        **numbers,
        "status": np.where(faults == "", REASONS[status], faults),
        "gap_flow": repeated(level, n_lanes),
        "validity": validity,
    }
    of_stages = LATE_OF_STAGES if most_stages(study) > 1 else ()
    late = dict.fromkeys((*LATE_COLUMNS, *of_stages), repeated(np.nan, n_lanes))
    results = late | with_loads(study.loads, results, worded=worded)
    return {key: results[key] for key in COLUMNS if key in results}, line
