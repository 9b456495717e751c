"""The table of part load: what each supply pressure gives. Plain text."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.model.socket import AtSocket
from reports.kit.quantities import MISSING, count, number


@dataclass(frozen=True)
class PartRow:
    """What one supply pressure gives."""

    pressure: str
    speed: str
    """Best speed."""
    power: str
    flow: str
    torque: str
    standing: str
    """Torque at the slowest speed that is computed."""
    free: str
    """Speed at which the torque is spent."""


def part_rows(at: AtSocket) -> list[PartRow]:
    """List every supply pressure, the highest first."""
    part = at.part_load
    best, power = part.best
    rows = []
    for place in reversed(range(len(part.pressure))):
        speed = float(best[place])
        torque, flow = part.torque[place], part.flow[place]
        known = np.flatnonzero(np.isfinite(torque))
        standing = number(1e3 * float(torque[known[0]])) if known.size else MISSING
        rows.append(
            PartRow(
                number(float(part.pressure[place]) / 1e5),
                _rpm(speed),
                number(float(power[place])),
                _there(speed, part.speed, flow, "mass_flow"),
                _there(speed, part.speed, torque, "shaft_torque"),
                standing,
                _spent(part.speed, torque),
            )
        )
    return rows


def _rpm(speed: float) -> str:
    if not np.isfinite(speed):
        return MISSING
    return count(float(COLUMNS["speed"].to_drawing(speed)))


def _there(speed: float, speeds: NDArray[np.float64], values: NDArray[np.float64], key: str) -> str:
    """Read a curve at a speed."""
    known = np.isfinite(values)
    if not (np.isfinite(speed) and known.any()):
        return MISSING
    return number(float(COLUMNS[key].to_drawing(np.interp(speed, speeds[known], values[known]))))


def _spent(speeds: NDArray[np.float64], torque: NDArray[np.float64]) -> str:
    """Find where the torque goes through nothing; more than the fastest where it does not."""
    known = np.flatnonzero(np.isfinite(torque))
    falls = [n for n in known[:-1] if torque[n] > 0 and n + 1 in known and torque[n + 1] <= 0]
    if not falls:
        return f"over {_rpm(float(speeds[known[-1]]))}" if known.size else MISSING
    n = falls[0]
    share = torque[n] / (torque[n] - torque[n + 1])
    return _rpm(float(speeds[n] + share * (speeds[n + 1] - speeds[n])))
