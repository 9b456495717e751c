"""Scales of charts: from a number to a place on the page, and the ticks between."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from reports.kit.quantities import MINUS, THIN


@dataclass(frozen=True)
class Scale:
    """A straight scale from numbers to places in a drawing."""

    low: float
    high: float
    start: float
    """Place of `low`."""
    end: float
    """Place of `high`."""
    unit: str = ""

    def __call__(self, value: float) -> float:
        """Find the place of a number.

        Examples
        --------
        >>> Scale(0, 10, 50, 250)(2.5)
        100.0
        """
        share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def holds(self, value: float) -> bool:
        """Whether a number lies on the scale."""
        return math.isfinite(value) and self.low <= value <= self.high

    def ticks(self, about: int = 5) -> list[float]:
        """List round numbers on the scale, about this many.

        Examples
        --------
        >>> Scale(0, 47, 0, 1).ticks()
        [0.0, 10.0, 20.0, 30.0, 40.0]
        """
        step = round_step((self.high - self.low) / about)
        first, last = math.ceil(self.low / step - 1e-9), math.floor(self.high / step + 1e-9)
        return [round(place * step, 12) for place in range(first, last + 1)]


def spanning(
    values: Iterable[float],
    start: float,
    end: float,
    *,
    unit: str = "",
    zero: bool = False,
    room: float = 0.04,
) -> Scale:
    """Make a scale that holds all values, with some room; `zero` makes it hold 0 too."""
    known = [value for value in values if math.isfinite(value)]
    known += [0.0] if zero or not known else []
    low, high = min(known), max(known)
    if low == high:
        low, high = low - (abs(low) or 1.0) * 0.5, high + (abs(high) or 1.0) * 0.5
    reach = room * (high - low)
    return Scale(
        low if zero and low == 0 else low - reach,
        high if zero and high == 0 else high + reach,
        start,
        end,
        unit,
    )


def round_step(rough: float) -> float:
    """Round a step to the nearest of 1, 2 or 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(rough))
    return min(
        (size * power for size in (1, 2, 5, 10)), key=lambda step: abs(math.log(step / rough))
    )


def tick_text(value: float, step: float) -> str:
    """Write a tick with no more digits than its step has.

    Examples
    --------
    >>> tick_text(20000, 5000).replace(THIN, " "), tick_text(0.5, 0.1)
    ('20 000', '0.5')
    """
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    text = f"{abs(value):,.{digits}f}".replace(",", THIN)
    return f"{MINUS}{text}" if value < 0 and float(text.replace(THIN, "")) else text
