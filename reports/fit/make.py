"""From a study and a bench log to the fit file and its page."""

from pathlib import Path

from engine.bench.coast_down import fit_coast_down
from engine.bench.fit import fit_log
from engine.bench.log import read_log
from engine.model.version import MODEL_VERSION
from engine.study.fit_file import fit_text
from engine.study.reader import read_study
from reports.fit.page import fitted_lines, held_lines, write_fit_page


def fit_of_log(study_path: Path, log_path: Path) -> tuple[list[str], str, str]:
    """Fit a log; gives lines for the terminal, text of the fit file, and page, or a StudyError."""
    study = read_study(study_path)
    log = read_log(log_path, study)
    found = fit_coast_down(study, log) if log.is_coast_down else fit_log(study, log)
    text = fit_text(
        found.fit.after(study.fit),
        title=log.title,
        study=study_path.name,
        log=log_path.name,
        model_version=MODEL_VERSION,
        held=[" ".join(line.split()) for line in held_lines(found)],
    )
    n_out = len(found.log.excluded)
    lines = [f"{len(log.lines)} rows read, {n_out} left out"]
    if log.n_locked:
        lines.append(f"{log.n_locked} rows at speed 0 are taken as read with the rotor locked")
    lines += [f"line {row.line} left out: {row.reason}" for row in log.excluded[:20]]
    lines += [*log.cautions[:20], *fitted_lines(found)]
    return lines, text, write_fit_page(study, found, f"{log_path.stem}.fit.yaml")
