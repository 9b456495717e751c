"""The search on published problems, whose fronts are found by other means."""

import logging
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import optuna
import pytest
from numpy.typing import NDArray

from engine.search.front import hypervolume
from engine.search.space import Axis, Index, Space
from engine.search.staged import StagedSearch

Matrix = NDArray[np.float64]


@dataclass(frozen=True)
class Found:
    index: Index
    merit: Matrix
    violation: NDArray[np.float64]

    def hypervolume(self, reference: Matrix) -> float:
        return hypervolume(self.merit[self.violation == 0], reference)


def binh_korn(x: Matrix) -> tuple[Matrix, Matrix]:
    """Binh and Korn 1997, "MOBES: a multiobjective evolution strategy for constrained
    optimization problems", MENDEL 97, 176-182 (from memory): costs and what must not be negative.
    """
    a, b = x.T
    costs = np.stack([4 * a**2 + 4 * b**2, (a - 5) ** 2 + (b - 5) ** 2], axis=1)
    room = np.stack([25 - (a - 5) ** 2 - b**2, (a - 8) ** 2 + (b + 3) ** 2 - 7.7], axis=1)
    return costs, room / [25, 7.7]


def tanaka(x: Matrix) -> tuple[Matrix, Matrix]:
    """Tanaka, Watanabe, Furukawa and Tanino 1995, "GA-based decision support system for
    multicriteria optimization", IEEE SMC, 1556-1561 (from memory).
    """
    a, b = x.T
    ripple = 1 + 0.1 * np.cos(16 * np.arctan2(a, b))
    return x, np.stack([a**2 + b**2 - ripple, 0.5 - (a - 0.5) ** 2 - (b - 0.5) ** 2], axis=1)


BINH_KORN = Space((Axis("a", high=5.0), Axis("b", high=3.0)), {})
TANAKA = Space((Axis("a", high=np.pi), Axis("b", high=np.pi)), {})


def evolve(
    problem: Callable[[Matrix], tuple[Matrix, Matrix]],
    space: Space,
    *,
    designs: int,
    generation: int = 100,
    seed: int = 1,
    search: StagedSearch | None = None,
) -> Found:
    search = search or StagedSearch(
        space, aims=2, designs=designs, generation=generation, seed=seed
    )
    told = []
    while len(index := search.ask()):
        costs, room = problem(np.stack(list(space.builds(index).values()), axis=1))
        violation = np.maximum(-room, 0.0).sum(axis=1)
        search.tell(index, -costs, violation)
        told.append((index, -costs, violation))
    return Found(*(np.concatenate(each) for each in zip(*told, strict=True)))


def test_the_front_of_binh_and_korn_is_found() -> None:
    # True front: a = b up to 3, then b = 3 and a up to 5 (Deb 2001, Multi-objective optimization
    # using evolutionary algorithms, 8.3, from memory); no random design beats it.
    along = np.linspace(0, 1, 20_001)
    line = np.concatenate(
        [np.stack([3 * along, 3 * along], 1), np.stack([3 + 2 * along, 0 * along + 3], 1)]
    )
    costs, room = binh_korn(line)
    assert (room > -1e-12).all()
    reference = np.array([-140.0, -50.0])
    true = hypervolume(-costs, reference)
    random, random_room = binh_korn(np.random.default_rng(0).random((20_000, 2)) * [5, 3])
    feasible = random[(random_room >= 0).all(axis=1)]
    both = hypervolume(-np.concatenate([costs, feasible]), reference)
    assert both == pytest.approx(true, rel=1e-6)

    found = evolve(binh_korn, BINH_KORN, designs=3000).hypervolume(reference)
    assert 0.99 * true < found < true


def test_the_broken_front_of_tanaka_is_found() -> None:
    # Its front lies on the first constraint, a curve in polar form; the rest follows by filter.
    angle = np.linspace(0, np.pi / 2, 200_001)
    radius = np.sqrt(1 + 0.1 * np.cos(16 * angle))
    curve = np.stack([radius * np.sin(angle), radius * np.cos(angle)], axis=1)
    inside = (curve[:, 0] - 0.5) ** 2 + (curve[:, 1] - 0.5) ** 2 <= 0.5
    reference = np.array([-1.2, -1.2])
    true = hypervolume(-curve[inside], reference)
    found = evolve(tanaka, TANAKA, designs=3000).hypervolume(reference)
    assert 0.96 * true < found < true
    # Sobol points without evolution do not come near it.
    sample = TANAKA.builds(TANAKA.sample(3000, np.random.default_rng(1)))
    costs, room = tanaka(np.stack(list(sample.values()), axis=1))
    assert hypervolume(-costs[(room >= 0).all(axis=1)], reference) < 0.93 * true


def test_the_same_seed_gives_the_same_designs_and_another_seed_others() -> None:
    first = evolve(tanaka, TANAKA, designs=500)
    again = evolve(tanaka, TANAKA, designs=500)
    other = evolve(tanaka, TANAKA, designs=500, seed=2)
    np.testing.assert_array_equal(first.index, again.index)
    assert (first.index[:100] != other.index[:100]).any()


