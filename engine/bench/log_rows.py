"""The cells of one row of a bench log, as numbers, and why a row cannot be used."""

import re
from collections.abc import Mapping, Sequence

import numpy as np

from engine import units
from engine.bench.log_columns import EVERY_CONDITION, Scale
from engine.bench.log_text import LogText
from engine.study.plausible import PLAUSIBLE

ELECTRIC = ("electric_power", "voltage", "current")
"""Quantities that need no reading while the rotor is locked."""
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_BLANK = ("", "-", "--", "nan", "na", "n/a", "none", "null", "inf", "-inf")


def numbers_of_row(
    text: LogText, cells: Sequence[str], scales: Mapping[int, Scale], speed: float
) -> tuple[list[float], str, list[str]]:
    """Numbers of a row, why it cannot be used, and which of its readings are missing.

    `speed` is that of all rows, NaN if it has a column. A missing reading becomes NaN; a row
    without a condition, or without any reading, is not used. Cells of `ELECTRIC` may be blank in a
    row of a locked rotor.
    """
    numbers: list[float] = []
    missing: dict[str, str] = {}
    for place, scale in scales.items():
        cell = cells[place].strip().replace("−", "-")
        if text.decimal == ",":
            cell = cell.replace(",", ".")
        reason = ""
        if cell.lower() in _BLANK:
            reason = f"no reading ({units.shorten(cells[place].strip())})"
        elif not _NUMBER.fullmatch(cell):
            reason = f"{units.shorten(cells[place])} is not a number"
        elif scale.quantity == "nozzle_count" and not float(cell).is_integer():
            reason = f"{units.shorten(cell)} is not a whole number"
        elif not scale.is_plausible(float(cell)):
            row = PLAUSIBLE["log"][scale.quantity]
            reason = f"{units.shorten(cell)} is not plausible; expected {row.words}"
        if not reason:
            numbers.append(float(cell))
            speed = numbers[-1] if scale.quantity == "speed" else speed
        elif scale.quantity in (*EVERY_CONDITION, "time"):
            return [], f"{text.names[place]}: {reason}", []
        else:
            numbers.append(np.nan)
            missing[scale.quantity] = f"{text.names[place]}: {reason}"
    if speed == 0:
        missing = {key: reason for key, reason in missing.items() if key not in ELECTRIC}
    readings = {each.quantity for each in scales.values()} - {*EVERY_CONDITION, "time"}
    if missing and not readings - missing.keys():
        return [], next(iter(missing.values())), []
    return numbers, "", [*missing.values()]
