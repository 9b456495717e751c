"""What all physics functions share: array types, the status of a lane, valid ranges."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = float | NDArray[np.float64]
Mask: TypeAlias = NDArray[np.bool_]
Lanes: TypeAlias = NDArray[np.float64]
Numbers: TypeAlias = NDArray[np.int64]


class Reason(IntEnum):
    """Why a lane has no operating point; MATCHED means that it has one."""

    MATCHED = 0
    BAD_GEOMETRY = 1
    """The dimensions cannot be built: radii out of order, a negative gap, no nozzle area."""
    BAD_SUPPLY = 2
    """Supply not above the back pressure, or a state outside the fluid's range."""
    NO_FLOW = 3
    """At this speed the discs pump against the supply: no inward flow matches."""
    GAP_CHOKED = 4
    """The flow reaches the speed of sound inside a gap."""
    EXHAUST_CHOKED = 5
    """The flow reaches the speed of sound in the exhaust annulus."""
    CHURNING = 6
    """The disc edges heat the small flow by more than the model can follow."""
    NOT_CONVERGED = 7
    """The search for the matched point did not reach its tolerance."""
    RIM_BACKFLOW = 8
    """The discs throw much of the fluid back out at the rim, where the averaged flow fails."""
    BREAKS_SECOND_LAW = 9
    """The result gives more than the fluid holds: the model does not hold for this build."""


_MATCHED = int(Reason.MATCHED)  # arrays compare with it ten times as fast as with a `Reason`


@dataclass(frozen=True)
class ValidRange:
    """Bounds within which a published relation was established; the report prints them."""

    source: str
    bounds: Mapping[str, tuple[float, float]]

    def outside(self, **values: Array) -> Mask:
        """Mark lanes in which any named value leaves its bounds; NaN counts as outside."""
        inside: Mask = np.ones((), dtype=np.bool_)
        for name, value in values.items():
            low, high = self.bounds[name]
            number = np.asarray(value)
            inside = np.asarray(inside & (low <= number) & (number <= high))
        return np.asarray(~inside, dtype=np.bool_)


def first_reason(
    status: NDArray[np.int64], where: Mask | bool, reason: Reason
) -> NDArray[np.int64]:
    """Set `reason` where the condition holds and the lane was still `MATCHED`."""
    return np.where((status == _MATCHED) & where, int(reason), status)


def as_lanes(*values: Array) -> tuple[list[Lanes], tuple[int, ...]]:
    """Broadcast arrays and return them as flat copies, with their common shape.

    The copies are contiguous and writeable: one type, so that code for them is compiled once.
    """
    spread = np.broadcast_arrays(*(np.asarray(value, dtype=float) for value in values))
    return [np.array(value).reshape(-1) for value in spread], spread[0].shape


def repeated(value: object, count: int) -> NDArray[Any]:
    """One number or word in each of so many lanes, held only once; it cannot be written to.

    `value` may also be an array of one, whose type is kept. Most numbers of a build are the same in
    all lanes. What such an array goes through can be worked out once: see `is_repeated`.

    Examples
    --------
    >>> repeated(0.5, 3).tolist(), is_repeated(repeated(0.5, 3))
    ([0.5, 0.5, 0.5], True)
    """
    one = np.array(value)
    one.setflags(write=False)
    return np.ndarray((count,), one.dtype, one, 0, (0,))  # ten times as fast as broadcast_to


def in_lanes(value: Array, count: int) -> Lanes:
    """Give a number in each of so many lanes, or the lanes themselves.

    Examples
    --------
    >>> in_lanes(2.0, 2).tolist(), in_lanes(np.array([1.0, 3.0]), 2).tolist()
    ([2.0, 2.0], [1.0, 3.0])
    """
    values = np.asarray(value, dtype=float)
    return values if values.shape == (count,) else repeated(values, count)


def taken(values: NDArray[Any], rows: NDArray[Any]) -> NDArray[Any]:
    """Take some lanes, by their places or a mask; what is held once stays so."""
    if values.strides != (0,) or not values.size:
        return np.asarray(values[rows])
    count = np.count_nonzero(rows) if rows.dtype == np.bool_ else len(rows)
    if values.flags.writeable:
        return repeated(values[:1], int(count))
    return np.ndarray((int(count),), values.dtype, values[:1], 0, (0,))


def is_repeated(values: NDArray[Any]) -> bool:
    """Whether an array holds one value for all of its lanes, as `repeated` and broadcasts do."""
    return values.strides == (0,)


def alike(values: NDArray[Any]) -> bool:
    """Whether all values of an array are the same; NaN is like NaN."""
    first, last = values[:1], values[-1:]
    if not ((first == last) | ((first != first) & (last != last))).all():  # noqa: PLR0124
        return False  # most arrays that vary differ at their ends
    return bool(((values == first) | ((values != values) & (first != first))).all())  # noqa: PLR0124


class Same:
    """What never changes, such as an array that is not writeable, by which a cache finds again."""

    def __init__(self, thing: Any) -> None:
        self.thing = thing

    def __eq__(self, other: object) -> bool:
        """Compare by identity."""
        return isinstance(other, Same) and other.thing is self.thing

    def __hash__(self) -> int:
        """Hash by identity."""
        return id(self.thing)
