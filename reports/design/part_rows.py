"""The parts list as the page shows it: every part with its number, and its mass where known."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reports.design.items import Listed
from reports.design.outlines import Circle
from reports.design.plate import Plate
from reports.design.shop_sizes import plain
from reports.design.turned_parts import TurnedPart


@dataclass(frozen=True)
class Row:
    """One line."""

    number: int
    pieces: int
    name: str
    text: str
    each: float
    """Mass of one piece [kg], NaN where no drawing tells it."""

    @property
    def total(self) -> float:
        """Mass of all pieces [kg]."""
        return self.pieces * self.each


@dataclass(frozen=True)
class PartRows:
    """The whole list."""

    rows: tuple[Row, ...]

    @property
    def mass(self) -> float:
        """Sum of the masses that are known [kg]."""
        return math.fsum(row.total for row in self.rows if math.isfinite(row.total))


def part_rows(items: Sequence[Listed]) -> PartRows:
    """Write every part as a line."""
    return PartRows(
        tuple(
            Row(item.number, item.part.pieces, _begun(item.name), _about(item), 1e-3 * item.mass)
            for item in items
        )
    )


def _begun(name: str) -> str:
    return name[:1].upper() + name[1:]


def _about(item: Listed) -> str:
    """Say how large it is and of what, where it is made; else how it is asked for."""
    part = item.part
    size = ""
    if isinstance(part, Plate):
        size = f"{plain(round(part.thickness, 3))} thick"
        if isinstance(part.part.outside, Circle):
            size = f"⌀{plain(part.part.width)} × {plain(round(part.thickness, 3))}"
    elif isinstance(part, TurnedPart) and not part.bought:
        size = f"⌀{plain(part.part.diameter)} × {plain(part.part.length)}"
    material = item.material if item.ordered is None else ""
    start = ", ".join(filter(None, (size, material)))
    return "; ".join(filter(None, (start, part.remark)))
