"""From a run folder to the build sheet or the bench plan of one of its designs."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from engine import __version__
from engine.bench.readings import NO_READINGS, bench_readings, locked_readings
from engine.bench.telling import telling_test
from engine.columns import COLUMNS, Results
from engine.errors import Problem, StudyError
from engine.model.socket import AtSocket
from engine.run.chosen import ended_front, lettered, row_named
from engine.run.details import at_sockets
from engine.run.folder import STUDY, read_state
from engine.run.pick import ROLES, picks_of
from engine.run.read import study_of_run
from engine.study.study import Study
from reports.design.as_made import as_made
from reports.design.drawings.dxf import DXF_VERSION
from reports.design.drawings.paper import A4
from reports.design.facts import BuildData
from reports.design.outlines import NoWebError
from reports.design.plan import write_plan
from reports.design.pump.plan import write_pump_plan
from reports.design.sheet import write_sheet
from reports.kit.quantities import percent, quantity
from reports.run.make import refuse_other_model
from reports.run.opening import date_text
from reports.run.search_facts import Table, row_of

NUMBERS = "the run's report and `swirlstack point` have the numbers of every design"
"""Where to look instead."""
Made = TypeVar("Made", str, str | bytes)
"""Content of a file."""


def sheet_of_run(
    folder: Path, design: str, *, dxf: str = DXF_VERSION, paper: str = A4.name
) -> tuple[int, Mapping[str, str | bytes]]:
    """Make the files of a design's build sheet: version of DXF, size of paper; `design_of_run`."""

    def write(data: BuildData) -> Mapping[str, str | bytes]:
        return write_sheet(data, dxf=dxf, paper=paper)

    return design_of_run(folder, design, write)


def plan_of_run(folder: Path, design: str) -> tuple[int, Mapping[str, str]]:
    """Make the files of a design's bench plan; see `design_of_run`."""

    def write(data: BuildData) -> Mapping[str, str]:
        if data.study.kind == "pump":
            return write_pump_plan(data)
        telling = telling_test(data.study, data.front, data.row)
        return write_plan(replace(data, telling=telling))

    return design_of_run(folder, design, write)


def design_of_run(
    folder: Path, design: str, write: Callable[[BuildData], Mapping[str, Made]]
) -> tuple[int, Mapping[str, Made]]:
    """Find a design of a run; gives its number, and the files that `write` makes of it by name.

    `design` is its number in the report's table, a role such as pick, calmer or
    calmest, or A, B, C.

    Raises
    ------
    RunFolderError
        Where it is no run folder, is damaged, has no front yet, or is of another version of the
        model.
    NothingFeasibleError
        Where no design of the run meets every limit.
    StudyError
        Where the design is not on the front, has several stages with one exhaust each, or a disc
        that cannot be drawn.
    """
    provenance, state = read_state(folder)
    refuse_other_model(folder, provenance)
    study, _ = study_of_run(folder)
    front = ended_front(folder)
    row = row_named(folder, design, study, front)
    _refuse_one_exhaust(folder, study, front, row)
    picks = picks_of(study, front)
    roles = picks.rows if picks else {}
    is_pump = study.kind == "pump"
    try:
        made, rounding = as_made(study, front, row)
        data = BuildData(
            study=study,
            front=made,
            row=row,
            letter=lettered(study, front).get(row, ""),
            roles=tuple(role for role in ROLES if roles.get(role) == row),
            readings=NO_READINGS if is_pump else bench_readings(study, made, row),
            locked=NO_READINGS if is_pump else locked_readings(study, made, row),
            provenance={
                "Study hash": provenance.study_hash[:16],
                "Run": f"{folder.name}, started {date_text(state.started)}",
                "Program": f"swirlstack {__version__}, model version {provenance.model_version}",
            },
            rounding=rounding,
            socket=None if is_pump else _socket_of(study, made, row),
        )
        return int(front["design"][row]), write(data)
    except NoWebError as error:
        raise StudyError([_no_web(folder, front, row, error)]) from error


def _refuse_one_exhaust(folder: Path, study: Study, front: Table, row: int) -> None:
    """Refuse stages with one exhaust each: their clamps leave no room for a partition."""
    values = {**study.fixed(), **row_of(front, row)}
    if float(values.get("stage_count", 1)) < 2 or float(values["exhaust_ends"]) > 1:
        return
    number = int(float(front["design"][row]))
    raise StudyError(
        [
            Problem(
                file=str(folder / STUDY),
                key="exhaust_ends",
                found=f"design {number} has several stages with one exhaust each, which is not "
                "drawn: where a stack is closed, its end clamp stands in the partition's place",
                expected="2",
                remedy=f"search again with exhaust_ends: 2; {NUMBERS}",
            )
        ]
    )


def _socket_of(study: Study, table: Results, row: int) -> AtSocket | None:
    """Where the design settles with the study's loads, without its events."""
    return at_sockets(study, table, [row])[0]


def _no_web(folder: Path, front: Table, row: int, error: NoWebError) -> Problem:
    is_pump = "eye_diameter" in front
    key, named = ("eye_blockage", "eye") if is_pump else ("exhaust_blockage", "bore")
    inner = "eye_diameter" if is_pump else "exhaust_bore"
    bore, shaft, share = (float(front[each][row]) for each in (inner, "shaft_diameter", key))
    spokes = round(float(front["spokes"][row]))
    held_by = "round holes" if str(front["hold"][row]) == "holes" else "spokes"
    wider = f"a wider {named}"
    possible = error.least < error.most
    return Problem(
        file=str(folder / STUDY),
        key=key,
        found=f"with {percent(share)} blocked, no hub with {spokes} {held_by} fits between the "
        f"{quantity('shaft_diameter', shaft)} shaft and the {quantity(inner, bore)} {named} "
        f"of design {int(front['design'][row])}",
        expected=f"{percent(error.least)} to {percent(error.most)}" if possible else wider,
        remedy=f"change {COLUMNS[key].label.lower()} in the study and run it again, or build a "
        f"design with {wider}",
    )
