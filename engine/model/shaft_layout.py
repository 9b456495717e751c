"""Where everything sits on the shaft, and how large it is: what is computed is what is drawn.

One machine serves every build. From its free end to the drive the shaft carries: the bearing that
locates it, against a shoulder; a flange; an end clamp, the stack, an end clamp; the clamp nut on a
thread as wide as the shaft; a sleeve; the bearing that floats; pulley or half coupling. The stack
goes on from the end of the drive, where nothing is wider than its seat. A spring behind the outer
ring of the floating bearing presses the whole rotor onto the bearing at the free end. The supply
comes in at that end, and the thrust of a stack with one exhaust presses the same way.

The nut comes over the seats of floating bearing and drive, so thread and stack seat are wider than
these by a size of thread (`nut_clearance`): M10 over 8 mm, M12 over 10, M15 x 1 over 12. The other
way, a nut outboard of the floating bearing that clamps stack, sleeve and inner ring in one, needs
no wider shaft. But then every change of a bearing undoes the clamp of a balanced stack, the nut
squeezes the inner ring with kilonewtons, and a thinner stub is left for the drive. The wider shaft
takes 0.2 to 0.3 W of 300 in the lane workshop, as its hub narrows the exhaust, and its critical
speed is a third higher. Nut and flange stand over some 2 mm of the openings around the hub: as much
more blockage, 32 % for 25, takes 0.01 W. Hubs of many narrow spokes hardly grow with their hole: 12
on 58 mm yield a seventh earlier with 10 mm than with 8. There, and where a rotor is slow or its
bore narrow, a smaller bearing on the same shaft is better: it brakes less.

Standard nuts are countersunk a little wider than their thread: the sleeve has a flange towards the
nut where it would sink in. It is no wider where it meets the inner ring.

A ring on each end clamp that has an exhaust begins at the exhaust bore (`collar_radius`):
outside of it are the lands of the collar seal. It reaches through side gap and end plate. Where
bolts hold the discs, the end clamps are as wide as these: they stand between stack and side gap,
and the collars on their outer faces.

Each bearing sits in a turned carrier, flush with the inner face of a plate with three arms. That
plate stands off the end plate by tubes on the bolts, far enough that the exhaust finds its own area
again: between the plates outward, and between the arms straight on. Where `bearing_allowance` is
shorter than all this needs, the bearings stand further off; both stand equally far.

A belt is toothed, of 5 mm pitch. Its smaller pulley is the smallest that the bore allows, or one of
the next few whose teeth come nearer to `drive_ratio`.

Lengths along the shaft count from the lower face of the stack, positive towards the drive. Rules
without a source are common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.catalogue import bearing_values
from engine.columns import Builds
from engine.physics.arrays import Lanes, repeated
from engine.physics.machine.clamp import FACE_RATIO
from engine.physics.machine.thread import ROOT, widest_thread

CLAMP_THICKNESS = 5e-3
"""Of the end clamps [m], much stiffer than any disc."""
END_PLATE = 12e-3
"""Thickness of an end plate of the casing [m]."""
COVER_PLATE = 6e-3
"""Thickness of a plate that closes an end without an exhaust, or stands between stages [m]."""
CARRIER_PLATE = 10e-3
"""Thickness of the plate that holds a bearing's carrier [m]."""
COLLAR_WALL, COLLAR_SHARE = 2e-3, 0.1
"""Thickness of the ring on an end clamp, with its lands [m]; over the exhaust bore at most."""
FLANGE = 3e-3
"""Thickness of the shaft's flange [m]."""
ABUTMENT = 2e-3
"""Length of the shoulder that locates a bearing [m]."""
SECTION_SHARE = 0.2
"""Height of a shoulder over that of the section between a bearing's bore and outside, twice."""
NUT_HEIGHT = 0.8
"""Of the clamp nut, over its thread."""
SLEEVE_FACE = 1.25
"""Least diameter of the sleeve's face on the nut over the thread: nuts are countersunk to 1.08 of
it (ISO 4032, from memory)."""
SLEEVE_FLANGE = 2e-3
"""Thickness of a flange of the sleeve [m]."""
SHORTEST_SLEEVE = SLEEVE_FLANGE + ABUTMENT
"""Between nut and floating bearing [m]."""
CARRIER_WALL, CARRIER_FLANGE, LIP = 3e-3, 7e-3, 3e-3
"""Of a bearing's carrier: wall, width of its flange, metal behind the outer ring [m]."""
FLANGE_LENGTH = 4e-3
"""Least length of a carrier outside of its plate [m]."""
SPRINGS = ((22e-3, 1.5e-3), (40e-3, 2.0e-3), (np.inf, 2.5e-3))
"""Room for the pressed spring washer behind an outer ring up to this size [m]."""
LEAST_OUTLET = 6e-3
"""Between end plate and carrier plate [m]."""
ROUND = 0.5e-3
"""To which that distance is rounded up [m]."""
OPEN_SHARE = 0.7
"""Of the ring around the carrier, between the arms of its plate."""
END = 2e-3
"""Of the shaft beyond the bearing at the free end; room between carrier and drive [m]."""
BELT_PITCH = 5e-3
"""Of the teeth of a belt [m]."""
TIP = 1.143e-3
"""Pitch diameter of a pulley less the diameter over its teeth [m]; 5 mm pitch, from memory."""
FEWEST_TEETH, TRIED = 20, 12
"""Teeth of the smallest pulley; how many numbers from there up are tried."""
BORE_SHARE = 1.8
"""Least pitch diameter of a pulley over its bore."""
BELT_WIDTHS = (9e-3, 15e-3, 25e-3, 40e-3)
"""[m]"""
BELT_PULL = 8e3
"""Pull of a belt at the generator's rating, over its width [N/m]."""
PULLEY_EDGES = 5e-3
"""Width of a pulley beyond that of its belt [m]."""
CENTRES = 1.2
"""Distance between the shafts of a belt over the sum of both pitch diameters."""
BELT_STEP = 5
"""Belts are made with teeth in multiples of this."""
COUPLING_DIAMETER, COUPLING_LENGTH = 2.2, 1.5
"""Of half a coupling, over its bore."""

