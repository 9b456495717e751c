"""Every part of a machine with its item number: the parts list of the arrangement, as CSV."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from reports.design.bolted_parts import bolted_turned
from reports.design.facts import BuildFacts
from reports.design.machine import plates_of
from reports.design.plate import Plate
from reports.design.stage_turned import stage_turned
from reports.design.turned_parts import Nut, TurnedPart, nuts, turned_parts

COLUMNS = ("item", "pieces", "name", "made", "file", "material", "remark")
TURNED = ("file", "material", "pieces", "largest_diameter_mm", "length_mm", "mass_g", "remark")
DENSITY = {"steel": 7.85e-3, "aluminium": 2.7e-3}
"""[g/mm3]"""

Part = Plate | TurnedPart | Nut


@dataclass(frozen=True)
class Item:
    """A part with its number."""

    number: int
    part: Part

    @property
    def name(self) -> str:
        """What it is called."""
        return self.part.name

    @property
    def file(self) -> str:
        """Name of the file to make it from, '' where it is bought."""
        if isinstance(self.part, Plate):
            return f"{self.part.file}.dxf"
        if isinstance(self.part, TurnedPart) and not self.part.bought:
            return f"{self.part.file}.step"
        return ""

    @property
    def material(self) -> str:
        """What it is of, '' where that is not ours to say."""
        return "" if isinstance(self.part, Nut) else self.part.material


def items_of(facts: BuildFacts) -> tuple[Item, ...]:
    """Give every part a number: flat ones, turned ones, nuts."""
    parts: tuple[Part, ...] = (
        *plates_of(facts),
        *turned_parts(facts),
        *stage_turned(facts),
        *bolted_turned(facts),
        *nuts(facts),
    )
    return tuple(Item(number, part) for number, part in enumerate(parts, 1))


def parts_list(items: Sequence[Item]) -> str:
    """Write the parts list, a line a part."""
    rows = [
        (
            item.number,
            item.part.pieces,
            item.name,
            "made" if item.file else "bought",
            item.file,
            item.material,
            item.part.remark,
        )
        for item in items
    ]
    return _table(COLUMNS, rows)


def turned_list(parts: Sequence[TurnedPart]) -> str:
    """Write what a turning shop asks for, a line a part."""
    rows = [
        (
            f"{made.file}.step",
            made.material,
            made.pieces,
            f"{made.part.diameter:.2f}",
            f"{made.part.length:.2f}",
            f"{_density(made.material) * made.volume:.1f}",
            made.remark,
        )
        for made in parts
        if not made.bought
    ]
    return _table(TURNED, rows)


def _density(material: str) -> float:
    return DENSITY["aluminium" if "aluminium" in material.lower() else "steel"]


def _table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(head)
    table.writerows(rows)
    return stream.getvalue()
