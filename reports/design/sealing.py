"""What seals the joints of a casing."""

from reports.design.facts import BuildFacts
from reports.kit.quantities import quantity

ANAEROBIC_TO = 423.15
"""Warmest supply for an anaerobic sealant [K]; common practice, no source."""


def sealant(facts: BuildFacts) -> str:
    """Name what seals the joints at the supply's temperature; common practice, no source."""
    hot = facts.study.supply.temperature
    at = quantity("exhaust_temperature", hot)
    if hot > ANAEROBIC_TO:
        return f"jointing paste for steam and hot metal that bears {at}, a film on degreased faces"
    return f"anaerobic flange sealant that bears {at}, a film on degreased faces"
