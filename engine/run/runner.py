"""The loop of a run: propose, evaluate, store. It may be killed and started again at any time."""

import signal
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Literal

import numpy as np

from engine.columns import Results
from engine.model.lanes import rows_of
from engine.model.limits import MATCHED, biting
from engine.run.behind import Behind
from engine.run.firm import FIRM, Firm, Round, Weigh, looked_for, near_front, of_kind, with_firm
from engine.run.folder import CLOSEST, FRONT, LOG, RunFolder, claimed
from engine.run.generations import Evaluate, Generations
from engine.run.log import Progress, RunLog, logged
from engine.run.proof import Finish, proved
from engine.run.sampled import known_by, may_join
from engine.run.signals import first_signal
from engine.run.state import Provenance, RunState
from engine.run.summary import Summary
from engine.search.space import Space
from engine.study.reader import study_text_hash
from engine.study.study import Study
from engine.units import counted

PART_DESIGNS = 10_000
"""Number of designs after which a part file is closed."""
PART_SECONDS = 60.0
"""Time after which it is closed with fewer designs, so that a kill loses no more time [s]."""


@dataclass(frozen=True)
class Outcome:
    """How a run ended."""

    folder: Path
    state: RunState
    exhausted: bool
    """Whether the whole space was evaluated before the budget was used up."""
    stalled: bool
    """Whether the search ended before its budget because the front stopped growing."""
    biting: tuple[str, ...]
    """Limits missed by any design with an operating point, the most missed first."""


def run(
    *,
    study: Study,
    study_text: str,
    path: Path,
    evaluate: Evaluate,
    model_version: int,
    recheck: Finish = lambda _, front: front,
    finish: Finish = lambda _, front: front,
    weigh: Weigh | None = None,
    progress: Callable[[Progress], None] = lambda _: None,
    stop: Callable[[], bool] = lambda: False,
    part_designs: int = PART_DESIGNS,
    part_seconds: float = PART_SECONDS,
) -> Outcome:
    """Search a study and store every design in a run folder; continue an earlier start.

    The same study gives the same front, even if the run was killed in between. Ctrl-C, a
    termination signal or a true `stop()` ends the run after the current generation, with everything
    stored; a second Ctrl-C ends it at once. A damaged part file is made again.

    Parameters
    ----------
    study, study_text
        The study, and the text of the file it was read from.
    path
        The run folder; it is made if missing.
    evaluate
        Gives every column of some builds, SI by key.
    model_version
        Version of the numbers that `evaluate` gives.
    recheck
        Adds the columns of the recheck to designs that may be on the front.
    finish
        Adds columns to the designs of the front before they are stored.
    weigh
        Adds bands of few samples for the stage firm, which is left out without it.
    progress, stop
        Called after each generation.
    part_designs, part_seconds
        Number of designs and time [s] after which a part file is closed.

    Raises
    ------
    RunFolderError
        Where the folder is in use or belongs to another study.
    StorageError
        Where something cannot be written; everything stored before is safe.
    """
    provenance = Provenance(
        study.title, study_text_hash(study_text), study.search.seed, model_version
    )
    with (
        claimed(path, study_text, provenance) as folder,
        first_signal(signal.SIGINT, signal.SIGTERM) as signalled,
    ):
        if folder.state.state == "done" and folder.is_whole():
            return _outcome(path, study, folder.state)
        with logged(path / LOG):
            clock = _Clock(folder.state.seconds)
            generations = Generations(study, evaluate, clock.total)
            start = _Start(folder, generations, clock, RunLog(study.aims), progress)
            try:
                start.begin()
                ended = start.search(lambda: stop() or signalled(), part_designs, part_seconds)
                start.store()
            finally:
                start.behind.wait()
            firm = start.firm(weigh, lambda: stop() or signalled()) if ended and weigh else None
            ended = ended and not start.cut_short
            state = start.end("done" if ended else "interrupted", recheck, finish, firm)
        return _outcome(path, study, state)


