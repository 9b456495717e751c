"""From a study and its bench logs to the fit file and its pages."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path

from engine.bench.averaging import averaged
from engine.bench.coast_down import fit_coast_down
from engine.bench.fit import BenchFit, fit_log
from engine.bench.gate import refuse_unexplained
from engine.bench.generator_test import fit_generator_test
from engine.bench.log import BenchLog, read_logs
from engine.bench.log_tests import STEADY
from engine.bench.tap_test import fit_tap_test
from engine.bench.together import disagreements, together, with_fit
from engine.bench.trip_test import fit_trip
from engine.errors import Problem, StudyError
from engine.model.version import MODEL_VERSION
from engine.study.fit import Fit
from engine.study.fit_file import fit_text
from engine.study.reader import read_study
from engine.study.study import Study
from reports.fit.page import Found, fitted_lines, held_lines, known_lines, write_fit_page

MOST_TOLD = 20
"""Lines of one kind that are told in the terminal."""


@dataclass(frozen=True)
class FitFiles:
    """What a fit writes."""

    text: str
    """Of the fit file."""
    pages: dict[Path, str]
    """Page of each log; of each test, where a log holds several."""


def fit_of_logs(
    study_path: Path, logs: Sequence[Path], say: Callable[[str], None] = lambda _: None
) -> FitFiles:
    """Fit logs one after the other, each with what is known by then; raises StudyError.

    A log that is in the fit already is left out and named. `say` is told lines as the work goes on.
    """
    study = read_study(study_path)
    fit_name = f"{logs[0].stem}.fit.yaml"
    pages: dict[Path, str] = {}
    held: list[str] = []
    titles: list[str] = []
    names: list[str] = []
    for path in logs:
        tests = read_logs(path, study)
        sha = sha256(path.read_bytes()).hexdigest()
        if study.fit is not None and sha in study.fit.logs.values():
            say(f"{path}: is in the fit already, and is left out")
            continue
        for log in tests:
            found, fit = _fitted(study, log, sha, say)
            page = path if len(tests) == 1 else path.with_stem(f"{path.stem}.{log.test}")
            pages[page] = write_fit_page(study, found, fit_name)
            held = [" ".join(line.split()) for line in held_lines(found)]
            for line in (*disagreements(study.fit, fit), *known_lines(study.fit, fit)):
                say(line)
            study = with_fit(study, fit)
        titles.append(tests[0].title)
        names.append(path.name)
    if not pages or study.fit is None:
        remedy = "name a log that the study's fit does not hold yet"
        problem = Problem(file=str(logs[0]), found="nothing is left to fit", remedy=remedy)
        raise StudyError([problem])
    text = fit_text(
        study.fit,
        title=", ".join(titles),
        study=study_path.name,
        log=", ".join(names),
        model_version=MODEL_VERSION,
        held=held,
    )
    return FitFiles(text, pages)


def _fitted(study: Study, log: BenchLog, sha: str, say: Callable[[str], None]) -> tuple[Found, Fit]:
    """Fit one test; its result, and the fit of it and all logs before."""
    n_out = len(log.excluded)
    kind = (
        ""
        if log.test == STEADY
        else f" of a {log.test} test"
        if log.is_trip or log.is_generator_test
        else f" of a {log.test}"
    )
    say(f"{Path(log.file).name}: {len(log.lines)} rows{kind} read, {n_out} left out")
    if log.n_locked:
        say(f"{log.n_locked} rows at speed 0 are taken as read with the rotor locked")
    for row in log.excluded[:MOST_TOLD]:
        say(f"line {row.line} left out: {row.reason}")
    log = log if log.is_tap_test or log.is_generator_test else averaged(log)
    for caution in log.cautions[:MOST_TOLD]:
        say(caution)
    found: Found
    if log.is_tap_test:
        found = fit_tap_test(study, log)
    elif log.is_generator_test:
        found = fit_generator_test(study, log)
    elif log.is_trip:
        found = fit_trip(study, log)
    else:
        found = fit_coast_down(study, log) if log.is_coast_down else fit_log(study, log)
    if isinstance(found, BenchFit):
        cautions = refuse_unexplained(log, found.measured, found.after, found.uncertainty)
        for caution in cautions:
            say(caution)
        found = replace(found, log=replace(log, cautions=(*log.cautions, *cautions)))
    for line in fitted_lines(found):
        say(line)
    return found, together(study, found.fit, log=Path(log.file).name, sha=sha)
