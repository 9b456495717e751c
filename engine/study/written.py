"""Values as a study file writes them."""

import math

from engine.columns import COLUMNS
from engine.study.machine import SETTLED

NOISE = 1e-11
"""Share of a value below which a difference is that of reckoning."""


def value_text(key: str, value: float | str) -> str:
    """Write an SI value of a column as a study file does, with all its digits; '' for NaN.

    A speed that is NaN is one that settles.

    Examples
    --------
    >>> value_text("gap", 3e-4), value_text("process", "turned"), value_text("disc_count", 9)
    ('0.3 mm', 'turned', '9')
    >>> value_text("inlet_angle", 0.10471975512)
    '6 deg'
    """
    column = COLUMNS[key]
    if isinstance(value, str) or column.is_text:
        return str(value)
    if math.isnan(value):
        return SETTLED if key == "speed" else ""
    unit = "" if column.is_count else column.unit.symbol
    drawn = float(column.to_drawing(value))
    # A search that steps through radians gives an angle of 6 degrees as 6.00000000002.
    short = float(f"{drawn:.10g}")
    told = short if math.isclose(short, drawn, rel_tol=NOISE) else drawn
    return f"{told:.12g} {unit}".strip()
