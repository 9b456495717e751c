"""The shaft as a line of beams with all that it carries: masses, balance point, critical speed."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from engine.catalogue import ASSEMBLY_TEMPERATURE, bearing_values, clamp_materials, material_state
from engine.columns import Builds
from engine.model.bolts import has_bolts, held_webs, plate_rings, washers_in_gaps
from engine.model.lanes import added
from engine.model.shaft_layout import (
    CLAMP_THICKNESS,
    COVER_PLATE,
    END_PLATE,
    SLEEVE_FLANGE,
    ShaftLayout,
    shaft_layout,
    stage_distance,
    whole_height,
    wide_clamps,
)
from engine.physics.arrays import Array, Lanes
from engine.physics.machine.bearing_load import radial_stiffness
from engine.physics.machine.clamp import FACE_RATIO
from engine.physics.machine.shaft_bending import shear_stiffness, whirl_speed

GRAVITY = 9.81
"""[m/s2]"""
HUB_DENSITY = 2700.0
"""Of pulley or half coupling, which are of light alloy; common practice, no source [kg/m3]."""
FREE, DRIVE = 1, -3
"""Nodes in the middles of the bearings, at the free end and at the drive."""
LOWER, UPPER = 5, -6
"""Nodes at the outer faces of the outermost end clamps."""
_BEFORE, _BEHIND = (0, 0, 1, 2), (5, 6, 6, 6, 6)
"""Sections of the shaft whose mass each beam has, before the flange and from the thread on."""
_BODY, _FLANGE, _SEAT = 2, 3, 4
"""Sections of flange and stack seat; a flange does not stiffen its body."""
FIRST_SEAT = 5
"""Beam of the first end clamp."""
HALVED = 2
"""Most stages whose stacks are two beams each: more would be too many nodes."""


@dataclass(frozen=True)
class RotorLine:
    """Beams between nodes along the shaft, (node or beam, lane), and what they add up to.

    With one stack there are 15 nodes.
    """

    layout: ShaftLayout
    place: Lanes
    bending: Lanes
    """E I [N m2]."""
    shear: Lanes
    """kappa G A [N]."""
    mass: Lanes
    """With what is carried [kg/m]."""
    polar: Lanes
    """Polar inertia of the same [kg m]."""
    point_mass: Lanes
    point_tilt: Lanes
    clamped: Lanes
    """(lane,) Mass of all that the nut clamps: discs, spacers, clamps and collars [kg]."""
    hub_radius: Lanes
    """(lane,) Of the hubs [m]."""

    def of(self, rows: NDArray[np.int64]) -> "RotorLine":
        """Take the lines of some lanes."""
        layout = {f.name: getattr(self.layout, f.name)[rows] for f in fields(self.layout)}
        beams = {f.name: getattr(self, f.name)[..., rows] for f in fields(self)[1:]}
        line = RotorLine(layout=ShaftLayout(**layout), **beams)
        # What is worked out once is taken as it is.
        line.__dict__.update(total=self.total[rows], shares=self.shares[:, rows])
        return line

    @cached_property
    def _lengths(self) -> Lanes:
        """Of the beams [m]."""
        return np.asarray(self.place[1:] - self.place[:-1])

    @cached_property
    def total(self) -> Lanes:
        """Mass of all that turns [kg]."""
        return added([*self.mass * self._lengths, *self.point_mass])

    @cached_property
    def shares(self) -> Lanes:
        """Share of the weight on the bearing at the free end and on that at the drive, (2, lane).

        Below 0 where an overhung weight lifts the shaft off a bearing.
        """
        middles = (self.place[1:] + self.place[:-1]) / 2
        moment = added([*self.mass * self._lengths * middles, *self.point_mass * self.place])
        drive = (moment / self.total - self.layout.free_bearing) / self.layout.span
        return np.stack([1 - drive, drive])


def rotor_line(
    build: Builds, *, height: Lanes, hub_radius: Lanes, later: Sequence[Lanes] = ()
) -> RotorLine:
    """Lay out the shaft of every lane; `height` is that of the stack, `hub_radius` of its hubs [m].

    Clamps and spacers have the outline of the discs' webs. Inner rings of bearings, keys and the
    other half of a coupling are left out. NaN where a size is none. `later` are the heights of the
    stacks of further stages [m]. Between two stacks the shaft carries two clamps and a steel tube
    that passes the nut's force on: pressed together, it bends with the shaft as one piece, as the
    drums of rotors with tie bolts do (common practice, no source). Where bolts hold the discs, the
    clamps are plates as wide as these, and such a tube stands between them instead of hubs.
    """
    heights = (height, *later)
    apart = stage_distance(build)
    layout = shaft_layout(build, height=whole_height(build, heights))
    metal = material_state(build["material"], ASSEMBLY_TEMPERATURE)
    heavier = _heavier_clamps(build)
    steel = material_state(build["shaft_material"], ASSEMBLY_TEMPERATURE)
    edges, sizes = layout.edges.T, _diameters(layout)
    rim, bore, shaft = (build[k] for k in ("disc_diameter", "exhaust_bore", "shaft_diameter"))
    web = metal.density * build["exhaust_blockage"]
    inside, plate = web * held_webs(build), metal.density * plate_rings(build)
    filling, sleeve = metal.density * washers_in_gaps(build), steel.density * plate_rings(build)
    pitch = build["disc_thickness"] + build["gap"]
    discs = [build["disc_count"] * 1.0, *((each + build["gap"]) / pitch for each in later)]
    # What the shaft carries: clamps, ring and web of the discs, tubes, nut, sleeve, pulley or
    # coupling.
    tube = steel.density * (apart - 2 * CLAMP_THICKNESS) / apart
    clamped = web * heavier, plate * heavier
    densities = (metal.density, clamped[0], tube, inside, clamped[1], filling, sleeve)
    seat = _seat(build, heights, discs, densities=densities)
    place = np.stack(
        [
            edges[0], layout.free_bearing, edges[1], edges[2], edges[3], edges[4], *seat.faces,
            edges[5], edges[6], layout.sleeve_end, layout.drive_bearing, layout.hub_start, edges[7],
        ]
    )  # fmt: skip
    seated = [_SEAT] * len(seat.bodies)
    slim = sizes[[*_BEFORE, _BODY, *seated, *_BEHIND]]
    wide = layout.diameters.T[[*_BEFORE, _FLANGE, *seated, *_BEHIND]]
    carried = dict(enumerate(seat.bodies, FIRST_SEAT))
    nut = FIRST_SEAT + len(seat.bodies)
    carried |= {
        nut: [(steel.density, wide[nut], layout.nut_diameter)],
        nut + 1: _sleeve(layout, sizes[6], steel.density),
        nut + 4: [(HUB_DENSITY, sizes[6], layout.hub_diameter)],
    }
    mass = steel.density * _area(wide)
    polar = steel.density * _polar(wide)
    known: dict[tuple[int, int], tuple[Lanes, Lanes]] = {}  # few rings differ
    for beam, bodies in carried.items():
        for density, inner, outer in bodies:
            if (id(inner), id(outer)) not in known:
                both = _area(outer) - _area(inner), _polar(outer) - _polar(inner)
                known[id(inner), id(outer)] = both
            area, second = known[id(inner), id(outer)]
            mass[beam] += density * area
            polar[beam] += density * second
    wide = wide_clamps(build)
    point_mass, point_tilt = _collars(layout, place, seat, steel.density, wide)
    # The pack of hubs and spacers bends with the shaft, but its many joints give way.
    hub = np.fmax(2 * hub_radius, shaft)
    pack = build["pack_factor"] * metal.youngs_modulus * (_polar(hub) - _polar(shaft)) / 2
    bending = steel.youngs_modulus * _polar(slim) / 2
    around = steel.youngs_modulus * (_polar(FACE_RATIO * shaft) - _polar(shaft)) / 2
    bending[seat.stacks] += np.where(has_bolts(build), around, pack)
    bending[seat.between] += around
    solid = added(discs) * build["disc_thickness"]
    webs, rings = web * (_area(bore) - _area(shaft)), metal.density * (_area(rim) - _area(bore))
    high = added(heights)
    tubes = len(later) * apart * tube + high * sleeve
    tubes = tubes * (_area(FACE_RATIO * shaft) - _area(shaft))
    clamps = 2 * len(heights) * CLAMP_THICKNESS * heavier
    webs = webs * (clamps + high * held_webs(build))
    rings = rings * (solid + clamps * plate_rings(build) + (high - solid) * washers_in_gaps(build))
    return RotorLine(
        layout=layout,
        place=place,
        bending=bending,
        shear=np.asarray(
            shear_stiffness(
                youngs_modulus=steel.youngs_modulus, poisson=steel.poisson, diameter=slim
            )
        ),
        mass=mass,
        polar=polar,
        point_mass=point_mass,
        point_tilt=point_tilt,
        clamped=np.asarray(added([webs, rings, tubes, *point_mass])),
        hub_radius=hub_radius,
    )


def _sleeve(layout: ShaftLayout, inner: Lanes, steel: Lanes) -> list[tuple[Array, Array, Array]]:
    """Density, inner and outer diameter of the sleeve, and of its flange spread along it."""
    flange = steel * SLEEVE_FLANGE / (layout.sleeve_end - layout.sleeve_start)
    outer = layout.sleeve_diameter
    return [(steel, inner, outer), (flange, outer, layout.sleeve_flange)]


def _heavier_clamps(build: Builds) -> Lanes:
    """Density of an end clamp over that of a disc."""
    names = clamp_materials(build["material"]), build["material"]
    thick, sheet = (material_state(each, ASSEMBLY_TEMPERATURE).density for each in names)
    return thick / sheet


@dataclass(frozen=True)
class _Seat:
    """What sits between the outermost clamps, and they, beam by beam."""

    faces: list[Lanes]
    """Nodes: the faces of the stacks, and places inside of them [m]."""
    bodies: list[list[tuple[Array, Array, Array]]]
    """Density [kg/m3] with inner and outer diameter [m] of what each beam carries."""
    stacks: list[int]
    """Beams that are stacks."""
    between: list[int]
    """Beams between two stacks."""
    begins: list[int]
    ends: list[int]
    """Places of the faces among `faces`, where stacks begin and end."""


def _seat(
    build: Builds,
    heights: Sequence[Lanes],
    discs: Sequence[Lanes],
    *,
    densities: tuple[Lanes, Lanes, Lanes, Lanes, Lanes, Lanes, Lanes],
) -> _Seat:
    """Lay out the stacks.

    `densities` are those of discs, of webs of clamps, of tubes along the distance, of webs in the
    stack, of rings on clamps, of what fills the gaps, and of tubes in the stack.
    """
    rim, bore, shaft = (build[k] for k in ("disc_diameter", "exhaust_bore", "shaft_diameter"))
    metal, web, tube, inside, plate, filling, sleeve = densities
    apart = stage_distance(build)
    clamp: list[tuple[Array, Array, Array]] = [(web, shaft, bore), (plate, bore, rim)]
    seat = _Seat([], [clamp], [], [], [], [])
    pieces = 2 if len(heights) <= HALVED else 1
    face = 0.0 * heights[0]
    for count, height in zip(discs, heights, strict=True):
        if seat.faces:
            face = face + apart
            seat.between.append(FIRST_SEAT + len(seat.bodies))
            both: list[tuple[Array, Array, Array]] = [
                (of * 2 * CLAMP_THICKNESS / apart, low, high) for of, low, high in clamp
            ]
            seat.bodies.append([*both, (tube, shaft, FACE_RATIO * shaft)])
        seat.begins.append(len(seat.faces))
        seat.faces.append(face)
        with np.errstate(divide="ignore", invalid="ignore"):
            solid = count * build["disc_thickness"] / height
        filled = metal * solid + filling * (1 - solid)
        for piece in range(1, pieces + 1):
            seat.stacks.append(FIRST_SEAT + len(seat.bodies))
            around = (sleeve, shaft, FACE_RATIO * shaft)
            seat.bodies.append([(inside, shaft, bore), (filled, bore, rim), around])
            seat.faces.append(face + height * piece / pieces)
        face = face + height
        seat.ends.append(len(seat.faces) - 1)
    seat.bodies.append(clamp)
    return seat


def _collars(
    layout: ShaftLayout, place: Lanes, seat: _Seat, density: Lanes, wide: Lanes
) -> tuple[Lanes, Lanes]:
    """Mass and tilt of the collars at the nodes: the outermost ones at the ends of the clamps.

    Those between stages run in thinner plates and are as much shorter. All begin at the end discs,
    or behind clamps as wide as these, which are `wide` [m].
    """
    inner, outer = layout.collar_bore, layout.collar_diameter
    ring = density * (_area(outer) - _area(inner))
    point_mass, point_tilt = np.zeros_like(place), np.zeros_like(place)
    first = np.ones_like(place[0])
    second = np.where(layout.collars > 1, 1.0, 0.0)
    at_clamps = [(LOWER, first), (UPPER, second)]
    at_faces = [(LOWER + 1 + n, first) for n in seat.begins[1:]]
    at_faces += [(LOWER + 1 + n, second) for n in seat.ends[:-1]]
    whole, short = layout.collar_length, layout.collar_length - END_PLATE + COVER_PLATE
    for long, off, nodes in (
        (whole, whole / 2 + wide - CLAMP_THICKNESS, at_clamps),
        (short, short / 2 + wide, at_faces),
    ):
        collar = ring * long
        around = collar * (np.square(inner) + np.square(outer)) / 8
        tilt = collar * (np.square(long) / 12 + np.square(off)) - around / 2
        for node, present in nodes:
            point_mass[node], point_tilt[node] = present * collar, present * tilt
    return point_mass, point_tilt


def bearing_stiffness(build: Builds, line: RotorLine) -> Lanes:
    """Radial stiffness of each bearing in its seat, at the free end and at the drive [N/m].

    Under preload and weight. A belt's pull stiffens them more and is left out.
    """
    row = bearing_values(build["bearing"])
    weight = GRAVITY * line.total * np.abs(line.shares)
    stiffness = radial_stiffness(
        ball_count=row.ball_count,
        ball_diameter=row.ball_diameter,
        preload=build["bearing_preload"],
        radial=weight,
    )
    return np.asarray(build["support_factor"] * stiffness)


def critical_speed(line: RotorLine, stiffness: Lanes) -> Lanes:
    """Lowest critical speed [rad/s] of each lane, its bearings as stiff as `bearing_stiffness`."""
    support = np.zeros_like(line.place)
    support[[FREE, DRIVE]] = stiffness
    return whirl_speed(
        place=line.place,
        bending_stiffness=line.bending,
        shear_stiffness=line.shear,
        mass=line.mass,
        polar_inertia=line.polar,
        point_mass=line.point_mass,
        point_tilt=line.point_tilt,
        support=support,
    )


def _diameters(layout: ShaftLayout) -> NDArray[np.float64]:
    """Diameters that bend, (section, lane): the thread's is that of its root."""
    found = layout.diameters.T.copy()
    found[5] = layout.thread_root
    return found


def _area(diameter: Array) -> Lanes:
    return np.asarray(np.pi / 4 * np.square(diameter))


def _polar(diameter: Array) -> Lanes:
    """Polar second moment of area; half of it is that of bending."""
    return np.asarray(np.pi / 32 * np.square(np.square(diameter)))
