"""Long logs: rows at like conditions become one state, with their scatter."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from engine.bench.log import BenchLog
from engine.bench.log_columns import EVERY_CONDITION
from engine.units import counted

LONG = 400
"""Rows above which a log is averaged."""
MOST_STATES = 300
"""States that it is averaged to at most."""
BINS = 40
"""Parts into which the range of a condition is divided at most."""

Numbers = NDArray[np.float64]


def averaged(log: BenchLog) -> BenchLog:
    """Average the rows of a long log; a short one is given back.

    The mean of a state is as uncertain as its instrument and the scatter of its rows over the root
    of their number: repeating a reading does not make a gauge truer. Of a coast-down, samples that
    follow each other are averaged.
    """
    rows = len(log.lines)
    if rows <= LONG:
        return log
    state = np.arange(rows) * MOST_STATES // rows if log.is_coast_down else _states(log)
    _, first, state, count = np.unique(
        state, return_index=True, return_inverse=True, return_counts=True
    )
    columns, uncertainty = {}, {}
    for key, values in log.columns.items():
        known = np.isfinite(values)
        number = np.bincount(state[known], minlength=count.size)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.bincount(state[known], values[known], count.size) / number
            off = np.square(values - mean[state])[known]
            scatter = (
                np.bincount(state[known], off, count.size) / np.maximum(number - 1, 1) / number
            )
            stated = np.bincount(state, np.square(log.uncertainty[key]), count.size) / count
        columns[key] = mean
        uncertainty[key] = np.sqrt(stated + np.nan_to_num(scatter))
    order = np.argsort(first, kind="stable")
    said = f"{counted(rows)} rows at like conditions are averaged to {counted(count.size)} states"
    return replace(
        log,
        columns={key: values[order] for key, values in columns.items()},
        uncertainty={key: values[order] for key, values in uncertainty.items()},
        lines=log.lines[first[order]],
        cautions=(said, *log.cautions),
    )


def _states(log: BenchLog) -> NDArray[np.int64]:
    """Tell states apart by the conditions of a log, and locked from turning rotors."""
    keys = [key for key in EVERY_CONDITION if key in log.columns]
    wider = 1.0
    while True:
        codes = [(log.columns["speed"] == 0).astype(np.int64)]
        for key in keys:
            values = log.columns[key]
            step = wider * max(np.ptp(values) / BINS, 2 * float(np.median(log.uncertainty[key])))
            codes.append(np.floor((values - values.min()) / max(step, 1e-300)).astype(np.int64))
        _, state = np.unique(np.stack(codes), axis=1, return_inverse=True)
        if state.max() < MOST_STATES:
            return np.asarray(state.reshape(-1), dtype=np.int64)
        wider *= 1.5