def test_designs_do_not_depend_on_the_hash_seed_of_the_process() -> None:
    script = (
        "import numpy as np\n"
        "from engine.search.staged import StagedSearch\n"
        "from engine.search.space import Axis, Space\n"
        "words = Axis('w', np.array(['x', 'y', 'z']))\n"
        "space = Space((Axis('a', high=5.0), Axis('b', high=3.0), words), {})\n"
        "stages = ('screen', 'evolve', 'polish', 'refine')\n"
        "keys = {'seed': 1, 'stages': stages, 'refined': 60}\n"
        "search = StagedSearch(space, aims=2, designs=200, generation=50, **keys)\n"
        "while len(index := search.ask()):\n"
        "    search.tell(index, np.cos(index[:, :2] * 1.0), index[:, 2] % 2 * 1.0)\n"
        "    print(index.tolist())\n"
    )
    outputs = [
        subprocess.run(  # noqa: S603
            [sys.executable, "-c", script],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": ":".join(sys.path)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert outputs[0] == outputs[1]
    assert outputs[0].count("\n") > 5  # the last ones bred by Optuna


@pytest.mark.parametrize("told", [100, 300])
def test_a_search_continued_from_its_mark_proposes_the_same_builds(told: int) -> None:
    whole = evolve(tanaka, TANAKA, designs=600)
    short = StagedSearch(TANAKA, aims=2, designs=600, generation=100, seed=1)
    for start in range(0, told, 100):
        rows = slice(start, start + 100)
        np.testing.assert_array_equal(short.ask(), whole.index[rows])
        short.tell(whole.index[rows], whole.merit[rows], whole.violation[rows])
    resumed = StagedSearch(TANAKA, aims=2, designs=600, generation=100, seed=1)
    resumed.resume(short.mark, whole.index[:told], whole.merit[:told], whole.violation[:told])
    rest = evolve(tanaka, TANAKA, designs=600, search=resumed)
    np.testing.assert_array_equal(rest.index, whole.index[told:])


def test_no_build_is_proposed_twice_even_when_few_are_left() -> None:
    space = Space((Axis("a", np.arange(12.0)), Axis("b", np.arange(9.0))), {})
    found = evolve(binh_korn, space, designs=104, generation=20)
    assert len(found.index) == 104
    assert len(np.unique(found.index, axis=0)) == 104


def test_a_space_within_the_budget_is_evaluated_whole() -> None:
    space = Space((Axis("a", np.arange(12.0)), Axis("b", np.arange(9.0))), {})
    found = evolve(binh_korn, space, designs=5000, generation=20)
    assert len(np.unique(found.index, axis=0)) == 108 == len(found.index)


def test_the_budget_is_used_exactly() -> None:
    assert len(evolve(binh_korn, BINH_KORN, designs=250).index) == 250
    assert len(evolve(binh_korn, BINH_KORN, designs=7).index) == 7


def test_good_words_are_bred_more_often() -> None:
    words = np.array(["brass", "carbon-steel", "stainless-304", "titanium-6al-4v"])
    space = Space((Axis("a", high=1.0), Axis("material", words)), {})
    search = StagedSearch(space, aims=2, designs=400, generation=40, seed=1)
    late: list[str] = []
    while len(index := search.ask()):
        builds = space.builds(index)
        good = builds["material"] == "stainless-304"
        search.tell(index, np.stack([builds["a"] + good, good - builds["a"]], 1), np.zeros(40))
        late = builds["material"].tolist()
    assert late.count("stainless-304") > 20  # by chance 10 of 40


def test_merits_that_are_not_numbers_do_not_stop_the_search() -> None:
    search = StagedSearch(BINH_KORN, aims=2, designs=60, generation=20, seed=1)
    while len(index := search.ask()):
        search.tell(index, np.full((20, 2), np.nan), np.full(20, 3.0))
    assert search.told == 60


def test_a_search_takes_three_aims() -> None:
    search = StagedSearch(BINH_KORN, aims=3, designs=90, generation=30, seed=1)
    while len(index := search.ask()):
        search.tell(
            index, np.stack([index[:, 0], index[:, 1], -index.sum(axis=1)], 1), np.zeros(30)
        )
    assert search.told == 90


def test_optuna_says_nothing_and_keeps_its_verbosity(
    capfd: pytest.CaptureFixture[str],
) -> None:
    before = optuna.logging.get_verbosity()
    stages = ("screen", "evolve", "refine")
    search = StagedSearch(
        BINH_KORN, aims=2, designs=40, generation=20, seed=1, stages=stages, refined=60
    )
    evolve(binh_korn, BINH_KORN, designs=40, search=search)
    assert search.told == 100
    assert optuna.logging.get_verbosity() == before == logging.INFO
    captured = capfd.readouterr()
    assert captured.out == captured.err == ""
