"""Work through the reference cases of the plane flow and write `reference.csv` beside this file.

    python -m tests.physics.plane.make_reference [NAME ...]

A case takes a quarter of a minute to some minutes. Cases that stand in the table already are left
as they are, unless they are named.
"""

import csv
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from engine.files import write_whole
from engine.model.plane import matched_build, plane_numbers
from engine.model.version import MODEL_VERSION
from engine.physics.plane.solve import plane_flow
from engine.study.reader import parse_overrides, read_study
from engine.study.study import Study
from tests.support.places import ROOT, STUDIES

CASES = ROOT / "tests" / "physics" / "plane" / "cases.csv"
TABLE = ROOT / "tests" / "physics" / "plane" / "reference.csv"
FINENESS = 1.0


@dataclass(frozen=True)
class Case:
    """A build of a bundled study, perhaps at another supply pressure."""

    name: str
    half: str
    """`fit` or `test`."""
    study: str
    pressure: str
    """That of the supply, absolute; empty for that of the study."""
    values: Mapping[str, str]


def cases() -> list[Case]:
    """Every case of the list."""
    found = []
    for row in _rows_of(CASES):
        name, half = row.pop("name"), row.pop("half")
        study, pressure = row.pop("study"), row.pop("supply_pressure")
        found.append(Case(name, half, study, pressure, row))
    return found


AS_MADE = {
    "nozzle_discharge": 0.95,
    "nozzle_velocity": 0.95,
    "web_factor": 0.0,
    "core_factor": 0.0,
}
"""Nozzles and exhaust as the model had them when the rows were made."""


def build_of(case: Case) -> tuple[Study, dict[str, Any]]:
    """Study of a case, and its build as a table of one lane."""
    study = read_study(STUDIES / f"{case.study}.yaml")
    texts = [f"{key}={value}" for key, value in case.values.items()]
    # The flow does not ask how the discs were cut.
    texts += ["process=laser-cut"] if "process" in study.searched() else []
    build = {key: np.array([value]) for key, value in parse_overrides(texts, study).items()}
    build |= {key: np.array([value]) for key, value in AS_MADE.items()}
    if case.pressure:
        build["supply_pressure"] = np.array([float(case.pressure.split()[0]) * 1e5])
    return study, build


def row_of(case: Case, fineness: float = FINENESS) -> dict[str, Any]:
    """Numbers of a case, SI: what goes in, what the model says, what the plane flow says."""
    study, build = build_of(case)
    fluid, circuit, flow, matched = matched_build(study, build)
    if not matched:
        raise ValueError(case.name)
    given = plane_numbers(fluid, circuit, flow)
    count = int(case.values["nozzle_count"])
    found = plane_flow(**given, nozzle_count=count, fineness=fineness)
    # Model as it is: the matched point of the averaged level.
    # The transition factor is 1 in every case.
    left_out = ("fluid", "nozzle", "transition_factor")
    inputs = {key: value for key, value in given.items() if key not in left_out}
    inputs |= {
        "nozzle_count": count,
        "mass_flow": flow.jet.mass_flow.item(),
        "jet_speed": flow.jet.speed.item(),
        "jet_enthalpy": flow.jet.enthalpy.item(),
        "total_enthalpy": circuit.nozzle.stagnation_enthalpy.item(),
        "supply_pressure": circuit.nozzle.stagnation_pressure.item(),
        "jet_density": fluid.density(pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy).item(),
        "jet_sound_speed": fluid.sound_speed(
            pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy
        ).item(),
        "ring_density": flow.ring.density.item(),
        "ring_viscosity": flow.ring.viscosity.item(),
        "rim_mixing": circuit.rim_mixing.item(),
        "edge_height": given["disc_thickness"] * (given["gap_count"] + 1),
        "gap_height": given["gap"] * given["gap_count"],
        "model_ring_swirl": flow.ring.swirl.item(),
        "model_edge_torque": flow.ring.edge_torque.item(),
        "model_rotor_torque": flow.ring.edge_torque.item()
        + flow.gap.torque.item() * given["gap_count"],
        "model_casing_heat": flow.ring.casing_dissipation.item(),
    }
    names = [n for n in found.__dataclass_fields__ if n not in ("field", "steps", "exponent")]
    outputs = {f"plane_{name}": getattr(found, name) for name in names}
    rows, columns = found.field.pressure.shape
    outputs |= {"plane_rows": rows, "plane_columns": columns}
    return {"name": case.name, "half": case.half, **inputs, **outputs}


def written(rows: list[dict[str, Any]]) -> str:
    """Text of the table."""
    head = (
        "# Flow around the rim in the plane of the discs, made by make_reference.py beside this",
        f"# SI units; model_ columns: model version {MODEL_VERSION}, averaged level, its own ring",
        f"# plane_ columns: engine/physics/plane, fineness {FINENESS:g}",
        "# half: fit, or test (not to be fitted to)",
        "# set torques against plane_mass_flow and plane_jet_speed: where nozzles do not choke,",
        "# the flow moves with the grid",
    )
    lines = [",".join(rows[0])]
    lines += [",".join(_text(value) for value in row.values()) for row in rows]
    return "\n".join([*head, *lines]) + "\n"


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return str(int(value))
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def read() -> list[dict[str, Any]]:
    """Rows of the table as it is."""
    return [
        {key: value if key in ("name", "half") else _number(value) for key, value in row.items()}
        for row in (_rows_of(TABLE) if TABLE.exists() else [])
    ]


def _rows_of(path: Path) -> list[dict[str, str]]:
    lines = [line for line in path.read_text("utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def _number(text: str) -> float | int:
    return int(text) if text.lstrip("-").isdecimal() else float(text)


def main(names: list[str]) -> None:
    known = {row["name"]: row for row in read()}
    for case in cases():
        if case.name in known and case.name not in names:
            continue
        known[case.name] = row_of(case)
        ordered = [known[each.name] for each in cases() if each.name in known]
        write_whole(TABLE, written(ordered).encode())
        row = known[case.name]
        keys = ("rotor_torque", "casing_torque", "settled", "momentum_residual")
        sys.stdout.write(f"{case.name}: {[row[f'plane_{key}'] for key in keys]}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
