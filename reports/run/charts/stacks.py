"""Where the stacks of a machine with several stages stand along the shaft, and what is between."""

from collections.abc import Iterator
from dataclasses import dataclass

from engine.columns import Builds
from engine.model.shaft_layout import CLAMP_THICKNESS, COVER_PLATE, stage_distance
from engine.model.stages import builds_of_stages


@dataclass(frozen=True)
class Stack:
    """One stack, its faces along the shaft [mm]."""

    discs: int
    start: float
    end: float


@dataclass(frozen=True)
class Part:
    """A ring between two stacks, its ends along the shaft [mm]."""

    name: str
    look: str
    start: float
    end: float


def stacks_of(lane: Builds) -> tuple[Stack, ...]:
    """Stacks of a build, a table of one lane."""
    count = round(float(lane.get("stage_count", [1])[0]))
    apart = 1e3 * float(stage_distance(lane)[0])
    found: list[Stack] = []
    for build in builds_of_stages(lane, count):
        discs = max(1, round(float(build["disc_count"][0])))
        sheet, gap = (1e3 * float(build[key][0]) for key in ("disc_thickness", "gap"))
        start = found[-1].end + apart if found else 0.0
        found.append(Stack(discs, start, start + discs * sheet + (discs - 1) * gap))
    return tuple(found)


def between_stages(start: float, end: float, *, side: float, both: bool) -> Iterator[Part]:
    """List what is between two stacks, from the upper face of one to the lower face of the next.

    `both` tells whether the earlier stack has an exhaust at that end; the later one always has.
    """
    clamp, plate = 1e3 * CLAMP_THICKNESS, 1e3 * COVER_PLATE
    yield Part("tube", "metal-pale", start + clamp, end - clamp)
    yield Part("clamp", "metal-pale", start, start + clamp)
    yield Part("clamp", "metal-pale", end - clamp, end)
    yield Part("plate", "casing", end - side - plate, end - side)
    yield Part("collar", "metal", end - side - plate, end)
    if not both:
        yield Part("partition", "casing", start + side, start + side + plate)
        return
    yield Part("plate", "casing", start + side, start + side + plate)
    yield Part("collar", "metal", start, start + side + plate)
    middle = (start + end) / 2
    yield Part("partition", "casing", middle - plate / 2, middle + plate / 2)
