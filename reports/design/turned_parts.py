"""The turned parts of a design and those that are bought, each where it is; millimetres.

Level 0 is the lower face of the stack, and the shaft points upward to its drive. All sizes come
from `engine.model.shaft_layout` and from the drawn casing. Threads are drawn as their cylinder, and
the teeth of a pulley as the cylinder over them.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from engine.catalogue import materials
from engine.columns import COLUMNS
from engine.model.shaft_layout import (
    CARRIER_PLATE,
    CLAMP_THICKNESS,
    END_PLATE,
    PULLEY_EDGES,
    SECTIONS,
    SLEEVE_FLANGE,
)
from engine.study.parts import nut_passes
from reports.design.carriers import ARMS, SCREW_HOLE
from reports.design.casing import Housing
from reports.design.collars import collar_profile, on_clamp, wear_ring_profile
from reports.design.facts import BuildFacts
from reports.design.keys import KEYED_UP_TO, Key, key_for
from reports.design.ordered import Ordered, ordered_bearing
from reports.design.outlines import Circle, Flat, Line, Outline, Point, point_along
from reports.design.step import Place, Product, TurnedProduct
from reports.design.turned import Bores, Broach, Keyway, Turned, chamfered, clean, rings

STEEL = "steel 11SMn30 (EN 10277) or alike"
LIGHT = "aluminium EN AW-6082 (EN 573-3) or alike"
CHAMFER, SMALL_CHAMFER, SMALL = 0.5, 0.1, 6.0
"""Of the ends of turned parts, and of those thinner than this [mm]."""
NUT = 0.8
"""Height of a nut over its thread: ISO 4032, rounded."""
ACROSS = {5.0: 8.0, 6.0: 10.0, 8.0: 13.0}
"""Flats of a bolt's nut: ISO 4032, from memory [mm]."""
ROD_WASHERS = {5.0: (10.0, 5.3, 1.0), 6.0: (12.0, 6.4, 1.6), 8.0: (16.0, 8.4, 1.6)}
"""Outside, bore and thickness of a bolt's washer: ISO 7089, from memory [mm]."""
NOT_ON = ", which does not pass the bearing's seat"
"""Said of a clamp nut that cannot be put on."""
TUBES = ("distance tube", "drive distance tube")
"""Names of the tubes of each length."""
EDGE_OF_PULLEY = 1.5
"""Thickness of a pulley's flange [mm]."""
BOLT_CLASS = "8.8"
"""Of bolts and rods; ISO 898-1."""


@dataclass(frozen=True)
class TurnedPart(TurnedProduct):
    """A turned part with what its maker or its buyer has to know."""

    material: str
    remark: str
    ordered: Ordered | None = None
    """How it is asked for where it is bought."""

    @property
    def bought(self) -> bool:
        """Whether it is not made here."""
        return self.ordered is not None

    @property
    def file(self) -> str:
        """Name of its files, without the end."""
        return self.name.replace(" ", "-")

    @property
    def alone(self) -> TurnedProduct:
        """One piece on its own axis."""
        return TurnedProduct(self.part, ((0.0, 0.0, 0.0),), (False,))


@dataclass(frozen=True)
class Nut(Product):
    """A nut, which is bought."""

    around: tuple[Point, ...]
    """Where its pieces are across the shaft."""
    ordered: Ordered

    @property
    def remark(self) -> str:
        """What it is."""
        return self.ordered.text

    @property
    def places(self) -> tuple[Place, ...]:
        """Where the origin of each piece is [mm]."""
        return tuple((x, y, level) for level in self.levels for x, y in self.around)

    @property
    def pieces(self) -> int:
        """Number of pieces."""
        return len(self.places)

    @property
    def over(self) -> tuple[bool, ...]:
        """None is turned over."""
        return (False,) * self.pieces


def turned_parts(facts: BuildFacts) -> tuple[TurnedPart, ...]:
    """List the turned parts: those of the rotor alone where there is no casing to hold it."""
    casing = facts.housing
    return (*_rotor(facts), *((*_held(facts), *_holding(facts, casing)) if casing else ()))


