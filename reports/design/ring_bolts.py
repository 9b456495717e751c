"""Bolts with washers in the gaps that hold the rings of a pack, as they are drawn; millimetres.

The end clamps are as wide as the discs: the ring of a disc around a web, whose spokes stand on the
lines of the bolts. One has countersunk holes and the other threads, so that nothing stands out of
their outer faces, where the side gaps begin. A tube on the shaft keeps them apart.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from engine.columns import COLUMNS
from engine.physics.machine.bolts import bolt_circle
from engine.physics.machine.thread import THREADS
from reports.design.outlines import Circle, Flat, Part, Web, axis_of, disc, point_along

HOLES = (
    "exhaust_bore", "disc_diameter", "spokes", "bolt_circle", "bolt_diameter", "washer_diameter",
)  # fmt: skip
END_CLAMP, TAPPED_CLAMP = "end clamp", "tapped end clamp"
WASHER, BOLT, TUBE = "washer", "pack bolt", "pack tube"
"""Names of the parts."""
FINEST = 0.25
"""Pitch of the finest thread (ISO 261) [mm]."""


@dataclass(frozen=True)
class RingBolts:
    """Where the bolts stand, and how large they and their washers are."""

    circle: float
    """Diameter of the circle on which they lie."""
    size: float
    """Diameter of a bolt, and of its hole."""
    washer: float
    """Diameter of a washer."""
    holes: tuple[Circle, ...]
    """Each on the line of a spoke of the end clamps."""

    @property
    def tap_drill(self) -> float:
        """Diameter of the hole that a thread is cut in: by its pitch (ISO 261)."""
        pitches = [pitch for size, pitch in THREADS if size <= self.size + 1e-9]
        return self.size - (pitches[-1] if pitches else FINEST)


def ring_bolts(values: Mapping[str, float | str], web: Web) -> RingBolts | None:
    """Bolts of a build, SI; None where none hold its discs."""
    if values.get("hold") != "bolts":
        return None
    size = {key: float(values[key]) for key in HOLES}
    found = bolt_circle(
        r_inner=size["exhaust_bore"] / 2,
        r_outer=size["disc_diameter"] / 2,
        bolts=size["spokes"],
        circle=size["bolt_circle"],
        bolt=size["bolt_diameter"],
        washer=size["washer_diameter"],
    )
    circle, hole, washer = (
        float(COLUMNS["gap"].to_drawing(float(each)))
        for each in (found.circle, found.hole, found.washer)
    )
    holes = (Circle(hole, point_along(axis_of(web, bolt), circle)) for bolt in range(web.spokes))
    return RingBolts(round(2 * circle, 6), 2 * hole, 2 * washer, tuple(holes))


def ring_on_bolts(*, diameter: float, web: Web, bolts: RingBolts) -> Flat:
    """Disc: a ring with holes for the bolts [mm]."""
    return Flat("disc", Circle(diameter / 2), (Circle(web.bore_radius), *bolts.holes))


def wide_clamp(
    *, diameter: float, web: Web, bolts: RingBolts, tapped: bool, closed: bool = False
) -> Part:
    """End clamp: the ring on its web, with the same holes; `closed` has no openings [mm]."""
    whole = disc(diameter=diameter, web=web)
    inside = whole.inside[:1] if closed else whole.inside
    named = replace(whole, name=TAPPED_CLAMP if tapped else END_CLAMP)
    return replace(named, inside=(*inside, *bolts.holes), drill=bolts.tap_drill if tapped else None)