_OF_BELT = (
    *("teeth", "generator_teeth", "pulley", "generator_pulley"),
    *("belt_width", "belt_length", "centres"),
)
"""Fields of `ShaftLayout` that are NaN without a belt."""

Sections = NDArray[np.float64]
SECTIONS = ("free seat", "shoulder", "body", "flange", "stack seat", "thread", "drive seat")
"""Sections of the shaft, from its free end. The drive seat carries the floating bearing too."""


@dataclass(frozen=True)
class ShaftLayout:
    """Sizes and places of what a shaft carries and what carries it, SI, one value a lane."""

    edges: Sections
    """Ends of the sections along the shaft, (lane, 8) [m]."""
    diameters: Sections
    """Of the sections, the thread's by name, (lane, 7) [m]."""
    thread_pitch: Lanes
    thread_root: Lanes
    """Diameter of the core of the thread."""
    bearing_distance: Lanes
    """From each end of the stack to the middle of its bearing."""
    free_bearing: Lanes
    """Middle of the bearing that locates the shaft."""
    drive_bearing: Lanes
    """Middle of the bearing that floats."""
    nut_diameter: Lanes
    """Of clamp nut and flange."""
    nut_height: Lanes
    """The nut begins where the upper clamp ends."""
    sleeve_diameter: Lanes
    """Outside diameter; its bore is that of the drive seat."""
    sleeve_flange: Lanes
    """Diameter of its flange at the nut; no wider than the sleeve where it needs none."""
    sleeve_start: Lanes
    sleeve_end: Lanes
    collar_bore: Lanes
    collar_diameter: Lanes
    """Over the lands."""
    collar_length: Lanes
    """From the end disc, or an end clamp as wide, through side gap and end plate."""
    collars: Lanes
    """Their number: one for each exhaust, the first at the free end."""
    free_outlet: Lanes
    """Between end plate and carrier plate at the free end."""
    drive_outlet: Lanes
    """The same, or from the cover plate, at the drive's end."""
    carrier_spigot: Lanes
    """Diameter in the plate; the bearing sits inside."""
    carrier_diameter: Lanes
    """Of its flange."""
    carrier_lip: Lanes
    """Diameter of the hole behind the outer ring."""
    spring_room: Lanes
    """Length left for the spring washer behind the floating bearing."""
    free_carrier: Lanes
    """Length of the carrier at the free end."""
    drive_carrier: Lanes
    """Length of the other, deeper by the spring."""
    belt: NDArray[np.bool_]
    """Whether a belt drives; else a coupling does."""
    hub_diameter: Lanes
    """Outside diameter of pulley or half coupling."""
    hub_start: Lanes
    hub_length: Lanes
    teeth: Lanes
    """Of the pulley on this shaft; NaN without belt, as all below."""
    generator_teeth: Lanes
    pulley: Lanes
    """Pitch diameter."""
    generator_pulley: Lanes
    """Pitch diameter."""
    belt_width: Lanes
    belt_length: Lanes
    centres: Lanes
    """Distance between both shafts with a belt of that length."""

    @property
    def span(self) -> Lanes:
        """Distance between the middles of the bearings [m]."""
        return np.asarray(self.drive_bearing - self.free_bearing)

    @property
    def hub_middle(self) -> Lanes:
        """Middle of pulley or half coupling along the shaft [m]."""
        return np.asarray(self.hub_start + self.hub_length / 2)

    @property
    def overhang(self) -> Lanes:
        """From the middle of the floating bearing to that of pulley or half coupling [m]."""
        return np.asarray(self.hub_middle - self.drive_bearing)


