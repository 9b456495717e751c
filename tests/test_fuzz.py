"""Studies, logs and builds with random mistakes: each is read plausibly or refused with a line.

Few are tried here. By hand, `FUZZ=1 python -m pytest tests/test_fuzz.py` tries 2,000 studies, 2,000
logs of which 50 are fitted, 3,000 typed builds and 3,000 evaluated ones.
"""

import os
import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from engine.bench.averaging import averaged
from engine.bench.coast_down import fit_coast_down
from engine.bench.fit import COEFFICIENTS, fit_log
from engine.bench.log import BenchLog, read_log
from engine.columns import COLUMNS
from engine.errors import StudyError
from engine.model.evaluation import evaluate
from engine.model.limits import STATUS_MEANING
from engine.stage_columns import OF_LATER_STAGES
from engine.study.machine import Machine
from engine.study.oddities import oddities
from engine.study.plausible import PLAUSIBLE
from engine.study.plausible_rows import Plausible
from engine.study.reader import parse_overrides, parse_study
from engine.study.study import Study
from engine.study.values import Range
from tests.bench.test_fit import SPEEDS, readings, rows_of, text_of
from tests.study.test_study_errors import GOOD
from tests.support.benchlogs import STUDY
from tests.support.places import STUDIES

MANY = bool(os.environ.get("FUZZ"))
N_STUDIES, N_LOGS, N_FITS, N_POINTS, N_LANES = (
    (2000, 2000, 50, 3000, 3000) if MANY else (60, 40, 2, 200, 400)
)
UNITS = ("mm", "m", "km", "um", "in", "rpm", "rad/s", "Hz", "bar", "bar gauge", "bar absolute",
         "degC", "K", "%", "", "W", "kW", "N m", "mN m", "kg cm", "l/min", "kg/s", "deg", "1/min",
         "kW/(m3/min)", "mm2/s", "J", "g mm")  # fmt: skip
NUMBERS = ("0", "-1", "1e9", "1e-9", "1e308", "nan", ".inf", "0.3", "2", "12", "30,000", "1 000",
           "7.5e4", "100", "1000000", "-0.0", "12:30", "0x10", "1/2", "")  # fmt: skip
JUNK = ("\u202e", "\x00", "{", "}", "[", "]", ":", "&a ", "*a", "!!int ", "\t", "#", "'", '"', "\\",
        "---", "yes", "null", "<<: ", "ÿ", "\ud800", "=", ",", "\n", "µ", "½")  # fmt: skip


def pick(random: np.random.Generator, words: tuple[str, ...]) -> str:
    return words[int(random.integers(len(words)))]


def mutated(text: str, random: np.random.Generator) -> str:
    """Text with one to three mistakes."""
    for _ in range(int(random.integers(1, 4))):
        numbers = list(re.finditer(r"-?\d[\d.]*", text))
        lines = text.splitlines()
        kind = int(random.integers(7))
        if kind <= 2 and numbers:  # another number, or another unit after it
            at = numbers[int(random.integers(len(numbers)))]
            if kind == 0:
                text = text[: at.start()] + pick(random, NUMBERS) + text[at.end() :]
            elif kind == 1:
                rest = re.sub(r"^ ?[\w%/()]+( gauge| absolute)?", "", text[at.end() :], count=1)
                text = f"{text[: at.end()]} {pick(random, UNITS)}{rest}"
            else:
                scale = 10.0 ** int(random.integers(-12, 13))
                text = f"{text[: at.start()]}{float(at[0].rstrip('.')) * scale:g}{text[at.end() :]}"
        elif kind == 3:
            at_line = int(random.integers(len(lines)))
            lines[at_line : at_line + 1] = [] if random.random() < 0.5 else [lines[at_line]] * 2
            text = "\n".join(lines) + "\n"
        elif kind == 4:
            one, other = random.integers(len(lines), size=2)
            lines[one], lines[other] = lines[other], lines[one]
            text = "\n".join(lines) + "\n"
        else:
            place = int(random.integers(len(text)))
            cut = place + int(random.integers(3))
            text = text[:place] + pick(random, JUNK) + text[cut:]
    return text


def numbers_of(study: Study) -> dict[tuple[str, str], list[float]]:
    """Every number of a study by section and key."""
    found: dict[tuple[str, str], list[float]] = {}
    parts = {"supply": study.supply, "machine": study.machine, "ranges": study.ranges}
    for section, part in (*parts.items(), ("uncertainty", study.uncertainty)):
        for key in type(part).model_fields:
            value = getattr(part, key)
            if isinstance(value, Range):
                found[section, key] = [*(value.choices or (value.min, value.max))]
            elif isinstance(value, float | int):
                found[section, key] = [value]
    for key, limit in study.limits.items():
        found["limits", key] = [end for end in (limit.min, limit.max) if end is not None]
    return found


def assert_plausible(study: Study) -> None:
    for (section, key), values in numbers_of(study).items():
        if key == "speed" and study.speed_settles:
            continue
        row = PLAUSIBLE[section].get(key)
        for value in values:
            if row is not None:
                row.refuse(value)


def assert_lines(error: StudyError, name: str) -> None:
    for problem in error.problems:
        assert problem.file.endswith(name), str(problem)
        assert problem.found
        assert len(str(problem)) < 1500
        assert "\n" not in str(problem)


