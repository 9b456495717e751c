"""Starts the run of a study file: where builds are evaluated, and where results are stored."""

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from engine.bands.results import evaluate_judged, weighed
from engine.columns import Results
from engine.model.evaluation import with_recheck
from engine.model.version import MODEL_VERSION
from engine.run import runner
from engine.run.finish import finished
from engine.run.folder import run_name
from engine.run.generations import Evaluate
from engine.run.halves import in_halves
from engine.run.log import Progress
from engine.run.workers import Workers, fewest_for, starts_at_once
from engine.study.fit_file import read_study_text
from engine.study.reader import parse_study
from engine.study.study import Study


def run_study(
    study_path: str | Path,
    folder: str | Path | None = None,
    progress: Callable[[Progress], None] = lambda _: None,
    *,
    workers: int = 1,
    cluster: str = "",
    closer_is_ready: Callable[[], object] = lambda: None,
) -> runner.Outcome:
    """Search a study and store everything in a run folder: runs/NAME unless another is given.

    After a stop, the same call continues the run. Builds are evaluated in this process, in several
    worker processes (`workers`), or by the workers of the Dask scheduler at the address `cluster`;
    the results are the same. `closer_is_ready` is called before the closer level is needed. Raises
    StudyError, RunFolderError, StorageError, WorkerError.
    """
    path = Path(study_path)
    text = read_study_text(path)
    study = parse_study(text, str(path))

    def rechecked(study: Study, front: Results) -> Results:
        closer_is_ready()
        return with_recheck(study, front)

    with _evaluator(study, text, workers, cluster) as evaluator:
        return runner.run(
            study=study,
            study_text=text,
            path=Path(folder) if folder is not None else Path("runs") / run_name(path),
            evaluate=evaluator,
            model_version=MODEL_VERSION,
            recheck=rechecked,
            finish=finished,
            weigh=weighed,
            progress=progress,
        )


def _evaluator(
    study: Study, text: str, workers: int, cluster: str
) -> AbstractContextManager[Evaluate]:
    if cluster:
        from engine.run.cluster import Cluster  # noqa: PLC0415  (dask takes a second to load)

        return Cluster(text, cluster)
    if workers == 1:
        return nullcontext(in_halves(evaluate_judged))
    return Workers(
        text,
        workers,
        evaluate_judged,
        fewest=fewest_for(study),
        at_once=starts_at_once(study, workers),
    )
