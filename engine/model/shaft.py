"""The shaft as a line of beams with all that it carries: masses, balance point, critical speed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.catalogue import ASSEMBLY_TEMPERATURE, bearing_values, material_state
from engine.columns import Builds
from engine.model.shaft_layout import CLAMP_THICKNESS, ShaftLayout, shaft_layout
from engine.physics.arrays import Array, Lanes
from engine.physics.machine.bearing_load import radial_stiffness
from engine.physics.machine.shaft_bending import shear_stiffness, whirl_speed

GRAVITY = 9.81
"""[m/s2]"""
HUB_DENSITY = 2700.0
"""Of pulley or half coupling, which are of light alloy; common practice, no source [kg/m3]."""
FREE, DRIVE = 1, 12
"""Nodes in the middles of the bearings, at the free end and at the drive."""
LOWER, UPPER = 5, 9
"""Nodes at the outer faces of the end clamps."""
_SECTIONS = (0, 0, 1, 2, 2, 4, 4, 4, 4, 5, 6, 6, 6, 6)
"""Section of the shaft that bends in each beam; a flange does not stiffen its body."""
_WIDE = (0, 0, 1, 2, 3, 4, 4, 4, 4, 5, 6, 6, 6, 6)
"""Section whose mass each beam has."""


@dataclass(frozen=True)
class RotorLine:
    """Beams between 15 nodes along the shaft, (node or beam, lane), and what they add up to."""

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

    @property
    def total(self) -> Lanes:
        """Mass of all that turns [kg]."""
        return np.asarray(
            np.sum(self.mass * np.diff(self.place, axis=0), axis=0) + self.point_mass.sum(axis=0)
        )

    @property
    def shares(self) -> Lanes:
        """Share of the weight on the bearing at the free end and on that at the drive, (2, lane).

        Below 0 where an overhung weight lifts the shaft off a bearing.
        """
        middles = (self.place[1:] + self.place[:-1]) / 2
        moment = np.sum(self.mass * np.diff(self.place, axis=0) * middles, axis=0)
        moment = moment + np.sum(self.point_mass * self.place, axis=0)
        drive = (moment / self.total - self.layout.free_bearing) / self.layout.span
        return np.stack([1 - drive, drive])


def rotor_line(build: Builds, *, height: Lanes, hub_radius: Lanes) -> RotorLine:
    """Lay out the shaft of every lane; `height` is that of the stack, `hub_radius` of its hubs [m].

    Clamps and spacers have the outline of the discs' webs. Inner rings of bearings, keys and the
    other half of a coupling are left out. NaN where a size is none.
    """
    layout = shaft_layout(build, height=height)
    metal = material_state(build["material"], ASSEMBLY_TEMPERATURE)
    steel = material_state(build["shaft_material"], ASSEMBLY_TEMPERATURE)
    edges, sizes = layout.edges.T, _diameters(layout)
    none = 0.0 * height
    place = np.stack(
        [
            edges[0], layout.free_bearing, edges[1], edges[2], edges[3], edges[4], none, height / 2,
            height, edges[5], edges[6], layout.sleeve_end, layout.drive_bearing, layout.hub_start,
            edges[7],
        ]
    )  # fmt: skip
    slim, wide = sizes[list(_SECTIONS)], layout.diameters.T[list(_WIDE)]
    # What the shaft carries: ring and web of the discs, clamps, nut, sleeve, pulley or coupling.
    rim, bore, shaft = (build[k] for k in ("disc_diameter", "exhaust_bore", "shaft_diameter"))
    web = metal.density * build["exhaust_blockage"]
    with np.errstate(divide="ignore", invalid="ignore"):
        filled = metal.density * build["disc_count"] * build["disc_thickness"] / height
    carried: dict[int, list[tuple[Array, Lanes, Lanes]]] = {
        5: [(web, shaft, bore)],
        6: [(web, shaft, bore), (filled, bore, rim)],
        7: [(web, shaft, bore), (filled, bore, rim)],
        8: [(web, shaft, bore)],
        9: [(steel.density, wide[9], layout.nut_diameter)],
        10: [(steel.density, sizes[6], layout.sleeve_diameter)],
        13: [(HUB_DENSITY, sizes[6], layout.hub_diameter)],
    }
    mass = steel.density * _area(wide)
    polar = steel.density * _polar(wide)
    for beam, bodies in carried.items():
        for density, inner, outer in bodies:
            mass[beam] += density * (_area(outer) - _area(inner))
            polar[beam] += density * (_polar(outer) - _polar(inner))
    # Collars, each on the outside of its clamp.
    long = layout.collar_length
    inner, outer = layout.collar_bore, layout.collar_diameter
    collar = steel.density * long * (_area(outer) - _area(inner))
    around = collar * (np.square(inner) + np.square(outer)) / 8
    off = long / 2 - CLAMP_THICKNESS
    tilt = collar * (np.square(long) / 12 + np.square(off)) - around / 2
    point_mass, point_tilt = np.zeros_like(place), np.zeros_like(place)
    for node, present in ((LOWER, 1.0 + none), (UPPER, np.where(layout.collars > 1, 1.0, none))):
        point_mass[node], point_tilt[node] = present * collar, present * tilt
    # The pack of hubs and spacers bends with the shaft, but its many joints give way.
    hub = np.fmax(2 * hub_radius, shaft)
    pack = build["pack_factor"] * metal.youngs_modulus * (_polar(hub) - _polar(shaft)) / 2
    bending = steel.youngs_modulus * _polar(slim) / 2
    bending[6:8] += pack
    solid = build["disc_count"] * build["disc_thickness"]
    webs, rings = web * (_area(bore) - _area(shaft)), metal.density * (_area(rim) - _area(bore))
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
        clamped=np.asarray(
            (height + 2 * CLAMP_THICKNESS) * webs + solid * rings + point_mass.sum(axis=0)
        ),
    )


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
