"""Every part of a machine with its item number, and the lists of them as CSV.

Drawn parts come first, so that their numbers are those of the drawings; what no drawing shows
follows, with the numbers after these.
"""

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

from engine.catalogue import ASSEMBLY_TEMPERATURE, material_state, materials
from reports.design.bolted_parts import bolted_turned
from reports.design.facts import BuildFacts
from reports.design.fasteners import fasteners
from reports.design.loose import loose_parts
from reports.design.machine import plates_of
from reports.design.ordered import Loose, Ordered
from reports.design.plate import Plate
from reports.design.stage_turned import stage_turned
from reports.design.turned_parts import Nut, TurnedPart, nuts, turned_parts
from reports.kit.quantities import THIN

COLUMNS = ("item", "pieces", "name", "made", "file", "material", "remark")
BOUGHT = ("item", "pieces", "name", "size", "standard", "grade", "mass_g", "remark")
"""Mass is that of one piece, '' where the drawing is not of its shape."""
TURNED = ("file", "material", "pieces", "largest_diameter_mm", "length_mm", "mass_g", "remark")
DENSITY = {"steel": 7.85e-3, "aluminium": 2.7e-3}
"""Of what is no material of the catalogue [g/mm3]."""

Part = Plate | TurnedPart | Nut
"""A part that is drawn."""


@dataclass(frozen=True)
class Item:
    """A drawn part with its number."""

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

    @property
    def ordered(self) -> Ordered | None:
        """How it is asked for, None where it is made."""
        return None if isinstance(self.part, Plate) else self.part.ordered

    @property
    def mass(self) -> float:
        """Mass of one piece [g]; NaN where it is not drawn in its shape."""
        if self.ordered is not None and not self.ordered.weighs:
            return math.nan
        return density(self.material) * self.part.volume


@dataclass(frozen=True)
class LooseItem:
    """A part that is not drawn, with its number."""

    number: int
    part: Loose
    file: str = ""
    material: str = ""
    mass: float = math.nan

    @property
    def name(self) -> str:
        """What it is called."""
        return self.part.name

    @property
    def ordered(self) -> Ordered | None:
        """How it is asked for, None where it is made."""
        return None if self.part.made else self.part.ordered


Listed = Item | LooseItem
"""A line of the parts list."""


def items_of(facts: BuildFacts) -> tuple[Item, ...]:
    """Give every drawn part a number: flat ones, turned ones, fasteners, nuts."""
    parts: tuple[Part, ...] = (
        *plates_of(facts),
        *turned_parts(facts),
        *stage_turned(facts),
        *bolted_turned(facts),
        *fasteners(facts),
        *nuts(facts),
    )
    return tuple(Item(number, part) for number, part in enumerate(parts, 1))


def whole_list(facts: BuildFacts, items: Sequence[Item]) -> tuple[Listed, ...]:
    """Add what is not drawn to the drawn parts."""
    loose = enumerate(loose_parts(facts), len(items) + 1)
    return (*items, *(LooseItem(number, part) for number, part in loose))


def parts_list(items: Sequence[Listed]) -> str:
    """Write the parts list, a line a part."""
    rows = [
        (
            item.number,
            item.part.pieces,
            item.name,
            "made" if item.ordered is None else "bought",
            item.file,
            item.material,
            item.part.remark,
        )
        for item in items
    ]
    return _table(COLUMNS, rows)


def bought_list(items: Sequence[Listed]) -> str:
    """Write what a dealer asks for, a line a part that is bought."""
    rows = [
        (
            item.number,
            item.part.pieces,
            item.name,
            asked.size,
            asked.standard,
            asked.grade,
            "" if math.isnan(item.mass) else f"{item.mass:.2g}",
            asked.more,
        )
        for item in items
        if (asked := item.ordered) is not None
    ]
    return _table(BOUGHT, rows)


def turned_list(parts: Sequence[TurnedPart]) -> str:
    """Write what a turning shop asks for, a line a part."""
    rows = [
        (
            f"{made.file}.step",
            made.material,
            made.pieces,
            f"{made.part.diameter:.2f}",
            f"{made.part.length:.2f}",
            f"{density(made.material) * made.volume:.1f}",
            made.remark,
        )
        for made in parts
        if not made.bought
    ]
    return _table(TURNED, rows)


def density(material: str) -> float:
    """Density of what a part is of, as a list names it [g/mm3]."""
    for key, known in materials().items():
        if known.title == material:
            return 1e-6 * float(material_state(key, ASSEMBLY_TEMPERATURE).density)
    return DENSITY["aluminium" if "aluminium" in material.lower() else "steel"]


def _table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(head)
    table.writerows([str(cell).replace(THIN, " ") for cell in row] for row in rows)
    return stream.getvalue()
