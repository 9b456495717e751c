"""The front of designs that stand: judged by what is left when the gap flow is resolved.

A search finds first where the fast, averaged gap flow flatters. So a design of the front whose flow
does not settle when resolved, or whose power then differs by more than `MOST_DOUBT`, is judged by
its resolved results, and has them on the front if it stays: it must meet every limit with them, and
no other design may beat them. The designs that it had beaten come back, and the builds one step
beside it are tried.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from engine.columns import Results
from engine.model.evaluation import builds_of
from engine.model.lanes import rows_of
from engine.model.limits import MATCHED, violations, with_standing
from engine.physics.arrays import Mask
from engine.run.generations import Evaluate
from engine.run.parquet import joined, stored
from engine.run.summary import ranked
from engine.search.front import merits, nondominated
from engine.study.study import Study

Finish = Callable[[Study, Results], Results]

MOST_DOUBT = 0.02
"""Largest difference of power between the two levels of gap flow of a design beyond doubt."""
ROUNDS = 12
"""Most times that a front is looked through; each time only designs new on it are judged."""
UNSETTLED = "its flow does not settle when resolved"
MISSES = "it misses a limit when resolved"
BEATEN = "others beat it by its resolved power"
FAILS = "it misses a limit when its trip is followed closely"


@dataclass(frozen=True)
class Proof:
    """A front that stands, and what fell."""

    front: Results
    fallen: Mapping[int, str]
    """Numbers of the designs taken off the front, each with the reason."""


def proved(
    study: Study,
    *,
    front_without: Callable[[Sequence[int]], Results],
    evaluate: Evaluate,
    recheck: Finish,
    finish: Finish,
    try_beside: Callable[[Results], None],
) -> Proof:
    """Judge the front until every design on it stands.

    Parameters
    ----------
    study
        The study.
    front_without
        Gives the front of all designs of the run but those with these numbers.
    evaluate
        Gives every column of some builds, SI by key.
    recheck
        Adds the columns of the recheck to designs. Without them nothing is judged.
    finish
        Adds all that only the designs of a front get, once.
    try_beside
        Evaluates the builds one step beside some designs and adds them to the run.
    """
    known: Results = {}
    judged: Results = {}
    sound: Results = {}
    fallen: dict[int, str] = {}
    apart: list[int] = []
    for _ in range(ROUNDS):
        front = front_without(apart)
        if not front:
            sound = {}
            break
        fresh = ~np.isin(front["design"], known.get("design", []))
        if fresh.any():
            known = _more(known, recheck(study, rows_of(front, fresh)))
        table = rows_of(known, np.isin(known["design"], front["design"]))
        unsure = doubtful(table)
        sound = rows_of(table, ~unsure)
        if not unsure.any():
            break
        resolved, reasons = resolved_results(study, evaluate, rows_of(table, unsure))
        fallen |= reasons
        apart = sorted({*apart, *resolved["design"].astype(int).tolist()})
        stands = ~np.isin(resolved["design"], list(reasons))
        if stands.any():
            judged = _more(judged, recheck(study, rows_of(resolved, stands)))
        try_beside(rows_of(table, unsure))
    if not judged:
        return _closed(study, finish, sound, fallen)
    both = _more(sound, judged)
    best = nondominated(merits(both, study.aims))
    beaten = judged["design"][~np.isin(judged["design"], both["design"][best])]
    fallen |= dict.fromkeys(beaten.astype(int).tolist(), BEATEN)
    return _closed(study, finish, rows_of(both, best), fallen)


def _closed(study: Study, finish: Finish, front: Results, fallen: Mapping[int, str]) -> Proof:
    """Finish a front; what a search decides in short may fall when it is followed closely."""
    front = ranked(front, study.aims)
    if not front:
        return Proof({}, fallen)
    whole = finish(study, front)
    meets = (violations(whole, with_standing(study.all_limits, study.works_as)) == 0).all(axis=1)
    lost = whole["design"][~meets].astype(int).tolist()
    left = ranked(rows_of(whole, meets), study.aims) if meets.any() else {}
    return Proof(left, {**fallen, **dict.fromkeys(lost, FAILS)})


def _more(results: Results, more: Results) -> Results:
    return joined([results, more]) if results else more


def doubtful(table: Results) -> Mask:
    """Designs whose power the resolved gap flow does not confirm."""
    if "resolved_difference" not in table:
        return np.zeros(len(table["design"]), dtype=np.bool_)
    # A difference that is no number is not below the bound either.
    return np.asarray(~(np.abs(table["resolved_difference"]) <= MOST_DOUBT))


def resolved_results(
    study: Study, evaluate: Evaluate, table: Results
) -> tuple[Results, dict[int, str]]:
    """Give designs with their resolved results; those that cannot stand, with the reason."""
    level = np.full(len(table["design"]), "resolved")
    resolved = stored(evaluate(study, builds_of(study, table) | {"gap_flow": level}))
    meets = (violations(resolved, with_standing(study.all_limits, study.works_as)) == 0).all(axis=1)
    meets &= np.isfinite(merits(resolved, study.aims)).all(axis=1)
    worded = np.select([resolved["status"] != MATCHED, ~meets], [UNSETTLED, MISSES], "")
    numbers = table["design"].astype(int).tolist()
    kept = {
        key: values for key, values in table.items() if key in ("design", "feasible", "violation")
    }
    reasons = {n: str(why) for n, why in zip(numbers, worded, strict=True) if why}
    return resolved | kept, reasons
