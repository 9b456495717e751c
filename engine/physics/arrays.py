"""What every physics function shares: the array type, lane statuses, valid ranges."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = float | NDArray[np.float64]
Mask: TypeAlias = NDArray[np.bool_]
Lanes: TypeAlias = NDArray[np.float64]
Numbers: TypeAlias = NDArray[np.int64]


class Reason(IntEnum):
    """Why a lane has no answer; MATCHED is the good one. Order is the order of the machine."""

    MATCHED = 0
    BAD_GEOMETRY = 1
    """The dimensions cannot be built: radii out of order, a negative gap, no nozzle area."""
    BAD_SUPPLY = 2
    """Supply not above the back pressure, or a state outside the fluid's range."""
    NO_FLOW = 3
    """At this speed the stack pumps against the supply: no inward flow closes the circuit."""
    GAP_CHOKED = 4
    """The flow reaches the speed of sound inside a gap."""
    EXHAUST_CHOKED = 5
    """The flow reaches the speed of sound in the exhaust annulus."""
    CHURNING = 6
    """The disc edges would heat the little flow there is by more than the model follows."""
    NOT_CONVERGED = 7
    """The matching did not reach its tolerance."""


@dataclass(frozen=True)
class ValidRange:
    """Bounds within which a published relation was established, as data the report can print."""

    source: str
    bounds: Mapping[str, tuple[float, float]]

    def outside(self, **values: Array) -> Mask:
        """Lanes in which any named value leaves its bounds; NaN counts as outside."""
        inside = [
            (self.bounds[name][0] <= np.asarray(value))
            & (np.asarray(value) <= self.bounds[name][1])
            for name, value in values.items()
        ]
        return np.asarray(~np.logical_and.reduce(np.broadcast_arrays(*inside)), dtype=np.bool_)


def first_reason(
    status: NDArray[np.int64], where: Mask | bool, reason: Reason
) -> NDArray[np.int64]:
    """Status with `reason` set where the condition holds and nothing was wrong before."""
    return np.where((status == Reason.MATCHED) & where, int(reason), status)


def as_lanes(*values: Array) -> tuple[list[Lanes], tuple[int, ...]]:
    """Flat copies of equal length of arrays that broadcast, and the shape they had.

    Contiguous and writeable: one type, so that code for them is compiled once.
    """
    spread = np.broadcast_arrays(*(np.asarray(value, dtype=float) for value in values))
    return [np.array(value).reshape(-1) for value in spread], spread[0].shape
