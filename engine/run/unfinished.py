"""The front of a run that still goes on."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from engine.bands.results import evaluate_judged
from engine.columns import Results
from engine.model.evaluation import with_runaway
from engine.run.folder import each_part
from engine.run.parquet import joined
from engine.search.front import merits, nondominated
from engine.study.study import Study

RECHECKED = ("resolved_power", "resolved_difference")
"""Columns that only a finished front has."""


def front_so_far(study: Study, folder: Path) -> Results:
    """Front of the designs that a running run has stored, without what only its end adds.

    A part is read at a time, in few columns; the few designs of the front are then worked through
    once more. See `runaway_of` for their runaway; the recheck with the gap flow resolved is left to
    the end.
    """
    front: Results = {}
    keys = tuple(dict.fromkeys((*study.aims, *study.searched(), "design", "feasible", "gap_flow")))
    for part in each_part(folder, keys):
        more = {key: values[part["feasible"] == 1] for key, values in part.items()}
        front = joined([front, more]) if front else more
        # Where the search has come to the closer level, that alone counts.
        closer = front["gap_flow"] == "resolved"
        merit = merits(front, study.aims)
        if closer.any():
            merit[~closer] = np.nan
        front = {key: values[nondominated(merit)] for key, values in front.items()}
    if not front or not len(front["design"]):
        return {}
    order = np.lexsort((front["design"], *-merits(front, study.aims).T[::-1]))
    front = {key: values[order] for key, values in front.items()}
    given = {key: front[key] for key in (*study.searched(), "gap_flow")}
    rank = {"rank": np.arange(1.0, len(order) + 1)}
    full = {**evaluate_judged(study, given), **front, **rank}
    return {key: values for key, values in full.items() if key not in RECHECKED}


def runaway_of(study: Study, table: Results, rows: Sequence[int]) -> Results:
    """Table with the runaway of some of its rows worked out, the others as they are."""
    if not rows:
        return table
    at = list(rows)
    found = with_runaway(study, {key: values[at] for key, values in table.items()})
    filled = {key: table[key].copy() for key in ("runaway_ratio", "survives_load_loss")}
    for key, values in filled.items():
        values[at] = found[key]
    return table | filled