def shaft_layout(build: Builds, *, height: Lanes) -> ShaftLayout:
    """Lay out shaft, clamps, collars, carriers and drive of every lane; `height` is the stack's.

    Every build has a layout; whether its bearing sits on its shaft, `parts.part_faults` tells.
    """
    shaft, bore = build["shaft_diameter"], build["exhaust_bore"]
    bearing = bearing_values(build["bearing"])
    inner, outer, width = bearing.bore, bearing.outside_diameter, bearing.width
    step = SECTION_SHARE * (outer - inner)
    shoulder, lip = inner + step, outer - step
    thread, pitch = widest_thread(diameter=shaft)
    nut = NUT_HEIGHT * thread
    # Along the shaft, from the ends of the stack outward.
    spigot = outer + 2 * CARRIER_WALL
    flange = spigot + 2 * CARRIER_FLANGE
    outlet = least_outlet(
        hole=2 * (collar_radius(bore) + build["seal_clearance"]),
        shaft=shoulder,
        carrier=flange,
        open_share=build.get("outlet_open_share", OPEN_SHARE),
    )
    closed = build["exhaust_ends"] < 2
    collar = build["side_gap"] + END_PLATE
    plates = collar + wide_clamps(build)
    drive_plates = plates + np.where(closed, COVER_PLATE, 0.0)
    drive_outlet = np.where(closed, LEAST_OUTLET, outlet)
    distance = np.maximum.reduce(
        [
            np.broadcast_to(build["bearing_allowance"], height.shape),
            plates + outlet + width / 2,
            drive_plates + drive_outlet + width / 2,
            CLAMP_THICKNESS + nut + SHORTEST_SLEEVE + width / 2,
            CLAMP_THICKNESS + FLANGE + 2 * ABUTMENT + width / 2,
        ]
    )
    face = distance - width / 2  # of a bearing, and of its carrier
    spring = np.select([outer <= most + 1e-9 for most, _ in SPRINGS], [room for _, room in SPRINGS])
    least = CARRIER_PLATE + FLANGE_LENGTH
    free_carrier = np.maximum(width + LIP, least)
    drive_carrier = np.maximum(width + spring + LIP, least)
    belt, pulleys = _belt(build, inner)
    hub = np.where(belt, pulleys["pulley"] - TIP, COUPLING_DIAMETER * inner)
    hub_length = np.where(belt, pulleys["belt_width"] + PULLEY_EDGES, COUPLING_LENGTH * inner)
    hub_start = height + face + drive_carrier + END
    top = height + CLAMP_THICKNESS
    edges = [
        -(face + width + END),
        -face,
        -face + ABUTMENT,
        -(CLAMP_THICKNESS + FLANGE) + 0 * face,
        -CLAMP_THICKNESS + 0 * face,
        top,
        top + nut,
        hub_start + hub_length,
    ]
    body = np.maximum(shoulder, shaft)
    diameters = [inner, shoulder, body, FACE_RATIO * shaft, shaft, thread, inner]
    return ShaftLayout(
        edges=np.stack(np.broadcast_arrays(*edges), axis=-1),
        diameters=np.stack(np.broadcast_arrays(*diameters), axis=-1),
        thread_pitch=pitch,
        thread_root=thread - ROOT * pitch,
        bearing_distance=distance,
        free_bearing=-distance,
        drive_bearing=height + distance,
        nut_diameter=FACE_RATIO * shaft,
        nut_height=nut,
        sleeve_diameter=shoulder,
        sleeve_flange=np.maximum(shoulder, SLEEVE_FACE * thread),
        sleeve_start=top + nut,
        sleeve_end=height + face,
        collar_bore=bore,
        collar_diameter=2 * collar_radius(bore),
        collar_length=collar,
        collars=build["exhaust_ends"],
        free_outlet=face - plates,
        drive_outlet=face - drive_plates,
        carrier_spigot=spigot,
        carrier_diameter=flange,
        carrier_lip=lip,
        spring_room=spring,
        free_carrier=free_carrier,
        drive_carrier=drive_carrier,
        belt=belt,
        hub_diameter=hub,
        hub_start=hub_start,
        hub_length=hub_length,
        **pulleys,
    )


def stage_distance(build: Builds) -> Lanes:
    """Distance between the stacks of two stages [m].

    Each exhaust between them has a plate with its collar's seal and room to leave outward, around
    the tube that holds the stacks apart. A partition with the shaft's seal parts them.
    """
    outlet = COVER_PLATE + stage_chamber(build)
    outlets = np.where(build["exhaust_ends"] > 1, 2.0, 1.0)
    room = 2 * (build["side_gap"] + wide_clamps(build))
    return np.asarray(room + outlets * outlet + COVER_PLATE)


