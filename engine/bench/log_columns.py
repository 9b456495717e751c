"""What the columns of a bench log may hold, and how their cells are converted to SI."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine import units
from engine.bench.log_text import Head
from engine.columns import COLUMNS
from engine.errors import WrongValueError, suggestion
from engine.stage_columns import STAGES, of_stage, staged
from engine.study.plausible import PLAUSIBLE, checked
from engine.study.study import Study, most_stages
from engine.study.supply import source_of

CONDITIONS: Mapping[str, str] = {
    "speed": "angular_speed",
    "supply_pressure": "pressure",
    "supply_temperature": "temperature",
    "back_pressure": "pressure",
    "nozzle_count": "count",
    "rim_clearance": "length",
}
"""Conditions set on the bench, with their dimension."""
BETWEEN: Mapping[str, str] = {
    of_stage(key, stage): dimension
    for stage in STAGES
    for key, dimension in (("nozzle_pressure", "pressure"), ("exhaust_temperature", "temperature"))
}
"""Readings of each stage behind the first, with their dimension."""
READINGS: Mapping[str, str] = {
    "shaft_torque": "torque",
    "electric_power": "power",
    "mass_flow": "air_flow",
    "rim_pressure": "pressure",
    "gap_exit_pressure": "pressure",
    "exhaust_temperature": "temperature",
    "nozzle_pressure": "pressure",
    "outlet_angle": "angle",
    "outlet_rise": "pressure_difference",
    **BETWEEN,
}
"""Readings that the model predicts, with their dimension."""
PUMP_CONDITIONS: Mapping[str, str] = {
    "speed": "angular_speed",
    "flow": "volume_flow",
    "supply_temperature": "temperature",
}
"""The same of a pump: its flow is set by a valve in the discharge, and read."""
PUMP_READINGS: Mapping[str, str] = {
    "head": "head",
    "pressure_rise": "pressure_difference",
    "rim_rise": "pressure_difference",
    "shaft_torque": "torque",
    "electric_power": "power",
}
"""Readings that the model predicts of a pump."""
EVERY_CONDITION = {**CONDITIONS, **PUMP_CONDITIONS}
EVERY_READING = {**READINGS, **PUMP_READINGS}
"""Those of both kinds of machines together."""
QUANTITIES: Mapping[str, str] = {
    "time": "time",
    "frequency": "frequency",
    **CONDITIONS,
    **READINGS,
    "voltage": "voltage",
    "current": "current",
}
"""Quantities that a column may hold, with their dimensions."""
OF_KIND: Mapping[str, Mapping[str, str]] = {
    "turbine": QUANTITIES,
    "pump": {**PUMP_CONDITIONS, **PUMP_READINGS},
}
"""Quantities that a log of each kind of machine may hold."""
MEANINGS: Mapping[str, str] = {
    **{key: COLUMNS[key].meaning for key in QUANTITIES if key in COLUMNS},
    "time": "time of the reading, from any start",
    "frequency": "frequency at which a clamped disc rings when it is tapped",
    "speed": "rotational speed of the stack; 0 where the rotor is locked",
    "supply_pressure": "pressure at the dial of the supply",
    "supply_temperature": "temperature before the nozzles",
    "back_pressure": "pressure the exhaust blows into",
    "nozzle_count": "nozzles that are open, evenly around the rim",
    "rim_clearance": "radial clearance between rim and casing ring",
    "rim_pressure": "pressure of the ring around the discs",
    "gap_exit_pressure": "pressure at the inner end of the gaps",
    "nozzle_pressure": "pressure at a second dial, before the nozzles and behind the hose",
    **{
        of_stage("nozzle_pressure", stage): f"pressure in the room before the {words}"
        for stage, words in STAGES.items()
    },
    "outlet_angle": "angle of a thread or probe at the outlet to the shaft, towards the rotation,"
    " at the mean square radius",
    "outlet_rise": "pressure of a probe at the outlet that points into the flow, at the mean square"
    " radius, less that around the machine",
    "voltage": "voltage at the generator terminals; with current it gives the power",
    "current": "current at the generator terminals; with voltage it gives the power",
}
"""What each of them is."""
USUAL: Mapping[str, tuple[float, float]] = {
    **dict.fromkeys(("time", "nozzle_count", "rim_clearance"), (0.0, 0.0)),
    "frequency": (0.005, 0.0),
    "flow": (0.02, 1e-7),
    "head": (0.01, 0.02),
    **dict.fromkeys(("pressure_rise", "rim_rise"), (0.01, 200.0)),
    "speed": (0.003, 0.0),
    "shaft_torque": (0.02, 1e-4),
    "electric_power": (0.02, 0.05),
    "mass_flow": (0.02, 0.0),
    "voltage": (0.01, 0.0),
    "current": (0.01, 0.0),
    "supply_temperature": (0.0, 1.0),
    **dict.fromkeys(staged("exhaust_temperature"), (0.0, 1.5)),
    **dict.fromkeys(("supply_pressure", "back_pressure", "rim_pressure"), (0.005, 500.0)),
    "gap_exit_pressure": (0.005, 500.0),
    **dict.fromkeys(staged("nozzle_pressure"), (0.005, 500.0)),
    "outlet_angle": (0.0, np.radians(4.0)),
    "outlet_rise": (0.05, 50.0),
}
"""Standard uncertainty where a log states none: share of the reading, and smallest value [SI];
common practice for shop instruments, no source."""


@dataclass(frozen=True)
class Scale:
    """How the cells of a column are converted to SI: number times factor plus offset."""

    quantity: str
    factor: float
    offset: float
    share: float
    floor: float

    def is_plausible(self, number: float) -> bool:
        """Whether a cell may hold this number."""
        try:
            PLAUSIBLE["log"][self.quantity].refuse(number * self.factor + self.offset)
        except WrongValueError:
            return False
        return True


def scale_of(head: Head, study: Study) -> Scale:
    """Read what a column holds; raises WrongValueError."""
    quantity, known = head.quantity, OF_KIND[study.kind]
    if quantity not in known:
        of = "" if study.kind == "turbine" else f" of a {study.kind}"
        raise WrongValueError(
            found=f"{units.shorten(quantity)} is not a quantity of a log{of}",
            expected=f"one of {', '.join(known)} or ignore",
            remedy=suggestion(quantity, known),
        )
    if quantity == "nozzle_pressure" and study.supply.dial == "at-nozzles":
        raise WrongValueError(
            found="the dial of the study stands at the nozzles, so this is its supply_pressure",
            expected="the pressure behind a hose",
            remedy="write dial: before-hose under supply in the study, or set the column to ignore",
        )
    if quantity in BETWEEN and int(quantity[-1]) > most_stages(study):
        raise WrongValueError(
            found=f"the study has no stage {quantity[-1]}",
            expected="readings of stages that it has",
            remedy="set the column to ignore, or write stage_count under machine in the study",
        )
    dimension, atmosphere = known[quantity], study.supply.atmosphere
    if dimension == "count" and not head.unit:
        return Scale(quantity, 1.0, 0.0, 0.0, 0.0)
    if not head.unit:
        raise WrongValueError(
            found="has no unit",
            expected=units.expectation(dimension),
            remedy=f"write {{quantity: {quantity}, unit: "
            f"{units.unit_example(dimension).split(' ', 1)[-1]}}}",
        )
    times = 1.0
    if head.lever:
        dimension, times = "force", _lever(head)
    if dimension == "air_flow" and np.isfinite(liquid := source_of(study.supply).density):
        try:
            units.parse(f"1 {head.unit}", "mass_flow")
            dimension = "mass_flow"
        except WrongValueError:
            dimension, times = "volume_flow", liquid
    zero, one = (
        times * units.parse(f"{number} {head.unit}", dimension, atmosphere=atmosphere)
        for number in (0, 1)
    )
    share, floor = USUAL[quantity]
    if head.uncertainty.rstrip().endswith("%"):
        share, floor = units.parse(head.uncertainty, "ratio"), 0.0
    elif head.uncertainty:
        share, floor = 0.0, _difference(head.uncertainty, dimension) * times
    if share < 0 or floor < 0 or (head.uncertainty and share + floor == 0):
        raise WrongValueError(
            found="its uncertainty is not above zero", remedy="write it as in 1 %"
        )
    most = max(map(abs, PLAUSIBLE["log"][quantity].bounds))
    if share > 1 or floor > most:
        found = f"{units.shorten(head.uncertainty)} is more than any reading"
        raise WrongValueError(found, remedy="write its standard uncertainty, as in 1 %")
    return Scale(quantity, one - zero, zero, share, floor)


def _lever(head: Head) -> float:
    """Arm of a force [m]; raises WrongValueError."""
    if head.quantity != "shaft_torque":
        found = f"a lever given for {head.quantity}"
        raise WrongValueError(found, "a lever for shaft_torque only", "delete it")
    arm = units.parse(head.lever, "length")
    if arm <= 0:
        found = "its lever is not longer than zero"
        raise WrongValueError(found, remedy="write it as in lever: 100 mm")
    return float(checked("log", "lever", arm))


def _difference(text: str, dimension: str) -> float:
    """Read a difference; for a pressure difference gauge or absolute means nothing."""
    if dimension == "pressure":
        return units.parse(f"{text} absolute", "pressure")
    return units.parse(text, "temperature_difference" if dimension == "temperature" else dimension)
