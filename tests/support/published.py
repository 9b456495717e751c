"""Published machines predicted with what was not read of them drawn at random.

`python -m tests.support.published` writes tests/published/bands.csv and prints the table, with the
misses first. What is drawn, and why, stands in tests/published/sampled.toml; nothing is fitted.
"""

import csv
import math
import sys
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from engine import units
from engine.bands.inputs import hypercube, inputs, spread
from engine.bands.results import MOST_LOST
from engine.columns import COLUMNS
from engine.files import write_whole
from engine.model.dimensions import dimensions_of
from engine.model.evaluation import evaluate
from engine.model.locked_rotor import BREAKAWAY, evaluate_locked
from engine.study.study import Study
from engine.study.supply import source_at, source_of
from tests.support.places import PUBLISHED

Numbers = NDArray[np.float64]
Lanes = dict[str, NDArray[Any]]
FILE, TABLE = PUBLISHED / "sampled.toml", PUBLISHED / "bands.csv"
SAMPLES, SPEEDS, SEED = 128, 64, 1
SHARES = (0.1, 0.5, 0.9)
NUMBERS = ("least", "most", "p10", "p50", "p90", "lost")
"""Columns of the table that hold numbers."""
USUAL_DISCHARGE = 0.95
"""Usual coefficient of a nozzle, by which a flow gives a head."""
DERIVED = {
    "nozzle_area": "",
    "nozzle_flow": "volume_flow",
    "pressure_lost": "ratio",
    "top_speed": "angular_speed",
}
"""Keys of sampled.toml that are no column, with their dimension; '' for m2."""


@dataclass(frozen=True)
class Drawn:
    """Samples of one machine, each at rising speeds: columns of the shape (sample, speed)."""

    study: Study
    found: Mapping[str, NDArray[Any]]
    locked: Mapping[str, NDArray[Any]]
    """With the rotor held, (sample,)."""
    wanted: Numbers
    """Speeds up to which a best value is looked for, (sample,)."""
    pressure_lost: Numbers
    """Share of the head lost between the dial of the source and the nozzles, (sample,)."""

    def of(self, key: str) -> Numbers:
        """Values of a column; NaN beyond the speed looked at."""
        here = np.asarray(self.found[key], dtype=float)
        return np.where(self.found["speed"] <= self.wanted[:, None] * (1 + 1e-9), here, np.nan)

    @property
    def supplied(self) -> Numbers:
        """Isentropic power from where the source read the pressure on; the head lost is small."""
        return np.asarray(self.of("isentropic_power") / (1 - self.pressure_lost[:, None]))

    @property
    def rotor_power(self) -> Numbers:
        """What discs and edges receive less the drag of the end faces; no bearings."""
        return self.of("rotor_power") - self.of("loss_windage")


@dataclass(frozen=True)
class Row:
    """Predicted over measured of one reading."""

    machine: str
    quantity: str
    least: float
    most: float
    """Ends between which the measured value lies."""
    unit: str
    p10: float
    p50: float
    p90: float
    lost: float
    """Share of the samples without an operating point."""

    @property
    def has_band(self) -> bool:
        """Whether enough samples have an operating point for a band, as in `engine.bands`."""
        return self.lost <= MOST_LOST

    @property
    def holds(self) -> bool:
        """Whether there is a band, and it holds the measured value."""
        return self.has_band and self.p10 <= 1 <= self.p90

    @property
    def off(self) -> float:
        """By which factor the band misses; 1 where it holds."""
        return max(self.p10, 1 / self.p90, 1.0)

    @property
    def width(self) -> float:
        """P90 over P10; infinite where the poor end would have to be driven."""
        return self.p90 / self.p10 if self.p10 > 0 else math.inf


@cache
def machines() -> tuple[dict[str, Any], ...]:
    """Entries of sampled.toml, each with source, supply, machine and build."""
    known = tomllib.loads((PUBLISHED / "experiments.toml").read_text(encoding="utf-8"))
    by_name = {each["name"]: each for each in known["experiment"]}
    given = tomllib.loads(FILE.read_text(encoding="utf-8"))["machine"]
    return tuple({**by_name.get(each.get("like", ""), {}), **each} for each in given)


