"""What lies between the shut-off valve and the nozzles."""

import numpy as np

from engine.columns import Builds
from engine.physics.arrays import Lanes

USUAL_VOLUME = 0.2e-3
"""Volume where neither it nor a hose is given [m3]: two metres of 12 mm; common practice."""


def valve_volume(build: Builds) -> Lanes:
    """Volume of each lane that goes on feeding the nozzles when the valve is shut [m3].

    As stated; else that of the hose, all of which then lies behind the valve; else the usual one.
    """
    stated = np.asarray(build["hose_volume"], dtype=float)
    unknown = np.isnan(stated)
    if not unknown.any():
        return stated
    bore, length = pipe_of(build)
    hose = np.pi / 4 * np.square(bore) * length
    return np.where(unknown, np.where(np.isnan(hose), USUAL_VOLUME, hose), stated)


def pipe_of(build: Builds) -> tuple[Lanes, Lanes]:
    """Bore and length of the hose or pipe [m]; NaN where none is given."""
    unknown = np.full(len(build["speed"]), np.nan)
    bore, length = (
        np.asarray(build.get(key, unknown), dtype=float) for key in ("hose_bore", "hose_length")
    )
    given = length > 0
    return np.where(given, bore, np.nan), np.where(given, length, np.nan)
