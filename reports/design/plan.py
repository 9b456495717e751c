"""Bench plan of a design: a page to print, and logs to fill in that `fit` reads."""

import json
from collections.abc import Mapping, Sequence

from engine.bench.coast_down import SEALS, expected_fall
from engine.bench.readings import read_loaded, read_locked
from engine.bench.telling import TOLD
from engine.columns import COLUMNS
from engine.model.tapped import tapped_disc
from reports.design import plan_wording, sheet_wording
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.plan_wording import LEVER
from reports.kit import quantities
from reports.kit.rendering import render
from reports.run.rubbing_wording import change_text

LOGGED = {
    "load": ("", ""),
    "speed": ("rpm", "0.3 %"),
    "shaft_torque": ("mN m", "2 %"),
    "voltage": ("V", "1 %"),
    "current": ("A", "1 %"),
    "mass_flow": ("g/s", "2 %"),
    "supply_pressure": ("bar gauge", "0.02 bar"),
    "supply_temperature": ("degC", "1 K"),
    "rim_pressure": ("bar gauge", "0.02 bar"),
    "exhaust_temperature": ("degC", "1.5 K"),
    "nozzle_pressure": ("bar gauge", "0.02 bar"),
    "outlet_angle": ("deg", "4 deg"),
    "outlet_rise": ("mbar", "0.5 mbar"),
}
"""Columns of the log of the loaded run, with usual unit and uncertainty; no unit: ignored."""
HELD = {
    "speed": ("rpm", "0.3 %"),
    "supply_pressure": ("bar gauge", "0.02 bar"),
    "supply_temperature": ("degC", "1 K"),
    "shaft_torque": ("N", "2 %"),
    "mass_flow": ("g/s", "2 %"),
    "rim_pressure": ("bar gauge", "0.02 bar"),
    "nozzle_pressure": ("bar gauge", "0.02 bar"),
}
"""Columns of the log of the locked rotor; torque is read as a force on a lever."""
RUBBING = {
    "nozzle_count": ("", ""),
    "rim_clearance": ("mm", ""),
    "speed": ("rpm", "0.3 %"),
    "shaft_torque": ("mN m", "2 %"),
    "mass_flow": ("g/s", "2 %"),
    "supply_pressure": ("bar gauge", "0.02 bar"),
    "supply_temperature": ("degC", "1 K"),
    "rim_pressure": ("bar gauge", "0.02 bar"),
}
"""Columns of the log of the test that tells how hard the casing rubs."""
TWICE = 2
"""Rows of that log for each state, so that no single reading decides."""
HEARD = {"mode": ("", ""), "frequency": ("Hz", "0.5 %")}
"""Columns of the log of the tap test."""
FALLS = (0.75, 0.5, 0.25, 0.1)
"""Shares of operating speed at which the coast-down is timed."""


def write_plan(data: BuildData) -> Mapping[str, str]:
    """Make every file of a bench plan, as text by name; raises NoWebError as the sheet does."""
    facts = build_facts_of(data)
    keys = [key for key in data.study.searched() if key != "speed"]
    build = {key: facts.candidate.values[key] for key in keys}
    typed = {key: value if COLUMNS[key].is_text else float(value) for key, value in build.items()}
    fall = expected_fall(data.study, typed, top=facts.number("speed"), shares=FALLS)
    tapped = tapped_disc(facts.candidate.values)
    page = render(
        "plan.html.j2",
        style="sheet.css",
        facts=facts,
        columns=COLUMNS,
        words=plan_wording,
        sheet=sheet_wording,
        read=read_loaded(data.study),
        loaded=sheet_wording.loaded_rows(facts),
        read_locked=read_locked(data.study),
        locked=plan_wording.locked_rows(facts),
        band_text=sheet_wording.band_text,
        told=TOLD,
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
        for load in plan_wording.LOADS
    ]
    idle = {"nozzle_pressure"} - set(read_locked(data.study))
    logged, pressed = (
        {key: said for key, said in each.items() if key not in idle} for each in (LOGGED, HELD)
    )
    loaded = _log(facts, build, "Loaded run", logged, steps, "test: loaded")
    atmosphere = data.study.supply.atmosphere
    held: list[dict[str, float | str]] = [
        {"speed": 0.0, "supply_pressure": each.supply_pressure - atmosphere}
        for each in facts.locked
    ]
    timed = {"time": ("s", ""), "speed": ("rpm", "0.3 %")}
    set_at = quantities.bare("speed", plan_wording.low_trip(facts)).replace(quantities.THIN, "")
    trip = ("test: trip", f"trip_speed: {set_at} rpm  # as it was set")
    modes: list[dict[str, float | str]] = [
        {"mode": str(n + 1)} for n in range(tapped.frequency.shape[1])
    ]
    return {
        "plan.html": page,
        "tap-test.csv": _log(facts, build, "Tap test", HEARD, modes, "test: tap"),
        "trip-test.csv": _log(facts, build, "Trip test", timed, [], *trip),
        "rotor-locked.csv": _log(facts, build, "Rotor locked", pressed, held, "test: locked"),
        "loaded-run.csv": loaded,
        "coast-down.csv": _log(facts, build, "Coast-down", timed, [], "test: coast-down"),
        **_bare_log(facts, build, timed),
        **_rubbing_log(facts, build),
    }


def _bare_log(
    facts: BuildFacts, build: Mapping[str, float | str], columns: Mapping[str, tuple[str, str]]
) -> dict[str, str]:
    """Write the log of the coast-down without shaft seals, where there are any."""
    if facts.number(SEALS) == 0:
        return {}
    bare = {**build, SEALS: 0.0}
    text = _log(facts, bare, "Coast-down without shaft seals", columns, [], "test: coast-down")
    return {"coast-down-no-seals.csv": text}


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
    return {"casing-friction.csv": _log(facts, build, "Casing friction", RUBBING, rows)}


def _log(
    facts: BuildFacts,
    build: Mapping[str, float | str],
    title: str,
    columns: Mapping[str, tuple[str, str]],
    rows: Sequence[Mapping[str, float | str]],
    *test: str,
) -> str:
    """Write a log with its head, and rows that hold the settings of each reading."""
    named = f"title: {json.dumps(f'{title}, design {facts.candidate.design}')}"
    lines = ["---", named, *test, "build:"]
    lines += [f"  {key}: {_value(key, value)}" for key, value in build.items()]
    lines += ["columns:  # unit and standard uncertainty of your instruments; ignore for none"]
    for name, (unit, within) in columns.items():
        if name == "nozzle_count":
            lines.append(f"  {name}: {{quantity: {name}}}")
            continue
        if not unit:
            lines.append(f"  {name}: ignore")
            continue
        said = f", uncertainty: {within}" if within else ""
        said += f", lever: {LEVER}" if unit == "N" else ""
        lines.append(f"  {name}: {{quantity: {name}, unit: {unit}{said}}}")
    lines += ["---", ",".join(columns)]
    for row in rows:
        lines.append(",".join(_cell(key, row.get(key, "")) for key in columns))
    return "\n".join(lines) + "\n"


def _cell(key: str, value: float | str) -> str:
    return value if isinstance(value, str) else f"{float(COLUMNS[key].to_drawing(value)):.6g}"


def _value(key: str, value: float | str) -> str:
    column = COLUMNS[key]
    if column.is_text:
        return json.dumps(str(value))
    drawn = float(column.to_drawing(float(value)))
    unit = "" if column.is_count else column.unit.symbol
    return f"{drawn:.8g} {unit}".strip()
