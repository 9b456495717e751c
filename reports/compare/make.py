"""From run folders to the page that compares them."""

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from engine.errors import Problem, StudyError
from engine.model.lanes import rows_of
from engine.run.folder import read_state
from engine.run.pick import on_front
from reports.compare.cautions import summary
from reports.compare.facts import RunOfMany, compared
from reports.compare.page import MOST_RUNS, write_comparison
from reports.run.make import data_of_run


def comparison_of_runs(folders: Sequence[Path]) -> tuple[str, tuple[str, ...]]:
    """Make the page that compares runs, as text, and the sentences for the terminal.

    Raises
    ------
    RunFolderError
        Where a folder is no run folder, or is damaged.
    StudyError
        Where there are too few or too many of them.
    """
    given = list(dict.fromkeys(folder.resolve() for folder in folders))
    if not 2 <= len(given) <= MOST_RUNS:
        found = f"{len(given)} different run{'' if len(given) == 1 else 's'}"
        expected = f"2 to {MOST_RUNS}"
        raise StudyError(
            [Problem(file="compare", found=found, expected=expected, remedy="name their folders")]
        )
    runs = [_run(*each) for each in zip(given, _names(given), strict=True)]
    refuse_mixed(runs)
    comparison = compared(runs)
    return write_comparison(comparison), summary(comparison)


def refuse_mixed(runs: Sequence[RunOfMany]) -> None:
    """Raise StudyError where runs are of turbines, of pumps or of blowers: nothing compares."""
    kinds = list(dict.fromkeys(run.study.works_as for run in runs))
    if len(kinds) > 1:
        found = f"runs of {' and of '.join(f'{each}s' for each in kinds)}"
        remedy = "compare those of one kind"
        raise StudyError([Problem(file="compare", found=found, remedy=remedy)])


def _names(folders: Sequence[Path]) -> list[str]:
    """Find the shortest names that differ: of the folders, or with their parent folders."""
    alike = Counter(folder.name for folder in folders)
    return [
        folder.name if alike[folder.name] == 1 else f"{folder.parent.name}/{folder.name}"
        for folder in folders
    ]


def _run(folder: Path, name: str) -> RunOfMany:
    provenance, state = read_state(folder)
    data = data_of_run(folder, in_depth=False)
    found = len(data.front["design"]) > 0
    return RunOfMany(
        name=name,
        study=data.study,
        state=state.state,
        designs=state.designs,
        budget=state.budget,
        model_version=provenance.model_version,
        study_hash=provenance.study_hash,
        # Fronts are weighed as drawn, so that a run with a firm front has no advantage.
        front=rows_of(dict(data.front), on_front(data.front, "nominal")) if found else {},
    )
