"""A generation in halves gives what it gives as a whole, to the last bit."""

import numpy as np
import pytest

from engine.bands.results import evaluate_judged
from engine.columns import Builds, Results
from engine.run.halves import FEWEST, in_halves
from engine.search.space import Space
from engine.study.reader import read_study
from engine.study.study import Study
from tests.support.places import STUDIES


@pytest.mark.parametrize(("threads", "calls"), [("1", 1), ("2", 2), ("5", 2)])
def test_halves_give_the_results_of_the_whole(
    threads: str, calls: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SWIRLSTACK_THREADS", threads)
    study = read_study(STUDIES / "lane-workshop.yaml")
    space = Space.of(study)
    builds = space.builds(space.draw(FEWEST + 1, np.random.default_rng(1)))
    made = []

    def counted(study: Study, builds: Builds) -> Results:
        made.append(len(builds["speed"]))
        return evaluate_judged(study, builds)

    found = in_halves(counted)(study, builds)
    assert len(made) == calls
    assert sum(made) == FEWEST + 1
    whole = evaluate_judged(study, builds)
    assert list(found) == list(whole)
    for key, values in whole.items():
        np.testing.assert_array_equal(found[key], values, err_msg=key)


def test_few_builds_are_evaluated_at_once() -> None:
    study = read_study(STUDIES / "lane-workshop.yaml")
    made = []

    def counted(_: Study, builds: Builds) -> Results:
        made.append(len(builds["speed"]))
        return {}

    in_halves(counted)(study, {"speed": np.ones(FEWEST - 1)})
    assert made == [FEWEST - 1]
