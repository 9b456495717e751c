"""Logs of head against flow: what they tell of a pump, and what they refuse."""

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from engine.bench.fit import PUMP_COEFFICIENTS, BenchFit, fit_log
from engine.bench.log import read_log
from engine.bench.log_columns import PUMP_READINGS, USUAL
from engine.bench.predicted import predict
from engine.columns import COLUMNS
from engine.errors import StudyError
from engine.study.plausible import PLAUSIBLE
from engine.study.reader import read_study
from reports.fit.make import fit_of_logs
from reports.fit.page import write_fit_page
from tests.support.pumps import STUDY, pump_study

PUMP = pump_study()
BUILD = {
    "disc_count": 7.0, "disc_diameter": 0.08, "gap": 0.4e-3, "eye_diameter": 0.03,
    "throat_area": 40e-6,
}  # fmt: skip
TRUTH = {"ring_factor": 1.5, "throat_factor": 0.7, "casing_factor": 1.3, "motor_efficiency": 0.68}
RPM, LITRE = np.pi / 30, 1e-3 / 60
SPEEDS, FLOWS = (2000.0, 2600.0), (0.0, 2.0, 4.0, 7.0, 10.0, 13.0)
UNITS = {"head": "m", "pressure_rise": "mbar", "rim_rise": "mbar", "shaft_torque": "mN m"}


@cache
def readings(**truth: float) -> dict[str, np.ndarray]:
    """What the instruments of a pump with these coefficients show."""
    rows = np.array([(speed * RPM, flow * LITRE) for speed in SPEEDS for flow in FLOWS])
    conditions = {
        "speed": rows[:, 0], "flow": rows[:, 1], "supply_temperature": np.full(len(rows), 293.15)
    }  # fmt: skip
    return {**conditions, **predict(PUMP, {**BUILD, **truth}, conditions)}


def log_of(keys: Sequence[str], *, noise: float = 0.0, seed: int = 0, head: str = "") -> str:
    """A log of these readings, each off by a share of it."""
    rng, told = np.random.default_rng(seed), readings(**TRUTH)
    names = ("speed", "flow", *keys)
    lines = ["---", "title: Loop", *head.splitlines()]
    lines += ["build: {disc_count: 7, gap: 0.4 mm, throat_area: 40 mm2}", "columns:"]
    units = {"speed": "rpm", "flow": "l/min", "electric_power": "W", **UNITS}
    within = {"speed": 0.002, "flow": 0.01, **dict.fromkeys(keys, 0.01)}
    for key in names:
        said = f"unit: {units[key]}, uncertainty: {100 * within[key]:g} %"
        lines.append(f"  {key}: {{quantity: {key}, {said}}}")
    lines += ["---", ",".join(names)]
    table = np.stack([told[key] / COLUMNS[key].unit.si_factor for key in names], axis=1)
    off = noise * rng.standard_normal(table.shape) * [within[key] / 0.01 for key in names]
    lines += [",".join(f"{value:.8g}" for value in row) for row in table * (1 + off)]
    return "\n".join(lines) + "\n"


def fitted(folder: Path, text: str) -> BenchFit:
    path = folder / "loop.csv"
    path.write_text(text, encoding="utf-8")
    return fit_log(PUMP, read_log(path, PUMP))


@pytest.fixture(scope="module")
def exact(tmp_path_factory: pytest.TempPathFactory) -> BenchFit:
    keys = ("head", "rim_rise", "shaft_torque", "electric_power")
    return fitted(tmp_path_factory.mktemp("exact"), log_of(keys))


def test_readings_without_noise_give_the_coefficients_back(exact: BenchFit) -> None:
    for key, value in TRUTH.items():
        assert exact.fit.values[key] == pytest.approx(value, rel=1e-3), key
        assert 0 < exact.reach[key] < PUMP_COEFFICIENTS[key].width
    # What was not changed comes back as it is.
    assert exact.fit.values["windage_factor"] == pytest.approx(1.0, rel=1e-3)
    after = np.abs(exact.after["head"] / exact.measured["head"] - 1)
    assert after.max() < 1e-4


