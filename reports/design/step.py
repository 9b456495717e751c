"""Flat parts as solids in a STEP file (ISO 10303-21, schema AP214), straight from their outlines.

Each solid is an extrusion: planes and cylinders, bounded by lines and arcs of circles. No CAD
kernel is needed to write it; the tests read it again with one.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from reports.design.outlines import Arc, Circle, Flat, Line, Outline, Point

SCHEMA = "AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }"
ACCURACY = 1e-6
"""Distance below which points count as one [mm]."""

UP, AHEAD = (0, 0, 1), (1, 0, 0)

Edge = Line | Arc


@dataclass(frozen=True)
class Product:
    """A flat part and where its pieces are."""

    part: Flat
    thickness: float
    """[mm]"""
    levels: tuple[float, ...]
    """Lower face of each piece along the shaft [mm]."""

    @property
    def volume(self) -> float:
        """Volume of one piece [mm3]."""
        return self.part.area * self.thickness


@dataclass
class _File:
    """Entities of a file; each is referred to by its number."""

    entities: list[str] = field(default_factory=list)

    def add(self, entity: str) -> str:
        """Add an entity; gives the reference to it."""
        self.entities.append(entity)
        return f"#{len(self.entities)}"

    def point(self, x: float, y: float, z: float) -> str:
        return self.add(f"CARTESIAN_POINT('',({x:.9f},{y:.9f},{z:.9f}))")

    def direction(self, x: float, y: float, z: float) -> str:
        return self.add(f"DIRECTION('',({x:.12f},{y:.12f},{z:.12f}))")

    def axes(self, at: Sequence[float], up: Sequence[float], ahead: Sequence[float]) -> str:
        x, y, z = at
        places = self.point(x, y, z), self.direction(*up), self.direction(*ahead)
        return self.add(f"AXIS2_PLACEMENT_3D('',{','.join(places)})")

    def line(self, at: Sequence[float], along: Sequence[float]) -> str:
        x, y, z = at
        vector = self.add(f"VECTOR('',{self.direction(*along)},1.)")
        return self.add(f"LINE('',{self.point(x, y, z)},{vector})")

    def vertex(self, x: float, y: float, z: float) -> str:
        return self.add(f"VERTEX_POINT('',{self.point(x, y, z)})")

    def curve(self, start: str, end: str, geometry: str, *, same: bool = True) -> str:
        return self.add(f"EDGE_CURVE('',{start},{end},{geometry},{_flag(same)})")

    def loop(self, edges: Iterable[tuple[str, bool]]) -> str:
        oriented = [self.add(f"ORIENTED_EDGE('',*,*,{edge},{_flag(on)})") for edge, on in edges]
        return self.add(f"EDGE_LOOP('',({','.join(oriented)}))")

    def face(self, loops: Sequence[str], surface: str, *, same: bool = True) -> str:
        kinds = ("FACE_OUTER_BOUND", *["FACE_BOUND"] * (len(loops) - 1))
        bounds = [
            self.add(f"{kind}('',{loop},.T.)") for kind, loop in zip(kinds, loops, strict=True)
        ]
        return self.add(f"ADVANCED_FACE('',({','.join(bounds)}),{surface},{_flag(same)})")


def step_of(products: Sequence[Product], title: str) -> str:
    """Write products as the text of a STEP file; lengths in mm, the shaft along z.

    Each product is written once and placed in the machine as often as it has pieces.
    """
    file = _File()
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
        name = product.part.name
        part = _defined(file, name, mechanical, design)
        solid = _solid(file, product.part, product.thickness)
        own = file.axes((0, 0, 0), UP, AHEAD)
        body = file.add(
            f"ADVANCED_BREP_SHAPE_REPRESENTATION({_text(name)},({own},{solid}),{context})"
        )
        _shown(file, part, body)
        for level in product.levels:
            places.append(file.axes((0, 0, level), UP, AHEAD))
            made.append((name, part, body, own, places[-1]))
    machine = file.add(
        f"SHAPE_REPRESENTATION({_text(title)},({','.join([origin, *places])}),{context})"
    )
    _shown(file, whole, machine)
    for number, (name, part, body, own, place) in enumerate(made, 1):
        used = file.add(
            f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{number}',{_text(name)},'',{whole},{part},$)"
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
            f"FILE_DESCRIPTION(({_text(title)}),'2;1');",
            f"FILE_NAME({_text(title)},'',(''),(''),'swirlstack','swirlstack','');",
            f"FILE_SCHEMA(('{SCHEMA}'));",
            "ENDSEC;",
            "DATA;",
            *(f"#{number}={entity};" for number, entity in enumerate(file.entities, 1)),
            "ENDSEC;",
            "END-ISO-10303-21;",
            "",
        ]
    )


def _defined(file: _File, name: str, mechanical: str, design: str) -> str:
    """Define a product."""
    product = file.add(f"PRODUCT({_text(name)},{_text(name)},'',({mechanical}))")
    version = file.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
    return file.add(f"PRODUCT_DEFINITION('design','',{version},{design})")


def _shown(file: _File, definition: str, representation: str) -> None:
    """Give a product its shape."""
    shape = file.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    file.add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{representation})")


def _context(file: _File) -> str:
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


def _solid(file: _File, part: Flat, top: float) -> str:
    """Extrude a part from level 0 to its upper face."""
    outer, *holes = (_edges(outline) for outline in (part.outside, *part.inside))
    # Metal lies at the left of every edge.
    loops = [_directed(outer, counterclockwise=True)]
    loops += [_directed(hole, counterclockwise=False) for hole in holes]
    faces, lower, upper = list[str](), list[str](), list[str]()
    for edges in loops:
        ends = [(edge.start, *_vertices(file, edge.start, top)) for edge in edges]
        walls = [
            file.curve(below, above, file.line((*at, 0), (0, 0, 1))) for at, below, above in ends
        ]
        around = list(pairwise([*range(len(edges)), 0]))
        floor, ceiling = list[str](), list[str]()
        for edge, (here, there) in zip(edges, around, strict=True):
            for level, place, found in ((0.0, 1, floor), (top, 2, ceiling)):
                geometry, same = _geometry(file, edge, level)
                found.append(file.curve(ends[here][place], ends[there][place], geometry, same=same))
            loop = file.loop(
                [
                    (floor[-1], True),
                    (walls[there], True),
                    (ceiling[-1], False),
                    (walls[here], False),
                ]
            )
            surface, same = _wall(file, edge)
            faces.append(file.face([loop], surface, same=same))
        lower.append(file.loop((edge, False) for edge in reversed(floor)))
        upper.append(file.loop((edge, True) for edge in ceiling))
    for loops_of_face, level, up in ((lower, 0.0, -1), (upper, top, 1)):
        plane = file.add(f"PLANE('',{file.axes((0, 0, level), (0, 0, up), (1, 0, 0))})")
        faces.append(file.face(loops_of_face, plane))
    shell = file.add(f"CLOSED_SHELL('',({','.join(faces)}))")
    return file.add(f"MANIFOLD_SOLID_BREP({_text(part.name)},{shell})")


def _vertices(file: _File, at: Point, top: float) -> tuple[str, str]:
    return file.vertex(*at, 0), file.vertex(*at, top)


def _geometry(file: _File, edge: Edge, level: float) -> tuple[str, bool]:
    """Curve of an edge at a level, and whether the edge runs the same way."""
    if isinstance(edge, Line):
        return file.line((*edge.start, level), (*_way(edge), 0)), True
    axes = file.axes((*edge.centre, level), UP, AHEAD)
    return file.add(f"CIRCLE('',{axes},{edge.radius:.9f})"), edge.sweep > 0


def _wall(file: _File, edge: Edge) -> tuple[str, bool]:
    """Surface that an edge sweeps, and whether it faces out of the metal."""
    if isinstance(edge, Line):
        x, y = _way(edge)
        return file.add(f"PLANE('',{file.axes((*edge.start, 0), (y, -x, 0), (0, 0, 1))})"), True
    axes = file.axes((*edge.centre, 0), UP, AHEAD)
    return file.add(f"CYLINDRICAL_SURFACE('',{axes},{edge.radius:.9f})"), edge.sweep > 0


def _way(line: Line) -> Point:
    (x1, y1), (x2, y2) = line.start, line.end
    return (x2 - x1) / line.length, (y2 - y1) / line.length


def _edges(outline: Circle | Outline) -> list[Edge]:
    """Edges of an outline, none of them more than half a turn."""
    found: list[Edge] = []
    for edge in outline.edges:
        pieces = math.ceil(abs(edge.sweep) / math.pi - 1e-9) if isinstance(edge, Arc) else 1
        if isinstance(edge, Line) or pieces == 1:
            found.append(edge)
            continue
        sweep = edge.sweep / pieces
        found += [
            Arc(edge.centre, edge.radius, edge.start_angle + piece * sweep, sweep)
            for piece in range(pieces)
        ]
    return found


def _directed(edges: Sequence[Edge], *, counterclockwise: bool) -> list[Edge]:
    if (Outline(tuple(edges)).area > 0) == counterclockwise:
        return list(edges)
    return [_reversed(edge) for edge in reversed(edges)]


def _reversed(edge: Edge) -> Edge:
    if isinstance(edge, Line):
        return Line(edge.end, edge.start)
    return Arc(edge.centre, edge.radius, edge.start_angle + edge.sweep, -edge.sweep)


def _flag(value: bool) -> str:
    return ".T." if value else ".F."


def _text(text: str) -> str:
    """Write a string: quotes and backslashes doubled, other letters by their code."""
    found = []
    for letter in " ".join(text.split()):
        if letter in "'\\":
            found.append(2 * letter)
        elif letter.isascii() and letter.isprintable():
            found.append(letter)
        else:
            found.append(f"\\X4\\{ord(letter):08X}\\X0\\")
    return f"'{''.join(found)}'"