def drawn(machine: Mapping[str, Any], samples: int = SAMPLES) -> Drawn:
    """Draw a machine and evaluate it at every speed, and with its rotor locked."""
    study = Study.model_validate(
        {
            "title": machine["name"],
            "supply": machine["supply"],
            "machine": machine["machine"],
            "ranges": {**machine["build"], "speed": machine["speed"]},
        }
    )
    one = {**study.fixed(), **{k: v.lowest for k, v in study.searched().items()}}
    one = {key: np.array([value]) for key, value in one.items()}
    unknown = machine["unknown"]
    known = [key for key in inputs(study) if key not in unknown]
    shares = hypercube(len(unknown) + len(known), samples, SEED).T
    lanes = {
        key: _between(key, given, share, study)
        for (key, given), share in zip(unknown.items(), shares[: len(unknown)], strict=True)
    }
    for key, share in zip(known, shares[len(unknown) :], strict=True):
        values = spread(study, one, key).at(share[None, :])[0]
        # No process of the table makes the thinnest of these discs, so it tells no tolerance.
        lanes |= {key: values} if np.isfinite(values).all() else {}
    lanes = {key: np.broadcast_to(v, samples) for key, v in one.items()} | lanes
    ranges = study.searched()["speed"]
    top = lanes.pop("top_speed", np.full(samples, ranges.highest))
    lost = np.broadcast_to(lanes.pop("pressure_lost", np.zeros(samples)), samples)
    _derive(study, lanes, lost)
    speeds = np.geomspace(ranges.lowest, ranges.highest, SPEEDS)
    many = {key: np.repeat(values, SPEEDS) for key, values in lanes.items()}
    many["speed"] = np.tile(speeds, samples)
    found = {k: v.reshape(samples, SPEEDS) for k, v in evaluate(study.unjudged(), many).items()}
    # A reading at one speed, below any of the sweep, is that of the first.
    locked = evaluate_locked(study, lanes)
    return Drawn(study, found, locked, np.maximum(top, speeds[0]), lost)


def _between(key: str, given: Mapping[str, Any], share: Numbers, study: Study) -> NDArray[Any]:
    """Values of an unknown at cumulative probabilities."""
    if "choices" in given:
        listed = np.array([_read(key, text, study) for text in given["choices"]])
        return np.asarray(listed[np.minimum((share * len(listed)).astype(int), len(listed) - 1)])
    low, high = (float(_read(key, given[end], study)) for end in ("min", "max"))
    if given.get("log", False):
        return np.asarray(low * (high / low) ** share)
    return np.asarray(low + (high - low) * share)


def _read(key: str, text: str, study: Study) -> float | str:
    if key == "nozzle_area":
        return float(text.removesuffix(" mm2")) * 1e-6
    if key not in DERIVED and COLUMNS[key].is_text:
        return text
    dimension = DERIVED.get(key) or COLUMNS[key].unit.dimension
    return float(units.parse(text, dimension, atmosphere=study.supply.atmosphere))


def _derive(study: Study, lanes: Lanes, lost: Numbers) -> None:
    """Replace what is derived by keys of the model."""
    area = lanes.pop("nozzle_area")
    if "nozzle_flow" in lanes:
        speed = lanes.pop("nozzle_flow") / (USUAL_DISCHARGE * area)
        head = source_of(study.supply).density * speed**2 / 2
        lanes["supply_pressure"] = study.supply.back_pressure + head
    elif "supply_pressure" in lanes:
        back = study.supply.back_pressure
        lanes["supply_pressure"] = back + (1 - lost) * (lanes["supply_pressure"] - back)
        # Wider nozzles pass the flow of the source with less head.
        area = area / np.sqrt(1 - lost)
    # Where there is no seal, its clearance is that of the side gap.
    lanes["seal_clearance"] = np.minimum(lanes["seal_clearance"], lanes["side_gap"])
    height = dimensions_of(lanes)["stack_height"]
    lanes["nozzle_width"] = area / (lanes["nozzle_count"] * height)


def _most(values: Numbers) -> Numbers:
    return np.asarray(np.nanmax(np.nan_to_num(values, nan=-np.inf), axis=1))


def _at_most(values: Numbers, best: Numbers) -> Numbers:
    """Values at the speed where another column is largest."""
    place = np.nanargmax(np.nan_to_num(best, nan=-np.inf), axis=1)
    return np.asarray(values[np.arange(len(place)), place])


def _states(of: Drawn) -> Lanes:
    keys = ("rim_pressure", "jet_speed", "supply_pressure", "supply_temperature")
    return {key: of.found[key] for key in keys}


def _nozzle_loss(of: Drawn) -> Numbers:
    """Fall of total pressure from supply to jet, over the supply's gauge pressure."""
    source, supply = source_of(of.study.supply), of.study.supply
    lost = []
    for lane, matched in enumerate(np.isfinite(of.of("jet_speed"))):
        if not matched.any():
            lost.append(np.nan)
            continue
        place = int(np.flatnonzero(matched)[-1])
        here = {key: float(values[lane, place]) for key, values in _states(of).items()}
        rim, jet, pressure = here["rim_pressure"], here["jet_speed"], here["supply_pressure"]
        temperature = here["supply_temperature"]
        enthalpy = float(
            np.asarray(
                source_at(
                    supply, pressure=np.array([pressure]), temperature=np.array([temperature])
                ).enthalpy
            ).item()
        )

        def excess(
            total: float, *, rim: float = rim, jet: float = jet, h: float = enthalpy
        ) -> float:
            end = source.fluid.isentropic_enthalpy(
                pressure=rim, enthalpy=h - jet**2 / 2, end_pressure=total
            )
            return float(end - h)

        total = brentq(excess, rim, 1.01 * pressure)
        lost.append((pressure - total) / (pressure - supply.atmosphere))
    return np.array(lost)


