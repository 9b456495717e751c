"""The fit that a study names: put into the study's text, so that a frozen copy holds it."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from engine import units
from engine.errors import Problem, StudyError
from engine.fitfile import fit_of, inline, read_fit
from engine.fitted import Fit
from engine.studytext import StudyText, read_lines, read_text, with_value

KEYS = ("machine", "fit")
HELP = "name the file that `swirlstack fit` wrote, beside the study or in a folder below it"


def read_study_text(path: Path) -> str:
    """Text of a study file, with the values of the fit it names in place of the name.

    Raises
    ------
    StudyError
        Where study or fit cannot be read, or the fit lies outside the study's folder.
    """
    text = read_text(path)
    read = read_lines(text, str(path))
    named = _machine(read.texts).get("fit")
    if not isinstance(named, str):
        return text
    file = _beside(path, named, read.lines[KEYS])
    read_fit(file)
    return with_value(text, KEYS, inline(read_lines(read_text(file), str(file)).texts))


def take_fit(read: StudyText, file: str) -> tuple[dict[str, Any], Fit | None, list[Problem]]:
    """Sections of a study with its fit's values under machine, the fit, and what is wrong."""
    given = _machine(read.texts)
    if "fit" not in given:
        return dict(read.texts), None, []
    plain = {key: value for key, value in given.items() if key != "fit"}
    texts = {**read.texts, "machine": plain}
    named = given["fit"]
    if not isinstance(named, dict):
        found = f"{units.shorten(named)} is not read here"
        return texts, None, [Problem(file, read.lines[KEYS], "machine.fit", found, "", HELP)]
    fit, problems = fit_of(named, read, file, KEYS)
    if fit is None:
        return texts, None, problems
    for key in fit.values:
        ranges = read.texts.get("ranges")
        home = "machine" if key in plain else "ranges"
        if key in plain or (isinstance(ranges, dict) and key in ranges):
            line = read.lines[home, key]
            remedy = "take it out, or out of the fit"
            problems.append(
                Problem(file, line, f"{home}.{key}", "stands in the fit too", "", remedy)
            )
    coefficients: Any = named["coefficients"]
    fitted = {key: coefficients[key]["value"] for key in fit.values}
    return {**texts, "machine": {**fitted, **plain}}, fit, problems


def _machine(texts: Mapping[str, Any]) -> Mapping[str, Any]:
    found = texts.get("machine")
    return found if isinstance(found, dict) else {}


def _beside(path: Path, name: str, line: int) -> Path:
    """Find the fit file, in the study's folder and not outside it, whatever links there are."""
    folder = path.parent.resolve()
    try:
        file = (folder / name).resolve()
        inside = file.is_relative_to(folder)
    except (OSError, ValueError, RuntimeError):
        inside, file = False, folder
    if not inside or Path(name).is_absolute():
        found = f"{units.shorten(name)} lies outside the study's folder"
        raise StudyError([Problem(str(path), line, "machine.fit", found, "", HELP)])
    if not file.is_file():
        found = f"there is no file {units.shorten(name)} beside the study"
        raise StudyError([Problem(str(path), line, "machine.fit", found, "", HELP)])
    return path.parent / name
