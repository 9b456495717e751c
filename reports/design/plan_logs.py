"""Logs of a bench plan to fill in: their columns, units and heads, as `fit` reads them."""

import json
from collections.abc import Mapping, Sequence

from engine.bench.readings import OUTLET, read_loaded, read_locked
from engine.columns import COLUMNS
from engine.stage_columns import staged
from engine.study.study import Study
from reports.design.facts import BuildFacts

LEVER = "100 mm"
"""Usual length of the lever that holds the locked rotor; the log states the true one."""
LOADS = (0.5, 0.75, 1.0)
"""Shares of the load that are run at each speed, to separate iron loss from copper loss."""
TWICE = 2
"""Rows of the log of the casing's friction for each state, so that no single reading decides."""
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
    **dict.fromkeys(staged("exhaust_temperature")[1:], ("degC", "1.5 K")),
    **dict.fromkeys(staged("nozzle_pressure"), ("bar gauge", "0.02 bar")),
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
    **dict.fromkeys(staged("nozzle_pressure"), ("bar gauge", "0.02 bar")),
}
"""Columns of the log of the locked rotor; torque is read as a force on a lever."""
RUBBING = {
    "nozzle_count": ("", ""),
    "rim_clearance": ("mm", ""),
    "speed": ("rpm", "0.3 %"),
    "shaft_torque": ("mN m", "1 %"),
    "mass_flow": ("g/s", "1 %"),
    "supply_pressure": ("bar gauge", "0.02 bar"),
    "supply_temperature": ("degC", "1 K"),
    "rim_pressure": ("bar gauge", "0.02 bar"),
}
"""Columns of the log of the test that tells how hard the casing rubs. What counts is how far the
same dials repeat, before and after the change; from 2 % a fit cannot part friction from mixing."""
TIMED = {"time": ("s", ""), "speed": ("rpm", "0.3 %")}
"""Columns of the logs of the coast-down and of the trip test."""
GENERATOR = {
    "load": ("", ""),
    "speed": ("rpm", "0.3 %"),
    "voltage": ("V", "1 %"),
    "current": ("A", "1 %"),
}
"""Columns of the log of the generator by itself."""
GENERATOR_STEPS = (0.4, 0.7, 1.0)
"""Speeds of that test, over running speed."""
GENERATOR_LOADS = ("none", "half", "full", "as a motor")
"""Loads at each of them; as a motor the current is below 0."""
HEARD = {"mode": ("", ""), "frequency": ("Hz", "0.5 %")}
"""Columns of the log of the tap test."""
MAY_LACK = (*staged("nozzle_pressure"), *staged("exhaust_temperature")[1:], *OUTLET)
"""Readings that not every build has."""
Columns = Mapping[str, tuple[str, str]]


def columns_of(columns: Columns, study: Study, stages: int = 1) -> Columns:
    """Columns of the log of a build with so many stages; see `read_loaded`."""
    idle = {*MAY_LACK} - {*read_loaded(study, stages), *read_locked(study, stages)}
    return {key: said for key, said in columns.items() if key not in idle}


def log_text(
    facts: BuildFacts,
    build: Mapping[str, float | str],
    title: str,
    columns: Columns,
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
    return f"{drawn:.6g} {unit}".strip()