def test_head_alone_tells_leakage_throat_and_walls_apart_but_no_power(tmp_path: Path) -> None:
    found = fitted(tmp_path, log_of(("head",)))
    assert set(found.fit.values) == {"ring_factor", "throat_factor", "casing_factor"}
    held = {each.key: each.reason for each in found.held}
    assert "no reading of this log depends on it" in held["motor_efficiency"]
    assert "windage_factor" in held
    assert {"eye_loss", "cone_loss"} <= held.keys()  # too small, or like the walls


def test_noisy_logs_hold_the_truth_in_their_intervals(tmp_path: Path) -> None:
    inside = []
    for seed in range(4):
        text = log_of(("head", "electric_power"), noise=0.01, seed=seed)
        found = fitted(tmp_path, text)
        known = {"windage_factor": 1.0, "motor_iron_share": 0.35, **TRUTH}
        inside += [
            abs(value - known[key]) <= found.reach[key] for key, value in found.fit.values.items()
        ]
    assert len(inside) >= 16
    assert np.mean(inside) > 0.8  # of 95 %, by few


def test_a_fit_is_named_in_a_study_and_the_next_log_goes_on_from_it(tmp_path: Path) -> None:
    (tmp_path / "loop.yaml").write_text(STUDY, encoding="utf-8")
    one, two = tmp_path / "one.csv", tmp_path / "two.csv"
    one.write_text(log_of(("head",), noise=0.01), encoding="utf-8")
    two.write_text(log_of(("electric_power", "head"), noise=0.01, seed=5), encoding="utf-8")
    files = fit_of_logs(tmp_path / "loop.yaml", [one, two])
    assert list(files.pages) == [one, two]
    (tmp_path / "one.fit.yaml").write_text(files.text, encoding="utf-8")
    named = STUDY.replace("machine: {", "machine: {fit: one.fit.yaml, ")
    (tmp_path / "loop.yaml").write_text(named, encoding="utf-8")
    study = read_study(tmp_path / "loop.yaml")
    assert study.fit is not None
    assert study.fixed()["ring_factor"] == pytest.approx(1.5, abs=0.2)
    assert study.fit.drawn["ring_factor"] == 1.0
    assert set(study.fit.logs) == {"one.csv", "two.csv"}


def test_its_page_shows_readings_against_flow(exact: BenchFit) -> None:
    page = write_fit_page(PUMP, exact, "loop.fit.yaml")
    assert "Head: reading minus model against flow" in page
    assert "Wear ring factor" in page
    assert "friction of the fluid between rim and collector" in page
    assert "nan" not in page.partition("<script")[0].lower()
    for word in ("nozzle", "exhaust", "generator", "rotor locked"):
        assert word not in page.partition("<script")[0].split("</style>")[1].lower(), word


@pytest.mark.parametrize(("key", "given", "wrong", "words"), [
    ("head", "title: Loop", "title: Loop\ntest: coast-down", "'coast-down' test of a pump"),
    ("head", "quantity: flow", "quantity: nozzle_count", "not a quantity of a log of a pump"),
    ("head", "flow: {quantity: flow, unit: l/min, uncertainty: 1 %}", "flow: ignore",
     "no column gives the flow"),
    ("head", "unit: l/min", "unit: l/s", "no operating point"),
    ("electric_power", "unit: W", "unit: kW", "times what the model gives"),
    ("head", "unit: rpm", "unit: rad/s", "speed"),
])  # fmt: skip
def test_logs_that_cannot_be_right_are_refused_with_a_remedy(
    tmp_path: Path, key: str, given: str, wrong: str, words: str
) -> None:
    text = log_of((key,))
    assert given in text
    with pytest.raises(StudyError, match=words) as caught:
        fitted(tmp_path, text.replace(given, wrong))
    assert caught.value.problems[0].remedy


def test_every_reading_has_a_usual_uncertainty_and_a_range() -> None:
    for key in (*PUMP_READINGS, "flow"):
        assert key in USUAL
        assert key in PLAUSIBLE["log"]
    for key, unknown in PUMP_COEFFICIENTS.items():
        assert unknown.lower < getattr(PUMP.machine, key) < unknown.upper
