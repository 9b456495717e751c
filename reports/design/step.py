"""Parts in their places as a STEP file (ISO 10303-21, schema AP214); see `solids` for their shapes.

The tests read it again with a CAD kernel.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, TypeAlias

from reports.design.outlines import Flat
from reports.design.solids import extruded, revolved
from reports.design.step_file import AHEAD, DOWN, UP, StepFile, text
from reports.design.turned import Turned

SCHEMA = "AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }"
ACCURACY = 1e-6
"""Distance below which points count as one [mm]."""

Place: TypeAlias = tuple[float, float, float]


class Solid(Protocol):
    """A part and where its pieces are."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def volume(self) -> float:
        """Volume of one piece [mm3]."""

    @property
    def places(self) -> tuple[Place, ...]:
        """Where the origin of each piece is [mm]."""

    @property
    def over(self) -> tuple[bool, ...]:
        """Whether each piece is turned over, its own axis downward."""

    def write(self, file: StepFile) -> str:
        """Write one piece; gives the solid."""


@dataclass(frozen=True)
class Product:
    """A flat part and where its pieces are."""

    part: Flat
    thickness: float
    """[mm]"""
    levels: tuple[float, ...]
    """Lower face of each piece along the shaft [mm]."""

    @property
    def name(self) -> str:
        """What it is called."""
        return self.part.name

    @property
    def pieces(self) -> int:
        """Number of pieces."""
        return len(self.levels)

    @property
    def volume(self) -> float:
        """Volume of one piece [mm3]."""
        return self.part.area * self.thickness

    @property
    def places(self) -> tuple[Place, ...]:
        """Where the origin of each piece is [mm]."""
        return tuple((0.0, 0.0, level) for level in self.levels)

    @property
    def over(self) -> tuple[bool, ...]:
        """No flat part is turned over."""
        return (False,) * self.pieces

    def write(self, file: StepFile) -> str:
        """Write one piece; gives the solid."""
        return extruded(file, self.part, self.thickness)


@dataclass(frozen=True)
class TurnedProduct:
    """A turned part and where its pieces are."""

    part: Turned
    places: tuple[Place, ...]
    """Where the origin of each piece is [mm]."""
    over: tuple[bool, ...]
    """Whether each piece is turned over, its own axis downward."""

    @property
    def name(self) -> str:
        """What it is called."""
        return self.part.name

    @property
    def pieces(self) -> int:
        """Number of pieces."""
        return len(self.places)

    @property
    def volume(self) -> float:
        """Volume of one piece [mm3]."""
        return self.part.volume

    def write(self, file: StepFile) -> str:
        """Write one piece; gives the solid."""
        return revolved(file, self.part)


def step_of(products: Sequence[Solid], title: str) -> str:
    """Write products as the text of a STEP file; lengths in mm, the shaft along z.

    Each product is written once and placed in the machine as often as it has pieces.
    """
    file = StepFile()
    context = _context(file)
    application = file.add(
        "APPLICATION_CONTEXT('core data for automotive mechanical design processes')"
    )
    file.add(
        "APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,"
        f"{application})"
    )
    mechanical = file.add(f"PRODUCT_CONTEXT('',{application},'mechanical')")
    design = file.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{application},'design')")
    whole = _defined(file, title, mechanical, design)
    origin = file.axes((0, 0, 0), UP, AHEAD)
    made, places = [], []
    for product in products:
        name = product.name
        part = _defined(file, name, mechanical, design)
        solid = product.write(file)
        own = file.axes((0, 0, 0), UP, AHEAD)
        body = file.add(
            f"ADVANCED_BREP_SHAPE_REPRESENTATION({text(name)},({own},{solid}),{context})"
        )
        _shown(file, part, body)
        for at, over in zip(product.places, product.over, strict=True):
            places.append(file.axes(at, DOWN if over else UP, AHEAD))
            made.append((name, part, body, own, places[-1]))
    machine = file.add(
        f"SHAPE_REPRESENTATION({text(title)},({','.join([origin, *places])}),{context})"
    )
    _shown(file, whole, machine)
    for number, (name, part, body, own, place) in enumerate(made, 1):
        used = file.add(
            f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{number}',{text(name)},'',{whole},{part},$)"
        )
        moved = file.add(f"ITEM_DEFINED_TRANSFORMATION('','',{own},{place})")
        related = file.add(
            f"(REPRESENTATION_RELATIONSHIP('','',{body},{machine}) "
            f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION({moved}) "
            "SHAPE_REPRESENTATION_RELATIONSHIP())"
        )
        shape = file.add(f"PRODUCT_DEFINITION_SHAPE('','',{used})")
        file.add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION({related},{shape})")
    return "\n".join(
        [
            "ISO-10303-21;",
            "HEADER;",
            f"FILE_DESCRIPTION(({text(title)}),'2;1');",
            f"FILE_NAME({text(title)},'',(''),(''),'swirlstack','swirlstack','');",
            f"FILE_SCHEMA(('{SCHEMA}'));",
            "ENDSEC;",
            "DATA;",
            *(f"#{number}={entity};" for number, entity in enumerate(file.entities, 1)),
            "ENDSEC;",
            "END-ISO-10303-21;",
            "",
        ]
    )


def _defined(file: StepFile, name: str, mechanical: str, design: str) -> str:
    """Define a product."""
    product = file.add(f"PRODUCT({text(name)},{text(name)},'',({mechanical}))")
    version = file.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
    return file.add(f"PRODUCT_DEFINITION('design','',{version},{design})")


def _shown(file: StepFile, definition: str, representation: str) -> None:
    """Give a product its shape."""
    shape = file.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    file.add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{representation})")


def _context(file: StepFile) -> str:
    """Units, and the distance below which points count as one."""
    length = file.add("(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.))")
    angle = file.add("(NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.))")
    solid_angle = file.add("(NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT())")
    accuracy = file.add(
        f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE({ACCURACY:.1E}),{length},"
        "'distance_accuracy_value','')"
    )
    return file.add(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3) "
        f"GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({accuracy})) "
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid_angle})) "
        "REPRESENTATION_CONTEXT('','3D'))"
    )
