"""A flat part as a shop is asked for it: its thickness, its pieces and where they are.

Level 0 is the lower face of the stack; lengths in mm.
"""

import math
from dataclasses import dataclass, replace

from reports.design.casing import Housing
from reports.design.outlines import Circle, Flat, Outline, Part
from reports.design.step import Place, Product

REAM_ALLOWANCE = 0.2
"""Diameter left in the shaft hole for reaming [mm]; common practice, no source."""
STEEL_PLATE = "steel plate, for example S235 (EN 10025-2)"
"""What plates of the casing are drawn for; its strength is not computed here."""


@dataclass(frozen=True)
class Plate(Product):
    """A flat part with what a shop has to know of it."""

    material: str
    finest: float
    """Smallest hole, slot or bar [mm]."""
    remark: str
    aside: float = 0.0
    """How far its own middle is off the shaft [mm]."""

    @property
    def places(self) -> tuple[Place, ...]:
        """Where the origin of each piece is [mm]."""
        return tuple((self.aside, 0.0, level) for level in self.levels)

    @property
    def file(self) -> str:
        """Name of its files, without the end."""
        return self.part.name.replace(" ", "-")


def as_cut(part: Flat, casing: Housing | None = None) -> Flat:
    """Draw a part as it is cut: shaft hole and dowel holes small, to be reamed together."""
    if not isinstance(part, Part):
        dowels = casing.holes[casing.bolts :] if casing is not None else ()
        inside = tuple(_small(edge) if edge in dowels else edge for edge in part.inside)
        return replace(part, inside=inside)
    hole = Circle(part.web.shaft_radius - REAM_ALLOWANCE / 2)
    return replace(part, inside=(hole, *(_drilled(part, edge) for edge in part.inside[1:])))


def _drilled(part: Part, edge: Circle | Outline) -> Circle | Outline:
    """Leave metal for the thread in a hole that has one."""
    if part.drill is None or isinstance(edge, Outline):
        return edge
    return replace(edge, radius=part.drill / 2)


def _small(edge: Circle | Outline) -> Circle | Outline:
    """Leave something to ream in a round hole."""
    if isinstance(edge, Outline):
        return edge
    return replace(edge, radius=edge.radius - REAM_ALLOWANCE / 2)


def cut_length(part: Flat) -> float:
    """Length of all its edges [mm]."""
    return math.fsum(
        edge.length for outline in (part.outside, *part.inside) for edge in outline.edges
    )


def pierces(part: Flat) -> int:
    """How often the beam must go through the sheet: once an outline."""
    return 1 + len(part.inside)
