"""A grid too large to be stored: the same front and counts, whatever happens on the way."""

import re
from pathlib import Path

import numpy as np
import pytest

from engine.bands.results import evaluate_judged
from engine.columns import Results
from engine.model.limits import violations, with_standing
from engine.model.screen import (
    NOT_MARCHED,
    OF_FLOW_ALONE,
    misses_by_bounds,
    misses_without_flow,
)
from engine.run.folder import FRONT, read_designs, read_front, read_state
from engine.run.runner import Outcome, run
from engine.run.thinned import evaluated_rows
from engine.search import space, sweep
from engine.search.space import Space
from engine.study.reader import parse_study, read_study
from engine.study.study import Study
from tests.support.places import STUDIES

RANGES = """\
ranges:
  disc_count: {min: 6, max: 14, step: 2}
  disc_diameter: {min: 80 mm, max: 140 mm, step: 20 mm}
  gap: {choices: [0.25 mm, 0.5 mm]}
  inlet_angle: 6 deg
  exhaust_bore: {min: 24 mm, max: 64 mm, step: 8 mm}
  speed: {min: 8000 rpm, max: 32000 rpm, step: 4000 rpm}
  nozzle_width: 0.5 mm
  process: {choices: [laser-cut, waterjet]}
  disc_thickness: 1 mm
  spokes: 6
  nozzle_count: 1
  rim_clearance: 0.3 mm
"""
SIZE = 5 * 4 * 2 * 6 * 7 * 2


def text_of() -> str:
    text = (STUDIES / "lane-workshop.yaml").read_text()
    text = text[: text.index("ranges:")] + RANGES + text[text.index("limits:") :]
    search = text[text.index("search:") : text.index("loads:")]
    return text.replace(search, "search: {method: grid}\n")


@pytest.fixture(autouse=True)
def _small_grids_are_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(space, "STORED_WHOLE", 1000)
    monkeypatch.setattr(sweep, "SAMPLE", 100)
    monkeypatch.setattr(sweep, "LARGE", 512)


def confirmed(_: Study, front: Results) -> Results:
    """Take the averaged flow for confirmed: the resolved one would take minutes."""
    return front | {"resolved_difference": 0.0 * front["speed"]}


