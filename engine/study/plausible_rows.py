"""One row of what is plausible, and rows that are made together; see `engine.study.plausible`."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from engine import units
from engine.errors import WrongValueError
from engine.units import shown


@dataclass(frozen=True)
class Plausible:
    """Range of one number, its ends as they are written in a study."""

    dimension: str
    least: str
    most: str
    why: str
    """Why not beyond; common practice, no source, unless it names one."""
    usual: tuple[str, str] | None = None
    """Outside these ends a value is odd."""

    @property
    def bounds(self) -> tuple[float, float]:
        """Both ends [SI]."""
        return _read(self.least, self.dimension), _read(self.most, self.dimension)

    @property
    def words(self) -> str:
        """Both ends, as messages write them."""
        return f"from {self.least} up to {self.most}"

    def refuse(self, value: float) -> None:
        """Raise WrongValueError for a number [SI] outside the range."""
        low, high = self.bounds
        if not _is_between(low, value, high):
            found = f"{shown(value, self.dimension)} is not plausible"
            raise WrongValueError(found, f"{self.words}: {self.why}", "check number and unit")

    def is_odd(self, value: float) -> bool:
        """Whether a number [SI] is outside what is usual."""
        if self.usual is None:
            return False
        low, high = (_read(end, self.dimension) for end in self.usual)
        return not _is_between(low, value, high)


def _is_between(low: float, value: float, high: float) -> bool:
    return low - 1e-9 * abs(low) <= value <= high + 1e-9 * abs(high)


@cache
def _read(text: str, dimension: str) -> float:
    return units.parse(text, dimension)


def rows(dimension: str, *each: tuple[Any, ...]) -> dict[str, Plausible]:
    """Make rows of one dimension: key, ends, why, and what is usual."""
    return {key: Plausible(dimension, *row) for key, *row in each}


def same(dimension: str, least: str, most: str, why: str, *keys: str) -> dict[str, Plausible]:
    """Make one row for many keys."""
    return dict.fromkeys(keys, Plausible(dimension, least, most, why))
