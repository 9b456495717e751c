"""Whether the parts of a build go together, and why a build cannot exist."""

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.catalogue import bearings, materials, of_names
from engine.columns import Builds
from engine.physics.arrays import Lanes
from engine.study.parts import SLACK, loose_bearing, nut_passes, stuck_nut, too_hot
from engine.units import shown

TOO_HOT = "too hot for the material"
LOOSE = "bearing does not fit"


def part_faults(build: Builds, *, disc_temperature: Lanes) -> NDArray[np.str_]:
    """Name what keeps the parts of each lane from working together, '' where nothing does.

    A bearing whose bore is wider than the shaft does not sit on it; a narrower one sits on a turned
    journal. Discs hotter than their material's highest temperature have no known strength.
    """
    bore = of_names(build["bearing"], {key: row.bore for key, row in bearings().items()})
    hottest = of_names(
        build["material"], {key: row.temperature[-1] for key, row in materials().items()}
    )
    loose, hot = bore > build["shaft_diameter"] + SLACK, disc_temperature > hottest
    return np.where(loose, LOOSE, np.where(hot, TOO_HOT, ""))


def why_not(row: Mapping[str, Any]) -> Iterator[str]:
    """Say of one build, with its results [SI], why it cannot be built."""
    inside, name = "exhaust_bore", "exhaust bore"
    if "eye_diameter" in row:  # of a pump
        inside, name = "eye_diameter", "eye"
    disc, bore, shaft = (row[key] for key in ("disc_diameter", inside, "shaft_diameter"))
    bearing, material = (str(row[key]) for key in ("bearing", "material"))
    if row["disc_count"] < 2:
        yield "one disc holds no gap; take two discs or more"
    if bore >= disc:
        yield (
            f"the {name}, {shown(bore, 'length')}, is not smaller than the discs, "
            f"{shown(disc, 'length')}; take a smaller {name.split()[-1]} or larger discs"
        )
    if shaft >= bore:
        yield (
            f"the shaft, {shown(shaft, 'length')}, fills the {name}, {shown(bore, 'length')};"
            f" take a thinner shaft or a wider {name.split()[-1]}"
        )
    if row.get("nozzle_footprint", 0.0) > 1:
        yield (
            f"the nozzles need {row['nozzle_footprint']:.0%} of the rim; take fewer, narrower or "
            "steeper ones"
        )
    if bearings()[bearing].bore > shaft + SLACK:
        yield loose_bearing(bearing, shaft)
    if row["disc_temperature"] > materials()[material].temperature[-1]:
        yield too_hot(material, row["disc_temperature"])


def nut_note(row: Mapping[str, Any]) -> str:
    """Say of one build [SI] that its clamp nut cannot be put on; '' where it can."""
    bearing, shaft = str(row.get("bearing", "")), float(row.get("shaft_diameter", math.nan))
    if bearing not in bearings() or math.isnan(shaft) or nut_passes(bearing, shaft):
        return ""
    return f"It cannot be put together as drawn: {stuck_nut(bearing, shaft)}."
