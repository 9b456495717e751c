"""The ring on an end clamp that runs in an end plate: the collar of an exhaust, or a wear ring."""

from engine.model.shaft_layout import END_PLATE
from reports.design.facts import BuildFacts
from reports.design.outlines import Point
from reports.design.shop_sizes import cut, cut_down
from reports.design.turned import clean

LAND, LAND_SHARE, LAND_HEIGHT = 0.5, 1 / 3, 1.0
"""Widest land of a collar [mm], most of its pitch, and height over the ring between [mm]."""
ON_CLAMP = "press on the tips of the end clamp, then finish the lands on the shaft"
ON_FACE = "silver-solder to the end clamp, true to its bore, then finish the lands on the shaft"


def on_clamp(facts: BuildFacts) -> str:
    """Say how a collar is held."""
    return ON_CLAMP if facts.bolts is None else ON_FACE


def collar_profile(facts: BuildFacts, length: float, plate: float) -> tuple[Point, ...]:
    """Half outline of a collar from the end disc outward, its lands inside its plate; in mm."""
    bore, outside = facts.laid("collar_bore") / 2, facts.laid("collar_diameter") / 2
    lands = round(facts.number("seal_throttles"))
    pitch = plate / lands
    width = cut_down(min(LAND, LAND_SHARE * pitch))
    core = outside - min(LAND_HEIGHT, (outside - bore) / 2)
    found = [(bore, 0.0), (core, 0.0)]
    for place in range(lands):
        low = cut(length - plate + (place + 0.5) * pitch - width / 2)
        high = low + width
        found += [(core, low), (outside, low), (outside, high), (core, high)]
    return clean((*found, (core, length), (bore, length)))


def wear_ring_profile(facts: BuildFacts) -> tuple[Point, ...]:
    """Half outline of a wear ring from the end disc outward, its one land inside the end plate."""
    bore, outside = facts.laid("collar_bore") / 2, facts.laid("collar_diameter") / 2
    length, plate = facts.laid("collar_length"), 1e3 * END_PLATE
    core = outside - min(LAND_HEIGHT, (outside - bore) / 2)
    land = 1e3 * facts.number("ring_length")
    low = length - (plate + land) / 2
    found = [(bore, 0.0), (core, 0.0), (core, low), (outside, low), (outside, low + land)]
    return clean((*found, (core, low + land), (core, length), (bore, length)))
