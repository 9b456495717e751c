"""From a run folder to the build sheet or the bench plan of one of its designs."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from engine import __version__
from engine.bench.readings import bench_readings, locked_readings
from engine.bench.telling import telling_test
from engine.columns import COLUMNS
from engine.errors import Problem, StudyError
from engine.run.chosen import ended_front, lettered, row_named
from engine.run.folder import STUDY, read_state
from engine.run.pick import ROLES, picks_of
from engine.run.read import study_of_run
from engine.study.kinds import refuse_pump
from reports.design.as_made import as_made
from reports.design.drawings.dxf import DXF_VERSION
from reports.design.facts import BuildData
from reports.design.outlines import NoWebError
from reports.design.plan import write_plan
from reports.design.sheet import write_sheet
from reports.kit.quantities import percent, quantity
from reports.run.make import refuse_other_model
from reports.run.opening import date_text
from reports.run.search_facts import Table

Made = TypeVar("Made", str, str | bytes)
"""Content of a file."""


def sheet_of_run(
    folder: Path, design: str, *, dxf: str = DXF_VERSION
) -> tuple[int, Mapping[str, str | bytes]]:
    """Make the files of a design's build sheet, DXF in this version; see `design_of_run`."""
    _refuse(folder, "build draws no pumps yet")
    return design_of_run(folder, design, partial(write_sheet, dxf=dxf))


def plan_of_run(folder: Path, design: str) -> tuple[int, Mapping[str, str]]:
    """Make the files of a design's bench plan; see `design_of_run`."""
    _refuse(folder, "plan-test plans no tests of pumps yet")

    def write(data: BuildData) -> Mapping[str, str]:
        telling = telling_test(data.study, data.front, data.row)
        return write_plan(replace(data, telling=telling))

    return design_of_run(folder, design, write)


def _refuse(folder: Path, found: str) -> None:
    """Raise StudyError for the run of a pump."""
    read_state(folder)
    remedy = "the run's report and `swirlstack point` have the numbers of every design"
    refuse_pump(study_of_run(folder)[0], str(folder), found, remedy)


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
        Where the design is not on the front, or its disc cannot be drawn.
    """
    provenance, state = read_state(folder)
    refuse_other_model(folder, provenance)
    study, _ = study_of_run(folder)
    front = ended_front(folder)
    row = row_named(folder, design, study, front)
    picks = picks_of(study, front)
    roles = picks.rows if picks else {}
    try:
        made, rounding = as_made(study, front, row)
        data = BuildData(
            study=study,
            front=made,
            row=row,
            letter=lettered(study, front).get(row, ""),
            roles=tuple(role for role in ROLES if roles.get(role) == row),
            readings=bench_readings(study, made, row),
            locked=locked_readings(study, made, row),
            provenance={
                "Study hash": provenance.study_hash[:16],
                "Run": f"{folder.name}, started {date_text(state.started)}",
                "Program": f"swirlstack {__version__}, model version {provenance.model_version}",
            },
            rounding=rounding,
        )
        return int(front["design"][row]), write(data)
    except NoWebError as error:
        raise StudyError([_no_web(folder, front, row, error)]) from error


def _no_web(folder: Path, front: Table, row: int, error: NoWebError) -> Problem:
    bore, shaft, share = (
        float(front[key][row]) for key in ("exhaust_bore", "shaft_diameter", "exhaust_blockage")
    )
    key, spokes = "exhaust_blockage", round(float(front["spokes"][row]))
    held_by = "round holes" if str(front["hold"][row]) == "holes" else "spokes"
    possible = error.least < error.most
    return Problem(
        file=str(folder / STUDY),
        key=key,
        found=f"with {percent(share)} blocked, no hub with {spokes} {held_by} fits between the "
        f"{quantity('shaft_diameter', shaft)} shaft and the {quantity('exhaust_bore', bore)} bore "
        f"of design {int(front['design'][row])}",
        expected=f"{percent(error.least)} to {percent(error.most)}" if possible else "a wider bore",
        remedy=f"change {COLUMNS[key].label.lower()} in the study and run it again, or build a "
        "design with a wider bore",
    )
