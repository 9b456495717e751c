"""The overnight loop: ask, evaluate, store, tell; safe to kill and to start again."""

import signal
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from engine.errors import RunFolderError
from engine.folder import CLOSEST, FRONT, Provenance, Results, RunFolder, RunState, claimed, stored
from engine.folder import joined as stacked
from engine.front import Merits, merits, nondominated
from engine.limits import MATCHED, Limits, biting, count_met, violations, with_standing
from engine.search import Mark, Search
from engine.space import Index, Space
from engine.study import Study
from engine.studyfile import study_text_hash

Evaluate = Callable[[Study, Mapping[str, NDArray[Any]]], Results]
Finish = Callable[[Study, Results], Results]

PART_DESIGNS = 10_000
"""Designs a part file holds at least, but for the last."""
CLOSEST_DESIGNS = 50
"""Designs kept where none is feasible: those with the smallest violation."""


@dataclass(frozen=True)
class Progress:
    """How a run stands after a generation."""

    designs: int
    budget: int
    feasible_share: float
    """Share of the designs that meet every limit."""
    front: int
    best: float
    """Best value of the first aim on the front [SI]; NaN before the first."""
    stage: str
    """What the search is at, '' at its end."""
    elapsed: float
    """Time since this start [s]."""
    remaining: float
    """Estimated time to the end of the search [s]."""


@dataclass(frozen=True)
class Outcome:
    """What a run came to."""

    folder: Path
    state: RunState
    exhausted: bool
    """The whole space was evaluated before the budget was used up."""
    stalled: bool
    """The search ended before the budget because the front grew no more."""
    biting: tuple[str, ...]
    """Limits that some design with an operating point missed, the most missed first."""


@dataclass
class Tally:
    """What is known of all designs so far."""

    aims: Mapping[str, str]
    limits: Limits
    designs: int = 0
    feasible: int = 0
    statuses: Counter[str] = field(default_factory=Counter)
    limits_met: Counter[str] = field(default_factory=Counter)
    fronts: dict[str, Results] = field(default_factory=dict)
    """By the level of the gap flow."""
    closest: Results = field(default_factory=dict)

    def add(self, results: Results) -> tuple[Results, Merits, NDArray[np.float64]]:
        """Count designs in; give them numbered and judged, their merits and violations."""
        merit = merits(results, self.aims)
        each = violations(results, self.limits)
        total = each.sum(axis=1) + ~np.isfinite(merit).all(axis=1)
        judged = results | {
            "design": np.arange(self.designs + 1.0, self.designs + len(total) + 1),
            "feasible": (total == 0) * 1.0,
            "violation": total,
        }
        self.designs += len(total)
        self.feasible += int((total == 0).sum())
        self.statuses.update(results["status"].tolist())
        self.limits_met.update(count_met(results, each, self.limits))
        self._keep(judged, total)
        return judged, merit, total

    def _keep(self, judged: Results, total: NDArray[np.float64]) -> None:
        levels = judged.get("gap_flow", np.full(len(total), ""))
        for level in np.unique(levels[total == 0]).tolist():
            found = [_rows(judged, (total == 0) & (levels == level))]
            front = stacked([*([self.fronts[level]] if level in self.fronts else []), *found])
            self.fronts[level] = _rows(front, nondominated(merits(front, self.aims)))
        if not self.feasible:
            closest = stacked([*([self.closest] if self.closest else []), judged])
            nearest = np.lexsort((closest["design"], closest["violation"]))
            self.closest = _rows(closest, nearest[:CLOSEST_DESIGNS])

    @property
    def front(self) -> Results:
        """Front at the closest level at which any design is feasible; empty where none is."""
        return self.fronts.get("resolved") or next(iter(self.fronts.values()), {})

    def ranked_front(self) -> Results:
        """Front in the order of the first aim, the best first; empty where nothing is feasible."""
        if not self.front:
            return {}
        order = np.lexsort((self.front["design"], *-merits(self.front, self.aims).T[::-1]))
        return _rows(self.front, order) | {"rank": np.arange(1.0, len(order) + 1)}

    @property
    def best(self) -> float:
        """Best value of the first aim among feasible designs [SI]; NaN without any."""
        aim, way = next(iter(self.aims.items()))
        values = self.front.get(aim, np.array([np.nan]))
        return float(values.max() if way == "maximise" else values.min())


