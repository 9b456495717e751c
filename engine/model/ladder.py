"""Angular momentum of the flow from the jets to the outlet, and what takes it on the way."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

KEYS = (
    "mass_flow",
    "jet_speed",
    "inlet_angle",
    "disc_diameter",
    "rotor_flow",
    "rim_swirl_ratio",
    "rim_speed",
    "bore_swirl",
    "exhaust_bore",
    "web_power",
    "speed",
)
"""Columns that the ladder is made from."""


@dataclass(frozen=True)
class Rung:
    """One place on the way of the flow."""

    place: str
    passing: float
    """Angular momentum that passes it in a second [N m]."""
    taken_by: str
    """What has taken the difference to the place before; '' for the first."""


def ladder(values: Mapping[str, Any]) -> tuple[Rung, ...]:
    """List where the angular momentum of one build goes; values are its columns by key, SI.

    Empty where a column is missing or has no number, and for more stages than one. What the discs
    and the spokes take is torque on the shaft; of the rest, the disc edges give back a part.
    """
    known = {key: float(values[key]) for key in KEYS if key in values}
    if float(values.get("stage_count", 1)) > 1:
        return ()
    if len(known) < len(KEYS) or not all(np.isfinite(value) for value in known.values()):
        return ()
    rim, bore = known["disc_diameter"] / 2, known["exhaust_bore"] / 2
    jets = known["mass_flow"] * known["jet_speed"] * np.cos(known["inlet_angle"]) * rim
    into = known["rotor_flow"] * known["rim_swirl_ratio"] * known["rim_speed"] * rim
    out = known["rotor_flow"] * known["bore_swirl"] * bore
    outlet = out - known["web_power"] / known["speed"]
    return (
        Rung("Jets", float(jets), ""),
        Rung("Ring, into the gaps", into, "mixing, casing, side chambers, edges, leakage"),
        Rung("Gaps, at the bore", out, "discs"),
        Rung("Spokes, at the outlet", float(outlet), "spokes; below 0 they brake"),
    )
