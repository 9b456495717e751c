"""What a machine in time needs of its supply, so that its work can be followed to the shaft."""

import numpy as np

from engine.columns import LOSSES, Results
from engine.model.circuit import source_of_lanes
from engine.physics.arrays import Lanes
from engine.physics.machine.supply_energy import SupplySide, Worth
from engine.study.study import Study

BEHIND_SHAFT = ("loss_drive", "loss_generator")
BEFORE_SHAFT = tuple(key for key in LOSSES if key not in BEHIND_SHAFT)
"""Losses between supply and the end of the shaft."""
STANDING = ("loss_bearing", "loss_seal")
"""Those of them without any flow."""
NODES = 240
"""Pressures of the table of the work of a kilogram."""


def supply_side(
    study: Study, one: Results, found: Results, shape: tuple[int, int], highest: float
) -> SupplySide:
    """Make it of what one build gives at every pressure and speed of its maps.

    `found` are its results there, (pressure and speed), from the second pressure on; the first is
    none. `highest` is the highest pressure that is asked for, over the full one.
    """
    lost = np.array([np.asarray(found[key], dtype=float).reshape(shape) for key in BEFORE_SHAFT])
    standing = np.array([float(one[key][0]) * (key in STANDING) for key in BEFORE_SHAFT])
    still = standing / standing.sum() if standing.sum() > 0 else _only_gap()
    split = np.empty((len(lost), shape[0] + 1, shape[1] + 1))
    split[:, 0] = still[:, None]
    for row in range(shape[0]):
        split[:, row + 1, 1:] = _known(lost[:, row], still)
        split[:, row + 1, 0] = split[:, row + 1, 1]
    return SupplySide(_worth(study, one, highest), BEFORE_SHAFT, split)


def _known(lost: Lanes, still: Lanes) -> Lanes:
    """Share of each loss at every speed, (loss, speed); that of the nearest speed where unknown."""
    sums = lost.sum(axis=0)
    known = np.flatnonzero(np.isfinite(sums) & (sums > 0))
    if not known.size:
        return np.repeat(still[:, None], lost.shape[1], axis=1)
    nearest = known[np.abs(np.arange(lost.shape[1])[:, None] - known).argmin(axis=1)]
    return np.asarray(lost[:, nearest] / sums[nearest])


def _only_gap() -> Lanes:
    return np.array([float(key == "loss_gap") for key in BEFORE_SHAFT])


def _worth(study: Study, one: Results, highest: float) -> Worth:
    """Work of a kilogram from each pressure down to back pressure."""
    supply = study.supply
    low = supply.back_pressure / supply.pressure
    pressure = np.linspace(low, max(1.0, highest) * (1 + 1e-9), NODES)
    # Denser where the work begins, from back pressure on.
    pressure = low + np.square(np.linspace(0, 1, NODES)) * (pressure[-1] - low)
    build = {key: np.repeat(one[key], NODES) for key in ("supply_temperature",) if key in one}
    source = source_of_lanes(study, build | {"supply_pressure": pressure * supply.pressure})
    end = source.fluid.isentropic_enthalpy(
        pressure=source.pressure, enthalpy=source.enthalpy, end_pressure=supply.back_pressure
    )
    work = np.asarray(source.enthalpy - end) + 0.0 * pressure
    work[0] = 0.0
    return Worth.of(pressure=pressure, work=work)
