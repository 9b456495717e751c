"""A generator test: speed, volts and amps of the bus, and what they say of the data sheet.

With current into a load, volts against speed and amps give the constant and the winding's
resistance. Run as a motor without load (current below 0), or with the torque of its shaft, it gives
the no-load loss too.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from engine.bench import least_squares
from engine.bench.fit import COEFFICIENTS, OF_GENERATOR, Held
from engine.bench.log import BenchLog, Exclusion
from engine.errors import Problem, StudyError
from engine.model.generator import sheet_of
from engine.physics.machine.permanent_magnet import (
    DataSheet,
    bus_voltage,
    input_power,
    no_load_loss,
)
from engine.study.fit import Fit
from engine.study.study import Study

Numbers = NDArray[np.float64]

KV, RESISTANCE, LOSS, DROP = OF_GENERATOR
SHARES = {KV: 0.05, RESISTANCE: 0.3, LOSS: 0.3}
"""Width of an unknown over its start; common practice, no source."""
SURELY = 3.0
"""Standard uncertainties below 0 from which a current counts as one into a motor."""
NO_CURRENT = 0.005
"""Current over the largest of a log that counts as none."""
LEAST = {RESISTANCE: 0.01, LOSS: 0.5}
"""Least width of an unknown [ohm, W]."""


@dataclass(frozen=True)
class GeneratorTest:
    """What a generator test shows, SI."""

    log: BenchLog
    fit: Fit
    reach: Mapping[str, float]
    """Half of the 95 % interval by key."""
    start: Mapping[str, float]
    """By the study; NaN where it has a rating alone."""
    held: tuple[Held, ...]
    voltage: Numbers
    """By the fitted data sheet, at the speed and current of each row [V]."""
    taken: Numbers
    """Power from the shaft beside what becomes electricity, as read [W]; NaN where a row does not
    tell it."""
    loss: Numbers
    """No-load loss by the fitted data sheet [W]."""
    spread: tuple[Numbers, Numbers]
    """Standard uncertainty of each voltage and of each power, that of speed and current included.
    """


def fit_generator_test(study: Study, log: BenchLog) -> GeneratorTest:
    """Find generator constant, winding resistance, no-load loss and drop of the diodes from a log.

    The speed is that of the machine, which turns the generator by the drive of the study. A current
    below 0 is one into the generator as a motor without load; no bridge stands before it then, and
    the drop is none. What the log does not tell is held at the study's value; the drop of the
    diodes is known beforehand within its width of `COEFFICIENTS`.

    Raises
    ------
    StudyError
        Where the log does not tell the generator's constant.
    """
    log = _whole_rows(log)
    bench = _Bench.of(study, log)
    start = bench.start()
    keys = [KV, RESISTANCE, DROP]
    held = []
    if bench.tells_loss.any():
        keys.insert(2, LOSS)
    else:
        held.append(_held(LOSS, "no row has a torque, or runs the generator as a motor"))
    if not bench.generating.any():
        keys.remove(DROP)
        held.append(_held(DROP, "it runs as a motor in every row"))
    width = {key: max(SHARES[key] * start[key], LEAST.get(key, 0.0)) for key in SHARES}
    width[DROP] = COEFFICIENTS[DROP].width
    fixed = {key: float(bench.build.get(key, np.nan)) for key in OF_GENERATOR}
    while True:
        estimate, off = _fitted(bench, keys, start, width)
        worst = int(np.argmax(np.where(estimate.at_bound, np.inf, off)))
        if off[worst] <= 1 and not estimate.at_bound.any():
            break
        loose = keys.pop(worst)
        # The winding has no resistance that could be held where the study states none.
        if KV not in keys or (loose == RESISTANCE and np.isnan(fixed[loose])):
            raise StudyError([_nothing(log)])
        start[loose] = fixed[loose]
        held.append(_held(loose, "the readings leave it as uncertain as before"))
    names, values = list(keys), dict(zip(keys, estimate.values.tolist(), strict=True))
    sheet = bench.sheet({**start, **values})
    voltage, taken, loss = bench.compared(sheet)
    return GeneratorTest(
        log=log,
        fit=Fit(
            values,
            dict(zip(names, estimate.standard.tolist(), strict=True)),
            estimate.correlation,
        ),
        reach=dict(zip(names, estimate.reach.tolist(), strict=True)),
        start={key: fixed[key] for key in names},
        held=tuple(held),
        voltage=voltage,
        taken=np.where(bench.tells_loss, taken, np.nan),
        loss=loss,
        spread=bench.spread(sheet),
    )


def _whole_rows(log: BenchLog) -> BenchLog:
    """Leave out rows without volts or amps."""
    kept = np.isfinite(log.columns["voltage"]) & np.isfinite(log.columns["current"])
    kept &= log.columns["speed"] > 0
    out = [Exclusion(int(line), "no volts, no amps or no speed") for line in log.lines[~kept]]
    return replace(
        log,
        lines=log.lines[kept],
        columns={key: values[kept] for key, values in log.columns.items()},
        uncertainty={key: values[kept] for key, values in log.uncertainty.items()},
        excluded=(*log.excluded, *out),
    )


@dataclass(frozen=True)
class _Bench:
    """The rows of a log, and what is taken as known of the generator."""

    build: Mapping[str, float]
    ratio: float
    speed: Numbers
    """Of the generator [rad/s]."""
    voltage: Numbers
    current: Numbers
    torque: Numbers
    """At the generator's shaft [N m]; NaN where there is none."""
    off: Mapping[str, Numbers]
    """Standard uncertainties of these four."""
    generating: NDArray[np.bool_]
    """Rows in which it is no motor."""

    @classmethod
    def of(cls, study: Study, log: BenchLog) -> "_Bench":
        build = {key: value for key, value in study.fixed().items() if not isinstance(value, str)}
        searched = {
            key: given.lowest
            for key, given in study.searched().items()
            if key in _SHEET and not isinstance(given.lowest, str)
        }
        build |= searched | {key: log.build[key] for key in _SHEET if key in log.build}
        ratio = float(build["drive_ratio"])
        none = np.full(len(log.lines), np.nan)
        columns, off = log.columns, log.uncertainty
        still = NO_CURRENT * float(np.abs(columns["current"]).max(initial=0.0))
        return cls(
            build={key: float(value) for key, value in build.items() if key in _SHEET},
            ratio=ratio,
            speed=columns["speed"] / ratio,
            voltage=columns["voltage"],
            current=columns["current"],
            torque=columns.get("shaft_torque", none) * ratio,
            off={
                "speed": off["speed"] / ratio,
                "voltage": off["voltage"],
                "current": off["current"],
                "torque": off.get("shaft_torque", none) * ratio,
            },
            generating=columns["current"] >= -np.maximum(SURELY * off["current"], still),
        )

    @property
    def tells_loss(self) -> NDArray[np.bool_]:
        """Rows that tell the no-load loss: as a motor all it takes becomes loss."""
        return ~self.generating | np.isfinite(self.torque)

    def sheet(self, values: Mapping[str, float]) -> DataSheet:
        """Put some numbers in place of the study's; no drop where it is a motor."""
        build = {key: np.array([value]) for key, value in {**self.build, **values}.items()}
        sheet = sheet_of(build)
        return replace(sheet, drop=np.where(self.generating, sheet.drop, 0.0))

    def compared(self, sheet: DataSheet) -> tuple[Numbers, Numbers, Numbers]:
        """Voltage by a sheet, power beside what becomes electricity as read, and no-load loss."""
        volts = bus_voltage(sheet=sheet, speed=self.speed, current=self.current)
        loss = no_load_loss(sheet=sheet, speed=self.speed)
        turned = input_power(sheet=sheet, speed=self.speed, current=self.current) - loss
        shaft = np.where(np.isfinite(self.torque), self.torque * self.speed, 0.0)
        return volts, shaft - turned, np.broadcast_to(loss, shaft.shape)

    def spread(self, sheet: DataSheet) -> tuple[Numbers, Numbers]:
        """Give the standard uncertainty of reading less sheet, of volts and of power."""
        squares = np.square(self.off["voltage"]), np.zeros(self.speed.shape)
        base = self.compared(sheet)
        for key in ("speed", "current", "torque"):
            values = getattr(self, key) + np.nan_to_num(self.off[key])
            moved = replace(self, **{key: values}).compared(sheet)
            volts = moved[0] - base[0]
            power = (moved[1] - moved[2]) - (base[1] - base[2])
            squares = squares[0] + volts**2, squares[1] + power**2
        return np.sqrt(squares[0]), np.sqrt(squares[1])

    def start(self) -> dict[str, float]:
        """Numbers with which a fit begins: by the log, a straight line through its volts."""
        drop = self.build[DROP]
        given = self.voltage + np.where(self.generating, drop, 0.0)
        rows = np.column_stack([self.speed, -self.current])
        inverse, hot = np.linalg.lstsq(rows, given, rcond=None)[0]
        first = {KV: 1 / max(inverse, 1e-6), RESISTANCE: max(hot, 1e-3), LOSS: 0.0, DROP: drop}
        _, taken, _ = self.compared(self.sheet({**first, LOSS: 0.0}))
        shape = no_load_loss(sheet=self.sheet({**first, LOSS: 1.0}), speed=self.speed)
        told = self.tells_loss
        if told.any():
            first[LOSS] = max(float(shape[told] @ taken[told] / (shape[told] @ shape[told])), 0.01)
        return first


