"""Fits to logs with known coefficients and noise, and fits in a study."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.bench import least_squares
from engine.bench.fit import fit_log
from engine.bench.predicted import predict
from engine.errors import StudyError
from engine.physics.flow.windage import end_face_torque
from engine.study.fit_file import fit_text, read_fit, read_study_text
from engine.study.oddities import oddities
from engine.study.reader import parse_study, read_study
from engine.study.study import Study
from tests.support.benchlogs import BUILD, FEWEST, HEAD, RPM, STUDY, TEXT, TRIALS, read

NAMES = ("Drehzahl", "M", "U", "I", "Q", "p1", "who")
SPEEDS = np.linspace(6000, 18000, 9) * RPM
FREE_AIR = 1e5 / (287.05 * 293.15)


def readings(study: Study, speed: NDArray[np.float64], **truth: float) -> dict[str, Any]:
    """Readings of the model at these speeds with these coefficients, SI."""
    rows = speed.shape
    supply = study.supply
    conditions = {
        "speed": speed,
        "supply_pressure": np.full(rows, supply.pressure),
        "supply_temperature": np.full(rows, supply.temperature),
        "back_pressure": np.full(rows, supply.back_pressure),
    }
    return predict(study, {**BUILD, **truth}, conditions)


def rows_of(
    speed: NDArray[np.float64], found: Mapping[str, Any], rng: np.random.Generator | None = None
) -> list[list[str]]:
    """Cells as the logger writes them, with noise of the stated size."""

    def noisy(values: NDArray[np.float64], share: float) -> NDArray[np.float64]:
        spread = 0.0 if rng is None else share * rng.standard_normal(values.shape)
        return np.asarray(values * (1 + spread))

    volts = noisy(0.02 * speed, 0.007)
    amps = noisy(found["electric_power"] / (0.02 * speed), 0.007)
    spread = 0.0 if rng is None else 1000 * rng.standard_normal(speed.shape)
    pressure = found["rim_pressure"] + spread
    columns = [
        noisy(speed, 0.001) / RPM,
        noisy(found["shaft_torque"], 0.01) * 1e3,
        volts,
        amps,
        noisy(found["mass_flow"], 0.01) / FREE_AIR * 60e3,
        (pressure - 101325) / 1e5,
    ]
    table = zip(*(values.tolist() for values in columns), strict=True)
    return [[*(f"{value:.6g}" for value in row), "A. Muster"] for row in table]


def text_of(rows: Sequence[Sequence[str]], *, head: str = HEAD, sign: str = ",") -> str:
    """Whole log."""
    return head + "\n".join(sign.join(row) for row in (NAMES, *rows)) + "\n"


# A fit by robust least squares on its own: no model, so that hundreds of trials are cheap.


def trials(outlier: float = 0.0) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Whether each interval of each trial contains the truth, and error over its uncertainty."""
    rng = np.random.default_rng(4)
    x = np.linspace(0.2, 1.0, 24)
    truth = np.array([0.9, 1.4])
    width = np.array([0.3, 0.6])

    def law(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return points[:, :1] * x + np.exp(points[:, 1:] * x)

    holds, errors = [], []
    for _ in range(TRIALS):
        noise = 0.02 * rng.standard_normal(x.shape)
        noise[rng.integers(x.size)] += outlier
        read_off = law(truth[None])[0] + noise
        found = least_squares.fit(
            lambda points, read_off=read_off: (law(points) - read_off) / 0.02,  # type: ignore[misc]
            start=np.array([1.0, 1.0]),
            lower=np.array([0.0, 0.0]),
            upper=np.array([3.0, 3.0]),
            width=width,
        )
        holds.append(np.abs(found.values - truth) <= found.reach)
        errors.append((found.values - truth) / found.standard)
    return np.array(holds), np.array(errors)


def test_intervals_of_95_percent_contain_the_truth_in_95_of_100_trials() -> None:
    holds, errors = trials()
    print("inside:", holds.sum(axis=0), "spread of error over stated:", errors.std(axis=0))  # noqa: T201
    assert (holds.sum(axis=0) >= FEWEST).all()
    # The intervals are not too wide: the errors scatter as much as stated.
    assert ((errors.std(axis=0) > 0.8) & (errors.std(axis=0) < 1.2)).all()


def test_one_wild_reading_in_each_trial_does_not_spoil_the_fit() -> None:
    holds, errors = trials(outlier=1.0)  # fifty times the noise
    print("with a wild reading, inside:", holds.sum(axis=0), "mean error:", errors.mean(axis=0))  # noqa: T201
    assert (holds.sum(axis=0) >= FEWEST - 6).all()


TRUTH = {"nozzle_discharge": 0.90, "rim_mixing": 0.88, "generator_efficiency": 0.75}
WIDTH = np.array([0.04, 0.08, 0.08])


def expansion() -> tuple[Any, NDArray[np.float64]]:
    """The model's readings near the truth to second order: cheap, with errors below the noise."""
    keys, at = list(TRUTH), np.array(list(TRUTH.values()))
    steps = np.vstack([np.zeros(3), np.eye(3), -np.eye(3), [[1, 1, 0], [1, 0, 1], [0, 1, 1]]])
    points = at + 0.25 * WIDTH * steps
    n_rows = SPEEDS.size
    speeds = np.tile(SPEEDS, len(points))
    truth = {key: np.repeat(points[:, n], n_rows) for n, key in enumerate(keys)}
    supply = STUDY.supply
    states = {
        "supply_pressure": supply.pressure,
        "supply_temperature": supply.temperature,
        "back_pressure": supply.back_pressure,
    }
    found = predict(
        STUDY,
        {**BUILD, **truth},
        {"speed": speeds, **{key: np.full(speeds.shape, v) for key, v in states.items()}},
    )
    table = np.hstack(
        [
            found[key].reshape(len(points), n_rows)
            for key in ("shaft_torque", "electric_power", "mass_flow")
        ]
    )

    def terms(u: NDArray[np.float64]) -> NDArray[np.float64]:
        cross = [u[:, i] * u[:, j] for i in range(3) for j in range(i, 3)]
        return np.column_stack([np.ones(len(u)), u, *cross])

    shape = np.linalg.lstsq(terms(0.25 * steps), table, rcond=None)[0]
    return lambda p: terms((p - at) / WIDTH) @ shape, at


def test_known_coefficients_of_the_model_are_recovered_in_200_noisy_logs() -> None:
    readings_at, truth = expansion()
    exact = readings_at(truth[None])[0]
    spread = 0.01 * exact
    rng = np.random.default_rng(11)
    holds, errors = [], []
    for _ in range(TRIALS):
        noisy = exact + spread * rng.standard_normal(exact.shape)
        found = least_squares.fit(
            lambda points, noisy=noisy: (readings_at(points) - noisy) / spread,  # type: ignore[misc]
            start=np.array([0.95, 0.95, 0.80]),
            lower=np.array([0.5, 0.4, 0.3]),
            upper=np.array([1.0, 1.0, 0.99]),
            width=WIDTH,
        )
        holds.append(np.abs(found.values - truth) <= found.reach)
        errors.append((found.values - truth) / found.standard)
    print("inside:", np.sum(holds, axis=0), "spread:", np.std(errors, axis=0))  # noqa: T201
    assert (np.sum(holds, axis=0) >= FEWEST).all()
    assert ((np.std(errors, axis=0) > 0.8) & (np.std(errors, axis=0) < 1.2)).all()


# Whole logs through reader, model and fit.


@pytest.fixture(scope="module")
def log_text() -> str:
    found = readings(STUDY, SPEEDS, **TRUTH)
    return text_of(rows_of(SPEEDS, found, np.random.default_rng(3)))


def test_a_fit_finds_known_coefficients_and_says_which_ones_it_cannot_determine(
    log_text: str, tmp_path: Path
) -> None:
    candidates = (*TRUTH, "nozzle_velocity", "exhaust_loss")
    found = fit_log(STUDY, read(log_text, tmp_path), candidates=candidates)
    for key in ("nozzle_discharge", "generator_efficiency"):
        assert abs(found.fit.values[key] - TRUTH[key]) < 1.3 * found.reach[key], key
    held = {each.key: each for each in found.held}
    # Jet speed and the share of swirl that is left act only as a product.
    assert len({"rim_mixing", "nozzle_velocity"} & set(held)) == 1
    other = held[next(iter({"rim_mixing", "nozzle_velocity"} & set(held)))]
    assert "is like that of the others" in other.reason
    # No test of the whole machine separates them: one must be measured by itself.
    assert "nozzles alone" in other.test or "state the nozzle velocity" in other.test


def test_a_log_that_determines_nothing_says_so_for_every_coefficient(
    log_text: str, tmp_path: Path
) -> None:
    blind = log_text
    for name in ("M", "U", "I", "p1"):
        line = next(line for line in HEAD.splitlines() if line.startswith(f"  {name}:"))
        blind = blind.replace(line, f"  {name}: ignore")
    log = read(blind, tmp_path)
    with pytest.raises(StudyError, match=r"determines no coefficient.*no reading of this log"):
        fit_log(STUDY, log, candidates=("generator_efficiency", "shaft_seal_torque"))


# Coefficients of the model.


def test_windage_of_the_model_is_multiplied_by_its_factor() -> None:
    once, twice = (readings(STUDY, SPEEDS, windage_factor=factor) for factor in (1.0, 2.0))
    lost = once["shaft_torque"] - twice["shaft_torque"]
    assert (lost > 0).all()
    # Of Daily and Nece's law, with air at least as dense as that around the machine.
    least = end_face_torque(
        density=1.0, viscosity=1.8e-5, angular_speed=SPEEDS, rim_radius=0.06, side_gap=3e-3
    )
    assert (lost > least).all()


# The fit in a study.


@pytest.fixture
def fitted(tmp_path: Path) -> Path:
    """Study that names a fit beside it."""
    values = "{value: 0.9, standard: 0.003}, seal_clearance: {value: 0.12 mm, standard: 10 um}"
    (tmp_path / "b.fit.yaml").write_text(
        f"title: x\nlog: b.csv\ncoefficients: {{nozzle_discharge: {values}}}\n"
        "correlation: [[1, 0.2], [0.2, 1]]\n",
        encoding="utf-8",
    )
    path = tmp_path / "study.yaml"
    text = TEXT.replace(
        "ranges:", "machine:\n  fit: b.fit.yaml  # bench\n  side_gap: 2 mm\nranges:"
    )
    path.write_text(text, encoding="utf-8")
    return path


def test_a_study_takes_the_numbers_of_its_fit_with_their_uncertainty(fitted: Path) -> None:
    study = read_study(fitted)
    assert study.machine.nozzle_discharge == 0.9
    assert study.machine.seal_clearance == pytest.approx(0.12e-3)
    assert study.machine.side_gap == pytest.approx(2e-3)
    assert study.fit is not None
    assert study.fit.standard == {"nozzle_discharge": 0.003, "seal_clearance": pytest.approx(1e-5)}
    assert study.fit.covariance[0, 1] == pytest.approx(0.2 * 0.003 * 1e-5)


def test_the_frozen_study_needs_no_fit_file(fitted: Path) -> None:
    text = read_study_text(fitted)
    (fitted.parent / "b.fit.yaml").unlink()
    study = parse_study(text, "runs/x/study.yaml")
    assert study.machine.nozzle_discharge == 0.9
    assert text.count("\n") == fitted.read_text(encoding="utf-8").count("\n")
    with pytest.raises(
        StudyError, match=r"study.yaml:4: machine.fit: there is no file 'b.fit.yaml'"
    ):
        read_study(fitted)


@pytest.mark.parametrize("name", ["../b.fit.yaml", "/etc/hostname", "link.yaml"])
def test_a_fit_outside_the_studys_folder_is_refused(name: str, fitted: Path) -> None:
    outside = fitted.parent.parent / "b.fit.yaml"
    outside.write_text("coefficients: {}", encoding="utf-8")
    (fitted.parent / "link.yaml").symlink_to(outside)
    fitted.write_text(
        fitted.read_text(encoding="utf-8").replace("b.fit.yaml", name), encoding="utf-8"
    )
    with pytest.raises(StudyError, match=r":4: machine.fit: .* lies outside the study's folder"):
        read_study(fitted)


def test_a_fit_takes_the_place_of_what_the_study_states_and_check_says_so(fitted: Path) -> None:
    text = fitted.read_text(encoding="utf-8").replace("side_gap: 2 mm", "nozzle_discharge: 0.97")
    fitted.write_text(text, encoding="utf-8")
    study = read_study(fitted)
    assert study.machine.nozzle_discharge == 0.9
    assert study.fit is not None
    assert study.fit.drawn == {"nozzle_discharge": 0.97, "seal_clearance": 0.1e-3}
    (told,) = oddities(fitted, study)
    assert "study.yaml:5: machine.nozzle_discharge: is not used: the fit gives 0.9" in str(told)


def test_a_fitted_number_cannot_be_searched(fitted: Path) -> None:
    text = fitted.read_text(encoding="utf-8")
    text = text.replace("  disc_count", "  nozzle_discharge: {min: 0.8, max: 0.9}\n  disc_count")
    fitted.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match=r"ranges.nozzle_discharge: is given in the fit too"):
        read_study(fitted)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("value: 0.9", "value: 1.9", r"b.fit.yaml:3: coefficients.nozzle_discharge: '1.9' is out"),
        ("standard: 0.003", "standard: 0", "its standard uncertainty is not above zero"),
        ("0.2, 1]]", "0.3, 1]]", r":4: correlation: is not a correlation matrix; expected 2 rows"),
        ("nozzle_discharge", "nozle_discharge", "perhaps you meant nozzle_discharge"),
        ("10 um", "10", r"seal_clearance: '10' has no unit"),
    ],
)
def test_a_broken_fit_file_is_refused_by_line(
    old: str, new: str, message: str, fitted: Path
) -> None:
    path = fitted.parent / "b.fit.yaml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(StudyError, match=message):
        read_study(fitted)


def test_a_fit_file_is_read_back_as_written(fitted: Path) -> None:
    fit = read_fit(fitted.parent / "b.fit.yaml")
    path = fitted.parent / "again.yaml"
    held = ["not told: rim_mixing: why"]
    text = fit_text(fit, title="a: b", study="s", log="l", model_version=3, held=held)
    path.write_text(text, encoding="utf-8")
    again = read_fit(path)
    assert again.values == pytest.approx(fit.values)
    assert again.standard == pytest.approx(fit.standard)
    np.testing.assert_allclose(again.correlation, fit.correlation)
