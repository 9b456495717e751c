"""What never reaches a fit, and what a log may miss without losing the rest of a row."""

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from engine.bench import averaging
from engine.bench.averaging import LONG, MOST_STATES, averaged
from engine.bench.files import refuse_written
from engine.bench.fit import fit_log
from engine.bench.log import BenchLog
from engine.bench.log_text import LONGEST_HEAD
from engine.errors import StudyError
from tests.bench.test_fit import (
    SPEEDS,
    readings,
    rows_of,
    text_of,
)
from tests.support.benchlogs import HEAD, RPM, STUDY, read

TRUE = {"nozzle_discharge": 0.88, "rim_mixing": 0.85}


def rows() -> list[list[str]]:
    found: list[list[str]] = rows_of(
        SPEEDS, readings(STUDY, SPEEDS, **TRUE), np.random.default_rng(3)
    )
    return found


def in_rad(cells: list[str]) -> list[str]:
    return [str(float(cells[0]) * RPM), *cells[1:]]


WRONG: dict[str, tuple[Callable[[], str], str]] = {
    "N m for mN m": (
        lambda: text_of(rows(), head=HEAD.replace("unit: mN m", "unit: N m")),
        r"shaft_torque: the readings are \d+ times what .* factor of 1000 lies .* N m and mN m",
    ),
    "l/s for l/min": (
        lambda: text_of(rows(), head=HEAD.replace("unit: l/min", "unit: l/s")),
        r"mass_flow: the readings are [\d.]+ times .* factor of 60 lies .* a second and a minute",
    ),
    "rpm called rad/s": (
        lambda: text_of(rows(), head=HEAD.replace("unit: rpm", "unit: rad/s")),
        r"speed: the model has no operating point .* 9.549 lies between rad/s and rpm",
    ),
    "rad/s called rpm": (
        lambda: text_of([in_rad(cells) for cells in rows()]),
        r"speed: with speeds 9.55 times as high the model fits .* between rad/s and rpm",
    ),
    "a torque of another machine": (
        lambda: text_of([[c[0], f"{6 * float(c[1]):g}", *c[2:]] for c in rows()]),
        r"shaft_torque: no coefficient explains the readings: they stay \d+% off the model",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_readings_that_no_coefficient_explains_are_refused(name: str, tmp_path: Path) -> None:
    from engine.bench.gate import refuse_unexplained  # noqa: PLC0415

    make, message = WRONG[name]
    log = read(make(), tmp_path)

    def fit() -> None:
        found = fit_log(STUDY, log)
        refuse_unexplained(log, found.measured, found.after, found.uncertainty)

    with pytest.raises(StudyError, match=message):
        fit()


def test_a_blank_takes_only_its_own_reading(tmp_path: Path) -> None:
    cells = rows()
    cells[2][4], cells[3][5] = "", "error"
    log = read(text_of(cells), tmp_path)
    assert log.excluded == ()
    assert len(log.lines) == len(cells)
    assert np.isnan(log.columns["mass_flow"]).tolist() == [n == 2 for n in range(9)]
    assert log.cautions == (
        "line 21: Q: no reading (''); the rest of the row is used",
        "line 22: p1: 'error' is not a number; the rest of the row is used",
    )
    fit_log(STUDY, log)


def test_a_row_without_its_speed_or_without_any_reading_is_left_out(tmp_path: Path) -> None:
    cells = rows()
    cells[1][0] = ""
    cells[4][1:6] = [""] * 5
    log = read(text_of(cells), tmp_path)
    assert [row.line for row in log.excluded] == [20, 23]


def test_a_cell_beyond_what_any_workshop_reads_is_no_reading(tmp_path: Path) -> None:
    cells = rows()
    cells[2][1] = "1e12"
    log = read(text_of(cells), tmp_path)
    assert "'1e12' is not plausible; expected from -100 kN m up to 100 kN m" in log.cautions[0]


REFUSED = {
    "an uncertainty beyond every reading": (
        HEAD.replace("unit: l/min, uncertainty: 1 %", "unit: l/min, uncertainty: 1e308 %"),
        "columns.Q: '1e308 %' is more than any reading",
    ),
    "a lever across the yard": (
        HEAD.replace("unit: mN m, uncertainty: 1 %", "unit: N, lever: 80 m"),
        "columns.M: 80000 mm is not plausible; expected from 1 mm up to 5 m",
    ),
    "a head without end": (
        HEAD.replace("build:\n", "# " + "x" * LONGEST_HEAD + "\nbuild:\n"), "its head is too long",
    ),
    "a cell without end": (
        HEAD.replace("title: First", "title: F"), "a line of 140000 characters",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_would_take_for_ever_is_refused_at_once(name: str, tmp_path: Path) -> None:
    head, message = REFUSED[name]
    text = text_of(rows(), head=head)
    if "line" in message:
        text += "1" * 140_000 + "\n"
    with pytest.raises(StudyError, match=message):
        read(text, tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes in folders here")
def test_a_pipe_is_no_log(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "bench.csv")
    from engine.bench.log import read_log  # noqa: PLC0415

    with pytest.raises(StudyError, match=r"bench\.csv: is not an ordinary file"):
        read_log(tmp_path / "bench.csv", STUDY)


def test_a_name_that_cannot_be_written_and_an_earlier_fit_are_told_before_any_work(
    tmp_path: Path,
) -> None:
    study = tmp_path / "study.yaml"
    with pytest.raises(StudyError, match="its name is not UTF-8; rename the file"):
        refuse_written(study, [tmp_path / os.fsdecode(b"b\xff.csv")], may_replace=False)
    (tmp_path / "b.fit.yaml").write_text("", "utf-8")
    with pytest.raises(StudyError, match=r"b\.fit\.yaml: exists already .*; give --replace"):
        refuse_written(study, [tmp_path / "b.csv"], may_replace=False)
    refuse_written(study, [tmp_path / "b.csv"], may_replace=True)


def long_log(tmp_path: Path, n_rows: int) -> BenchLog:
    random = np.random.default_rng(5)
    grid = np.linspace(5900, 18100, 30) * RPM
    found = readings(STUDY, grid, **TRUE)
    speed = random.uniform(6000, 18000, n_rows) * RPM
    many = {k: np.interp(speed, grid, v) for k, v in found.items() if v.dtype.kind == "f"}
    return read(text_of(rows_of(speed, many, random)), tmp_path)


def test_a_long_log_is_averaged_at_like_conditions_with_its_scatter(tmp_path: Path) -> None:
    log = long_log(tmp_path, 2000)
    short = averaged(log)
    assert len(short.lines) <= MOST_STATES
    assert short.cautions[0].startswith("2\u00a0000 rows at like conditions are averaged to ")
    # Fifty rows a state: the scatter of 1 % falls to a seventh, the gauge stays what it is.
    stated = 0.01 * np.abs(short.columns["shaft_torque"])
    assert (short.uncertainty["shaft_torque"] > 0.999 * stated).all()
    assert (short.uncertainty["shaft_torque"] < 1.3 * stated).all()
    fit = fit_log(STUDY, short, candidates=("nozzle_discharge", "rim_mixing")).fit
    for key, true in TRUE.items():
        assert abs(fit.values[key] - true) < 3 * fit.standard[key]


def test_a_short_log_is_taken_as_it_is(tmp_path: Path) -> None:
    log = read(text_of(rows()), tmp_path)
    assert averaged(log) is log


def test_states_of_many_conditions_stay_few(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(averaging, "MOST_STATES", 12)
    assert len(averaged(long_log(tmp_path, LONG + 1)).lines) <= 12
