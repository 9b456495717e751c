"""From a run folder to the build sheet or the bench plan of one of its designs."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from engine import __version__
from engine.bench.readings import bench_readings, locked_readings
from engine.bench.telling import telling_test
from engine.columns import COLUMNS
from engine.errors import NothingFeasibleError, Problem, RunFolderError, StudyError
from engine.run.folder import FRONT, STUDY, read_front, read_state
from engine.run.pick import ROLES, marked, picks_of
from engine.run.read import study_of_run
from reports.design.drawing import DXF_VERSION
from reports.design.facts import BuildData
from reports.design.outlines import NoWebError
from reports.design.plan import write_plan
from reports.design.sheet import write_sheet
from reports.kit.quantities import percent, quantity
from reports.run.make import refuse_other_model
from reports.run.opening import date_text
from reports.run.search_facts import Table

LETTERS = "ABC"
"""Marks of the builds of `engine.run.pick.marked`, as older reports show them."""
NEAREST = 5
"""Number of designs named where the one asked for is not on the front."""


def sheet_of_run(
    folder: Path, design: str, *, dxf: str = DXF_VERSION
) -> tuple[int, Mapping[str, str]]:
    """Make the files of a design's build sheet, DXF in this version; see `design_of_run`."""
    return design_of_run(folder, design, partial(write_sheet, dxf=dxf))


def plan_of_run(folder: Path, design: str) -> tuple[int, Mapping[str, str]]:
    """Make the files of a design's bench plan; see `design_of_run`."""

    def write(data: BuildData) -> Mapping[str, str]:
        telling = telling_test(data.study, data.front, data.row)
        return write_plan(replace(data, telling=telling))

    return design_of_run(folder, design, write)


def design_of_run(
    folder: Path, design: str, write: Callable[[BuildData], Mapping[str, str]]
) -> tuple[int, Mapping[str, str]]:
    """Find a design of a run; gives its number, and the files that `write` makes of it by name.

    `design` is its number in the report's table, or A, B, C, most, knee, safest or carrying.

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
    front = read_front(folder)
    if not front:
        if state.state == "running":
            msg = f"{folder}: has no front yet; give the run's command again and let it finish"
            raise RunFolderError(msg)
        msg = f"{folder}: no design of this run meets every limit; its report shows the closest"
        raise NothingFeasibleError(msg)
    picks = picks_of(study, front)
    roles = picks.rows if picks else {}
    letters = dict(zip(dict.fromkeys(marked(study, front).values()), LETTERS, strict=False))
    row = _row_of(folder, design, front, roles, letters)
    data = BuildData(
        study=study,
        front=front,
        row=row,
        letter=letters.get(row, ""),
        roles=tuple(role for role in ROLES if roles.get(role) == row),
        readings=bench_readings(study, front, row),
        locked=locked_readings(study, front, row),
        provenance={
            "Study hash": provenance.study_hash[:16],
            "Run": f"{folder.name}, started {date_text(state.started)}",
            "Program": f"swirlstack {__version__}, model version {provenance.model_version}",
        },
    )
    try:
        return int(front["design"][row]), write(data)
    except NoWebError as error:
        raise StudyError([_no_web(folder, front, row, error)]) from error


def _row_of(
    folder: Path,
    design: str,
    front: Table,
    roles: Mapping[str, int],
    letters: Mapping[int, str],
) -> int:
    word = design.strip().lower()
    rows = {str(number): row for row, number in enumerate(front["design"].astype(int).tolist())}
    rows |= {letter.lower(): row for row, letter in letters.items()}
    rows |= {str(role): row for role, row in roles.items()}
    if word in rows:
        return rows[word]
    numbers = np.sort(front["design"].astype(int))
    names = [name for name in rows if not name.isdecimal()]
    near, remedy = numbers[:NEAREST], "give one of these, as the report's table shows them"
    if word.isdecimal():
        near = np.sort(numbers[np.argsort(np.abs(numbers - int(word)), kind="stable")[:NEAREST]])
    told = ", ".join(map(str, near))
    marks = sorted((name.upper() if len(name) == 1 else name for name in names), key=len)
    named = f" or one of {', '.join(marks)}" if marks else ""
    raise StudyError(
        [
            Problem(
                file=str(folder / FRONT),
                found=f"design {design} is not on the front of {len(numbers)}",
                expected=f"a number such as {told}{named}",
                remedy=remedy,
            )
        ]
    )


def _no_web(folder: Path, front: Table, row: int, error: NoWebError) -> Problem:
    bore, shaft, share = (
        float(front[key][row]) for key in ("exhaust_bore", "shaft_diameter", "exhaust_blockage")
    )
    key, spokes = "exhaust_blockage", round(float(front["spokes"][row]))
    possible = error.least < error.most
    return Problem(
        file=str(folder / STUDY),
        key=key,
        found=f"with {percent(share)} blocked, no hub with {spokes} spokes fits between the "
        f"{quantity('shaft_diameter', shaft)} shaft and the {quantity('exhaust_bore', bore)} bore "
        f"of design {int(front['design'][row])}",
        expected=f"{percent(error.least)} to {percent(error.most)}" if possible else "a wider bore",
        remedy=f"change {COLUMNS[key].label.lower()} in the study and run it again, or build a "
        "design with a wider bore",
    )