_SHEET = (
    *OF_GENERATOR, "winding_temperature", "winding_inductance", "pole_pairs", "generator_power",
    "generator_efficiency", "generator_iron_share", "generator_speed", "drive_ratio",
)  # fmt: skip
"""Machine numbers of a data sheet."""


def _fitted(
    bench: _Bench, keys: Sequence[str], start: Mapping[str, float], width: Mapping[str, float]
) -> tuple[least_squares.Estimate, Numbers]:
    """Fit some numbers, with spreads as at the start and then as at the first answer.

    Gives also the standard uncertainty that the readings leave, in widths.
    """
    wide, upper = _of(width, keys), np.array([COEFFICIENTS[key].upper for key in keys])
    matrix = np.array([[1 / width[DROP] if key == DROP else 0.0 for key in keys]])

    def fit(spread: tuple[Numbers, Numbers]) -> least_squares.Estimate:
        return least_squares.fit(
            partial(_residuals, bench, keys, start, spread),
            start=_of(start, keys),
            lower=np.array([COEFFICIENTS[key].lower for key in keys]),
            upper=upper,
            width=wide,
            prior=(matrix, np.zeros(1)) if DROP in keys else None,
        )

    first = fit(bench.spread(bench.sheet(start)))
    near = bench.sheet({**start, **dict(zip(keys, first.values.tolist(), strict=True))})
    spread = bench.spread(near)
    estimate = fit(spread)
    found = partial(_residuals, bench, keys, start, spread)
    effects = least_squares.slopes(found, estimate.values, wide, upper)
    effects = np.vstack([effects, matrix * wide])
    # A direction that nothing tells keeps a large uncertainty, not none.
    told = effects.T @ effects + 1e-9 * np.eye(len(keys))
    return estimate, np.sqrt(np.diag(np.linalg.inv(told)))


def _residuals(
    bench: _Bench,
    keys: Sequence[str],
    start: Mapping[str, float],
    spread: tuple[Numbers, Numbers],
    points: Numbers,
) -> Numbers:
    """Compare readings with a sheet, in standard uncertainties (point, reading)."""
    told, found = bench.tells_loss, []
    for point in points:
        sheet = bench.sheet({**start, **dict(zip(keys, point.tolist(), strict=True))})
        volts, taken, loss = bench.compared(sheet)
        left = (bench.voltage - volts) / spread[0]
        found.append(np.concatenate([left, ((taken - loss) / spread[1])[told]]))
    return np.array(found)


def _of(values: Mapping[str, float], keys: Sequence[str]) -> Numbers:
    return np.array([values[key] for key in keys])


def _held(key: str, reason: str) -> Held:
    return Held(key, reason, COEFFICIENTS[key].test)


def _nothing(log: BenchLog) -> Problem:
    return Problem(
        file=log.file,
        key="voltage",
        found="speed, volts and amps do not tell the generator's constant",
        remedy="read them at three speeds, each without load and with two loads; check the units",
    )
