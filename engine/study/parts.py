"""What is said of parts that do not go together."""

import math

from engine.catalogue import bearings, materials
from engine.physics.machine.thread import (
    PLAY,
    least_thread,
    nut_clearance,
    nut_inside,
    widest_thread,
)
from engine.units import shown

SLACK = 1e-6
"""Length below which a bore and a shaft are the same size [m]."""


def loose_bearing(bearing: str, shaft: float) -> str:
    """Say that a bearing does not sit on a shaft [m]."""
    wide = shown(bearings()[bearing].bore, "length")
    return (
        f"the bearing {bearing} has a bore of {wide} and the shaft only "
        f"{shown(shaft, 'length')}; take a smaller bearing or a thicker shaft"
    )


def nut_passes(bearing: str, shaft: float) -> bool:
    """Whether the clamp nut on a shaft [m] passes the seat of a bearing to its thread."""
    return bool(nut_clearance(shaft=shaft, seat=bearings()[bearing].bore) >= PLAY)


def stuck_nut(bearing: str, shaft: float) -> str:
    """Say that the clamp nut on a shaft [m] does not come to its thread, and what lets it."""
    thread, pitch = widest_thread(diameter=shaft)
    inside, seat = nut_inside(thread=thread, pitch=pitch).item(), bearings()[bearing].bore
    return (
        f"the clamp nut, M{1e3 * thread.item():g} with {1e3 * inside:.2f} mm inside, does not "
        f"pass the seat of the bearing {bearing}, {shown(seat, 'length')}, to its thread; "
        f"{_lets_it(bearing, shaft)}"
    )


def _lets_it(bearing: str, shaft: float) -> str:
    """Name the thinnest shaft whose nut passes, and the nearest bearing that its nut passes."""
    wider = least_thread(seat=bearings()[bearing].bore)
    ways = [] if math.isnan(wider) else [f"a shaft of {shown(wider, 'length')}"]
    ways += [f"the bearing {name}" for name in passed_bearings(bearing, shaft)[:1]]
    return f"take {' or '.join(ways) or 'a thicker shaft and a smaller bearing'}"


def passed_bearings(bearing: str, shaft: float) -> list[str]:
    """Bearings of the widest bore that the nut on this shaft [m] passes, those like one first."""
    passed = {name: row for name, row in bearings().items() if nut_passes(name, shaft)}
    widest = max((row.bore for row in passed.values()), default=0.0)
    outside = bearings()[bearing].outside_diameter
    off = {name: round(1e6 * abs(row.outside_diameter - outside)) for name, row in passed.items()}
    known = [name for name, row in passed.items() if row.bore == widest]
    return sorted(known, key=lambda name: (off[name], passed[name].outside_diameter))


def too_hot(material: str, temperature: float) -> str:
    """Say that a supply [K] makes the discs too hot; they are taken as hot as it is."""
    most = shown(materials()[material].temperature[-1], "temperature")
    return (
        f"{material} is known up to {most}, and the discs become as hot as the supply, "
        f"{shown(temperature, 'temperature')}; take another material or a cooler supply"
    )