def _speed_without_load(of: Drawn) -> Numbers:
    """Speed at which the shaft's torque vanishes; the last one looked at where it does not."""
    torque, speed = of.of("shaft_torque"), np.asarray(of.found["speed"], dtype=float)
    found = []
    for row, at in zip(torque, speed, strict=True):
        drives = np.flatnonzero(row > 0)
        last = int(drives[-1]) if drives.size else 0
        if last + 1 < row.size and np.isfinite(row[last + 1]) and drives.size:
            step = row[last] / (row[last] - row[last + 1])
            found.append(at[last] + step * (at[last + 1] - at[last]))
        else:
            found.append(at[last] if drives.size else np.nan)
    return np.array(found)


def _torque_at(of: Drawn, speed: float) -> Numbers:
    """Torque of the shaft at one speed; NaN where there is no operating point on either side."""
    torque, speeds = of.of("shaft_torque"), np.asarray(of.found["speed"], dtype=float)
    return np.array([np.interp(speed, at, row) for at, row in zip(speeds, torque, strict=True)])


PREDICTED: Mapping[str, Callable[[Drawn], Numbers]] = {
    "flow at the peak": lambda of: (
        _at_most(of.of("mass_flow"), of.rotor_power) / source_of(of.study.supply).density
    ),
    "rotor power": lambda of: _most(of.rotor_power),
    "rotor efficiency to the supply": lambda of: _most(of.rotor_power / of.supplied),
    "shaft efficiency": lambda of: _most(of.of("turbine_efficiency")),
    "total pressure lost in the nozzle": _nozzle_loss,
    # A brake that stops the rotor is helped by the drag of seals and bearings.
    "stall torque": lambda of: np.asarray(of.locked["shaft_torque"] - of.locked[BREAKAWAY]),
    "shaft power": lambda of: _most(of.of("shaft_power")),
    "speed of the most shaft power": lambda of: _at_most(of.of("speed"), of.of("shaft_power")),
    "speed without load": _speed_without_load,
}


def rows_of(machine: Mapping[str, Any], samples: int = SAMPLES) -> list[Row]:
    """Predicted over measured, as bands, of every reading of a machine."""
    of, rows = drawn(machine, samples), []
    for reading in machine["reading"]:
        least, most = reading["measured"]
        quantity = reading["quantity"]
        shares = hypercube(2, samples, SEED + 1).T
        ends = machine["true_over_read"][quantity]
        off = float(ends["min"]) + (float(ends["max"]) - float(ends["min"])) * shares[1]
        measured = off * (least + (most - least) * shares[0])
        if "at" in reading:
            ratio = _torque_at(of, float(units.parse(reading["at"], "angular_speed"))) / measured
            quantity = f"{quantity} at {reading['at']}"
        else:
            ratio = PREDICTED[quantity](of) / measured
        known = ratio[np.isfinite(ratio)]
        bands = dict(zip(("p10", "p50", "p90"), np.quantile(known, SHARES).tolist(), strict=True))
        named = (machine["name"], quantity, least, most, reading["unit"])
        rows.append(Row(*named, **bands, lost=1 - known.size / ratio.size))
    return rows


def read() -> list[Row]:
    """Rows of the table as it is."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        lines = [line for line in file if not line.startswith("#")]
    rows = []
    for each in csv.DictReader(lines):
        least, most, *bands = (float(each[key]) for key in NUMBERS)
        rows.append(Row(each["machine"], each["quantity"], least, most, each["unit"], *bands))
    return rows


def table(rows: list[Row]) -> str:
    """Write the table: misses first, the worst at the top, then the widest bands."""
    ordered = sorted(rows, key=lambda row: (not row.has_band, -row.off, -row.width))
    lines = ["| machine | reading | predicted over measured, P10 to P90 | |", "|---|---|---|---|"]
    for row in ordered:
        band = f"{row.p10:.2g} to {row.p90:.2g}" if row.has_band else "no band"
        said = "" if row.holds else "missed"
        said = said if row.has_band else f"{row.lost:.0%} of the samples do not run"
        lines.append(f"| {row.machine} | {row.quantity} | {band} | {said} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    rows = [row for machine in machines() for row in rows_of(machine)]
    head = "# Predicted over measured, by tests/support/published.py from sampled.toml"
    lines = [head, "machine,quantity,least,most,unit,p10,p50,p90,lost"]
    lines += [
        f'"{r.machine}",{r.quantity},{r.least:g},{r.most:g},{r.unit},'
        f"{r.p10:.4g},{r.p50:.4g},{r.p90:.4g},{r.lost:.3g}"
        for r in rows
    ]
    write_whole(TABLE, ("\n".join(lines) + "\n").encode())
    known = [row for row in rows if row.has_band]
    widths = np.array([row.width for row in known])
    held = sum(row.holds for row in known)
    sys.stdout.write(table(rows))
    sys.stdout.write(
        f"{held} of {len(known)} bands held; P90 over P10: median {np.median(widths):.2g}, "
    )
    sys.stdout.write(f"{widths.min():.2g} to {widths.max():.2g}\n")


if __name__ == "__main__":
    main()
