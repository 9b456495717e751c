"""Builds evaluated by the workers of a Dask scheduler. Only this module uses dask.

Chunks are joined in order, so the results are those of one process. If a worker is lost the
scheduler gives its chunks to another worker. A worker with another version of the model is refused.
"""

import asyncio
import logging
import time
from concurrent.futures import CancelledError
from functools import partial
from typing import TYPE_CHECKING, Any

from engine.bands.results import evaluate_judged
from engine.columns import Builds, Results
from engine.errors import WorkerError
from engine.model.version import MODEL_VERSION
from engine.run.parquet import joined
from engine.run.workers import chunked, study_of_text
from engine.study.reader import study_text_hash
from engine.study.study import Study

if TYPE_CHECKING:
    from types import TracebackType

PATIENCE = 30.0
"""Longest wait for the scheduler, for a first worker, and for a new one if all are lost [s]."""
CHECKED_EVERY = 1.0
"""Time between two checks that a worker is left [s]."""
LOST = 10
"""Number of workers that may be lost with the same chunk before the run gives up."""
GO_ON = "give the same command again: everything stored is safe, and the run continues"
LOG = logging.getLogger("swirlstack")


class Cluster:
    """Evaluate builds on a cluster; for use in a with block.

    Raises
    ------
    WorkerError
        Where the extra is not installed, the scheduler does not answer or has no worker, or a
        worker has another version of the model.
    """

    def __init__(self, study_text: str, address: str, patience: float = PATIENCE) -> None:
        self._text = study_text
        self._hash = study_text_hash(study_text)
        self._address = address
        self._patience = patience
        self._client: Any = None  # a Client of distributed, which is typed in part only

    def __enter__(self) -> "Cluster":
        """Connect to the scheduler, and wait for a first worker."""
        try:
            from distributed import Client  # noqa: PLC0415  (an optional extra)
        except ImportError as error:
            msg = "a cluster needs an extra package: pip install 'swirlstack[cluster]'"
            raise WorkerError(msg) from error
        try:
            client: Any = Client
            self._client = client(self._address, timeout=self._patience, set_as_default=False)
            self._client.wait_for_workers(1, timeout=self._patience)
        except (OSError, TimeoutError, ValueError) as error:
            has_answered = self._client is not None
            self._close()
            wrong = "has no worker" if has_answered else "does not answer"
            msg = f"{self._address}: the scheduler {wrong}; start it with dask scheduler, workers"
            msg += " with dask worker ADDRESS, and give its address such as tcp://192.168.1.5:8786"
            raise WorkerError(msg) from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: "TracebackType | None",
    ) -> None:
        """Disconnect; the workers stay."""
        self._close()

    def __call__(self, _: Study, builds: Builds) -> Results:
        """Evaluate builds of the study whose text was given.

        Raises
        ------
        WorkerError
            Where the scheduler is lost, all workers are lost and no new one comes in time, workers
            keep dying, or a worker has another version of the model.
        """
        from distributed import KilledWorker  # noqa: PLC0415  (an optional extra)

        if self._client is None:
            msg = "the cluster is not connected; use it in a with block"
            raise RuntimeError(msg)
        n_workers = max(1, self._cores())
        task = partial(
            _evaluated, text=self._text, study_hash=self._hash, model_version=MODEL_VERSION
        )
        try:
            futures = self._client.map(task, chunked(builds, n_workers), pure=False, retries=LOST)
            self._wait_for(futures)
            found: list[Results | str] = self._client.gather(futures)
        except KilledWorker as error:
            msg = f"{self._address}: workers keep dying, perhaps for lack of memory; {GO_ON}"
            raise WorkerError(msg) from error
        except (CancelledError, asyncio.CancelledError) as error:
            raise self._without_scheduler() from error
        except ImportError as error:
            msg = f"{self._address}: a worker has no swirlstack or another version ({error});"
            msg += " install the same version on every machine"
            raise WorkerError(msg) from error
        if wrong := sorted({each for each in found if isinstance(each, str)}):
            msg = f"{self._address}: {wrong[0]}; install the same version on every machine"
            raise WorkerError(msg)
        return joined(each for each in found if isinstance(each, dict))

    def _cores(self) -> int:
        """Count the cores of all present workers."""
        try:
            return sum(self._client.nthreads().values())
        except OSError as error:
            raise self._without_scheduler() from error

    def _without_scheduler(self) -> WorkerError:
        msg = f"{self._address}: the scheduler is lost; start it again with dask scheduler, workers"
        return WorkerError(f"{msg} with dask worker ADDRESS, and {GO_ON}")

    def _wait_for(self, futures: list[Any]) -> None:
        """Wait until everything is evaluated, but only for `patience` if no worker is left."""
        import distributed  # noqa: PLC0415  (an optional extra)

        wait: Any = distributed.wait  # typed in part only
        alone_since: float | None = None
        while True:
            try:
                with self._client.as_current():
                    wait(futures, timeout=CHECKED_EVERY)
            except TimeoutError:
                now = time.monotonic()
            else:
                return
            if self._cores():
                alone_since = None
            elif alone_since is None:
                alone_since = now
                LOG.warning("no worker is left at %s; waiting for a new one", self._address)
            elif now - alone_since > self._patience:
                msg = f"{self._address}: all workers are lost, and no new one came in"
                msg += (
                    f" {self._patience:.0f} s; start workers with dask worker ADDRESS, and {GO_ON}"
                )
                raise WorkerError(msg)

    def _close(self) -> None:
        if self._client is not None:
            self._client.close()
            self._client = None


def _evaluated(
    builds: Builds, *, text: str, study_hash: str, model_version: int
) -> dict[str, Any] | str:
    """Results of builds, or what is wrong with this worker."""
    if model_version != MODEL_VERSION:
        return f"a worker has model version {MODEL_VERSION}, but this is version {model_version}"
    if study_text_hash(text) != study_hash:
        return "a worker received another study than was sent"
    return evaluate_judged(study_of_text(text), builds)
