"""A map of the space: every build once, or builds spread evenly, compared with a known front."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.columns import Results
from engine.errors import StudyError
from engine.run.folder import FRONT, read_designs, read_front
from engine.run.generations import Evaluate, search_of
from engine.run.runner import Outcome, run
from engine.search.space import Space, budget
from engine.search.sweep import BATCH, Sweep, SweepMark
from engine.study.reader import parse_study
from tests.support import standin

evaluate: Evaluate = standin.evaluate
RPM = 2 * np.pi / 60
NONE = np.zeros(0)


def text_of(search: str) -> str:
    text: str = standin.study_of()[1]
    return text[: text.index("search:")] + f"search: {{{search}}}\n"


def small(search: str) -> str:
    """Ranges of 29 x 4 x 26 builds with a known front."""
    text = text_of(search)
    text = text.replace("{min: 6 deg, max: 20 deg, step: 1 deg}", "10 deg")
    return text.replace("{min: 20 mm, max: 90 mm, step: 2 mm}", "40 mm")


def start(path: Path, text: str, evaluate: Evaluate = evaluate, **given: Any) -> Outcome:
    return run(
        study=parse_study(text, "map.yaml"),
        study_text=text,
        path=path,
        evaluate=evaluate,
        model_version=1,
        **given,
    )


def test_a_grid_has_every_build_once_and_the_known_front(tmp_path: Path) -> None:
    outcome = start(tmp_path / "run", small("method: grid"))
    assert outcome.state.designs == outcome.state.budget == 29 * 4 * 26
    assert outcome.state.state == "done"
    assert not outcome.exhausted
    assert not outcome.stalled
    designs = read_designs(tmp_path / "run")
    builds = np.stack([designs[key] for key in ("disc_count", "gap", "speed")], axis=1)
    assert len(np.unique(builds, axis=0)) == 29 * 4 * 26
    front = read_front(tmp_path / "run")
    np.testing.assert_allclose(front["speed"][::-1] / RPM, standin.FRONT_SPEEDS)
    np.testing.assert_allclose(front["disc_count"], 14)


def test_sobol_points_are_even_along_every_axis(tmp_path: Path) -> None:
    start(tmp_path / "run", text_of("method: sobol, designs: 8192, seed: 5"))
    designs = read_designs(tmp_path / "run")
    assert len(designs["speed"]) == 8192
    for key, n_values in (("disc_count", 29), ("gap", 4), ("speed", 26), ("inlet_angle", 15)):
        _, counts = np.unique(designs[key], return_counts=True)
        assert len(counts) == n_values
        # A net in base 2 puts into an interval its share of the points, within one or two.
        assert np.abs(counts - 8192 / n_values).max() <= 2


def test_a_space_no_larger_than_a_sobol_map_is_mapped_as_a_grid(tmp_path: Path) -> None:
    outcome = start(tmp_path / "run", small("method: sobol, designs: 5000"))
    assert outcome.state.designs == 29 * 4 * 26


@pytest.mark.parametrize("method", ["grid", "sobol"])
@pytest.mark.parametrize("told", [0, BATCH, 3 * BATCH])
def test_a_sweep_continues_from_its_mark_as_if_it_had_not_stopped(
    method: Literal["grid", "sobol"], told: int
) -> None:
    space = Space.of(standin.study_of()[0])
    straight, resumed = (Sweep(space, method=method, designs=40_000, seed=9) for _ in range(2))
    while straight.told < told:
        straight.tell(straight.ask(), NONE, NONE)
    resumed.resume(SweepMark(told))
    while len(index := straight.ask()) and straight.told < 40_000:
        np.testing.assert_array_equal(resumed.ask(), index)
        np.testing.assert_array_equal(resumed.ask(), index, err_msg="asked twice")
        for each in (straight, resumed):
            each.tell(index, NONE, NONE)
    if method == "sobol":
        assert straight.told == 40_000
        assert straight.stage == ""
        assert resumed.ask().shape == (0, 5)


def test_another_seed_gives_another_map() -> None:
    space = Space.of(standin.study_of()[0])
    first, second = (Sweep(space, method="sobol", designs=99, seed=seed).ask() for seed in (1, 2))
    assert (first != second).any()


def test_a_stopped_and_damaged_map_ends_like_an_undisturbed_one(tmp_path: Path) -> None:
    text = text_of("method: sobol, designs: 40000, seed: 5")
    start(tmp_path / "whole", text)
    path, seen = tmp_path / "run", iter(range(9))
    assert start(path, text, stop=lambda: next(seen) == 2, part_designs=1).state.designs < 40_000
    part = path / "designs" / "part-000001.parquet"
    part.write_bytes(part.read_bytes()[:-1])
    evaluated: list[int] = []

    def counted(study: Any, builds: Mapping[str, NDArray[Any]]) -> Results:
        evaluated.append(len(builds["speed"]))
        return evaluate(study, builds)

    assert start(path, text, counted).state.designs == 40_000
    assert sum(evaluated) == 40_000 - 2 * BATCH
    assert (path / FRONT).read_bytes() == (tmp_path / "whole" / FRONT).read_bytes()


@pytest.mark.parametrize(
    "search",
    [
        "method: grid",
        "method: sobol, designs: 500",
        "method: sobol, designs: 1000000",
        "designs: 500",
        "designs: 1000000",
        "designs: 500, stages: [screen, refine], refined: 60",
    ],
)
def test_the_budget_stated_before_a_run_is_that_of_the_run(search: str) -> None:
    study = parse_study(small(search), "map.yaml")
    space = Space.of(study)
    assert sum(budget(study, space)) == search_of(study, space).budget


def test_a_build_that_comes_twice_is_on_the_front_once(tmp_path: Path) -> None:
    start(tmp_path / "run", small("method: sobol, designs: 3000"))  # 3016 builds, so some twice
    designs, front = read_designs(tmp_path / "run"), read_front(tmp_path / "run")
    keys = ("disc_count", "gap", "speed")
    assert len(np.unique(np.stack([designs[key] for key in keys]), axis=1).T) < 3000
    assert len(np.unique(np.stack([front[key] for key in keys]), axis=1).T) == len(front["rank"])


@pytest.mark.parametrize(
    ("search", "step", "words"),
    [
        ("method: grid", False, r"search.method: a grid, and speed has no step; give speed a step"),
        (
            "method: grid, designs: 9",
            True,
            "search.designs: has no meaning for method: grid; leave",
        ),
        (
            "method: sobol, stages: [evolve]",
            True,
            "search.stages: has no meaning for method: sobol",
        ),
        ("method: map", True, "search.method: "),
    ],
)
def test_an_impossible_map_is_refused_with_its_line(search: str, step: bool, words: str) -> None:
    text = text_of(search)
    if not step:
        text = text.replace(", step: 1000 rpm", "")
    with pytest.raises(StudyError, match=rf"map\.yaml:\d+: {words}"):
        parse_study(text, "map.yaml")


def test_a_grid_that_is_too_large_is_refused() -> None:
    text = text_of("method: grid").replace("step: 1000 rpm", "step: 0.5 rpm")
    text = text.replace("step: 1 deg", "step: 0.1 deg")
    with pytest.raises(
        StudyError, match=r"a grid of [\d\s]+ builds; expected 10\s000\s000\s000 at"
    ):
        parse_study(text, "map.yaml")
