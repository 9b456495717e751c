"""Run a study on a local cluster of two worker processes, and end some of it during the run."""

import os
import signal
import sys
import threading
from pathlib import Path

from distributed import LocalCluster

from engine.errors import WorkerError
from engine.model.version import MODEL_VERSION
from engine.run.cluster import Cluster
from engine.run.log import Progress
from engine.run.runner import run
from engine.study.reader import parse_study


def main(study: str, folder: str, lose_after: int, lost: str) -> None:
    """End `lost`: one worker ('worker'), all workers for good ('workers') or the 'scheduler'."""
    text = Path(study).read_text(encoding="utf-8")
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as local:
        done: list[int] = []

        def lose(now: Progress) -> None:
            if now.designs < lose_after or done:
                return
            done.append(now.designs)
            if lost == "worker":
                # A little later, so that chunks of the next generation have been sent.
                threading.Timer(0.03, os.kill, (local.workers[0].pid, signal.SIGKILL)).start()
            elif lost == "workers":
                local.scale(0)
            else:
                local.sync(local.scheduler.close)

        with Cluster(text, local.scheduler_address, patience=3.0) as cluster:
            try:
                outcome = run(
                    study=parse_study(text, study),
                    study_text=text,
                    path=Path(folder),
                    evaluate=cluster,
                    model_version=MODEL_VERSION,
                    part_designs=200,
                    progress=lose,
                )
            except WorkerError as error:
                print(error, flush=True)  # noqa: T201
                os._exit(0)  # the rest of the cluster would take long to give up
        print(outcome.state.state, len(done))  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]), sys.argv[4])
