"""Bench plan of a design: a page to print, and logs to fill in that `fit` reads."""

from collections.abc import Mapping

from engine.bench.coast_down import SEALS, expected_fall
from engine.columns import COLUMNS
from engine.model.tapped import tapped_disc
from reports.design import plan_air, plan_readings, plan_wording, sheet_wording
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.plan_logs import (
    GENERATOR,
    GENERATOR_LOADS,
    GENERATOR_STEPS,
    HEARD,
    HELD,
    LOADS,
    LOGGED,
    RUBBING,
    TIMED,
    TWICE,
    columns_of,
    log_text,
)
from reports.design.plan_sensors import OF_STAGES, SEATED, sensor_drawing, sensors
from reports.kit import quantities
from reports.kit.rendering import render
from reports.run.rubbing_wording import change_text

FALLS = (0.75, 0.5, 0.25, 0.1)
"""Shares of running speed at which the coast-down is timed."""


def write_plan(data: BuildData) -> Mapping[str, str]:
    """Make every file of a bench plan, as text by name; raises NoWebError as the sheet does."""
    facts = build_facts_of(data)
    rounded = (key for key, _, _ in facts.rounding.sizes)
    keys = [key for key in dict.fromkeys((*data.study.searched(), *rounded)) if key != "speed"]
    build = {key: facts.candidate.values[key] for key in keys}
    typed = {key: value if COLUMNS[key].is_text else float(value) for key, value in build.items()}
    fall = expected_fall(data.study, typed, top=facts.number("speed"), shares=FALLS)
    tapped = tapped_disc(facts.candidate.values)
    page = render(
        "plan.html.j2",
        style="page.css",
        facts=facts,
        columns=COLUMNS,
        words=plan_wording,
        sheet=sheet_wording,
        say=quantities,
        air=plan_air,
        sensors=sensors(facts),
        seats=sensor_drawing(facts).svg(),
        seated=SEATED + (OF_STAGES if len(facts.stacks) > 1 else ""),
        loaded=plan_readings.loaded_table(facts),
        locked=plan_readings.locked_table(facts),
        rubbing=plan_readings.rubbing_table(facts),
        change_text=change_text,
        tapped=plan_wording.tap_rows(tapped),
        falls=[
            (share, quantities.bare("speed", share * facts.number("speed")), time)
            for share, time in zip(FALLS, fall, strict=True)
        ],
    )
    steps: list[dict[str, float | str]] = [
        {"load": f"{100 * load:.0f} %", "speed": reading.speed}
        for reading in facts.readings
        for load in LOADS
    ]
    read, pressed = (columns_of(each, data.study, len(facts.stacks)) for each in (LOGGED, HELD))
    loaded = log_text(facts, build, "Loaded run", read, steps, "test: loaded")
    atmosphere = data.study.supply.atmosphere
    held: list[dict[str, float | str]] = [
        {"speed": 0.0, "supply_pressure": each.supply_pressure - atmosphere}
        for each in facts.locked
    ]
    set_at = quantities.bare("speed", plan_wording.low_trip(facts)).replace(quantities.THIN, "")
    trip = ("test: trip", f"trip_speed: {set_at} rpm  # as it was set")
    modes: list[dict[str, float | str]] = [
        {"mode": str(n + 1)} for n in range(tapped.frequency.shape[1])
    ]
    return {
        "plan.html": page,
        "tap-test.csv": log_text(facts, build, "Tap test", HEARD, modes, "test: tap"),
        "trip-test.csv": log_text(facts, build, "Trip test", TIMED, [], *trip),
        "rotor-locked.csv": log_text(facts, build, "Rotor locked", pressed, held, "test: locked"),
        "loaded-run.csv": loaded,
        "coast-down.csv": log_text(facts, build, "Coast-down", TIMED, [], "test: coast-down"),
        **_generator_log(facts, build),
        **_bare_log(facts, build),
        **_rubbing_log(facts, build),
    }


def _generator_log(facts: BuildFacts, build: Mapping[str, float | str]) -> dict[str, str]:
    """Write the log of the generator by itself, where it is given by its data sheet."""
    if not facts.study.by_data_sheet:
        return {}
    rows: list[dict[str, float | str]] = [
        {"load": load, "speed": share * facts.number("speed")}
        for share in GENERATOR_STEPS
        for load in GENERATOR_LOADS
    ]
    text = log_text(facts, build, "Generator", GENERATOR, rows, "test: generator")
    return {"generator-test.csv": text}


def _bare_log(facts: BuildFacts, build: Mapping[str, float | str]) -> dict[str, str]:
    """Write the log of the coast-down without shaft seals, where there are any."""
    if facts.number(SEALS) == 0:
        return {}
    bare, title = {**build, SEALS: 0.0}, "Coast-down without shaft seals"
    return {"coast-down-no-seals.csv": log_text(facts, bare, title, TIMED, [], "test: coast-down")}


def _rubbing_log(facts: BuildFacts, build: Mapping[str, float | str]) -> dict[str, str]:
    """Write the log of the test that tells how hard the casing rubs, where there is one."""
    test = facts.telling
    if test is None:
        return {}
    rows: list[dict[str, float | str]] = [
        {"nozzle_count": nozzles, "rim_clearance": clearance, "speed": speed}
        for nozzles, clearance, speed in zip(
            test.nozzle_count.tolist(),
            test.rim_clearance.tolist(),
            test.speed.tolist(),
            strict=True,
        )
        for _ in range(TWICE)
    ]
    return {"casing-friction.csv": log_text(facts, build, "Casing friction", RUBBING, rows)}
