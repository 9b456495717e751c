"""A line of the build sheet's tables, and how its numbers are written. Plain text."""

from dataclasses import dataclass

from engine.columns import COLUMNS
from reports.design.facts import BuildFacts, reamed
from reports.design.shop_sizes import general_tolerance
from reports.kit.quantities import THIN, count, quantity


@dataclass(frozen=True)
class Size:
    """One dimension with its tolerance."""

    name: str
    nominal: str
    within: str
    remark: str = ""


def mm(value: float, digits: int = 3) -> str:
    """Write a length [m] in millimetres."""
    return quantity("gap", round(value, digits + 3))


def millimetres(drawn: float) -> str:
    """Write a length of a drawing [mm]."""
    return mm(float(COLUMNS["gap"].to_si(drawn)))


def plus_minus(value: float) -> str:
    """Write a tolerance [m], plus or minus."""
    return f"±{THIN}{mm(value)}"


def general(drawn: float) -> str:
    """Write the general tolerance of a length of a drawing [mm]."""
    return f"±{THIN}{millimetres(general_tolerance(drawn))}"


def reamed_text(drawn: float) -> str:
    """Write the tolerance of a reamed hole [mm]."""
    return f"H7 (0 to +{millimetres(reamed(drawn))})"


def of(facts: BuildFacts, key: str) -> str:
    """Write one number of the design with its unit."""
    return quantity(key, facts.number(key))


def rpm(speed: float) -> str:
    """Write a speed in whole rpm."""
    return f"{turns(speed)}{THIN}rpm"


def turns(speed: float) -> str:
    """Write a speed in whole rpm, without the unit."""
    return count(float(COLUMNS["speed"].to_drawing(speed)))


def trip(facts: BuildFacts) -> float:
    """Speed at which the trip acts [rad/s]."""
    return facts.number("trip_factor") * facts.number("speed")
