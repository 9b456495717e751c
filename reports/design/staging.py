"""The casing of a machine with two or three stages, in millimetres. No drawing, no files.

Each stage has the sandwich of plates of a machine with one, on bolts that all have in common. What
leaves a stage is collected in closed rooms on both sides of it: below the first stage the one that
a single stage leaves open, between two stages a ring and a partition. Holes across the plates of a
stage, between its plenums, join its two rooms. From the upper one holes lead on through the
partition to the plenums of the next stage; where they cross that stage's own exhaust, tubes stand
around them. So a passage has two bends and needs no pipe. The last stage leaves to the open, as a
single one does.

The holes are as wide as `PASSAGE_SHARE` of the next stage's pressure drop asks for. The plates
between two stages are cut in halves: stacks do not pass their middle holes.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from engine.columns import COLUMNS, Builds
from engine.model.shaft_layout import stage_chamber, stage_distance
from engine.model.stages import PASSAGE_SHARE, builds_of_stages
from engine.physics.arrays import Lanes
from engine.physics.flow.geometry import stack_height
from engine.physics.machine.clamp import FACE_RATIO
from engine.stage_columns import of_stage
from engine.study.study import Study
from engine.study.supply import source_of
from reports.design.casing import WALL, Casing, NoCasingError, casing
from reports.design.outlines import Arc, Circle, Flat, Line, Outline, Point, point_along
from reports.design.shop_sizes import cut_down, cut_up

PASSAGE_LOSS = 2.5
"""Of the holes from room to plenum, in dynamic pressures there: edge of the entrance 0.5, two bends
1, the end 1; from memory."""
TUBE_WALL = 1.5
"""Of a tube around a hole [mm]."""
JOINT_WALL = 1.0
"""Least metal between the joint of two halves and a hole [mm]."""
TRIED = 180
"""Directions of the joint that are tried."""


@dataclass(frozen=True)
class DrawnStage:
    """One stage as it is drawn, lengths in mm, levels from the lower face of the first stack."""

    number: int
    discs: int
    start: float
    """Lower face of the stack."""
    height: float
    casing: Casing
    """With plates of its own, on the bolts of all."""
    transfers: tuple[Circle, ...]
    """Holes across its plates from the room below it to that above; none at the last stage."""

    @property
    def end(self) -> float:
        """Upper face of the stack."""
        return self.start + self.height

    @property
    def plenums(self) -> tuple[Circle, ...]:
        """Its plenums."""
        holes = self.casing.supply_ring.inside
        every = holes[len(self.casing.holes) + 1 :]
        return tuple(edge for edge in every if isinstance(edge, Circle))


@dataclass(frozen=True)
class Passage:
    """What leads from one stage to the next, as it is drawn."""

    into: int
    """Number of the next stage."""
    area: float
    """Of its holes together [mm2]."""
    loss: float
    """Pressure that they take [Pa]."""
    counted: float
    """Pressure that the model counts for them [Pa]."""


@dataclass(frozen=True)
class Staged:
    """All stages of a casing."""

    stages: tuple[DrawnStage, ...]
    passages: tuple[Passage, ...]
    chamber: float
    """Length of each room between two stages."""
    room: float
    """Radius of the closed rooms."""
    partition_bore: float
    """Diameter of the hole in which the tube between two stacks runs."""

    @property
    def pairs(self) -> Iterator[tuple[DrawnStage, DrawnStage]]:
        """Stages with those that follow them."""
        return pairwise(self.stages)


def staged_casing(values: Mapping[str, Any], study: Study, sizes: Mapping[str, Any]) -> Staged:
    """Lay out the casing of a build with several stages; `sizes` as `casing` takes them.

    `values` are the build's numbers and results, SI. Raises NoCasingError where it cannot be drawn.
    """
    count = round(float(values["stage_count"]))
    lane = {key: np.array([value]) for key, value in values.items()}
    alone = builds_of_stages(lane, count)
    nozzles = round(float(values["nozzle_count"]))
    areas = [0.0, *(_hole_area(values, study, into) for into in range(2, count + 1))]
    given = []
    for build, area in zip(alone, areas, strict=True):
        width = _drawn("nozzle_width", build["nozzle_width"][0])
        wider = float(sizes["exit_width"]) / float(sizes["nozzle_width"])
        plenum = cut_up(math.sqrt(area / nozzles / math.pi)) if area else 0.0
        own = {"nozzle_width": width, "exit_width": wider * width, "least_plenum": plenum}
        given.append({**sizes, **own})
    first = [casing(**each) for each in given]
    # Both rooms of a stage give about half of its flow.
    across = [
        _transfers(drawn, nozzles, math.sqrt(area / 2 / nozzles / math.pi))
        for drawn, area in zip(first, areas[1:], strict=False)
    ]
    reach = [drawn.nozzle.reach + TUBE_WALL for drawn in first]
    reach += [math.hypot(*hole.centre) + hole.radius for holes in across for hole in holes]
    apart, stages = _drawn("gap", stage_distance(lane)[0]), list[DrawnStage]()
    heights = heights_of(lane)
    for number, (build, each) in enumerate(zip(alone, given, strict=True), 1):
        stages.append(
            DrawnStage(
                number=number,
                discs=round(float(build["disc_count"][0])),
                start=stages[-1].end + apart if stages else 0.0,
                height=_drawn("gap", heights[number - 1][0]),
                casing=casing(**each, outermost=max(reach)),
                transfers=across[number - 1] if number < count else (),
            )
        )
    held = stages[0].casing
    return Staged(
        stages=tuple(stages),
        passages=tuple(_passage(values, study, stage) for stage in stages[1:]),
        chamber=_drawn("gap", stage_chamber(lane)[0]),
        room=cut_down(held.bolt_circle - held.bolt_hole / 2 - WALL),
        partition_bore=FACE_RATIO * _drawn("shaft_diameter", values["shaft_diameter"])
        + 2 * float(sizes["seal_clearance"]),
    )


def heights_of(lane: Builds) -> list[Lanes]:
    """Heights of the stacks of a build [m], a table of one lane."""
    count = round(float(lane["stage_count"][0])) if "stage_count" in lane else 1
    later = builds_of_stages(lane, count)[1:]
    keys = ("disc_count", "disc_thickness", "gap")
    return [
        lane["stack_height"],
        *(np.asarray(stack_height(**{key: build[key] for key in keys})) for build in later),
    ]


def _state(values: Mapping[str, Any], study: Study, into: int) -> tuple[float, float, float]:
    """Flow [kg/s], density before the nozzles of a stage [kg/m3] and its pressure drop [Pa].

    The density goes with pressure and temperature from that of the supply, as a perfect gas does.
    """
    source = source_of(study.supply)
    pressure = float(values[of_stage("nozzle_pressure", into)])
    behind = float(values.get(of_stage("nozzle_pressure", into + 1), math.nan))
    if into >= round(float(values["stage_count"])):
        behind = study.supply.back_pressure
    density = float(source.density)
    if math.isnan(density):
        state = {"pressure": source.pressure, "enthalpy": source.enthalpy}
        supply = source.fluid.density(**{key: np.array([value]) for key, value in state.items()})
        warm = float(values[of_stage("exhaust_temperature", into - 1)])
        density = float(supply[0]) * pressure / float(source.pressure)
        density *= float(source.temperature) / warm
    return float(values["mass_flow"]), density, pressure - behind


def _hole_area(values: Mapping[str, Any], study: Study, into: int) -> float:
    """Area of all holes into the plenums of a stage [mm2]."""
    flow, density, drop = _state(values, study, into)
    if not (flow > 0 and density > 0 and drop > 0):
        return 0.0
    return 1e6 * flow / math.sqrt(2 * PASSAGE_SHARE * drop * density / PASSAGE_LOSS)


def _passage(values: Mapping[str, Any], study: Study, stage: DrawnStage) -> Passage:
    flow, density, drop = _state(values, study, stage.number)
    area = sum(hole.area for hole in stage.plenums)
    loss = PASSAGE_LOSS * (flow / (1e-6 * area)) ** 2 / (2 * density)
    return Passage(stage.number, area, loss, PASSAGE_SHARE * drop)


def _transfers(drawn: Casing, nozzles: int, least: float) -> tuple[Circle, ...]:
    """Holes between the plenums of a stage."""
    radius = cut_up(max(least, 1.0))
    off = cut_up(drawn.bore + WALL + radius)
    start, mouth = drawn.nozzle.taken(WALL)
    pitch = math.tau / nozzles
    if (pitch - (mouth - start)) / 2 < math.asin((radius + WALL) / off):
        msg = f"no room between {nozzles} nozzles for holes that lead on to the next stage"
        raise NoCasingError(msg)
    middle = (mouth + start + pitch) / 2
    return tuple(
        Circle(radius, point_along(middle + place * pitch, off)) for place in range(nozzles)
    )


def halves(flat: Flat, dowels: Sequence[Circle]) -> tuple[Flat, Flat]:
    """Cut a round plate with a round middle hole in two, where its joint is farthest from holes.

    Each half has a dowel, which places it together with its joint. Raises NoCasingError where holes
    leave no room for a joint.
    """
    middle, *holes = flat.inside
    rounds = [hole for hole in holes if isinstance(hole, Circle)]
    if not isinstance(middle, Circle) or not isinstance(flat.outside, Circle):
        msg = f"the {flat.name} is not round"
        raise NoCasingError(msg)
    one, other = (hole.centre for hole in dowels)
    tried = [math.pi * place / TRIED for place in range(TRIED)]
    tried = [way for way in tried if _over(one, way) * _over(other, way) < 0]
    turn = max(tried, key=lambda way: _clear(rounds, way))
    if _clear(rounds, turn) < JOINT_WALL:
        msg = f"the holes of the {flat.name} leave no room for a joint"
        raise NoCasingError(msg)
    outer, inner = flat.outside.radius, middle.radius
    first, second = (
        Flat(
            f"{flat.name} {letter}",
            _half(outer, inner, way),
            tuple(hole for hole in rounds if _over(hole.centre, way) > 0),
        )
        for letter, way in (("A", turn), ("B", turn + math.pi))
    )
    return first, second


def _over(point: Point, way: float) -> float:
    """How far a point lies over a line through the axis in a direction, at its left."""
    return point[1] * math.cos(way) - point[0] * math.sin(way)


def _clear(holes: Sequence[Circle], way: float) -> float:
    return min(abs(_over(hole.centre, way)) - hole.radius for hole in holes)


def _half(outer: float, inner: float, way: float) -> Outline:
    """Half a ring at the left of a direction, counterclockwise."""
    ends = [point_along(way + turn, size) for turn in (0.0, math.pi) for size in (outer, inner)]
    return Outline(
        (
            Arc((0.0, 0.0), outer, way, math.pi),
            Line(ends[2], ends[3]),
            Arc((0.0, 0.0), inner, way + math.pi, -math.pi),
            Line(ends[1], ends[0]),
        )
    )


def middle_of(half: Flat) -> tuple[float, float]:
    """Inner radius of half a plate [mm] and the direction of its joint [rad]."""
    arcs = [edge for edge in half.outside.edges if isinstance(edge, Arc)]
    return min(arc.radius for arc in arcs), arcs[0].start_angle


def laid_flat(half: Flat) -> Flat:
    """Turn half a plate so that its joint lies below, as it is drawn."""
    _, way = middle_of(half)
    edges = tuple(
        replace(edge, centre=_turned(edge.centre, -way), start_angle=edge.start_angle - way)
        if isinstance(edge, Arc)
        else Line(_turned(edge.start, -way), _turned(edge.end, -way))
        for edge in half.outside.edges
    )
    holes = tuple(
        replace(hole, centre=_turned(hole.centre, -way))
        for hole in half.inside
        if isinstance(hole, Circle)
    )
    return Flat(half.name, Outline(edges), holes)


def _turned(point: Point, way: float) -> Point:
    (x, y), cosine, sine = point, math.cos(way), math.sin(way)
    return x * cosine - y * sine, x * sine + y * cosine


def collar_hole(stage: DrawnStage) -> Circle:
    """Middle hole of a plate in which a collar runs."""
    return Circle(stage.casing.seal_bore)


def named(flat: Flat, name: str, *more: Circle) -> Flat:
    """Give a plate another name, and more holes."""
    return replace(flat, name=name, inside=(*flat.inside, *more))


def _drawn(key: str, value: float) -> float:
    return float(COLUMNS[key].to_drawing(float(value)))
