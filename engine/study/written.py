"""Values as a study file writes them."""

import math

from engine.columns import COLUMNS
from engine.study.machine import SETTLED


def value_text(key: str, value: float | str) -> str:
    """Write an SI value of a column as a study file does, with all its digits; '' for NaN.

    A speed that is NaN is one that settles.

    Examples
    --------
    >>> value_text("gap", 3e-4), value_text("process", "turned"), value_text("disc_count", 9)
    ('0.3 mm', 'turned', '9')
    """
    column = COLUMNS[key]
    if isinstance(value, str) or column.is_text:
        return str(value)
    if math.isnan(value):
        return SETTLED if key == "speed" else ""
    unit = "" if column.is_count else column.unit.symbol
    return f"{float(column.to_drawing(value)):.12g} {unit}".strip()
