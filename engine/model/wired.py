"""The loads of a study as they hang on a bus of direct current."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Lanes, Mask
from engine.physics.machine.best_power import best_power_points
from engine.physics.machine.load_law import LAWS, Bus
from engine.physics.machine.settle import Coupled, MeetingPoints, meeting_points
from engine.study.loads import ALL, NEEDED, Load, Loads
from engine.study.study import Study


@dataclass(frozen=True)
class Wired:
    """The loads of a study as they hang on the bus."""

    loads: tuple[Load, ...]
    """Without the dump resistor, which comes last on the bus where there is one."""
    bus: Bus
    sets: Mask
    """Which are on, (set, load): none, then one more after the other."""
    converter: float = math.nan
    """Efficiency of the converter between generator and loads; NaN where there is none."""

    @property
    def is_converted(self) -> bool:
        """Whether a converter holds the voltage of the loads."""
        return not math.isnan(self.converter)

    def demand(self, switched: Mask) -> Lanes:
        """Power into the converter that sets of loads ask for, (set,) [W]."""
        asked = np.array([load.running for load in self.loads])
        return np.asarray((switched[:, : len(asked)] * asked).sum(axis=1) / self.converter)

    def meet(self, coupled: Coupled, switched: Mask) -> MeetingPoints:
        """Find where machines meet sets of these loads, (set, load)."""
        if self.is_converted:
            return best_power_points(coupled=coupled, demand=self.demand(switched))
        return meeting_points(coupled=coupled, bus=self.bus, switched=switched)


def can_settle(study: Study) -> bool:
    """Whether a study says enough of generator and loads."""
    loads = study.loads
    return loads is not None and loads.voltage is not None and study.by_data_sheet


def wired(loads: Loads) -> Wired:
    """Hang the loads of a study on its bus; needs the voltage of each."""
    listed = loads.listed
    rows = [
        (LAWS.index(load.behaves), load.running, load.voltage, load.lowest, load.starting)
        for load in listed
    ]
    if loads.dump_voltage is not None and loads.dump_power is not None:
        volts = loads.dump_voltage
        rows.append((LAWS.index("dump"), loads.dump_power, volts, volts, 1.0))
    law, *numbers = zip(*rows, strict=True)
    bus = Bus(np.array(law, dtype=np.int64), *(np.array(each, dtype=float) for each in numbers))
    sets = np.tri(len(listed) + 1, len(listed), -1, dtype=bool)
    always = np.ones((len(sets), len(rows) - len(listed)), dtype=bool)
    converter = math.nan if loads.converter_efficiency is None else loads.converter_efficiency
    return Wired(listed, bus, np.concatenate([sets, always], axis=1), converter)


def named(loads: Sequence[Load], names: Sequence[str] | None) -> Mask:
    """Find which loads a list of names means, (load,); all and needed stand for several."""
    given = set(names or ())
    return np.array(
        [ALL in given or load.name in given or (NEEDED in given and load.needed) for load in loads],
        dtype=np.bool_,
    )


def with_dump(lines: Wired, on: Mask) -> Mask:
    """Add the dump resistor, which is always there, to the loads that are on."""
    return np.concatenate([on, np.ones(len(lines.bus.law) - len(on), dtype=np.bool_)])