def nuts(facts: BuildFacts) -> tuple[Nut, ...]:
    """List the nut of the clamp, and those of the rods."""
    thread, height = section(facts, "thread"), _height(facts)
    clamps = Flat("clamp nut", hexagon(facts.laid("nut_diameter")), (Circle(thread / 2),))
    stuck = "" if nut_passes(facts.word("bearing"), facts.number("shaft_diameter")) else NOT_ON
    pitch = facts.laid("thread_pitch")
    named = Ordered(f"M{thread:g} × {pitch:g}{stuck}", "", "class 8", "faces true to the thread")
    top = height + 1e3 * CLAMP_THICKNESS
    found = [Nut(clamps, facts.laid("nut_height"), (top,), ((0.0, 0.0),), named)]
    if (casing := facts.housing) is not None:
        size = casing.bolt_size
        holds = Flat("rod nut", hexagon(ACROSS[size]), (Circle(size / 2),))
        low, high = rods_span(facts)
        thick = ROD_WASHERS[size][2]
        levels = (low - thick - NUT * size, high + thick)
        named = Ordered(casing.bolt, "ISO 4032", "class 8")
        found.append(Nut(holds, NUT * size, levels, bolts_of(casing), named))
    return tuple(found)


def section(facts: BuildFacts, name: str) -> float:
    """Diameter of a section of the shaft [mm]."""
    return 1e3 * float(facts.layout.diameters[0, SECTIONS.index(name)])


def bolts_of(casing: Housing) -> tuple[Point, ...]:
    """Middles of the bolts."""
    return tuple(hole.centre for hole in casing.holes[: casing.bolts])


def shaft_profile(facts: BuildFacts) -> tuple[Point, ...]:
    """Half outline of the shaft, level 0 as in the machine."""
    edges, diameters = (1e3 * values[0] for values in (facts.layout.edges, facts.layout.diameters))
    sections = [
        (float(diameter), float(low), float(high))
        for diameter, low, high in zip(diameters, edges[:-1], edges[1:], strict=True)
    ]
    return chamfered(rings(sections), chamfer_of(sections[0][0]))


def carrier_screws(facts: BuildFacts) -> float:
    """Diameter of the circle of screws that hold a bearing's carrier."""
    return (facts.laid("carrier_spigot") + facts.laid("carrier_diameter")) / 2


def _rotor(facts: BuildFacts) -> Iterable[TurnedPart]:
    height, end = _height(facts), 1e3 * float(facts.layout.edges[0, 0])
    steel = materials()[facts.word("shaft_material")].title
    profile = tuple((r, z - end) for r, z in shaft_profile(facts))
    shaft = Turned("shaft", profile, keyway=_keyway(facts, end))
    yield TurnedPart(
        shaft, ((0.0, 0.0, end),), (False,), steel, "all seats in one setting, between centres"
    )
    wide = facts.wide_clamp
    collars = [((0.0, 0.0, -wide), True), ((0.0, 0.0, height + wide), False)]
    places, over = zip(*collars[: round(facts.number("exhaust_ends"))], strict=True)
    if facts.is_pump:
        ring = Turned("wear ring", wear_ring_profile(facts))
    else:
        profile = collar_profile(facts, facts.laid("collar_length"), 1e3 * END_PLATE)
        ring = Turned("collar", profile)
    yield TurnedPart(ring, places, over, STEEL, on_clamp(facts))
    bore, low = section(facts, "drive seat"), facts.laid("sleeve_start")
    flange, thick = facts.laid("sleeve_flange"), 1e3 * SLEEVE_FLANGE
    sizes = [(flange, 0.0, thick)]
    sizes += [(facts.laid("sleeve_diameter"), thick, facts.laid("sleeve_end") - low)]
    yield TurnedPart(
        Turned("sleeve", rings(sizes, bore=bore)),
        ((0.0, 0.0, low),),
        (False,),
        STEEL,
        "faces parallel within 0.005",
    )
    yield from _drive(facts)


