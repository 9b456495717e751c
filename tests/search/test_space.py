import math
from typing import Any

import numpy as np
import pytest

from engine.search.space import CONTINUOUS_STEPS, Space
from engine.study.study import Study

RPM = 2 * np.pi / 60


def space_of(machine: dict[str, Any] | None = None, **ranges: Any) -> Space:
    given = {
        "disc_count": "10",
        "disc_diameter": "120 mm",
        "gap": "0.3 mm",
        "inlet_angle": "12 deg",
        "exhaust_bore": "40 mm",
        "speed": "20000 rpm",
    } | ranges
    return Space.of(
        Study.model_validate(
            {
                "title": "Bench",
                "supply": {"pressure": "6 bar gauge", "temperature": "20 degC"},
                "machine": machine or {},
                "ranges": given,
            }
        )
    )


def test_a_stepped_span_holds_min_plus_whole_steps_up_to_max() -> None:
    space = space_of(gap={"min": "0.2 mm", "max": "0.5 mm", "step": "0.07 mm"})
    gaps = space.builds(np.arange(5)[:, None])["gap"]
    np.testing.assert_allclose(gaps, [0.2e-3, 0.27e-3, 0.34e-3, 0.41e-3, 0.48e-3], rtol=1e-12)
    assert space.size == 5


def test_size_is_the_product_of_the_numbers_of_values() -> None:
    space = space_of(
        disc_count={"min": "4", "max": "40"},
        gap={"choices": ["0.1 mm", "0.3 mm", "0.2 mm"]},
        material={"choices": ["stainless-304", "brass"]},
    )
    assert space.size == 37 * 3 * 2


def test_a_span_without_a_step_has_infinitely_many_builds() -> None:
    space = space_of(gap={"min": "0.2 mm", "max": "0.5 mm"})
    assert space.size == math.inf
    with np.errstate(all="raise"):
        gaps = space.builds(np.array([[0], [CONTINUOUS_STEPS]]))["gap"]
    np.testing.assert_allclose(gaps, [0.2e-3, 0.5e-3], rtol=1e-15)


def test_a_range_of_one_value_is_fixed_and_part_of_every_build() -> None:
    space = space_of(speed={"choices": ["9000 rpm"]}, gap={"choices": ["0.1 mm", "0.2 mm"]})
    assert [axis.key for axis in space.axes] == ["gap"]
    builds = space.builds(np.array([[1], [0], [1]]))
    np.testing.assert_allclose(builds["speed"], [9000 * RPM] * 3)
    assert builds["material"].tolist() == ["stainless-304"] * 3
    assert builds["disc_count"].tolist() == [10.0] * 3


def test_a_study_that_fixes_everything_has_one_build() -> None:
    space = space_of()
    assert space.size == 1
    index = space.sample(3, np.random.default_rng(0))
    assert index.shape == (3, 0)
    assert len(space.builds(index)["gap"]) == 3
    assert space.index(space.builds(index)).shape == (3, 0)
    assert len(np.unique(space.hashes(index))) == 1
    assert space.numbered(np.arange(1)).shape == (1, 0)


def test_every_build_is_found_from_its_values() -> None:
    space = space_of(
        disc_count={"min": "4", "max": "40"},
        gap={"choices": ["0.1 mm", "0.3 mm", "0.2 mm"]},
        inlet_angle={"min": "6 deg", "max": "25 deg"},
        exhaust_bore={"min": "20 mm", "max": "90 mm", "step": "2 mm"},
        material={"choices": ["stainless-304", "brass", "carbon-steel"]},
    )
    index = space.sample(2000, np.random.default_rng(1))
    assert (index.max(axis=0) >= space.counts * 0.99 - 1).all()
    np.testing.assert_array_equal(space.index(space.builds(index)), index)


def test_values_in_between_go_to_the_nearest_build_within_bounds() -> None:
    space = space_of(
        gap={"choices": ["0.1 mm", "0.2 mm", "0.4 mm"]},
        exhaust_bore={"min": "20 mm", "max": "90 mm"},
    )
    typed = {"gap": np.array([0.29e-3, 0.31e-3, 9.0]), "exhaust_bore": np.array([0.0, 0.055, 1.0])}
    snapped = space.builds(space.index(typed))
    np.testing.assert_allclose(snapped["gap"], [0.2e-3, 0.4e-3, 0.4e-3])
    np.testing.assert_allclose(snapped["exhaust_bore"], [0.020, 0.055, 0.090], atol=1e-7)


def test_an_unknown_word_is_named() -> None:
    space = space_of(material={"choices": ["stainless-304", "brass"]})
    with pytest.raises(ValueError, match="material: oak is not one of stainless-304, brass"):
        space.index({"material": np.array(["brass", "oak"])})


def test_a_sample_spreads_evenly_and_is_the_same_for_the_same_generator() -> None:
    space = space_of(
        gap={"min": "0.1 mm", "max": "0.5 mm"}, inlet_angle={"min": "6 deg", "max": "25 deg"}
    )
    index = space.sample(64, np.random.default_rng(7))
    # A (t, m, s)-net in base 2: one of 2^k points in each of 2^k equal slices (Sobol 1967).
    slices = np.sort(index * 64 // (CONTINUOUS_STEPS + 1), axis=0)
    np.testing.assert_array_equal(slices, np.arange(64)[:, None] * [1, 1])
    np.testing.assert_array_equal(space.sample(64, np.random.default_rng(7)), index)
    assert (space.sample(64, np.random.default_rng(8)) != index).any()


def test_a_draw_takes_all_builds_equally_often() -> None:
    space = space_of(disc_count={"min": "4", "max": "9"}, gap={"choices": ["0.1 mm", "0.2 mm"]})
    index = space.draw(12_000, np.random.default_rng(3))
    drawn, counts = np.unique(index, axis=0, return_counts=True)
    assert len(drawn) == 12
    # Five standard deviations of a binomial count.
    assert np.abs(counts - 1000).max() < 5 * np.sqrt(12_000 / 12 * 11 / 12)
    assert space_of().draw(3, np.random.default_rng(3)).shape == (3, 0)


def test_numbers_list_every_build_once() -> None:
    space = space_of(disc_count={"min": "4", "max": "9"}, gap={"choices": ["0.1 mm", "0.2 mm"]})
    every = space.numbered(np.arange(12))
    assert len(np.unique(every, axis=0)) == 12
    assert every[:3].tolist() == [[0, 0], [0, 1], [1, 0]]


def test_hashes_are_those_of_exact_arithmetic_and_do_not_collide() -> None:
    space = space_of(gap={"min": "0.1 mm", "max": "0.5 mm"}, disc_count={"min": "4", "max": "40"})
    index = np.stack(np.divmod(np.arange(200_000), 37)[::-1], axis=1)
    hashes = space.hashes(index)
    assert len(np.unique(hashes)) == len(index)
    factor, place = 0xBF58476D1CE4E5B9, index[123_456].tolist()
    assert int(hashes[123_456]) == (place[0] * factor + place[1] * factor**2) % 2**64