def run(
    *,
    study: Study,
    study_text: str,
    path: Path,
    evaluate: Evaluate,
    model_version: int,
    finish: Finish = lambda _, front: front,
    progress: Callable[[Progress], None] = lambda _: None,
    stop: Callable[[], bool] = lambda: False,
    part_designs: int = PART_DESIGNS,
) -> Outcome:
    """Search a study and store every design in a run folder; go on where an earlier start ended.

    The same study gives the same front, whether or not the run was killed on the way. Ctrl-C, a
    termination signal or a true `stop()` end it after the generation in hand, with everything
    stored; a second Ctrl-C acts at once.

    Parameters
    ----------
    study, study_text
        The study and the file it was read from.
    path
        The run folder; made where missing.
    evaluate
        Gives every column of some builds, by key, SI.
    model_version
        Version of the numbers that `evaluate` gives.
    finish
        Adds columns to the designs of the front before they are stored.
    progress, stop
        Called after each generation.
    part_designs
        Designs a part file holds at least, but for the last.

    Raises
    ------
    RunFolderError
        Where the folder is in use, damaged or of another study.
    StorageError
        Where something cannot be written; what was stored before is whole.
    """
    provenance = Provenance(
        study.title, study_text_hash(study_text), study.search.seed, model_version
    )
    with claimed(path, study_text, provenance) as folder, _signals() as signalled:
        known = folder.state
        if known.state == "done" and known.designs == folder.count_designs():
            return _outcome(path, study, known)
        began = time.monotonic()
        started = known.started or datetime.now(UTC).isoformat(timespec="seconds")
        space = Space.of(study)
        search = _search(study, space)
        tally = Tally(study.aims, with_standing(study.all_limits))
        _recall(folder, space, search, tally)

        def state(word: Literal["running", "interrupted", "done"]) -> RunState:
            return RunState(
                state=word,
                budget=search.budget,
                designs=tally.designs,
                feasible=tally.feasible,
                front=len(tally.front.get("design", ())),
                statuses=dict(tally.statuses),
                limits_met=dict(tally.limits_met),
                started=started,
                seconds=round(known.seconds + time.monotonic() - began, 3),
            )

        waiting: list[Results] = []
        recalled = search.told
        interrupted = False
        folder.write_state(state("running"))
        while not interrupted and len(index := search.ask()):
            results = stored(evaluate(study, _builds(space, search, index)))
            judged, merit, violation = tally.add(results)
            search.tell(index, merit, violation)
            waiting.append(judged)
            if sum(len(each["design"]) for each in waiting) >= part_designs:
                folder.write_part(stacked(waiting), asdict(search.mark))
                waiting.clear()
                folder.write_state(state("running"))
            progress(_progress(search, tally, time.monotonic() - began, recalled))
            interrupted = (stop() or signalled()) and search.stage != ""
        if waiting:
            folder.write_part(stacked(waiting), asdict(search.mark))
        _write_answer(folder, study, tally, finish)
        final = state("interrupted" if interrupted else "done")
        folder.write_state(final)
        return _outcome(path, study, final)


def _search(study: Study, space: Space) -> Search:
    return Search(
        space,
        aims=len(study.aims),
        designs=study.search.designs,
        generation=study.search.generation,
        seed=study.search.seed,
        stages=study.search.stages,
        patience=study.search.patience,
        refined=study.search.refined,
    )


def _builds(space: Space, search: Search, index: Index) -> Results:
    """Name the level at which to evaluate builds, where it is not the study's."""
    builds = space.builds(index)
    if search.stage == "refine":
        builds["gap_flow"] = np.full(len(index), "resolved")
    return builds


def _recall(folder: RunFolder, space: Space, search: Search, tally: Tally) -> None:
    """Bring search and tally to where the stored parts end."""
    told = []
    mark: dict[str, Any] = {}
    for results, mark in folder.parts():  # noqa: B007  (the last mark counts)
        _, merit, violation = tally.add(results)
        told.append((space.index(results), merit, violation))
    if told:
        index, merit, violation = (np.concatenate(each) for each in zip(*told, strict=True))
        try:
            search.resume(Mark(**mark), index, merit, violation)
        except TypeError as error:
            msg = f"{folder.path}: was begun by an earlier search, which this one cannot go on with"
            msg += "; move the folder away and run the study anew"
            raise RunFolderError(msg) from error


def _write_answer(folder: RunFolder, study: Study, tally: Tally, finish: Finish) -> None:
    front = tally.ranked_front()
    if front:
        folder.write_table(FRONT, finish(study, front))
        folder.remove_table(CLOSEST)
    else:
        folder.write_table(CLOSEST, tally.closest)


def _progress(search: Search, tally: Tally, elapsed: float, recalled: int) -> Progress:
    pace = elapsed / max(search.told - recalled, 1)
    return Progress(
        designs=search.told,
        budget=search.budget,
        feasible_share=tally.feasible / search.told,
        front=len(tally.front.get("design", ())),
        best=tally.best,
        stage=search.stage,
        elapsed=elapsed,
        remaining=pace * (search.budget - search.told),
    )


def _outcome(path: Path, study: Study, state: RunState) -> Outcome:
    return Outcome(
        folder=path,
        state=state,
        exhausted=state.state == "done" and Space.of(study).size < study.search.designs,
        stalled=state.state == "done" and state.front > 0 and state.designs < state.budget,
        biting=tuple(biting(state.limits_met, state.statuses.get(MATCHED, 0))),
    )


def _rows(results: Results, rows: NDArray[Any]) -> Results:
    return {key: values[rows] for key, values in results.items()}


@contextmanager
def _signals() -> Iterator[Callable[[], bool]]:
    """Turn the first Ctrl-C or termination signal into a flag, and then leave them as they were."""
    caught: list[int] = []
    if threading.current_thread() is not threading.main_thread():
        yield lambda: False
        return
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}

    def catch(number: int, _: object) -> None:
        caught.append(number)
        signal.signal(number, before[signal.Signals(number)])

    for number in before:
        signal.signal(number, catch)
    try:
        yield lambda: bool(caught)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
