import numpy as np
import pytest
from numpy.typing import NDArray

from engine.search.front import hypervolume, knee, merits, nondominated


def slow_nondominated(merit: NDArray[np.float64]) -> list[bool]:
    """The definition: no other design is at least as good in all aims and better in one."""
    return [
        not any((other >= one).all() and (other > one).any() for other in merit) for one in merit
    ]


@pytest.mark.parametrize("n_aims", [2, 3])
def test_the_front_is_what_the_definition_says(n_aims: int) -> None:
    generator = np.random.default_rng(n_aims)
    # Few distinct values, so that ties and equal designs are among them.
    merit = generator.integers(0, 12, size=(300, n_aims)).astype(float)
    assert nondominated(merit).tolist() == slow_nondominated(merit)
    assert 0 < nondominated(merit).sum() < 300


def test_designs_of_equal_merit_are_all_kept() -> None:
    merit = np.array([[1.0, 2.0], [1.0, 2.0], [0.5, 2.0]])
    assert nondominated(merit).tolist() == [True, True, False]


def test_a_merit_that_is_not_a_number_is_never_on_the_front() -> None:
    merit = np.array([[np.nan, 9.0], [np.inf, 0.0], [1.0, 1.0]])
    assert nondominated(merit).tolist() == [False, False, True]
    assert nondominated(merit[:1]).tolist() == [False]
    assert nondominated(merit[:0]).tolist() == []


def test_the_front_of_several_fronts_is_that_of_all_designs() -> None:
    merit = np.random.default_rng(5).normal(size=(4000, 2))
    kept = np.concatenate([part[nondominated(part)] for part in np.split(merit, 8)])
    whole = merit[nondominated(merit)]
    np.testing.assert_array_equal(
        np.unique(kept[nondominated(kept)], axis=0), np.unique(whole, axis=0)
    )


def test_aims_to_minimise_change_sign() -> None:
    results = {"electric_power": np.array([100.0, 90.0]), "mass_flow": np.array([0.02, 0.01])}
    aims = {"electric_power": "maximise", "mass_flow": "minimise"}
    np.testing.assert_array_equal(merits(results, aims), [[100.0, -0.02], [90.0, -0.01]])
    assert nondominated(merits(results, aims)).all()


def test_the_knee_is_farthest_from_the_chord() -> None:
    # On a quarter circle the point at 45 degrees is farthest from the chord of its ends.
    angle = np.radians(np.arange(0.0, 91.0, 5.0))
    circle = np.stack([200 * np.cos(angle), 3 + np.sin(angle)], axis=1)
    assert angle[knee(circle)] == pytest.approx(np.pi / 4)
    # Distances from the chord by its formula, for a front without symmetry.
    front = np.array([[0.0, 10.0], [3.0, 9.5], [6.0, 6.0], [8.0, 1.0]])
    unit = (front - front.min(axis=0)) / np.ptp(front, axis=0)
    chord = unit[-1] - unit[0]
    away = (chord[0] * (unit - unit[0])[:, 1] - chord[1] * (unit - unit[0])[:, 0]) / np.hypot(
        *chord
    )
    assert knee(front) == int(np.argmax(away))


def test_a_front_of_one_design_or_one_value_has_a_knee() -> None:
    assert knee(np.array([[3.0, 4.0]])) == 0
    assert knee(np.array([[3.0, 4.0], [3.0, 5.0]])) == 1


def test_hypervolume_is_the_area_under_the_staircase() -> None:
    front = np.array([[1.0, 5.0], [2.0, 4.0], [5.0, 1.0], [1.5, 1.5]])
    # By hand from reference (0, 0): columns of width 1, 1, 3 and height 5, 4, 1.
    assert hypervolume(front, np.zeros(2)) == pytest.approx(5 + 4 + 3)
    assert hypervolume(front, np.array([1.0, 1.0])) == pytest.approx(3)
    assert hypervolume(front[:0], np.zeros(2)) == 0
