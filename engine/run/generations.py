"""A search and the summary of its designs, one generation at a time or from stored parts."""

import logging
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import Results
from engine.errors import DamagedError, RunFolderError
from engine.model.lanes import rows_of
from engine.model.limits import with_standing
from engine.run import sampled
from engine.run.folder import Part, RunFolder
from engine.run.parquet import joined, stored
from engine.run.summary import Summary
from engine.run.thinned import count_unmarched, evaluated_rows, in_sample, stored_rows
from engine.search.front import Merits, merits
from engine.search.space import Index, Space
from engine.search.staged import Mark, StagedSearch
from engine.search.sweep import Sweep, SweepMark
from engine.study.study import Study

Evaluate = Callable[[Study, Mapping[str, Any]], Results]
"""Gives every column of some builds, SI by key."""

ROWS = 200
"""Largest number of history rows in a part; of more, every second row is left out."""
LOG = logging.getLogger("swirlstack")


@dataclass
class Generations:
    """A search in progress, with the generations that are not stored yet."""

    study: Study
    evaluate: Evaluate
    seconds: Callable[[], float]
    """Time used until now by all starts [s]."""
    summary: Summary = field(init=False)
    search: StagedSearch | Sweep = field(init=False)
    waiting: list[Results] = field(default_factory=list)
    beside: int = 0
    """Number of designs tried after the search."""
    left_out: int = 0
    """Number of designs of a large grid that are not stored."""
    _space: Space = field(init=False)
    _history: list[dict[str, Any]] = field(default_factory=list)
    _told: list[tuple[Any, ...]] = field(default_factory=list)
    _first: int = 0
    """Number of designs before the first that is not stored yet."""

    def __post_init__(self) -> None:
        """Start a search from the beginning."""
        self._space = Space.of(self.study)
        self.search = search_of(self.study, self._space)
        self.summary = Summary(
            self.study.aims, with_standing(self.study.all_limits, self.study.works_as)
        )
        if not self.search.looks_back:
            self.summary.builds = self._space.index

    def advance(self) -> bool:
        """Evaluate one more generation; False if the search proposes none."""
        index = self.search.ask()
        if not len(index):
            return False
        stage = self.search.stage
        if (sweep := self._thinned) is not None:
            self._map(sweep, index)
        else:
            judged, *judgement = self.summary.add(stored(self._evaluated(index)))
            self.search.tell(index, *judgement)
            self.waiting.append(judged)
        self._note(stage)
        return True

    @property
    def _thinned(self) -> Sweep | None:
        """The sweep of a grid too large to be stored whole; None for any other search."""
        search = self.search
        return search if isinstance(search, Sweep) and search.every > 1 else None

    def _map(self, sweep: Sweep, index: Index) -> None:
        """Evaluate builds of a grid too large to be stored."""
        first, summary = self.summary.designs, self.summary
        kept_anyway = in_sample(first, len(index), sweep.every, sweep.budget - 1)
        found = evaluated_rows(self.study, self._space, index, summary.limits, kept_anyway)
        results = stored(self.evaluate(self.study, self._builds(index[found])))
        count_unmarched(summary, len(index) - len(found))
        judged, *judgement = summary.add(results, (first + found + 1) * 1.0, len(index))
        kept = rows_of(judged, stored_rows(summary, judged, kept_anyway[found]))
        self.left_out += len(index) - len(kept["design"])
        sweep.tell(index, *judgement)
        self.waiting.append(kept)

    def try_beside(self, designs: Results) -> None:
        """Evaluate the builds one step on one axis beside some designs, after the search has ended.

        Builds that the search has evaluated are left out. A sweep maps what it was asked to map, so
        nothing is added to it.
        """
        if not isinstance(self.search, Sweep):
            self.try_builds(self._space.beside(self._space.index(designs)))

    def try_builds(self, index: Index, level: str = "") -> Results:
        """Evaluate builds after the search has ended, all but those that it has evaluated.

        Gives them numbered and judged; empty where none is new. `level` is that of the gap flow, if
        it is not the study's.
        """
        if isinstance(self.search, Sweep):
            return {}
        index = self.search.unseen(index)
        if not len(index):
            return {}
        builds = self._space.builds(index)
        if level:
            builds["gap_flow"] = np.full(len(index), level)
        judged, *_ = self.summary.add(stored(self.evaluate(self.study, builds)))
        self.search.mark_seen(index)
        self.waiting.append(judged)
        self.beside += len(index)
        return judged

    def sample(self, designs: Results) -> None:
        """Evaluate some designs again with their samples, after the search has ended."""
        builds = self._space.builds(self._space.index(designs))
        judged, *_ = self.summary.add(stored(self.evaluate(self.study, builds)))
        self.waiting.append(judged)
        self.beside += len(judged["design"])

    @property
    def n_waiting(self) -> int:
        """Number of designs that are not stored yet."""
        return sum(len(each["design"]) for each in self.waiting)

    def take_part(self, *, beside: bool = False) -> Part:
        """Give the designs that are not stored yet, as a part; those of `try_beside` are marked."""
        history = {"reference": self.summary.reference, "rows": self._history, "beside": beside}
        if self._thinned is not None:
            history |= {"first": self._first, "totals": self._totals()}
        self._first = self.summary.designs
        part = Part(joined(self.waiting), dict(vars(self.search.mark)), history)
        self.waiting, self._history = [], []
        return part

    def recall(self, folder: RunFolder) -> None:
        """Continue from the stored parts; damaged parts are made again.

        Raises
        ------
        RunFolderError
            Where a part belongs to another run, or an earlier version of the search stored it.
        """
        mark: Mapping[str, Any] = {}
        number = 0
        while number < folder.n_parts:
            try:
                part = folder.part(number)
            except DamagedError as error:
                LOG.warning("%s", str(error).partition(";")[0])
                self._resume(mark, folder)
                number = self._make_anew(folder, number)
                mark = asdict(self.search.mark)
                continue
            if part.history.get("beside"):
                # The proof of the front, which tried them, is made again.
                folder.drop_parts(number)
                break
            mark = part.mark
            self._take_in(part)
            self.summary.reference = part.history.get("reference") or self.summary.reference
            number += 1
        self._resume(mark, folder)
        self._told = []

    def _builds(self, index: Index) -> Results:
        """Give the builds of a generation; in the refine stage with resolved gap flow."""
        builds = self._space.builds(index)
        if self.search.stage == "refine":
            builds["gap_flow"] = np.full(len(index), "resolved")
        return builds

    def _evaluated(self, index: Index) -> Results:
        """Evaluate the builds of a generation; in a robust search, sample those that may count."""
        search, study, builds = self.search, self.study, self._builds(index)
        if isinstance(search, Sweep) or not study.search.robust:
            return self.evaluate(study, builds)
        return sampled.evaluated(
            study,
            builds,
            evaluate=self.evaluate,
            front=self.summary.front_by(sampled.known_by(study)),
            hopeless=partial(search.hopeless, index),
        )

    def _note(self, stage: str) -> None:
        known = {
            "designs": self.summary.designs,
            "seconds": round(self.seconds(), 1),
            "stage": stage,
            "front": self.summary.n_front,
            "hypervolume": self.summary.hypervolume,
            "best": {k: v if np.isfinite(v) else None for k, v in self.summary.bests.items()},
        }
        self._history.append(known)
        if len(self._history) > ROWS:
            # The last row is kept, because it shows how the part ended.
            self._history = self._history[::-2][::-1]

    def _totals(self) -> dict[str, Any]:
        return self.summary.totals() | {"left_out": self.left_out}

    def _take_in(self, part: Part) -> None:
        totals = part.history.get("totals")
        if totals:
            self.summary.add_judged(part.results)
            self.summary.put_totals(totals)
            self.left_out = totals["left_out"]
        else:
            _, merit, violation = self.summary.add(part.results)
            self._remember(part.results, merit, violation)
        self._first = self.summary.designs

    def _remember(self, results: Results, merit: Merits, violation: NDArray[np.float64]) -> None:
        if self.search.looks_back:
            self._told.append((self._space.index(results), merit, violation))

    def _resume(self, mark: Mapping[str, Any], folder: RunFolder) -> None:
        self.search = search_of(self.study, self._space)
        if not self.summary.designs:
            return
        try:
            if isinstance(self.search, Sweep):
                self.search.resume(SweepMark(**mark))
            else:
                told = (np.concatenate(each) for each in zip(*self._told, strict=True))
                self.search.resume(Mark(**mark), *told)
        except TypeError as error:
            msg = f"{folder.path}: was started by an earlier version of the search, which this one"
            msg += " cannot continue; move the folder to another place and run the study again"
            raise RunFolderError(msg) from error

    def _make_anew(self, folder: RunFolder, first: int) -> int:
        """Make damaged parts again, up to the next undamaged one; give its number."""
        found = _next_whole(folder, first)
        if found is None:
            LOG.warning("no part from number %d on can be read; they are made again", first)
            folder.drop_parts(first)
            return first
        number, end = found
        parts = []
        while self.summary.designs < end and self.advance():
            part = self.take_part()
            judged = part.results
            self._remember(judged, merits(judged, self.study.aims), judged["violation"])
            parts.append(part)
        if self.summary.designs != end:
            msg = f"{folder.path}: its parts do not fit together; move the folder to another place"
            msg += " and run the study again"
            raise RunFolderError(msg)
        n_single = number - first - 1
        merged = [_merged(parts[: len(parts) - n_single]), *parts[len(parts) - n_single :]]
        for place, part in enumerate(merged, first):
            folder.write_part(part, place)
        LOG.warning("designs up to %d were evaluated again; all later designs are kept", end)
        return number


def search_of(study: Study, space: Space) -> StagedSearch | Sweep:
    """Make the search or sweep of a study."""
    asked = study.search
    if asked.method != "search":
        return Sweep(space, method=asked.method, designs=asked.designs, seed=asked.seed)
    return StagedSearch(
        space,
        aims=len(study.aims),
        designs=asked.designs,
        generation=asked.generation,
        seed=asked.seed,
        stages=asked.stages,
        patience=asked.patience,
        refined=asked.refined,
    )


def _next_whole(folder: RunFolder, number: int) -> tuple[int, int] | None:
    """Find the next part that can be read, and the number of designs before it."""
    for later in range(number + 1, folder.n_parts):
        try:
            part = folder.part(later)
            return later, part.history.get("first", int(part.results["design"][0]) - 1)
        except DamagedError as error:
            LOG.warning("%s", str(error).partition(";")[0])
    return None


def _merged(parts: list[Part]) -> Part:
    noted = [row for part in parts for row in part.history["rows"]]
    history = {**parts[-1].history, "rows": noted}
    if "first" in history:
        history["first"] = parts[0].history["first"]
    return Part(joined(part.results for part in parts), parts[-1].mark, history)
