"""What a reader must know of a number where it stands: how sure it is. Plain text."""

import math

from reports.kit.quantities import whole_percent
from reports.run.search_facts import Values

BUILT = (0.1, 0.25)
"""Turbine efficiency that built machines commonly reach on shop air; common practice, no source."""


def built_remark(values: Values) -> str:
    """Say what built machines reach on shop air, beside an efficiency; '' on other supply."""
    on_air = math.isfinite(float(values.get("free_air_flow", math.nan)))
    low, high = (f"{100 * share:g}" for share in BUILT)
    return f"built ones commonly {low} to {high} %" if on_air else ""


def efficiency_text(values: Values) -> str:
    """Say where an efficiency is above what built machines reach on shop air; '' where not."""
    found = float(values.get("turbine_efficiency", math.nan))
    if not built_remark(values) or not found > BUILT[1]:
        return ""
    low, high = (f"{100 * share:g}" for share in BUILT)
    return (
        f"Its turbine efficiency, {whole_percent(found)}, is above the {low} to {high} % that "
        "built machines commonly reach on shop air (common practice, no source): do not count on "
        "all of it."
    )


def range_text(values: Values) -> str:
    """Say which relations of a build are used outside of their range; '' for none."""
    outside = str(values.get("validity", ""))
    return f"Computed outside the range of a relation: {outside}." if outside else ""


def doubts(values: Values) -> list[str]:
    """List both for one build."""
    return [text for text in (efficiency_text(values), range_text(values)) if text]
