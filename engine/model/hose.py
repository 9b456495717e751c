"""What lies between the shut-off valve and the nozzles."""

import numpy as np

from engine.columns import Builds
from engine.physics.arrays import Lanes


def hose_volume(build: Builds) -> Lanes:
    """Volume of each lane that goes on feeding the nozzles when the valve is shut [m3]."""
    return np.asarray(build["hose_volume"], dtype=float)


def pipe_of(build: Builds) -> tuple[Lanes, Lanes]:
    """Bore and length of the pipe to the valve [m]; NaN where they are not known."""
    unknown = np.full(len(build["speed"]), np.nan)
    bore, length = (build.get(key, unknown) for key in ("hose_bore", "hose_length"))
    return np.asarray(bore, dtype=float), np.asarray(length, dtype=float)
