"""What instruments should show in each test, in the units in which the logs take it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from engine import units
from engine.bench.log_columns import QUANTITIES
from engine.bench.readings import read_loaded, read_locked
from engine.bench.telling import TOLD
from engine.columns import COLUMNS
from engine.model.generator import SHEET_KEYS, has_sheet, volts_and_amps
from engine.study.study import Study
from reports.design.expected import Reading, ReadingBand
from reports.design.facts import BuildFacts
from reports.design.plan_logs import HELD, LEVER, LOGGED, RUBBING, Columns
from reports.kit.quantities import MINUS, MISSING, THIN, bare, number, quantity

WRITTEN = {"degC": "°C"}
"""Units as a page writes them, where the log writes them otherwise."""
SAID = {"electric_power": ("Volts times amps", "W"), "N": ("Force on the lever", "N")}
"""Names of readings that the log takes in another way than as the result itself."""


@dataclass(frozen=True)
class Instrument:
    """How one reading is written: in the log's unit, gauge or absolute as the log says."""

    key: str
    label: str
    unit: str
    factor: float
    """SI value of one unit, less that of none."""
    offset: float
    """SI value of none: the atmosphere for a gauge, 0 °C for a thermometer."""

    def text(self, value: float) -> str:
        """Write an SI value with as many digits as tell the ends of a band apart."""
        if not math.isfinite(value):
            return MISSING
        drawn = (value - self.offset) / self.factor
        if QUANTITIES[self.key] == "temperature":
            return f"{round(drawn, 1) + 0.0:.1f}".replace("-", MINUS)
        if QUANTITIES[self.key] == "pressure":
            return f"{round(drawn, 3) + 0.0:.3f}".replace("-", MINUS)
        return number(drawn)

    def setting(self, value: float) -> str:
        """Write an SI value that somebody sets, with its unit and no closing zeros."""
        return f"{number((value - self.offset) / self.factor, 4, trim=True)}{THIN}{self.unit}"

    def width(self, value: float) -> str:
        """Write a difference between two readings, SI."""
        return number(value / self.factor, 2)


def instruments(keys: Sequence[str], columns: Columns, study: Study) -> tuple[Instrument, ...]:
    """Find how the log of these columns takes each reading."""
    return tuple(_instrument(key, columns, study) for key in keys)


def _instrument(key: str, columns: Columns, study: Study) -> Instrument:
    label, unit = COLUMNS[key].label, columns.get(key, ("", ""))[0]
    if key not in columns:
        label, unit = SAID[key]
    dimension, arm = QUANTITIES[key], 1.0
    if unit == "N":
        (label, _), dimension, arm = SAID[unit], "force", units.parse(LEVER, "length")
    atmosphere = study.supply.atmosphere
    none, one = (
        arm * units.parse(f"{amount} {unit}", dimension, atmosphere=atmosphere) for amount in (0, 1)
    )
    return Instrument(key, label, WRITTEN.get(unit, unit), one - none, none)


def band_text(read: Instrument, band: ReadingBand) -> tuple[str, str]:
    """Write a reading, and the band for the line below it."""
    if not math.isfinite(band.expected):
        return MISSING, "no operating point"
    expected, low, high = map(read.text, (band.expected, band.low, band.high))
    if not (math.isfinite(band.low) and math.isfinite(band.high)):
        return expected, "no band: too many samples without an operating point"
    return expected, f"{low} to {high}"


@dataclass(frozen=True)
class Row:
    """One state of a test: its name, what is read there with the band, and what speaks against."""

    name: str
    cells: tuple[tuple[str, str], ...]
    note: str = ""
    bad: bool = False
    """Whether that is a failure, and not a relation beyond its range."""


@dataclass(frozen=True)
class Table:
    """Readings of one test."""

    head: str
    unit: str
    instruments: tuple[Instrument, ...]
    rows: tuple[Row, ...]


def loaded_table(facts: BuildFacts) -> Table:
    """List what is read at each speed of the loaded run."""
    read = instruments(read_loaded(facts.study, len(facts.stacks)), LOGGED, facts.study)
    rows = [
        Row(
            bare("speed", reading.speed),
            _cells(read, reading.bands),
            _note(facts, reading),
            bad=reading.overloads,
        )
        for reading in facts.readings
    ]
    return Table("Speed", "rpm", read, tuple(rows))


def locked_table(facts: BuildFacts) -> Table:
    """List what is read at each supply pressure with the rotor locked."""
    read = instruments(read_locked(facts.study, len(facts.stacks)), HELD, facts.study)
    (dial,) = instruments(("supply_pressure",), HELD, facts.study)
    rows = [
        Row(dial.setting(each.supply_pressure), _cells(read, each.bands)) for each in facts.locked
    ]
    return Table("Supply at the dial", "", read, tuple(rows))


def rubbing_table(facts: BuildFacts) -> Table | None:
    """List what is read with half and with twice the friction on the casing, where it is tested."""
    test = facts.telling
    if test is None:
        return None
    read = instruments(TOLD, RUBBING, facts.study)
    rows = []
    for n, speed in enumerate(test.speed.tolist()):
        nozzles, clearance = test.nozzle_count[n], test.rim_clearance[n]
        count = f"{bare('nozzle_count', nozzles)}{THIN}nozzle{'s' if nozzles > 1 else ''}"
        cells = tuple(
            (
                " or ".join(each.text(values[n]) for values in test.expected[each.key]),
                f"±{THIN}{each.width(test.instrument[each.key][n])}",
            )
            for each in read
        )
        name = f"{quantity('speed', speed)}, {count}, {quantity('rim_clearance', clearance)}"
        rows.append(Row(name, cells))
    return Table("State", "", read, tuple(rows))


def _cells(
    read: Sequence[Instrument], bands: Mapping[str, ReadingBand]
) -> tuple[tuple[str, str], ...]:
    return tuple(band_text(each, bands[each.key]) for each in read)


def _note(facts: BuildFacts, reading: Reading) -> str:
    """Say what else is read, and what speaks against a reading; '' for nothing."""
    found = [bus_text(facts, reading)]
    found += [f"outside its valid range: {reading.validity}"] if reading.validity else []
    if reading.overloads:
        found.append("more than the generator's rating")
    return "; ".join(filter(None, found))


def bus_text(facts: BuildFacts, reading: Reading) -> str:
    """Say voltage and current behind the bridge; '' where no data sheet is known."""
    torque = reading.bands["shaft_torque"].expected
    build = {key: np.array([facts.number(key)]) for key in SHEET_KEYS}
    if not (has_sheet(build) and math.isfinite(torque)):
        return ""
    speed = np.array([reading.speed])
    volts, amps = volts_and_amps(build, shaft_power=torque * speed, speed=speed)
    if not (amps[0] > 0 and volts[0] > 0):
        return "the generator cannot hold this speed against that torque"
    free, _ = volts_and_amps(build, shaft_power=0.0 * speed, speed=speed)
    return (
        f"{number(float(volts[0]))}{THIN}V and {number(float(amps[0]))}{THIN}A behind the bridge; "
        f"{number(float(free[0]))}{THIN}V if the load comes off at this speed"
    )
