"""What is the same in all builds is held once, and gives the same as if each build had its own."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from engine.bands.results import evaluate_judged
from engine.columns import Results
from engine.physics.arrays import alike, in_lanes, is_repeated, repeated, taken
from engine.run.folded import folded, unfolded
from engine.run.parquet import joined, packed, stored, unpacked, whole
from engine.search.space import Space
from engine.study.reader import parse_study
from tests.support.places import STUDIES

LANE = (STUDIES / "lane-workshop.yaml").read_text(encoding="utf-8")


def apart(columns: Results) -> Results:
    """Columns with a value of their own for each build."""
    return {key: np.array(values) for key, values in columns.items()}


def assert_same(found: Results, expected: Results) -> None:
    assert list(found) == list(expected)
    for key, values in expected.items():
        assert_array_equal(found[key], values, err_msg=key)
        assert found[key].dtype.kind == values.dtype.kind, key


@pytest.fixture(scope="module", params=["as drawn", "robust"])
def evaluated(request: pytest.FixtureRequest) -> tuple[Results, Results]:
    robust = request.param == "robust"
    study = parse_study(LANE.replace("seed: 1", "seed: 1\n  robust: true") if robust else LANE, "l")
    space = Space.of(study)
    builds = space.builds(space.sample(24, np.random.default_rng(4)))
    assert is_repeated(builds["shaft_diameter"])
    return evaluate_judged(study, builds), evaluate_judged(study, apart(builds))


def test_results_do_not_depend_on_how_builds_are_held(evaluated: tuple[Results, Results]) -> None:
    once, each = evaluated
    assert is_repeated(once["shaft_diameter"])
    assert not is_repeated(each["shaft_diameter"])
    assert_same(once, each)


def test_they_are_rounded_joined_sent_and_stored_alike(
    evaluated: tuple[Results, Results], tmp_path: Path
) -> None:
    once, _ = evaluated
    each = apart(once)
    assert_same(stored(once), stored(each))
    assert_same(joined([once, once]), joined([each, each]))
    assert is_repeated(joined([once, once])["shaft_diameter"])
    assert_same(unfolded(folded(once)), each)
    files = [tmp_path / name for name in ("once", "each")]
    for file, results in zip(files, (once, each), strict=True):
        file.write_bytes(packed(results, {}))
    assert files[0].read_bytes() == files[1].read_bytes()


def test_columns_of_different_values_are_not_held_once() -> None:
    two = joined([{"gap": repeated(1.0, 2)}, {"gap": repeated(2.0, 3)}])
    assert two["gap"].tolist() == [1.0, 1.0, 2.0, 2.0, 2.0]
    lost = joined([{"gap": repeated(np.nan, 1)}, {"gap": repeated(np.nan, 2)}])
    assert is_repeated(lost["gap"])
    assert np.isnan(lost["gap"]).all()
    none = joined([{"gap": np.zeros(0)}, {"gap": repeated(2.0, 3)}])
    assert none["gap"].tolist() == [2.0] * 3


@pytest.mark.parametrize("different", [0, 1, 3, 21])
def test_words_come_back_from_a_file(tmp_path: Path, different: int) -> None:
    rows = np.random.default_rng(1).integers(max(different, 1), size=200 * min(different, 1))
    words = np.array([f"note {row}" for row in rows], dtype="U12")
    (tmp_path / "file").write_bytes(packed({"validity": words}, {}))
    assert unpacked(tmp_path / "file")["validity"].tolist() == words.tolist()


def test_lanes_are_taken_from_what_is_held_once() -> None:
    steel, mask = repeated("steel", 4), np.array([True, False, True, True])
    assert taken(steel, mask).tolist() == ["steel"] * 3
    assert taken(steel, np.array([2])).tolist() == ["steel"]
    assert taken(np.arange(4.0), mask).tolist() == [0.0, 2.0, 3.0]
    assert not steel.flags.writeable
    own = np.arange(3.0)
    assert in_lanes(own, 3) is own
    assert alike(steel)
    assert alike(np.array([np.nan, np.nan]))
    assert not alike(np.array([1.0, 2.0, 1.0]))
    assert not alike(np.array([1.0, np.nan]))


def test_files_of_older_runs_gain_the_room_of_the_clamp_nut(tmp_path: Path) -> None:
    # M10 has 8.376 mm inside (ISO 724), M12 10.106 mm.
    old = {"shaft_diameter": np.array([0.010, 0.012]), "bearing": np.array(["608", "608"])}
    (tmp_path / "file").write_bytes(packed(old, {}))
    for keys, columns in (
        (None, {*old, "nut_clearance"}),
        (["nut_clearance"], {"nut_clearance"}),
        (["bearing"], {"bearing"}),
    ):
        found = whole(tmp_path / "file", keys)
        assert set(found) == columns
        if "nut_clearance" in found:
            np.testing.assert_allclose(found["nut_clearance"], [0.376e-3, 2.106e-3], atol=1e-6)
    (tmp_path / "without").write_bytes(packed({"bearing": old["bearing"]}, {}))
    assert set(whole(tmp_path / "without")) == {"bearing"}
    assert set(unpacked(tmp_path / "file")) == set(old)