def start(path: Path, part_designs: int = 40, stop_after: int = 0) -> Outcome:
    said: list[object] = []

    def stop() -> bool:
        said.append(None)
        return bool(stop_after) and len(said) >= stop_after

    return run(
        study=parse_study(text_of(), "grid.yaml"),
        study_text=text_of(),
        path=path,
        evaluate=evaluate_judged,
        recheck=confirmed,
        model_version=1,
        part_designs=part_designs,
        stop=stop,
    )


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Run of the grid with every build evaluated and stored."""
    path = tmp_path_factory.mktemp("runs") / "whole"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(space, "STORED_WHOLE", 10**6)
        start(path)
    return path


@pytest.fixture(scope="module")
def thin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("runs") / "thin"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(space, "STORED_WHOLE", 1000)
        patch.setattr(sweep, "SAMPLE", 100)
        patch.setattr(sweep, "LARGE", 512)
        start(path)
    return path


def test_front_and_counts_are_those_of_the_whole_grid(whole: Path, thin: Path) -> None:
    front, known = read_front(thin), read_front(whole)
    assert len(known["design"]) > 3
    for key, values in known.items():
        np.testing.assert_array_equal(front[key], values, err_msg=key)
    _, state = read_state(thin)
    _, all_of_it = read_state(whole)
    assert (state.designs, state.feasible) == (SIZE, all_of_it.feasible)
    assert all_of_it.feasible > 20
    assert sum(state.statuses.values()) == SIZE
    assert state.statuses[NOT_MARCHED] > SIZE / 4


def test_stored_are_the_front_and_an_even_sample_that_is_marched(whole: Path, thin: Path) -> None:
    _, state = read_state(thin)
    designs, known = read_designs(thin), read_designs(whole)
    assert len(designs["design"]) == state.stored < SIZE / 4
    assert set(np.arange(1.0, SIZE + 1, -(-SIZE // 100))) < set(designs["design"])
    assert set(read_front(thin)["design"]) < set(designs["design"])
    there = designs["design"].astype(int) - 1
    for key, values in known.items():
        np.testing.assert_array_equal(designs[key], values[there], err_msg=key)


def test_a_grid_that_was_stopped_or_damaged_ends_as_if_not(thin: Path, tmp_path: Path) -> None:
    path = tmp_path / "run"
    assert start(path, 30, stop_after=2).state.state == "interrupted"
    start(path, 50, stop_after=3)
    start(path, 20)
    parts = sorted((path / "designs").glob("part-*"))
    assert len(parts) > 3
    parts[1].write_bytes(b"torn")
    start(path, 20)
    assert (path / FRONT).read_bytes() == (thin / FRONT).read_bytes()
    again, known = read_designs(path), read_designs(thin)
    for key, values in known.items():
        np.testing.assert_array_equal(again[key], values, err_msg=key)
    one, other = (read_state(each)[1] for each in (path, thin))
    assert one.statuses == other.statuses
    assert one.limits_met == other.limits_met


@pytest.mark.parametrize("name", ["lane-workshop", "orchard-boiler", "mill-race"])
def test_no_build_is_named_that_misses_no_limit(name: str) -> None:
    text = (STUDIES / f"{name}.yaml").read_text()
    study = parse_study(re.sub("designs: .*", "designs: 1000", text), name)
    space, limits = Space.of(study), with_standing(study.all_limits, study.kind)
    builds = space.builds(space.draw(600, np.random.default_rng(2)))
    named = misses_without_flow(study, builds, limits)
    missed = violations(evaluate_judged(study, builds), limits) > 0
    assert named.sum() > 10
    assert (~named).any()
    lost = {key: values[named] for key, values in builds.items()}
    assert misses_without_flow(study, lost, limits).all()
    assert missed[named].any(axis=1).all()


@pytest.mark.parametrize("name", ["lane-workshop", "orchard-boiler", "mill-race"])
def test_builds_alike_in_all_that_a_bound_reads_are_judged_once(name: str) -> None:
    study = read_study(STUDIES / f"{name}.yaml")
    space, limits = Space.of(study), with_standing(study.all_limits, study.kind)
    generator = np.random.default_rng(3)
    index = space.draw(300, generator)
    keys = [axis.key for axis in space.axes]
    places = [keys.index(key) for key in OF_FLOW_ALONE if key in keys]
    assert places
    other = index.copy()
    other[:, places] = space.draw(300, generator)[:, places]
    both = np.concatenate([index, other])
    alike, which = space.alike(both, OF_FLOW_ALONE)
    assert len(alike) <= 300
    np.testing.assert_array_equal(which[:300], which[300:])
    first, second = (misses_by_bounds(study, space.builds(each), limits) for each in (index, other))
    np.testing.assert_array_equal(first, second)
    rows = evaluated_rows(study, space, both, limits, np.zeros(600, dtype=np.bool_))
    named = misses_without_flow(study, space.builds(both), limits)
    np.testing.assert_array_equal(rows, np.flatnonzero(~named))


def test_a_shaft_that_bends_and_a_hub_that_cannot_be_cut_need_no_flow() -> None:
    study = read_study(STUDIES / "lane-workshop.yaml")
    limits = with_standing(study.all_limits, study.kind)
    space = Space.of(study)
    build = space.builds(space.draw(1, np.random.default_rng(1)))
    sound = {
        "disc_count": 5.0,
        "disc_diameter": 0.105,
        "disc_thickness": 1.5e-3,
        "gap": 0.6e-3,
        "exhaust_bore": 0.042,
        "speed": 23500 * np.pi / 30,
        "spokes": 6.0,
        "process": "waterjet",
        "rim_clearance": 0.3e-3,
    }
    changed: dict[str, dict[str, float | str]] = {
        "sound": {},
        "bends": {"disc_count": 40.0},
        "no hub": {"exhaust_bore": 0.016, "spokes": 12.0},
    }
    builds = {key: np.repeat(values, len(changed)) for key, values in build.items()}
    for row, change in enumerate(changed.values()):
        for key, value in (sound | change).items():
            builds[key][row] = value
    named = misses_without_flow(study, builds, limits)
    assert dict(zip(changed, named.tolist(), strict=True)) == {
        "sound": False,
        "bends": True,
        "no hub": True,
    }
    found = evaluate_judged(study, builds)
    assert found["shaft_critical_speed"][1] < 1.2 * builds["speed"][1]
    assert np.isnan(found["safety_margin"][2])