def test_studies_with_mistakes_are_plausible_or_refused(tmp_path: Path) -> None:
    random = np.random.default_rng(21)
    texts = [GOOD, *(path.read_text("utf-8") for path in sorted(STUDIES.glob("*.yaml")))]
    n_read = 0
    for trial in range(N_STUDIES):
        text = mutated(texts[trial % len(texts)], random)
        try:
            study = parse_study(text, "fuzz.yaml")
        except StudyError as error:
            assert_lines(error, "fuzz.yaml")
            continue
        n_read += 1
        assert_plausible(study)
        if trial % 10 == 0:
            (tmp_path / "fuzz.yaml").write_bytes(text.encode("utf-8", "surrogatepass"))
            oddities(tmp_path / "fuzz.yaml", study)
    assert 0.02 * N_STUDIES < n_read < 0.9 * N_STUDIES


def assert_log(log: BenchLog) -> None:
    for key, values in log.columns.items():
        known = values[np.isfinite(values)]
        low, high = PLAUSIBLE["log"][key].bounds
        assert ((known >= low) & (known <= high)).all(), key
        assert np.isfinite(log.uncertainty[key][np.isfinite(values)]).all()


def fitted(log: BenchLog) -> bool:
    """Fit a log; whether something came of it, which must then be plausible."""
    try:
        log = averaged(log)
        found = (fit_coast_down if log.is_coast_down else fit_log)(STUDY, log).fit
    except StudyError as error:
        assert_lines(error, "bench.csv")
        return False
    for key, value in found.values.items():
        PLAUSIBLE["machine"][key].refuse(value) if key in PLAUSIBLE["machine"] else None
        assert 0 < found.standard[key] < 10 * COEFFICIENTS[key].width
    return True


def test_logs_with_mistakes_are_plausible_or_refused(tmp_path: Path) -> None:
    random = np.random.default_rng(22)
    true = readings(STUDY, SPEEDS, nozzle_discharge=0.9, rim_mixing=0.88)
    text = text_of(rows_of(SPEEDS, true, random))
    path, n_read, n_fitted = tmp_path / "bench.csv", 0, 0
    for _ in range(N_LOGS):
        path.write_bytes(mutated(text, random).encode("utf-8", "surrogatepass"))
        try:
            log = read_log(path, STUDY)
        except StudyError as error:
            assert_lines(error, "bench.csv")
            continue
        n_read += 1
        assert_log(log)
        if n_fitted < N_FITS:
            n_fitted += 1
            fitted(log)
    assert n_read > 0.1 * N_LOGS


def test_typed_builds_are_plausible_or_refused() -> None:
    random = np.random.default_rng(23)
    study = parse_study(GOOD, "night.yaml")
    keys = (*study.searched(), *Machine.model_fields, "pressure", "title", "gpa", "")
    right = ["disc_count=8", "disc_diameter=90mm", "gap=0.5mm", "inlet_angle=6deg"]
    right += ["exhaust_bore=42mm", "nozzle_width=0.5mm"]
    for _ in range(N_POINTS):
        words = list(right)
        for _ in range(int(random.integers(1, 3))):
            word = f"{pick(random, keys)}={pick(random, NUMBERS)}{pick(random, UNITS)}"
            if random.random() < 0.3:
                word = mutated(word, random)
            words[int(random.integers(len(words)))] = word
        try:
            build = parse_overrides(words, study)
        except StudyError as error:
            assert_lines(error, "command line")
            continue
        for key, value in build.items():
            row = PLAUSIBLE["machine"].get(key)
            if row is not None and not isinstance(value, str):
                row.refuse(value)


def wide(random: np.random.Generator, key: str) -> NDArray[np.float64]:
    """Half of the values over all that is plausible, half over what is usual; even in the log."""
    row = PLAUSIBLE["machine"][key]
    assert row.usual is not None
    usual = Plausible(row.dimension, *row.usual, why=row.why)
    low, high = np.repeat([row.bounds, usual.bounds], [N_LANES // 2, N_LANES - N_LANES // 2], 0).T
    low = np.maximum(low, 1e-6 * high)
    values: NDArray[np.float64] = np.exp(random.uniform(np.log(low), np.log(high)))
    return np.round(values) if row.dimension == "count" else values


OF_DATA_SHEET = (
    "generator_kv", "winding_resistance", "no_load_loss", "generator_current", "generator_voltage",
)  # fmt: skip
"""Machine numbers of a generator that is given by its rating alone."""


def test_no_plausible_build_gives_nonsense() -> None:
    random = np.random.default_rng(24)
    study = parse_study(GOOD, "night.yaml")
    keys = ("disc_count", "disc_diameter", "gap", "inlet_angle", "exhaust_bore", "speed",
            "nozzle_width", "nozzle_count", "disc_thickness", "shaft_diameter", "rim_clearance",
            "side_gap", "seal_clearance")  # fmt: skip
    found = evaluate(study, {key: wide(random, key) for key in keys})
    status = found["status"]
    assert set(status) <= {"matched", *STATUS_MEANING}
    for key, values in found.items():
        may_lack = key in ("notch_factor", "hose_volume", "bearing_viscosity", *OF_DATA_SHEET)
        may_lack |= key in OF_LATER_STAGES or key == "bolt_circle"
        if COLUMNS[key].kind != "result" and not COLUMNS[key].is_text and not may_lack:
            assert not np.isnan(values[status == "matched"]).any(), key
    cannot = status == "bad geometry"
    assert cannot.any()
    assert (~cannot).any()
    for key in ("rotor_mass", "stored_energy", "safety_margin", "stress_margin", "yield_speed"):
        assert np.isnan(found[key][cannot]).all(), key
    for key in ("rotor_mass", "stored_energy", "bore_wall", "permissible_unbalance"):
        assert (found[key][~cannot] > 0).all(), key
    matched = status == "matched"
    power, whole = found["electric_power"][matched], found["isentropic_power"][matched]
    assert (power <= whole).all()
    for key in ("turbulent_share", "bore_ratio", "nozzle_footprint"):
        shares = found[key][matched]
        assert ((shares >= 0) & (shares < 1 + 1e-9)).all(), key
