"""Run a study on a local cluster of two worker processes, and end some of it during the run."""

import os
import signal
import sys
import threading
from pathlib import Path

from distributed import LocalCluster

from engine.columns import Results
from engine.errors import WorkerError
from engine.model.version import MODEL_VERSION
from engine.run.cluster import Cluster
from engine.run.log import Progress
from engine.run.runner import run
from engine.study.reader import parse_study
from engine.study.study import Study


def main(study: str, folder: str, lose_after: int) -> None:
    """Run once for each loss: one worker, all workers for good, the scheduler; tell how each ends.

    Each run has a folder named after what it loses.
    """
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as local:
        for lost in ("worker", "workers", "scheduler"):
            local.scale(2)
            local.wait_for_workers(2)
            ended = run_and_lose(local, Path(study), Path(folder), lose_after, lost)
            print(f"{lost}: {ended}")  # noqa: T201
        sys.stdout.flush()
        os._exit(0)  # the rest of the cluster would take long to give up


def unjudged(study: Study, front: Results) -> Results:
    """Leave a front as it is: a cluster has no part in judging it, which takes long."""
    return {key: values for key, values in front.items() if key != "resolved_difference"}


def run_and_lose(local: LocalCluster, study: Path, folder: Path, lose_after: int, lost: str) -> str:
    """State of the run and number of losses, or what stopped it."""
    text = study.read_text(encoding="utf-8")
    done: list[int] = []

    def lose(now: Progress) -> None:
        if now.designs < lose_after or done:
            return
        done.append(now.designs)
        if lost == "worker":
            # A little later, so that chunks of the next generation have been sent.
            threading.Timer(0.03, os.kill, (local.workers[0].pid, signal.SIGKILL)).start()
        elif lost == "workers":
            local.scale(0)  # type: ignore[no-untyped-call]
        else:
            local.sync(local.scheduler.close)  # type: ignore[no-untyped-call,union-attr]

    try:
        with Cluster(text, local.scheduler_address, patience=3.0) as cluster:
            outcome = run(
                study=parse_study(text, str(study)),
                study_text=text,
                path=folder / lost,
                evaluate=cluster,
                model_version=MODEL_VERSION,
                part_designs=200,
                progress=lose,
                recheck=unjudged,
            )
    except WorkerError as error:
        return str(error)
    return f"{outcome.state.state} {len(done)}"


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
