"""Builds evaluated by several processes of this machine; their number does not change the results.

A generation is cut into chunks, whose results are joined in order; the result of a lane does not
depend on other lanes. This process evaluates the last share itself, and all until the workers are
ready. If a worker dies, the others are ended too, all are started again, and the unfinished chunks
are evaluated again.
"""

import logging
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import lru_cache
from multiprocessing import connection, get_context, parent_process
from pathlib import Path
from types import ModuleType, TracebackType

import numpy as np

from engine.columns import Builds, Results
from engine.errors import WorkerError
from engine.physics.compiled import n_threads
from engine.run.folded import Folded, folded, unfolded
from engine.run.generations import Evaluate
from engine.run.log import PASSED_BY
from engine.run.parquet import joined
from engine.search.space import Space
from engine.study.reader import parse_study
from engine.study.study import Study

SMALLEST_CHUNK, LARGEST_CHUNK = 32, 4096
"""Builds in a chunk; what each takes by itself is as much as evaluating 300 builds more."""
DEATHS = 3
"""Deaths in a row, with no chunk finished in between, after which a run gives up."""
FEWEST_CHEAP = 500
"""Builds that each worker must get of a study whose builds take some 20 us: fewer are evaluated
sooner by this process alone, with its threads."""
OURS = ("SWIRLSTACK_THREADS",)
THREADS = (
    *OURS,
    "NUMBA_NUM_THREADS",
    "OMP_NUM_THREADS",
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
)
"""Environment variables that set the number of threads: ours, and with those of libraries."""
ROOT = str(Path(__file__).parents[2])
"""Folder of the packages."""
LOG = logging.getLogger("swirlstack")
_WORN_OUT = (
    "workers keep dying, perhaps for lack of memory; give the same command with fewer workers:"
    f" everything stored is safe, and the run continues. If it dies there again, {PASSED_BY}"
)


