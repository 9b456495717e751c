"""Some lanes of a circuit, for tests."""

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from engine.physics.flow.match import Circuit
from engine.physics.flow.nozzle import Nozzle

UNKNOWN_OF_GENERATORS = {
    *("generator_kv", "winding_resistance", "no_load_loss"),
    *("generator_current", "generator_voltage"),
}
"""Machine numbers that are NaN where a study gives a generator by its rating."""


def take_lanes(*, circuit: Circuit, lane: NDArray[np.int64]) -> Circuit:
    nozzle = Nozzle(**{f.name: getattr(circuit.nozzle, f.name)[lane] for f in fields(Nozzle)})
    rest = {f.name: getattr(circuit, f.name)[lane] for f in fields(Circuit) if f.name != "nozzle"}
    return Circuit(nozzle=nozzle, **rest)
