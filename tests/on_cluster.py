"""Run a study on a local cluster of two worker processes, one of which is killed on the way."""

import os
import signal
import sys
import threading
from pathlib import Path

from distributed import LocalCluster

from engine.cluster import Cluster
from engine.model import MODEL_VERSION
from engine.runlog import Progress
from engine.runner import run
from engine.studyfile import parse_study


def main(study: str, folder: str, kill_after: int) -> None:
    text = Path(study).read_text(encoding="utf-8")
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as local:
        killed: list[int] = []

        def kill(now: Progress) -> None:
            if now.designs >= kill_after and not killed:
                killed.append(local.workers[0].pid)
                # A little later, so that chunks of the next generation are on their way.
                threading.Timer(0.03, os.kill, (killed[0], signal.SIGKILL)).start()

        with Cluster(text, local.scheduler_address) as cluster:
            outcome = run(
                study=parse_study(text, study),
                study_text=text,
                path=Path(folder),
                evaluate=cluster,
                model_version=MODEL_VERSION,
                progress=kill,
            )
        print(outcome.state.state, len(killed))  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
