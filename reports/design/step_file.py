"""Entities of a STEP file (ISO 10303-21), each referred to by its number."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

UP, DOWN, AHEAD = (0, 0, 1), (0, 0, -1), (1, 0, 0)


@dataclass
class StepFile:
    """Entities of a file; each is referred to by its number."""

    entities: list[str] = field(default_factory=list)
    shared: dict[str, str] = field(default_factory=dict)
    """References by entity, of points and directions: equal ones are written once."""

    def add(self, entity: str) -> str:
        """Add an entity; gives the reference to it."""
        self.entities.append(entity)
        return f"#{len(self.entities)}"

    def once(self, entity: str) -> str:
        """Add an entity where there is no equal one; gives the reference to it."""
        if entity not in self.shared:
            self.shared[entity] = self.add(entity)
        return self.shared[entity]

    def point(self, x: float, y: float, z: float) -> str:
        """Add a point."""
        return self.once(f"CARTESIAN_POINT('',({real(x)},{real(y)},{real(z)}))")

    def direction(self, x: float, y: float, z: float) -> str:
        """Add a direction, of length 1."""
        return self.once(f"DIRECTION('',({real(x, 12)},{real(y, 12)},{real(z, 12)}))")

    def axes(self, at: Sequence[float], up: Sequence[float], ahead: Sequence[float]) -> str:
        """Add a place: its point, its axis and its first direction."""
        x, y, z = at
        places = self.point(x, y, z), self.direction(*up), self.direction(*ahead)
        return self.once(f"AXIS2_PLACEMENT_3D('',{','.join(places)})")

    def line(self, at: Sequence[float], along: Sequence[float]) -> str:
        """Add a line without ends."""
        x, y, z = at
        vector = self.add(f"VECTOR('',{self.direction(*along)},1.)")
        return self.add(f"LINE('',{self.point(x, y, z)},{vector})")

    def vertex(self, x: float, y: float, z: float) -> str:
        """Add a point where edges end."""
        return self.add(f"VERTEX_POINT('',{self.point(x, y, z)})")

    def curve(self, start: str, end: str, geometry: str, *, same: bool = True) -> str:
        """Add an edge; `same` says whether it runs as its curve does."""
        return self.add(f"EDGE_CURVE('',{start},{end},{geometry},{flag(same)})")

    def loop(self, edges: Iterable[tuple[str, bool]]) -> str:
        """Add a loop of edges, each with whether it is run along."""
        oriented = [self.add(f"ORIENTED_EDGE('',*,*,{edge},{flag(on)})") for edge, on in edges]
        return self.add(f"EDGE_LOOP('',({','.join(oriented)}))")

    def face(self, loops: Sequence[str], surface: str, *, same: bool = True) -> str:
        """Add a face; `same` says whether its surface faces out of the metal."""
        kinds = ("FACE_OUTER_BOUND", *["FACE_BOUND"] * (len(loops) - 1))
        bounds = [
            self.add(f"{kind}('',{loop},.T.)") for kind, loop in zip(kinds, loops, strict=True)
        ]
        return self.add(f"ADVANCED_FACE('',({','.join(bounds)}),{surface},{flag(same)})")


def real(value: float, decimals: int = 9) -> str:
    """Write a number: with a point always, without closing zeros."""
    written = f"{value:.{decimals}f}".rstrip("0")
    return "0." if written in ("-0.", "-0") else written


def flag(value: bool) -> str:
    """Write a statement."""
    return ".T." if value else ".F."


def text(text: str) -> str:
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
