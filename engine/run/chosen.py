"""The design of a run that a command names: by its number, a mark or a letter of the report."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from engine.columns import Results, base_key
from engine.errors import NothingFeasibleError, Problem, RunFolderError, StudyError
from engine.run.folder import FRONT, STUDY, read_front, read_state
from engine.run.pick import marked, picks_of
from engine.run.read import study_of_run
from engine.study.reader import parse_study
from engine.study.study import Study
from engine.study.written import value_text

LETTERS = "ABC"
"""Marks of the candidates in charts, tables and sentences."""
NEAREST = 5
"""Number of designs named where the one asked for is not on the front."""


def ended_front(folder: Path) -> Results:
    """Front of a run that has one.

    Raises
    ------
    RunFolderError
        Where it is no run folder, is damaged, or has no front yet.
    NothingFeasibleError
        Where no design of the run meets every limit.
    """
    _, state = read_state(folder)
    front = read_front(folder)
    if front:
        return front
    if state.state == "running":
        msg = f"{folder}: has no front yet; give the run's command again and let it finish"
        raise RunFolderError(msg)
    msg = f"{folder}: no design of this run meets every limit; its report shows the closest"
    raise NothingFeasibleError(msg)


def lettered(study: Study, front: Results) -> dict[int, str]:
    """Letter of each row that has one."""
    rows = dict.fromkeys(marked(study, front).values())
    return dict(zip(rows, LETTERS, strict=False))


def row_named(folder: Path, design: str, study: Study, front: Results) -> int:
    """Row of a front by its design's number, by a role such as pick, or by a letter.

    Raises StudyError where there is none of that name.
    """
    picks = picks_of(study, front)
    roles = {} if picks is None else dict(picks.rows)
    if base_key(list(study.aims)[1]) != "safety_margin":
        roles.pop("safest", None)  # the best by the second aim, which may be the first to fail
    rows = {str(number): row for row, number in enumerate(front["design"].astype(int).tolist())}
    rows |= {letter.lower(): row for row, letter in lettered(study, front).items()}
    rows |= roles
    word = design.strip().lower()
    if word in rows:
        return rows[word]
    numbers = np.sort(front["design"].astype(int))
    names = [name for name in rows if not name.isdecimal()]
    near, remedy = numbers[:NEAREST], "give one of these, as the report's table shows them"
    if word.isdecimal():
        near = np.sort(numbers[np.argsort(np.abs(numbers - int(word)), kind="stable")[:NEAREST]])
    told = ", ".join(map(str, near))
    marks = sorted((name.upper() if len(name) == 1 else name for name in names), key=len)
    problem = Problem(
        file=str(folder / FRONT),
        found=f"design {design} is not on the front of {len(numbers)}",
        expected=f"a number such as {told} or one of {', '.join(marks)}",
        remedy=remedy,
    )
    raise StudyError([problem])


def as_texts(study: Study, front: Results, row: int) -> dict[str, str]:
    """Write what is searched of one design as a study file does, by key.

    A speed that settles is left out: it follows from the rest, also where that is changed.
    """
    keys = [key for key in study.searched() if not (key == "speed" and study.speed_settles)]
    return {key: value_text(key, front[key][row]) for key in keys}


def values_of_design(
    folder: Path, given: list[str], supply: Mapping[str, str] | None = None
) -> tuple[Study, list[str]]:
    """Study of a run, and one of its designs as texts KEY=VALUE.

    `given` names the design, usually the pick, and then texts KEY=VALUE that change it. `supply`
    holds texts that replace those of the supply: the design stays, the study changes.
    """
    is_named = bool(given) and "=" not in given[0]
    design, changes = given[0] if is_named else "pick", given[is_named:]
    study, text = study_of_run(folder)
    front = ended_front(folder)
    texts = as_texts(study, front, row_named(folder, design, study, front))
    changed = {change.partition("=")[0].strip() for change in changes}
    kept = [f"{key}={text}" for key, text in texts.items() if key not in changed]
    if supply:
        study = parse_study(text, str(folder / STUDY), supply)
    return study, [*kept, *changes]
