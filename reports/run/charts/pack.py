"""What a stack of discs consists of in the section of a machine, each look many times alike."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite

from engine.physics.machine.clamp import FACE_RATIO

HUB = 1.3
"""Radius of a hub over that of the shaft."""


@dataclass(frozen=True)
class Row:
    """Boxes of one look along the shaft, one a disc or a gap; lengths in mm, or on paper."""

    radii: tuple[float, float]
    """Inner and outer [mm]."""
    wide: float
    """On paper."""
    first: float
    """Where the first begins, from the lower face of the stack, on paper."""
    fewer: int
    """How many less than discs."""
    look: str


def bolts_circle(values: Mapping[str, float | str], bore: float, rim: float) -> float:
    """Radius of the circle of bolts that hold the discs [mm]."""
    circle = float(values.get("bolt_circle", float("nan")))
    return 1e3 * circle / 2 if isfinite(circle) else (bore + rim) / 2


def rows_of(
    values: Mapping[str, float | str],
    *,
    radii: tuple[float, float, float],
    sheet: float,
    gap: float,
    scale: float,
) -> Iterator[Row]:
    """List the boxes of a stack; `radii` are those of shaft, bore and rim, lengths in mm."""
    shaft, bore, rim = radii
    thick = max(0.7, sheet * scale)
    yield Row((bore, rim), thick, 0.0, 0, "metal")
    if values.get("hold") == "bolts":
        middle, half = bolts_circle(values, bore, rim), 500 * float(values["washer_diameter"])
        washer = max(middle - half, bore), min(middle + half, rim)
        yield Row(washer, gap * scale, sheet * scale, 1, "metal-pale")
        # The tube on the shaft, in as many pieces as there are discs and gaps.
        tube = shaft, FACE_RATIO * shaft
        yield Row(tube, sheet * scale, 0.0, 0, "metal-pale")
        yield Row(tube, gap * scale, sheet * scale, 1, "metal-pale")
        return
    hub = (shaft, min(shaft * HUB + 1, bore))
    yield Row(hub, thick, 0.0, 0, "metal")
    yield Row((shaft * HUB, bore), max(0.5, sheet * scale), 0.0, 0, "web")
    yield Row(hub, gap * scale, sheet * scale, 1, "metal-pale")
