"""A run of the stand-in on worker processes, one of which is killed during the run if asked."""

import os
import sys
import time
from collections.abc import Mapping
from concurrent.futures import wait
from multiprocessing import active_children, parent_process
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.run.log import Progress
from engine.run.runner import run
from engine.run.workers import Workers
from engine.study.study import Study
from tests.support.standin import evaluate, study_of


def slowly(study: Study, builds: Mapping[str, NDArray[Any]]) -> dict[str, NDArray[Any]]:
    time.sleep(0.01)
    return dict(evaluate(study, builds))


def fatal(study: Study, builds: Mapping[str, NDArray[Any]]) -> dict[str, NDArray[Any]]:
    if parent_process() is not None:
        os._exit(1)  # as a process ends that the system kills for its memory
    return dict(evaluate(study, builds))


class Waiting(Workers):
    """Wait until all workers are ready, so that they have a share."""

    def __call__(self, study: Study, builds: Builds) -> Results:
        results = super().__call__(study, builds)
        wait(self._starting)
        return results


def main(path: str, count: str, how: str) -> None:
    study, text = study_of(800)
    killed: list[int] = []

    def told(now: Progress) -> None:
        print(now.designs, *(child.pid for child in active_children()), flush=True)  # noqa: T201
        if how == "killed" and now.designs in (120, 400):
            killed.append(now.designs)
            active_children()[0].kill()

    evaluated, at_once = fatal if how == "fatal" else slowly, how == "killed"
    with Waiting(text, int(count), evaluated, at_once=at_once) as workers:
        outcome = run(
            study=study,
            study_text=text,
            path=Path(path),
            evaluate=workers,
            model_version=1,
            part_designs=80,
            progress=told,
        )
    print(outcome.state.state, len(killed))  # noqa: T201


if __name__ == "__main__":
    from tests.support import on_workers  # what a worker evaluates is found in a module

    on_workers.main(*sys.argv[1:])
