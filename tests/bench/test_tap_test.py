"""Tap tests of one clamped disc: an invented one gives the modes back, a wrong one is told."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.stats import binom

from engine.bench.log import BenchLog
from engine.bench.tap_test import MODEL_SHARE, TapTest, fit_tap_test
from engine.errors import StudyError
from engine.model.strength import waves_of_builds, web_of_build
from engine.model.tapped import tapped_disc
from engine.study.reader import read_study
from reports.fit.make import fit_of_logs
from tests.support import web_tables
from tests.support.benchlogs import HEAD, STUDY, TEXT, read
from tests.support.holed_disc import HoledSector, HoledWeb
from tests.support.webbed_disc import Sector
from tests.support.webbed_plane import Web

TAP = HEAD[: HEAD.index("columns:")] + "columns:\n  f: {quantity: frequency, unit: Hz}\n---\nf\n"
VALUES: dict[str, Any] = {
    **STUDY.fixed(),
    "disc_diameter": 0.120,
    "exhaust_bore": 0.040,
    "disc_count": 16.0,
}
FACTOR = 1.05
TRIALS = 100


def tapped(frequencies: Sequence[float], folder: Path) -> BenchLog:
    return read(TAP + "\n".join(f"{each:.6g}" for each in frequencies), folder)


def fitted(frequencies: Sequence[float], folder: Path) -> TapTest:
    return fit_tap_test(STUDY, tapped(frequencies, folder))


@pytest.fixture(scope="module")
def heard() -> NDArray[np.float64]:
    """Frequencies of a disc a little thicker than drawn, pressed beyond its hub, with errors."""
    # By finite elements, not by the tables: held out to 10 mm of a bore of 20 mm.
    web = web_of_build({key: np.array([value]) for key, value in VALUES.items()})
    rim = VALUES["disc_diameter"] / 2
    width = float(web.spoke_width[0]) / rim
    held = Web(1 / 3, 3, width, 0.010 / rim, 0.006 / rim)
    modes = web_tables.at_rest(Sector(held, "hub", web_tables.fineness(3)))[:, 0]
    # Stainless steel 304 of 1 mm: table of materials.
    rigidity = 193e9 * 1e-9 / (12 * (1 - 0.29**2))
    unit = np.sqrt(rigidity / (8000 * 1e-3)) / rim**2 / (2 * np.pi)
    noise = np.random.default_rng(4).normal(1.0, 0.004, modes.size)
    return np.asarray(FACTOR * unit * modes * noise)


def test_an_invented_tap_test_gives_the_modes_back(
    heard: NDArray[np.float64], tmp_path: Path
) -> None:
    found = fitted(heard[::-1].tolist(), tmp_path)
    assert found.mode[[0, 3, 4, 5]].tolist() == [6, 3, 2, 1]  # 4 and 5 ring almost alike
    assert abs(found.fit.values["wave_factor"] - FACTOR) < found.reach["wave_factor"] < 0.05
    assert_allclose(found.held_to, 0.010, atol=0.0015)
    assert_allclose(found.fitted, found.heard, rtol=0.05)
    assert not found.log.excluded


HOLES: dict[str, Any] = {"hold": "holes", "spokes": 5, "exhaust_blockage": 0.6}


def test_a_disc_with_round_holes_gives_its_modes_back_and_a_loose_clamp_is_told(
    tmp_path: Path,
) -> None:
    # By finite elements, not by the tables: held at its hub.
    machine = STUDY.machine.model_copy(update=HOLES)
    study = STUDY.model_copy(update={"machine": machine})
    shape = web_of_build({k: np.array([v]) for k, v in (VALUES | HOLES).items()})
    rim = VALUES["disc_diameter"] / 2
    web = HoledWeb(1 / 3, 5, float(shape.spoke_width[0]) / rim)
    modes = web_tables.at_rest(HoledSector(web, "hub", web_tables.fineness(5)))[:, 0]
    rigidity = 193e9 * 1e-9 / (12 * (1 - 0.29**2))
    unit = np.sqrt(rigidity / (8000 * 1e-3)) / rim**2 / (2 * np.pi)
    log = tapped((FACTOR * unit * modes).tolist(), tmp_path)
    found = fit_tap_test(study, log)
    assert abs(found.fit.values["wave_factor"] - FACTOR) < found.reach["wave_factor"] < 0.05
    assert_allclose(found.fitted, found.heard, rtol=0.03)
    log.columns["frequency"][:] *= 0.7
    with pytest.raises(StudyError, match=r"cannot ring below about .* the clamp is loose"):
        fit_tap_test(study, log)


def test_standing_waves_go_with_the_factor() -> None:
    two = {key: np.array([value, value]) for key, value in VALUES.items()}
    two |= {"speed": np.full(2, 1000.0), "disc_temperature": np.full(2, 300.0)}
    two |= {"rim_over_bore": np.zeros(2), "gap_fluid_mass": np.zeros(2), "gap": np.full(2, 3e-4)}
    speeds = waves_of_builds({**two, "wave_factor": np.array([1.0, FACTOR])}).speed
    known = np.isfinite(speeds[0])
    assert_allclose(speeds[1, known], FACTOR * speeds[0, known])


def test_a_frequency_that_is_no_mode_is_left_out_and_named(
    heard: NDArray[np.float64], tmp_path: Path
) -> None:
    stray = float(np.sqrt(heard[3] * heard[2]))
    found = fitted([*heard[:5].tolist(), stray], tmp_path)
    assert [row.reason for row in found.log.excluded] == [
        f"no mode of the disc rings at {stray:.0f} Hz"
    ]
    assert abs(found.fit.values["wave_factor"] - FACTOR) < found.reach["wave_factor"]


def test_modes_that_were_not_heard_do_not_matter(
    heard: NDArray[np.float64], tmp_path: Path
) -> None:
    found = fitted(heard[[0, 3, 5]].tolist(), tmp_path)
    assert found.mode[[0, 2]].tolist() == [1, 6]
    assert found.mode[1] in (4, 5)  # which ring almost alike
    assert abs(found.fit.values["wave_factor"] - FACTOR) < found.reach["wave_factor"]


def test_intervals_hold_the_truth_in_95_of_100_tap_tests(tmp_path: Path) -> None:
    rng, held = np.random.default_rng(7), 0
    modes = tapped_disc(VALUES).frequency
    log = tapped(modes[0].tolist(), tmp_path)
    for _ in range(TRIALS):
        at, factor = rng.integers(0, len(modes)), rng.normal(1.0, 0.05)
        log.columns["frequency"][:] = factor * modes[at] * rng.normal(1, MODEL_SHARE, 6)
        found = fit_tap_test(STUDY, log)
        held += abs(found.fit.values["wave_factor"] - factor) < found.reach["wave_factor"]
    assert held >= binom.ppf(0.005, TRIALS, 0.95)


def test_a_loose_clamp_is_told_by_the_lowest_mode(
    heard: NDArray[np.float64], tmp_path: Path
) -> None:
    # Nothing holds the slope at the hub: the tilting mode goes first.
    lowest = tapped_disc(VALUES).frequency[0, 0]
    loose = [0.5 * lowest, *heard[1:].tolist()]
    with pytest.raises(StudyError, match=r"cannot ring below about .* the clamp is loose"):
        fitted(loose, tmp_path)


def test_a_disc_that_nothing_holds_is_told_by_the_mode_that_it_lacks(
    heard: NDArray[np.float64], tmp_path: Path
) -> None:
    with pytest.raises(StudyError, match="the lowest mode was not heard"):
        fitted(heard[2:].tolist(), tmp_path)


def test_sounds_of_something_else_are_refused(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="no modes of this disc, however far out it is held"):
        fitted([250.0, 500.0, 750.0, 1000.0, 1250.0], tmp_path)


def test_a_disc_of_another_sheet_is_refused(tmp_path: Path) -> None:
    thick = tapped_disc({**VALUES, "disc_thickness": 1.4e-3}).frequency[5]
    with pytest.raises(StudyError, match=r"more than sheet and material can explain|no modes"):
        fitted(thick.tolist(), tmp_path)


def test_a_tap_test_has_frequencies_alone_and_at_least_three(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match=r"2 usable rows; 1 left out.*at least 3"):
        read(TAP + "200\n\n-\n900\n", tmp_path)
    both = TAP.replace("---\nf\n", "  n: {quantity: speed, unit: rpm}\n---\nf,n\n")
    with pytest.raises(StudyError, match="tap test beside other readings; expected frequencies"):
        read(both + "200,0\n300,0\n400,0\n", tmp_path)


def test_a_whole_spectrum_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "tap.csv"
    (tmp_path / "study.yaml").write_text(TEXT, encoding="utf-8")
    path.write_text(TAP + "\n".join(str(each) for each in range(200, 1000)), encoding="utf-8")
    with pytest.raises(StudyError, match="800 frequencies; expected the peaks alone, at most 60"):
        fit_of_logs(tmp_path / "study.yaml", [path])


def test_a_study_takes_over_the_factor(heard: NDArray[np.float64], tmp_path: Path) -> None:
    (tmp_path / "study.yaml").write_text(TEXT, encoding="utf-8")
    path = tmp_path / "tap.csv"
    path.write_text(TAP + "\n".join(f"{each:.5g}" for each in heard), encoding="utf-8")
    said: list[str] = []
    files = fit_of_logs(tmp_path / "study.yaml", [path], said.append)
    assert any(line.startswith("wave_factor: 1.0") for line in said)
    assert any(line.startswith("Held to a radius of: 10") for line in said)
    (tmp_path / "tap.fit.yaml").write_text(files.text, encoding="utf-8")
    (tmp_path / "later.yaml").write_text(f"{TEXT}machine: {{fit: tap.fit.yaml}}\n", "utf-8")
    study = read_study(tmp_path / "later.yaml")
    assert_allclose(study.machine.wave_factor, FACTOR, atol=0.03)
    page = files.pages[path]
    assert "Modes of the disc" in page
    assert "Mode 6" in page