def _drive(facts: BuildFacts) -> Iterable[TurnedPart]:
    start, bore = facts.laid("hub_start"), section(facts, "drive seat")
    if not facts.layout.belt[0]:
        hub = rings([(facts.laid("hub_diameter"), 0.0, facts.laid("hub_length"))], bore=bore)
        asked = Ordered(
            f"bore {bore:g} H7",
            more="of an elastic coupling, clamping hub without keyway, its screw with it",
            weighs=False,
        )
        half = Turned("half coupling", chamfered(hub, CHAMFER))
        yield TurnedPart(half, ((0.0, 0.0, start),), (False,), LIGHT, asked.text, asked)
        return
    teeth, width = (
        round(float(facts.layout.teeth[0])),
        facts.laid("belt_width"),
    )
    belt, key = f"toothed, 5 mm pitch, belt {width:g} wide", key_of(facts)
    pulley = Turned(
        "pulley",
        _pulley(facts, facts.laid("hub_diameter"), bore),
        broach=Broach(key.width, key.in_hub) if key else None,
    )
    held = f"bore {bore:g} H7, {_held_by(facts)}"
    asked = Ordered(f"{teeth} teeth", more=f"{belt}, {held}", weighs=False)
    yield TurnedPart(pulley, ((0.0, 0.0, start),), (False,), LIGHT, asked.text, asked)
    tip = facts.laid("generator_pulley") - (facts.laid("pulley") - facts.laid("hub_diameter"))
    others = round(float(facts.layout.generator_teeth[0]))
    fits = f"{belt}, bore as the {facts.drive}'s shaft"
    asked = Ordered(f"{others} teeth", more=fits, weighs=False)
    other = Turned(f"{facts.drive} pulley", _pulley(facts, tip, min(bore, tip / 2)))
    place = (facts.laid("centres"), 0.0, start)
    yield TurnedPart(other, (place,), (False,), LIGHT, asked.text, asked)


def key_of(facts: BuildFacts) -> Key | None:
    """Key of the pulley; None where its hub is clamped, as that of a coupling."""
    speed = float(COLUMNS["speed"].to_drawing(facts.number("speed")))
    if not facts.layout.belt[0] or speed > KEYED_UP_TO:
        return None
    return key_for(section(facts, "drive seat"), facts.laid("hub_length"))


def _keyway(facts: BuildFacts, end: float) -> Keyway | None:
    """Keyway of the shaft in the middle of the pulley's hub, from this end of the shaft."""
    if (key := key_of(facts)) is None:
        return None
    start = facts.laid("hub_start") + (facts.laid("hub_length") - key.length) / 2 - end
    return Keyway(start, start + key.length, key.width, key.in_shaft)


def _held_by(facts: BuildFacts) -> str:
    key = key_of(facts)
    if key is None:
        return "clamping hub without keyway"
    return f"keyway {key.width} JS9, {key.in_hub:g} deep, with key {key.name}"


def _pulley(facts: BuildFacts, tip: float, bore: float) -> tuple[Point, ...]:
    length, edge = facts.laid("hub_length"), EDGE_OF_PULLEY
    rim = tip + 1e3 * PULLEY_EDGES - 1
    return rings(
        [(rim, 0.0, edge), (tip, edge, length - edge), (rim, length - edge, length)], bore=bore
    )


def _held(facts: BuildFacts) -> Iterable[TurnedPart]:
    """Bearings with their carriers and the spring."""
    bearing, height = facts.bearing, _height(facts)
    inner, outer, width = (
        1e3 * size for size in (bearing.bore, bearing.outside_diameter, bearing.width)
    )
    face = facts.laid("bearing_distance") - width / 2
    number = facts.word("bearing")
    ends: tuple[Place, ...] = ((0.0, 0.0, -face), (0.0, 0.0, height + face))
    ring = rings([(outer, 0.0, width)], bore=inner)
    asked = ordered_bearing(facts)
    yield TurnedPart(
        Turned(f"bearing {number}", ring), ends, (True, False), "bearing steel", asked.text, asked
    )
    room, lip = facts.laid("spring_room"), facts.laid("carrier_lip")
    asked = Ordered(
        f"for a bearing of ⌀{outer:g}, {room:g} high when it presses",
        more=f"wave spring, {facts.number('bearing_preload'):.3g} N",
        weighs=False,
    )
    yield TurnedPart(
        Turned("spring washer", rings([(outer, 0.0, room)], bore=lip)),
        ((0.0, 0.0, height + face + width),),
        (False,),
        "spring steel",
        asked.text,
        asked,
    )
    for name, length, deep, place, over in (
        ("free-end carrier", "free_carrier", width, ends[0], True),
        ("drive-end carrier", "drive_carrier", width + facts.laid("spring_room"), ends[1], False),
    ):
        part = Turned(name, *_carrier(facts, outer, facts.laid(length), deep))
        yield TurnedPart(part, (place,), (over,), STEEL, "seat and spigot in one setting")