class _Clock:
    def __init__(self, before: float) -> None:
        self._before = before
        self._began = time.monotonic()

    def elapsed(self) -> float:
        """Time since this start [s]."""
        return time.monotonic() - self._began

    def total(self) -> float:
        """Time used by all starts [s]."""
        return self._before + self.elapsed()


@dataclass
class _Start:
    """One start of a run, from claiming its folder to writing its front."""

    folder: RunFolder
    generations: Generations
    clock: _Clock
    log: RunLog
    progress: Callable[[Progress], None]
    behind: Behind = field(default_factory=Behind)
    """Stores parts while the next designs are evaluated."""
    started: str = ""
    counted: int = 0
    """Number of designs evaluated before the pace is measured."""
    ready: float = 0.0
    """Time from this start until they were evaluated [s]."""
    warm: bool = False
    late: list[float] = field(default_factory=list)
    """Numbers of the designs that were sampled after the search."""
    cut_short: bool = False
    """Whether the stage firm was stopped; the next start makes it again."""

    def begin(self) -> None:
        """Take in what is stored."""
        known = self.folder.state
        self.started = known.started or datetime.now(UTC).isoformat(timespec="seconds")
        self.log.begun(self.folder, self.generations.search.budget)
        self.generations.recall(self.folder)
        self.counted, self.ready = self.generations.search.told, self.clock.elapsed()
        if self.counted:
            self.log.say(f"continues after {counted(self.counted)} stored designs")
        self._write_state("running")

    def search(self, stop: Callable[[], bool], part_designs: int, part_seconds: float) -> bool:
        """Evaluate generation after generation; give whether the search ended."""
        stored = self.clock.elapsed()
        while self.generations.advance():
            is_late = self.clock.elapsed() - stored >= part_seconds
            if self.generations.n_waiting >= part_designs or is_late:
                self.store()
                stored = self.clock.elapsed()
            now = self._now()
            self._tell(now)
            if not self.warm:
                # The first generation also waits for tables, compiled code and workers.
                self.counted, self.ready, self.warm = now.designs, now.elapsed, True
            if self.generations.search.stage and stop():
                return False
        return True

    def firm(self, weigh: Weigh, stop: Callable[[], bool]) -> Firm | None:
        """Look for the front that tolerances leave, where the study asks for it."""
        study, front = self.generations.study, self.generations.summary.front
        if not study.search.is_firm or not front:
            return None
        parts = (self.folder.part(number).results for number in range(self.folder.n_parts))
        level = str(front["gap_flow"][0]) if "gap_flow" in front else ""
        began = self.clock.elapsed()

        def tell(now: Round) -> None:
            spent = self.clock.elapsed() - began
            self._tell(replace(self._now(), stage=FIRM, remaining=now.left_after(spent)))

        firm = looked_for(
            study,
            near=near_front(study, parts, level),
            weigh=weigh,
            try_builds=self.generations.try_builds,
            tell=tell,
            stop=stop,
        )
        self.cut_short = firm is None
        if firm is not None:
            self.log.say(
                f"firm: {counted(self.generations.beside)} builds tried, {counted(len(firm.lack))} "
                f"sampled, {counted(len(firm.best()))} best as they may turn out"
            )
        return firm

    def end(
        self,
        word: Literal["interrupted", "done"],
        recheck: Finish,
        finish: Finish,
        firm: Firm | None = None,
    ) -> RunState:
        """Write front or closest designs."""
        summary, study = self.generations.summary, self.generations.study
        front: Results = summary.ranked_front()
        fallen: Mapping[int, str] = {}
        if word == "done":
            proof = proved(
                study,
                front_without=self._front_without,
                evaluate=self.generations.evaluate,
                recheck=recheck,
                finish=finish,
                try_beside=self.generations.try_beside,
            )
            front, fallen = of_kind(study, proof.front), proof.fallen
            if front and firm is not None:
                front = with_firm(
                    study,
                    proof.front,
                    firm,
                    evaluate=self.generations.evaluate,
                    recheck=recheck,
                    finish=finish,
                )
        elif front:
            front = of_kind(study, finish(study, front))
        # Stored only now, so that a run killed before proves its front anew from the search.
        if self.generations.n_waiting:
            self.folder.write_part(self.generations.take_part(beside=True))
        if front:
            self.folder.write_table(FRONT, front)
            self.folder.remove_table(CLOSEST)
        else:
            self.folder.write_table(CLOSEST, summary.closest or summary.ranked_front())
        state = self._write_state(word, len(front.get("design", ())), fallen)
        self.log.ended(state, self.generations.search.stalled)
        return state

    def _front_without(self, apart: Sequence[int]) -> Results:
        """Front of all designs but these."""
        summary = self.generations.summary
        if not apart:
            return summary.front
        again = Summary(summary.aims, summary.limits, builds=summary.builds)
        for number in range(self.folder.n_parts):
            again.add_judged(self.folder.part(number).results, without=apart)
        if summary.unsampled:
            self._sample_those_beaten_by_others_than(again)
        for judged in self.generations.waiting:
            again.add_judged(judged, without=apart)
        return again.front

    def _sample_those_beaten_by_others_than(self, front: Summary) -> None:
        """Sample designs that may come on a front, and were left out as they may not on another."""
        generations, best = self.generations, front.front_by(known_by(self.generations.study))
        for number in range(self.folder.n_parts):
            part = self.folder.part(number).results
            rows = may_join(generations.study, part, best) & ~np.isin(part["design"], self.late)
            if rows.any():
                self.late += part["design"][rows].tolist()
                generations.sample(rows_of(part, rows))

    def store(self) -> None:
        """Store the designs of the search that are not stored yet."""
        if not self.generations.n_waiting:
            return
        part, state = self.generations.take_part(), self._state("running")

        def write() -> None:
            self.folder.write_part(part)
            self.folder.write_state(state)

        self.behind.hand(write)

    def _tell(self, now: Progress) -> None:
        self.progress(now)
        self.log.progress(now)

    def _write_state(
        self,
        word: Literal["running", "interrupted", "done"],
        front: int | None = None,
        fallen: Mapping[int, str] = MappingProxyType({}),
    ) -> RunState:
        state = self._state(word, front, fallen)
        self.folder.write_state(state)
        return state

    def _state(
        self,
        word: Literal["running", "interrupted", "done"],
        front: int | None = None,
        fallen: Mapping[int, str] = MappingProxyType({}),
    ) -> RunState:
        summary = self.generations.summary
        return RunState(
            state=word,
            budget=self.generations.search.budget,
            designs=summary.designs,
            beside=self.generations.beside,
            left_out=self.generations.left_out,
            unsampled=summary.unsampled,
            feasible=summary.feasible,
            front=summary.n_front if front is None else front,
            fallen={str(number): reason for number, reason in fallen.items()},
            statuses=dict(summary.statuses),
            limits_met=dict(summary.limits_met),
            started=self.started,
            seconds=round(self.clock.total(), 3),
        )

    def _now(self) -> Progress:
        search, summary = self.generations.search, self.generations.summary
        elapsed = self.clock.elapsed()
        pace = (elapsed - self.ready) / max(search.told - self.counted, 1)
        return Progress(
            designs=search.told,
            budget=search.budget,
            feasible_share=summary.feasible / search.told,
            front=summary.n_front,
            best=summary.best,
            stage=search.stage,
            elapsed=elapsed,
            remaining=pace * (search.budget - search.told) if search.stage else 0.0,
        )


def _outcome(path: Path, study: Study, state: RunState) -> Outcome:
    return Outcome(
        folder=path,
        state=state,
        exhausted=state.state == "done" and _is_small(study),
        stalled=state.ended_early,
        biting=tuple(biting(state.limits_met, state.statuses.get(MATCHED, 0))),
    )


def _is_small(study: Study) -> bool:
    """Whether a search evaluates the whole space; a grid always does."""
    return study.search.method != "grid" and Space.of(study).size < study.search.designs
