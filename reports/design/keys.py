"""Feather keys of DIN 6885-1 (ISO 773 has the same sections), in mm; from memory.

A pulley is held by a key where the shaft turns slowly. A keyway takes metal from one side of the
shaft, so at high speed the hub is clamped on the plain seat instead: common practice, no source.
"""

from bisect import bisect_left
from dataclasses import dataclass

SECTIONS = (
    *((8.0, 2, 2, 1.2, 1.0), (10.0, 3, 3, 1.8, 1.4), (12.0, 4, 4, 2.5, 1.8)),
    *((17.0, 5, 5, 3.0, 2.3), (22.0, 6, 6, 3.5, 2.8), (30.0, 8, 7, 4.0, 3.3)),
    *((38.0, 10, 8, 5.0, 3.3), (44.0, 12, 8, 5.0, 3.3), (50.0, 14, 9, 5.5, 3.8)),
    *((58.0, 16, 10, 6.0, 4.3), (65.0, 18, 11, 7.0, 4.4)),
)
"""Up to this shaft: width and height of the key, depth in the shaft and in the hub."""
LEAST_SHAFT = 6.0
"""The sections begin above this diameter."""
LENGTHS = (6, 8, 10, 12, 14, 16, 18, 20, 22, 25, 28, 32, 36, 40, 45, 50, 56, 63, 70, 80, 90, 100)
KEYED_UP_TO = 6000.0
"""Speed of a shaft up to which a key holds its hub [rpm]."""


@dataclass(frozen=True)
class Key:
    """A key with its keyways."""

    width: int
    height: int
    in_shaft: float
    in_hub: float
    length: int

    @property
    def name(self) -> str:
        """As it is ordered."""
        return f"DIN 6885-A {self.width} × {self.height} × {self.length}"


def key_for(shaft: float, hub: float) -> Key | None:
    """Find the key of a seat in a hub of this length; None where the standard has none.

    Examples
    --------
    >>> key_for(8.0, 14.0)
    Key(width=2, height=2, in_shaft=1.2, in_hub=1.0, length=12)
    >>> key_for(5.0, 14.0) is None
    True
    """
    place = bisect_left([most for most, *_ in SECTIONS], shaft)
    fitting = [length for length in LENGTHS if length < hub]
    if shaft <= LEAST_SHAFT or place == len(SECTIONS) or not fitting:
        return None
    _, width, height, in_shaft, in_hub = SECTIONS[place]
    return Key(width, height, in_shaft, in_hub, fitting[-1])
