"""The front of a run that is still going on."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from engine.bands.results import evaluate_judged
from engine.columns import Results
from engine.model.evaluation import RUNAWAY_COLUMNS, with_runaway, with_trip
from engine.model.lanes import rows_of
from engine.model.load_loss import TRIP_COLUMNS
from engine.run.folder import each_part
from engine.run.parquet import joined
from engine.run.summary import ranked
from engine.search.front import merits, nondominated
from engine.study.study import Study

RECHECKED = ("resolved_power", "resolved_difference")
"""Columns that only the front of an ended run has."""


def front_so_far(study: Study, folder: Path) -> Results:
    """Front of the designs stored so far, without the columns added at the end of the run.

    Parts are read one at a time and only in a few columns; the designs of the front are then
    evaluated again. `runaway_of` adds their runaway speed. The recheck with resolved gap flow is
    made only at the end of the run.
    """
    front: Results = {}
    keys = tuple(dict.fromkeys((*study.aims, *study.searched(), "design", "feasible", "gap_flow")))
    for part in each_part(folder, keys):
        more = rows_of(part, part["feasible"] == 1)
        front = joined([front, more]) if front else more
        # Once there are designs with resolved gap flow, only these count.
        resolved = front["gap_flow"] == "resolved"
        merit = merits(front, study.aims)
        if resolved.any():
            merit[~resolved] = np.nan
        front = rows_of(front, nondominated(merit))
    if not front or not len(front["design"]):
        return {}
    front = ranked(front, study.aims)
    given = {key: front[key] for key in (*study.searched(), "gap_flow")}
    full = {**evaluate_judged(study, given), **front}
    return {key: values for key, values in full.items() if key not in RECHECKED}


def runaway_of(study: Study, table: Results, rows: Sequence[int]) -> Results:
    """Table with runaway and trip of some rows evaluated; the other rows are unchanged."""
    if not rows or study.kind == "pump":
        return table
    at = list(rows)
    few = {key: values[at] for key, values in table.items()}
    found = with_trip(study, with_runaway(study, few))
    filled = {key: table[key].copy() for key in (*RUNAWAY_COLUMNS, *TRIP_COLUMNS)}
    for key, values in filled.items():
        values[at] = found[key]
    return table | filled