def _carrier(
    facts: BuildFacts, seat: float, length: float, deep: float
) -> tuple[tuple[Point, ...], Bores]:
    """Half outline of a carrier from its inner face outward, and its holes."""
    spigot, flange, lip = (
        facts.laid(f"carrier_{name}") / 2 for name in ("spigot", "diameter", "lip")
    )
    plate = 1e3 * CARRIER_PLATE
    profile = clean(
        [
            (seat / 2, 0.0),
            (spigot, 0.0),
            (spigot, plate),
            (flange, plate),
            (flange, length),
            (lip, length),
            (lip, deep),
            (seat / 2, deep),
        ]
    )
    return profile, Bores(ARMS, SCREW_HOLE, carrier_screws(facts), plate, length)


def _holding(facts: BuildFacts, casing: Housing) -> Iterable[TurnedPart]:
    """Tubes that keep the plates of the bearings off the casing."""
    size = casing.bolt_size
    low, high = carrier_levels(facts)
    free, drive = facts.laid("free_outlet"), facts.laid("drive_outlet")
    around = bolts_of(casing)
    stand = {free: [low + 1e3 * CARRIER_PLATE]}
    if facts.is_pump:  # a closed ring stands at each open end
        stand = {}
    if not facts.is_pump or facts.closed:
        same = next((long for long in stand if math.isclose(drive, long, abs_tol=1e-6)), drive)
        stand[same] = [*stand.get(same, []), high - drive]
    made = f"all of one length within 0.02; {casing.bolts} an end"
    if facts.staged is not None:  # a closed ring stands at the free end
        stand[free].remove(low + 1e3 * CARRIER_PLATE)
    for name, (long, levels) in zip(TUBES, stand.items(), strict=False):
        part = Turned(name, rings([(2 * size, 0.0, long)], bore=casing.bolt_hole))
        yield standing(part, around, levels, material=STEEL, remark=made)


def standing(
    part: Turned,
    around: tuple[Point, ...],
    levels: list[float],
    *,
    material: str,
    remark: str = "",
    ordered: Ordered | None = None,
) -> TurnedPart:
    """Place a part that stands upright at several points, on each of these levels."""
    places = tuple((x, y, level) for level in levels for x, y in around)
    told = ordered.text if ordered else remark
    return TurnedPart(part, places, (False,) * len(places), material, told, ordered)


def rods_span(facts: BuildFacts) -> tuple[float, float]:
    """Outer faces of both carrier plates."""
    low, high = carrier_levels(facts)
    return low, high + 1e3 * CARRIER_PLATE


def carrier_levels(facts: BuildFacts) -> tuple[float, float]:
    """Lower faces of both carrier plates."""
    face = facts.laid("bearing_distance") - 500 * facts.bearing.width
    return -face - 1e3 * CARRIER_PLATE, _height(facts) + face


def hexagon(across: float) -> Outline:
    """Draw a hexagon, of this width across its flats."""
    corners = [
        point_along(math.tau * (place + 0.5) / 6, across / math.sqrt(3)) for place in range(6)
    ]
    ends = (*corners[1:], corners[0])
    return Outline(tuple(Line(one, two) for one, two in zip(corners, ends, strict=True)))


def _height(facts: BuildFacts) -> float:
    return 1e3 * facts.whole_height


def chamfer_of(diameter: float) -> float:
    """Give the chamfer of the ends of a shaft; both in mm."""
    return CHAMFER if diameter >= SMALL else SMALL_CHAMFER
