"""The choice if the casing rubs half or twice as much, against every build of a known space."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.run import rubbing as module
from engine.run.folder import RUBBING, read_designs, read_front
from engine.run.rubbing import FACTORS, Rubbing, rubbing, rubbing_of_run
from engine.search.space import Space
from engine.study.study import Study
from tests.support import standin

Columns = dict[str, NDArray[Any]]
Run = tuple[Path, Study, Columns, Columns]


def rubbed(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
    """The stand-in, whose best gap is 0.1 mm wider each time that friction doubles."""
    moved = builds["gap"] - 0.1e-3 * np.log2(builds["casing_factor"])
    found = standin.evaluate(study, {**builds, "gap": moved})
    flow = standin.evaluate(study, builds)["mass_flow"]
    return found | {"gap": builds["gap"], "mass_flow": flow}


@pytest.fixture(scope="module")
def ended(tmp_path_factory: pytest.TempPathFactory) -> Run:
    path = tmp_path_factory.mktemp("runs") / "known"
    study, _ = standin.study_of()
    outcome = standin.start(path)
    assert outcome.state.state == "done"
    return path, study, read_designs(path), read_front(path)


@pytest.fixture
def found(ended: Run, monkeypatch: pytest.MonkeyPatch) -> tuple[Rubbing, ...]:
    _, study, designs, front = ended
    monkeypatch.setattr(module, "evaluate", rubbed)
    return rubbing(study, designs, front, [0, 5])


def test_the_best_is_that_of_the_whole_space(ended: Run, found: tuple[Rubbing, ...]) -> None:
    _, study, _, front = ended
    space = Space.of(study)
    builds = space.builds(space.numbered(np.arange(int(space.size), dtype=np.int64)))
    assert [(each.factor, each.design) for each in found] == [
        (factor, front["design"][row]) for factor in FACTORS for row in (0, 5)
    ]
    for each in found:
        row = front["design"].tolist().index(each.design)
        there = rubbed(study, builds | {"casing_factor": np.full(int(space.size), each.factor)})
        allowed = there["mass_flow"] <= 14e-3 * (1 + 1e-9)
        allowed &= there["safety_margin"] >= front["safety_margin"][row] * (1 - 1e-12)
        assert_allclose(each.best, there["electric_power"][allowed].max(), rtol=1e-9)
        assert each.build["gap"] == pytest.approx(0.2e-3 if each.factor < 1 else 0.4e-3)
        # The build shown is that of the front, where friction is as the study has it.
        assert front["gap"][row] == pytest.approx(0.3e-3)
        assert 0 < each.value < each.best
        assert each.regret == each.best - each.value
        assert not each.is_same
        assert not each.missed


def test_it_is_kept_in_the_run_folder_until_that_is_torn(
    ended: Run, found: tuple[Rubbing, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, study, designs, front = ended
    assert rubbing_of_run(path, study, designs, front, [0, 5]) == found

    def never(*_: Any) -> Any:
        raise AssertionError

    monkeypatch.setattr(module, "evaluate", never)
    assert rubbing_of_run(path, study, designs, front, [0, 5]) == found
    text = (path / RUBBING).read_text("utf-8")
    (path / RUBBING).write_text(text.replace("gap", "gab"), "utf-8")
    with pytest.raises(AssertionError):
        rubbing_of_run(path, study, designs, front, [0, 5])
    (path / RUBBING).write_text(text, "utf-8")
    with pytest.raises(AssertionError):
        rubbing_of_run(path, study, designs, front, [1])
    fewer = {key: values[1:] for key, values in designs.items()}
    with pytest.raises(AssertionError):
        rubbing_of_run(path, study, fewer, front, [0, 5])


def test_a_build_that_misses_a_limit_there_is_said_to(
    ended: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, study, designs, front = ended

    def bursting(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
        found = rubbed(study, builds)
        # Less friction, more power: here it also takes the margin.
        return found | {"safety_margin": found["safety_margin"] * builds["casing_factor"] ** 0.5}

    monkeypatch.setattr(module, "evaluate", bursting)
    half, twice = rubbing(study, designs, front, [0])
    assert list(half.missed) == ["safety_margin"]
    assert half.missed["safety_margin"] < 1.2
    assert not half.is_same
    assert twice.missed == {}


def test_friction_taken_as_exact_leaves_nothing_to_choose(ended: Run) -> None:
    _, study, designs, front = ended
    section = study.uncertainty.model_copy(update={"casing_factor": 0.0})
    assert rubbing(study.model_copy(update={"uncertainty": section}), designs, front, [0]) == ()
