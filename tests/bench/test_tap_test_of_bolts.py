"""Tap tests of one disc on bolts: an invented one gives modes and waves back, a loose one is told.

The sounds are made by finite elements, not by the tables that the fit reads.
"""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.bench.tap_test import fit_tap_test
from engine.errors import StudyError
from engine.model.strength import waves_of_builds
from engine.model.tapped import tapped_disc
from engine.physics.machine.web import ROUND_WASHER
from engine.study.reader import read_study
from reports.fit.make import fit_of_logs
from tests.bench.test_tap_test import FACTOR, TAP, VALUES, tapped
from tests.support import web_tables
from tests.support.benchlogs import STUDY, TEXT
from tests.support.bolted_disc import BoltedSector, BoltedWeb

BOLTS: dict[str, Any] = {
    "hold": "bolts", "spokes": 6, "bolt_circle": 0.076, "bolt_diameter": 3e-3,
    "washer_diameter": 8e-3,
}  # fmt: skip
ON_BOLTS = STUDY.model_copy(update={"machine": STUDY.machine.model_copy(update=BOLTS)})
WRITTEN = TEXT + (
    "machine: {hold: bolts, spokes: 6, bolt_circle: 76 mm, bolt_diameter: 3 mm, "
    "washer_diameter: 8 mm}\n"
)
RIM, BORE = VALUES["disc_diameter"] / 2, VALUES["exhaust_bore"] / 2
UNIT = np.sqrt(193e9 * 1e-9 / (12 * (1 - 0.29**2)) / (8000 * 1e-3)) / RIM**2 / (2 * np.pi)
"""Of frequencies of stainless steel 304 of 1 mm: table of materials [Hz]."""


def rings(washer: float, hold: Any = "gripped") -> NDArray[np.float64]:
    """Frequencies of a disc that washers of this radius hold, or bolts alone, by elements [Hz]."""
    web = BoltedWeb(BORE / RIM, 6, 0.038 / RIM, ROUND_WASHER * washer / RIM)
    return np.asarray(
        UNIT * web_tables.at_rest(BoltedSector(web, hold, web_tables.fineness(6)))[:, 0]
    )


@pytest.mark.parametrize("held_to", [4e-3, 2.6e-3])
def test_an_invented_tap_test_gives_the_modes_back(held_to: float, tmp_path: Path) -> None:
    """Washers that press to their rim, and some that press over half of it."""
    noise = np.random.default_rng(4).normal(1.0, 0.004, 6)
    log = tapped((FACTOR * rings(held_to) * noise)[::-1].tolist(), tmp_path)
    found = fit_tap_test(ON_BOLTS, log)
    # All modes of a disc on bolts rise alike with the factor and with what a washer holds: so the
    # test knows the frequencies far better than the factor, and says so by its interval.
    assert abs(found.fit.values["wave_factor"] - FACTOR) < found.reach["wave_factor"] < 0.13
    assert_allclose(found.fitted, found.heard, rtol=0.03)
    assert sorted(found.mode) == [1, 2, 3, 4, 5, 6]
    assert found.mode[-1] == 1
    assert not found.log.excluded


def test_standing_waves_of_discs_on_bolts_go_with_the_factor() -> None:
    build = {**VALUES, **BOLTS, "speed": 1000.0, "disc_temperature": 300.0, "rim_over_bore": 0.0}
    build |= {"gap_fluid_mass": 0.0, "gap": 3e-4}
    two = {key: np.array([value, value]) for key, value in build.items()}
    speeds = waves_of_builds({**two, "wave_factor": np.array([1.0, FACTOR])}).speed
    known = np.isfinite(speeds[0])
    assert known.sum() > 3
    assert_allclose(speeds[1, known], FACTOR * speeds[0, known])


def test_a_disc_that_lies_loose_on_its_bolts_is_told(tmp_path: Path) -> None:
    # Loose bolts hold a point each, and let the disc tilt there.
    loose = rings(4e-3, "hub")
    assert loose[0] < 0.8 * tapped_disc({**VALUES, **BOLTS}).frequency[0, 0]
    with pytest.raises(StudyError, match=r"cannot ring below about .* the clamp is loose"):
        fit_tap_test(ON_BOLTS, tapped(loose.tolist(), tmp_path))


def test_a_disc_with_every_second_bolt_loose_is_told(tmp_path: Path) -> None:
    """Three of six bolts are loose: the modes of a ring on the other three."""
    web = BoltedWeb(BORE / RIM, 3, 0.038 / RIM, ROUND_WASHER * 4e-3 / RIM)
    three = UNIT * web_tables.at_rest(BoltedSector(web, "gripped", web_tables.fineness(3)))[:, 0]
    with pytest.raises(StudyError, match=r"the clamp is loose|no modes of this disc"):
        fit_tap_test(ON_BOLTS, tapped(three.tolist(), tmp_path))


def test_how_far_out_bolts_hold_is_known_for_washers_of_any_size() -> None:
    """Thin bolts hold less than the narrowest washer of the tables, which then stands for them."""
    for washer in (5e-3, 7e-3, 10e-3):
        disc = tapped_disc({**VALUES, **BOLTS, "washer_diameter": washer})
        assert np.isfinite(disc.frequency).all()
        assert (np.diff(disc.frequency, axis=0) > -1e-9).all()
        assert_allclose(disc.radius[[0, -1]], [1.5e-3, washer / 2])


def test_a_study_of_bolts_takes_over_the_factor(tmp_path: Path) -> None:
    (tmp_path / "study.yaml").write_text(WRITTEN, encoding="utf-8")
    log = tmp_path / "tap.csv"
    log.write_text(TAP + "\n".join(f"{each:.6g}" for each in FACTOR * rings(4e-3)), "utf-8")
    said: list[str] = []
    files = fit_of_logs(tmp_path / "study.yaml", [log], said.append)
    assert any(line.startswith("wave_factor: 1.0") for line in said)
    (tmp_path / "tap.fit.yaml").write_text(files.text, encoding="utf-8")
    later = WRITTEN.replace("machine: {", "machine: {fit: tap.fit.yaml, ")
    (tmp_path / "later.yaml").write_text(later, encoding="utf-8")
    study = read_study(tmp_path / "later.yaml")
    assert_allclose(study.machine.wave_factor, FACTOR, atol=0.06)
    assert "Mode 1" in files.pages[log]
