"""A test of the trip read back from invented logs, and logs that hold several tests."""

from pathlib import Path

import numpy as np
import pytest

from engine.bench.coast_down import fit_coast_down
from engine.bench.log import BenchLog, read_logs
from engine.bench.trip_test import TripTest, _Run, fit_trip
from engine.errors import StudyError
from reports.fit.make import fit_of_logs
from tests.support.benchlogs import HEAD, RPM, STUDY, TEXT

TRUTH = {"trip_delay": 0.12, "valve_closing": 0.3}
TRIP_AT = 7000
NAMED = HEAD.replace("  who: ignore\n", "  t: {quantity: time, unit: s}\n  T: {quantity: test}\n")
NAMED = NAMED.replace("columns:", "conditions:\n  supply_pressure: 5 bar gauge\ncolumns:")
TRIP_HEAD = f"""---
test: trip
trip_speed: {TRIP_AT} rpm
{HEAD.split("title: First loaded run")[1].split("columns:")[0].strip()}
columns:
  t: {{quantity: time, unit: s}}
  n: {{quantity: speed, unit: rpm, uncertainty: 0.1 %}}
---
t,n
"""


def logs_of(text: str, folder: Path) -> tuple[BenchLog, ...]:
    path = folder / "bench.csv"
    path.write_text(text, encoding="utf-8")
    return read_logs(path, STUDY)


def trip_text(folder: Path, *, noise: float, seed: int = 1) -> str:
    """A log of the true trip, by a torque 0.8 times the model's."""
    time = np.linspace(0, 3.0, 91)
    rough = TRIP_HEAD + "\n".join(f"{t},{6000 + 700 * t if t < 2 else 7400 - t}" for t in time)
    run = _Run.of(STUDY, logs_of(rough, folder)[0])
    point = np.array([[6000 * RPM, 0.8, TRUTH["trip_delay"], TRUTH["valve_closing"]]])
    times, speeds, _ = run.follow(point)
    after = times[0][speeds[0] >= TRIP_AT * RPM][0]
    laid = np.linspace(0, after + 1.0, 120)
    seen = np.interp(laid, times[0], speeds[0]) / RPM
    seen *= 1 + noise * np.random.default_rng(seed).standard_normal(laid.size)
    return TRIP_HEAD + "\n".join(f"{t:.4f},{n:.3f}" for t, n in zip(laid, seen, strict=True))


def fitted(folder: Path, noise: float, seed: int = 1) -> TripTest:
    return fit_trip(STUDY, logs_of(trip_text(folder, noise=noise, seed=seed), folder)[0])


def test_delay_and_closing_are_read_from_a_trip_without_noise(tmp_path: Path) -> None:
    found = fitted(tmp_path, 1e-6)
    for key, value in TRUTH.items():
        assert found.fit.values[key] == pytest.approx(value, abs=0.01)
    assert found.torque_ratio == pytest.approx(0.8, rel=0.01)
    assert found.peak > TRIP_AT * RPM


def test_with_noise_the_intervals_hold_the_truth(tmp_path: Path) -> None:
    found = fitted(tmp_path, 1e-3)
    values = found.fit.values
    for key, value in TRUTH.items():
        assert values[key] == pytest.approx(value, abs=2 * found.reach[key])
    assert values["trip_delay"] + values["valve_closing"] / 2 == pytest.approx(0.27, abs=0.02)


def test_a_log_that_never_passes_its_trip_is_refused(tmp_path: Path) -> None:
    rows = "\n".join(f"{t},{6000 + 10 * t}" for t in range(20))
    with pytest.raises(StudyError, match="does not run past the speed of the trip"):
        fit_trip(STUDY, logs_of(TRIP_HEAD + rows, tmp_path)[0])
    rows = "\n".join(f"{t},{6000 + 100 * t}" for t in range(20))
    with pytest.raises(StudyError, match="ends before the speed falls"):
        fit_trip(STUDY, logs_of(TRIP_HEAD + rows, tmp_path)[0])
    with pytest.raises(StudyError, match="a trip test without the speed of the trip"):
        logs_of(TRIP_HEAD.replace(f"trip_speed: {TRIP_AT} rpm\n", "") + rows, tmp_path)


def merged(*, named: bool) -> str:
    """A loaded run, a locked rotor and a coast-down in one table."""
    loaded = [
        f"{9000 + 1000 * n},{300 - 20 * n},24,{5 - 0.1 * n:.2f},560,{0.9 - 0.01 * n:.2f}"
        for n in range(6)
    ]
    still = [f"0,{400 + n},,,560,{0.7 + n / 20:.2f}" for n in range(4)]
    fall = [f"{15000 - 700 * n},,,,," for n in range(20)]
    rows = [(row, "loaded") for row in loaded] + [(row, "locked") for row in still]
    rows += [(row, "coast-down") for row in fall]
    names = "Drehzahl,M,U,I,Q,p1,t,T"
    return "\n".join(
        [NAMED + names]
        + [f"{row},{2 * n},{test if named else ''}" for n, (row, test) in enumerate(rows)]
    )


@pytest.mark.parametrize("named", [True, False])
def test_a_coast_down_in_a_merged_log_is_read_as_one(tmp_path: Path, *, named: bool) -> None:
    steady, coast = logs_of(merged(named=named), tmp_path)
    assert (steady.test, coast.test) == ("steady", "coast-down")
    assert (len(steady.lines), steady.n_locked, len(coast.lines)) == (10, 4, 20)
    assert "time" not in steady.columns
    assert coast.is_coast_down
    assert not steady.excluded
    alone = logs_of(
        HEAD.split("columns:")[0]
        + "columns:\n  t: {quantity: time, unit: s}\n"
        + "  n: {quantity: speed, unit: rpm, uncertainty: 0.1 %}\n---\nt,n\n"
        + "\n".join(f"{2 * n + 20},{15000 - 700 * n}" for n in range(20)),
        tmp_path,
    )[0]
    values = fit_coast_down(STUDY, coast).fit.values
    assert values == pytest.approx(fit_coast_down(STUDY, alone).fit.values, rel=1e-6)


def test_rows_that_do_not_go_with_their_test_are_left_out_and_named(tmp_path: Path) -> None:
    text = merged(named=True).replace(
        "0,400,,,560,0.70,12,locked", "90,400,24,5,560,0.70,12,locked"
    )
    steady, _ = logs_of(text, tmp_path)
    assert [row.reason for row in steady.excluded] == ["test: locked, but the rotor turns"]
    with pytest.raises(StudyError, match="'lokced' is not a test"):
        logs_of(merged(named=True).replace(",locked", ",lokced"), tmp_path)


def test_a_fit_reads_a_trip_test_and_its_page_shows_it(tmp_path: Path) -> None:
    study, log = tmp_path / "study.yaml", tmp_path / "trip.csv"
    study.write_text(TEXT, encoding="utf-8")
    log.write_text(trip_text(tmp_path, noise=1e-4), encoding="utf-8")
    said: list[str] = []
    found = fit_of_logs(study, [log], said.append)
    assert "trip_delay" in found.text
    assert any(line.startswith("trip.csv: 120 rows of a trip test read") for line in said)
    assert "The trip, as it was seen" in found.pages[log]
