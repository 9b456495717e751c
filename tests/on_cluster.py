"""Run a study on a local cluster of two worker processes, one of which is killed on the way."""

import os
import signal
import sys
import threading
from pathlib import Path
from typing import Any

from distributed import LocalCluster

from engine import api


def main(study: str, folder: str, kill_after: int) -> None:
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as cluster:
        killed: list[int] = []

        def kill(now: Any) -> None:
            if now.designs >= kill_after and not killed:
                killed.append(cluster.workers[0].pid)
                # A little later, so that chunks of the next generation are on their way.
                threading.Timer(0.03, os.kill, (killed[0], signal.SIGKILL)).start()

        outcome = api.run(study, Path(folder), kill, cluster=cluster.scheduler_address)
        print(outcome.state.state, len(killed))  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
