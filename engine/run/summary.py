"""Summary of all designs of a run so far: counts, front, and the closest misses."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import Results
from engine.model.lanes import rows_of
from engine.model.limits import Limits, count_met, violations
from engine.run.best import Best
from engine.run.parquet import joined
from engine.run.sampled import held_against, unsampled
from engine.search.front import Merits, hypervolume, merits

CLOSEST_DESIGNS = 50
"""Number of designs with the smallest violation, kept while none is feasible."""


@dataclass
class Summary:
    """Counts, front and closest misses of all designs so far."""

    aims: Mapping[str, str]
    limits: Limits
    designs: int = 0
    feasible: int = 0
    unsampled: int = 0
    """Designs of a robust search, with an operating point, that were left without samples."""
    statuses: Counter[str] = field(default_factory=Counter)
    limits_met: Counter[str] = field(default_factory=Counter)
    fronts: dict[str, Best] = field(default_factory=dict)
    """By gap flow, averaged or resolved."""
    closest: Results = field(default_factory=dict)
    reference: list[float] = field(default_factory=list)
    """Merits from which hypervolume is measured: the worst of each among the first feasible
    designs; empty before there are any."""
    builds: Callable[[Results], NDArray[Any]] | None = None
    """Gives builds as rows, where a build may come twice, so that the front has it once."""

    def add(
        self, results: Results, numbers: NDArray[np.floating] | None = None, of: int | None = None
    ) -> tuple[Results, Merits, NDArray[np.float64]]:
        """Add designs; give them numbered and judged, with their merits and violations.

        `numbers` are theirs `of` so many designs, where the others are not evaluated.
        """
        merit = merits(results, self.aims)
        each = violations(held_against(results, self.limits), self.limits)
        total = each.sum(axis=1) + ~np.isfinite(merit).all(axis=1)
        judged = results | {
            "design": np.arange(self.designs + 1.0, self.designs + len(total) + 1)
            if numbers is None
            else numbers,
            "feasible": (total == 0) * 1.0,
            "violation": total,
        }
        self.designs += len(total) if of is None else of
        self.feasible += int((total == 0).sum())
        self.unsampled += int(unsampled(results).sum())
        self.statuses.update(results["status"].tolist())
        self.limits_met.update(count_met(results, each, self.limits))
        if not self.reference and (total == 0).any():
            self.reference = merit[total == 0].min(axis=0).tolist()
        self._keep(judged, merit, total)
        return judged, merit, total

    def add_judged(self, judged: Results, without: Sequence[int] = ()) -> None:
        """Add designs that are numbered and judged, but those with some numbers, to the front."""
        kept = rows_of(judged, ~np.isin(judged["design"], without))
        self.feasible += int((kept["violation"] == 0).sum())
        self._keep(kept, merits(kept, self.aims), kept["violation"])

    def _keep(self, judged: Results, merit: Merits, total: NDArray[np.float64]) -> None:
        levels = judged.get("gap_flow", np.full(len(total), ""))
        for level in np.unique(levels[total == 0]).tolist():
            among = np.flatnonzero((total == 0) & (levels == level))
            best = self.fronts.setdefault(level, Best.of_none(len(self.aims)))
            best.add(judged, merit, among, self.builds)
        if not self.feasible:
            closest = joined([*([self.closest] if self.closest else []), judged])
            nearest = np.lexsort((closest["design"], closest["violation"]))
            self.closest = rows_of(closest, nearest[:CLOSEST_DESIGNS])

    def totals(self) -> dict[str, Any]:
        """Give the counts of all designs, for a part that does not hold them all."""
        return {
            "designs": self.designs,
            "feasible": self.feasible,
            "statuses": dict(self.statuses),
            "limits_met": dict(self.limits_met),
        }

    def put_totals(self, totals: Mapping[str, Any]) -> None:
        """Take the counts that a part holds."""
        self.designs, self.feasible = totals["designs"], totals["feasible"]
        self.statuses = Counter(totals["statuses"])
        self.limits_met = Counter(totals["limits_met"])

    @property
    def front(self) -> Results:
        """Front with resolved gap flow if it has designs, otherwise with averaged; may be empty."""
        return self.front_by(None)

    def front_by(self, keys: Sequence[str] | None) -> Results:
        """Columns of the front by these keys; all by None."""
        return {} if self._best is None else self._best.results(keys)

    @property
    def n_front(self) -> int:
        """Number of designs on the front."""
        return 0 if self._best is None else len(self._best)

    @property
    def _best(self) -> Best | None:
        return self.fronts.get("resolved") or next(iter(self.fronts.values()), None)

    def ranked_front(self) -> Results:
        """Front in the order of the first aim, the best first; empty if no design is feasible."""
        return ranked(self.front, self.aims)

    @property
    def best(self) -> float:
        """Best value of the first aim among feasible designs [SI]; NaN if there are none."""
        return next(iter(self.bests.values()))

    @property
    def bests(self) -> dict[str, float]:
        """Best value of each aim on the front [SI]; NaN if it is empty."""
        if self._best is None:
            return dict.fromkeys(self.aims, np.nan)
        most = self._best.merit.max(axis=0).tolist()
        ways = self.aims.items()
        return {
            key: value if way == "maximise" else -value
            for (key, way), value in zip(ways, most, strict=True)
        }

    @property
    def hypervolume(self) -> float:
        """Hypervolume of the front above `reference`; 0 if the front is empty."""
        if self._best is None:
            return 0.0
        return hypervolume(self._best.merit, np.array(self.reference))


def ranked(front: Results, aims: Mapping[str, str]) -> Results:
    """Order a front by the first aim, the best first, and number its rows; empty stays empty."""
    if not front or not len(front["design"]):
        return {}
    order = np.lexsort((front["design"], *-merits(front, aims).T[::-1]))
    return rows_of(front, order) | {"rank": np.arange(1.0, len(order) + 1)}