class Workers:
    """Evaluate builds as `evaluate` does, in `count` processes; for use in a with block.

    One of them is this process; the others are its workers. `evaluate` is a function of a module
    that a process can import. Workers start `at_once`, or with the first builds that are worth it:
    with less than `fewest` for each process, unless their gap flow is resolved, this process
    evaluates them itself. Each reads the study once, from its text, because not all that a study
    holds can be sent to a process; each also makes its tables and fits once, for a few builds of
    its own.
    """

    def __init__(
        self,
        study_text: str,
        count: int,
        evaluate: Evaluate,
        *,
        fewest: int = 1,
        at_once: bool = False,
    ) -> None:
        self._text = study_text
        self._count = count
        self._evaluate = evaluate
        self._fewest = fewest
        self._at_once = at_once
        self._pool: ProcessPoolExecutor | None = None
        self._starting: list[Future[None]] = []
        self._is_told = False

    def __enter__(self) -> "Workers":
        """Start the processes, if they are to start at once."""
        if self._at_once and self._count > 1:
            self._pool = self._started()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End the processes."""
        self._end()

    def __call__(self, study: Study, builds: Builds) -> Results:
        """Evaluate builds of the study whose text was given.

        Raises
        ------
        WorkerError
            Where processes keep dying.
        """
        n_builds = len(next(iter(builds.values())))
        are_few = n_builds < self._fewest * self._count
        if self._count == 1 or (are_few and not np.any(builds.get("gap_flow") == "resolved")):
            return self._evaluate(study, builds)
        if self._pool is None:
            self._pool = self._started()
        if not all(each.done() for each in self._starting):
            return self._evaluate(study, builds)
        if not self._is_told:
            LOG.info("builds are evaluated by %d processes", self._count)
            self._is_told = True
        chunks = chunked(builds, self._count)
        n_theirs = len(chunks) - max(1, len(chunks) // self._count)
        theirs, ours = chunks[:n_theirs], chunks[n_theirs:]
        done: dict[int, Results] = {}
        here: list[Results] = []
        deaths = 0
        while len(done) < n_theirs or not here:
            before = len(done)
            try:
                with self._handed_out(self._pool, theirs, done):
                    if not here:
                        with _threads_each(self._threads, OURS):
                            here = [self._evaluate(study, chunk) for chunk in ours]
            except BrokenProcessPool as error:
                deaths = deaths + 1 if len(done) == before else 1
                LOG.warning("a worker died; %d chunks are evaluated again", n_theirs - len(done))
                self._end()
                if deaths == DEATHS:
                    raise WorkerError(_WORN_OUT) from error
                self._pool = self._started()
        return joined([*(done[number] for number in range(n_theirs)), *here])

    @contextmanager
    def _handed_out(
        self, pool: ProcessPoolExecutor, chunks: list[Builds], done: dict[int, Results]
    ) -> Iterator[None]:
        """Let workers evaluate the chunks that are not done, until the end of the block.

        Finished chunks are kept if a process dies.
        """
        open_: dict[int, Future[Folded]] = {}
        try:
            for number, chunk in enumerate(chunks):
                if number not in done:
                    open_[number] = self._handed(pool, chunk)
            yield
            for number, future in open_.items():
                done[number] = unfolded(future.result())
        finally:
            for number, future in open_.items():
                kept = number not in done and future.done() and not future.cancelled()
                if kept and future.exception() is None:
                    done[number] = unfolded(future.result())

    def _started(self) -> ProcessPoolExecutor:
        """Start the workers, and let each become ready."""
        # Spawned, not forked: a fork of a process with threads may hang.
        pool = ProcessPoolExecutor(self._count - 1, get_context("spawn"), _prepare)
        with _threads_each(self._threads, THREADS), _clean_start():
            self._starting = [
                pool.submit(_made_ready, self._text, self._evaluate) for _ in range(self._count - 1)
            ]
        return pool

    def _handed(self, pool: ProcessPoolExecutor, builds: Builds) -> Future[Folded]:
        return pool.submit(_evaluated, self._text, self._evaluate, folded(builds))

    @property
    def _threads(self) -> int:
        """Threads of each process."""
        return max(1, n_threads() // self._count)

    def _end(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None


def fewest_for(study: Study) -> int:
    """Give the number of builds that each worker must get at a time to be worth its while."""
    is_slow = study.search.robust or study.search.flow == "resolved"
    return SMALLEST_CHUNK if is_slow else FEWEST_CHEAP


def starts_at_once(study: Study, count: int) -> bool:
    """Whether a search gives so many processes enough builds at a time from the start."""
    return study.search.generation >= fewest_for(study) * count


def chunked(builds: Builds, n_workers: int) -> list[Builds]:
    """Cut builds into chunks: one for each worker, unless these would be too short or too long."""
    n_builds = len(next(iter(builds.values())))
    size = min(max(-(-n_builds // n_workers), SMALLEST_CHUNK), LARGEST_CHUNK)
    return [
        {key: values[first : first + size] for key, values in builds.items()}
        for first in range(0, n_builds, size)
    ]


@lru_cache(maxsize=1)
def study_of_text(text: str) -> Study:
    """Study of a text, kept for the next chunk."""
    return parse_study(text, "study.yaml")


def _evaluated(text: str, evaluate: Evaluate, builds: Folded) -> Folded:
    return folded(evaluate(study_of_text(text), unfolded(builds)))


def _made_ready(text: str, evaluate: Evaluate) -> None:
    """Read the study, and make what its builds need, by evaluating some."""
    study = study_of_text(text)
    space = Space.of(study)
    evaluate(study, space.builds(space.draw(SMALLEST_CHUNK, np.random.default_rng(0))))


def _prepare() -> None:
    """Leave Ctrl-C to the parent process, and end when it ends in any way."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


@contextmanager
def _clean_start() -> Iterator[None]:
    """Let processes started meanwhile find these packages first, and not run the user's script.

    A file `engine.py` beside the script would hide the package; and the script, which a process
    started this way runs as well, would begin its run once more.
    """
    script = sys.modules["__main__"]
    sys.path.insert(0, ROOT)
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = script
        sys.path.remove(ROOT)


@contextmanager
def _threads_each(count: int, names: Sequence[str]) -> Iterator[None]:
    """Set variables to this many threads meanwhile, also for each process that is started."""
    before = {name: os.environ.get(name) for name in names}
    os.environ.update(dict.fromkeys(names, str(count)))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