def wide_clamps(build: Builds) -> Lanes:
    """Thickness of an end clamp as wide as the discs, between stack and side gap [m]; else 0."""
    return np.where(np.asarray(build.get("hold", "spokes")) == "bolts", CLAMP_THICKNESS, 0.0)


def stage_chamber(build: Builds) -> Lanes:
    """Length of the room between a partition and the plate of an exhaust [m]."""
    hole = 2 * (collar_radius(build["exhaust_bore"]) + build["seal_clearance"])
    tube = FACE_RATIO * build["shaft_diameter"]
    return least_outlet(hole=hole, shaft=np.minimum(tube, hole), carrier=hole)


def whole_height(build: Builds, heights: Sequence[Lanes]) -> Lanes:
    """Height from the lower face of the first stack to the upper one of the last [m]."""
    return np.asarray(
        np.sum(heights, axis=0) + (len(heights) - 1) * stage_distance(build)
        if len(heights) > 1
        else heights[0]
    )


def collar_radius(exhaust_bore: Lanes) -> Lanes:
    """Radius of the lands of a collar seal on an exhaust bore [m]."""
    return exhaust_bore / 2 + np.minimum(COLLAR_WALL, COLLAR_SHARE * exhaust_bore)


def least_outlet(
    *, hole: Lanes, shaft: Lanes, carrier: Lanes, open_share: Lanes | float = OPEN_SHARE
) -> Lanes:
    """Least distance [m] of a carrier plate from an end plate for the exhaust between them.

    What leaves the hole of an end plate around the shaft goes outward between the plates, and
    straight on through the open share of the ring outside of the carrier; all are diameters [m].
    """
    area = np.square(hole) - np.square(shaft)
    straight = open_share * np.maximum(np.square(hole) - np.square(carrier), 0.0)
    least = np.maximum((area - straight) / (4 * hole), LEAST_OUTLET)
    return np.asarray(ROUND * np.ceil(least / ROUND - 1e-9))


def belt_centres(*, length: Lanes, pulley: Lanes, other: Lanes) -> Lanes:
    """Distance between the shafts of an open belt [m], from its length and pitch diameters [m].

    Turned round from length = 2 c + pi (D + d) / 2 + (D - d)^2 / (4 c); Shigley, Mechanical
    Engineering Design, ch. 17, from memory.

    Examples
    --------
    >>> round(float(belt_centres(length=1.0, pulley=0.1, other=0.1)), 4)
    0.3429
    """
    straight = length - np.pi / 2 * (pulley + other)
    root = np.square(straight) - 2 * np.square(pulley - other)
    return np.asarray((straight + np.sqrt(root)) / 4)


def _belt(build: Builds, bore: Lanes) -> tuple[NDArray[np.bool_], dict[str, Lanes]]:
    """Whether each lane has a belt, and its pulleys and belt; NaN where it has none."""
    ratio = np.asarray(build["drive_ratio"], dtype=float)
    belt = np.abs(ratio - 1) > 1e-9
    if not belt.any():
        return belt, dict.fromkeys(_OF_BELT, repeated(np.nan, len(ratio)))
    more = np.maximum(ratio, 1 / ratio)
    fewest = np.maximum(np.ceil(BORE_SHARE * bore * np.pi / BELT_PITCH), FEWEST_TEETH)
    small = fewest[..., None] + np.arange(TRIED)
    off = np.abs(np.round(small * more[..., None]) / (small * more[..., None]) - 1)
    best = np.take_along_axis(
        small, np.argmin(off > off.min(-1, keepdims=True) + 1e-9, -1)[..., None], -1
    )
    few = best[..., 0]
    many = np.round(few * more)
    teeth, others = np.where(ratio < 1, many, few), np.where(ratio < 1, few, many)
    pulley, other = (BELT_PITCH / np.pi * count for count in (teeth, others))
    rated = build["generator_power"] / (build["generator_efficiency"] * build["generator_speed"])
    needed = rated / (other / 2) / BELT_PULL
    width = np.select([needed <= each for each in BELT_WIDTHS], BELT_WIDTHS, BELT_WIDTHS[-1])
    apart = CENTRES * (pulley + other)
    around = 2 * apart + np.pi / 2 * (pulley + other) + np.square(pulley - other) / (4 * apart)
    step = BELT_STEP * BELT_PITCH
    length = step * np.ceil(around / step - 1e-9)
    found = {
        "teeth": teeth,
        "generator_teeth": others,
        "pulley": pulley,
        "generator_pulley": other,
        "belt_width": width,
        "belt_length": length,
        "centres": belt_centres(length=length, pulley=pulley, other=other),
    }
    return belt, {key: np.where(belt, values, np.nan) for key, values in found.items()}
