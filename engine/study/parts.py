"""What is said of parts that do not go together."""

from engine.catalogue import bearings, materials
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


def too_hot(material: str, temperature: float) -> str:
    """Say that a supply [K] makes the discs too hot; they are taken as hot as it is."""
    most = shown(materials()[material].temperature[-1], "temperature")
    return (
        f"{material} is known up to {most}, and the discs become as hot as the supply, "
        f"{shown(temperature, 'temperature')}; take another material or a cooler supply"
    )
