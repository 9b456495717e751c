"""What a page says of machines with several stages."""

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.study.study import Study
from engine.study.values import Range
from reports.kit.quantities import THIN
from reports.run.candidate_wording import _ice
from reports.run.charts.stacks import between_stages, stacks_of
from reports.run.stages import best_of_stages, of_each_stage, sentences, summary, without_idle

Columns = dict[str, NDArray[Any]]


@pytest.fixture(scope="module")
def searched(shop_air: Study) -> Study:
    """The stack on shop air, its number of stages searched, at a screw compressor."""
    count = Range[int].model_construct(choices=(1, 2, 3), min=None, max=None, step=None)
    ranges = shop_air.ranges.model_copy(update={"stage_count": count})
    supply = shop_air.supply.model_copy(update={"specific_power": 390e3})
    return shop_air.model_copy(update={"ranges": ranges, "supply": supply})


def designs(powers: list[float]) -> Columns:
    """One feasible design of each number of stages, and a better one that misses a limit."""
    stages = np.array([1.0, 2.0, 3.0, 3.0])
    return {
        "stage_count": stages,
        "electric_power": np.array([*powers, 999.0]),
        "safety_margin": np.full(4, 1.3),
        "feasible": np.array([1.0, 1.0, 1.0, 0.0]),
        "disc_count": np.full(4, 4.0),
        "disc_count_2": np.full(4, 6.0),
        "disc_count_3": np.full(4, 7.0),
        "mass_flow": np.full(4, 0.0118),
    }


def test_the_best_of_each_number_of_stages_is_told_with_its_discs(searched: Study) -> None:
    best = best_of_stages(searched, designs([320.0, 390.0, 400.0]))
    assert [(each.stages, each.value, each.discs) for each in best] == [
        (1, 320.0, 4),
        (2, 390.0, 10),
        (3, 400.0, 17),
    ]
    assert summary(best).replace(THIN, " ") == (
        "against one stage: two stages +21.9 % and three stages +25.0 %"
    )
    told = " ".join(sentences(searched, best)).replace(THIN, " ")
    assert "two stages 390 W with 10 discs, of 1 such build" in told
    # A quarter more flow of 11.8 g/s: 2.95 g/s, at 1.188 kg/m3 and 390 kW/(m3/s) some 970 W.
    assert "takes about 25 % more flow, 2.95 g/s, and 9" in told
    assert "A third stage changes that by +2.6 % only" in told


def test_stages_that_bring_little_are_not_worth_their_parts(searched: Study) -> None:
    best = best_of_stages(searched, designs([380.0, 390.0, 370.0]))
    assert "One stage is the machine to make first" in sentences(searched, best)[-1]


def test_a_generator_that_holds_more_stages_back_is_named(searched: Study) -> None:
    loads = {"generator_load": np.array([0.87, 0.98, 0.96, 2.0])}
    told = sentences(searched, best_of_stages(searched, designs([320.0, 390.0, 370.0]) | loads))
    held = next(text for text in told if "holds that gain back" in text).replace(THIN, " ")
    assert "98.0 % of its rating with two stages, 87.0 % with one stage" in held
    free = {"generator_load": np.array([0.5, 0.6, 0.6, 2.0])}
    told = sentences(searched, best_of_stages(searched, designs([320.0, 390.0, 370.0]) | free))
    assert not any("holds that gain back" in text for text in told)


def test_nothing_is_said_where_the_number_of_stages_is_not_searched(shop_air: Study) -> None:
    assert best_of_stages(shop_air, designs([1.0, 2.0, 3.0])) == ()


def test_a_stage_without_its_own_number_has_that_of_the_first() -> None:
    values = {"disc_count": 4.0, "stage_count": 3.0, "disc_count_2": 6.0, "disc_count_3": np.nan}
    assert of_each_stage("disc_count", values) == [4.0, 6.0, 4.0]
    assert of_each_stage("disc_count", {"disc_count": 5.0, "disc_count_2": 6.0}) == [5.0]


def test_numbers_of_stages_that_a_build_has_not_are_blank() -> None:
    table = without_idle(designs([1.0, 2.0, 3.0]))
    assert np.isnan(table["disc_count_2"]).tolist() == [True, False, False, False]
    assert np.isnan(table["disc_count_3"]).tolist() == [True, True, False, False]
    assert not np.isnan(table["disc_count"]).any()


def test_ice_is_told_for_each_stage_that_leaves_cold() -> None:
    one = {"exhaust_temperature": 250.0}
    assert "The exhaust leaves at" in _ice(one)
    two = {"exhaust_temperature": 260.0, "exhaust_temperature_2": 240.0, "stage_count": 2.0}
    assert "stage 1 at" in _ice(two)
    assert "the narrow nozzles of the next stage first" in _ice(two)
    warm = {"exhaust_temperature": 280.0, "exhaust_temperature_2": 260.0, "stage_count": 2.0}
    assert "next stage" not in _ice(warm)
    assert _ice({"exhaust_temperature": 300.0}) == ""


@pytest.mark.parametrize("ends", [1.0, 2.0])
def test_what_is_drawn_between_two_stacks_fits_between_them(shop_air: Study, ends: float) -> None:
    values = shop_air.fixed() | {"disc_count": 5.0, "disc_diameter": 0.1, "exhaust_bore": 0.04}
    values |= {"gap": 4e-4, "stage_count": 2.0, "disc_count_2": 7.0, "exhaust_ends": ends}
    lane: Any = {key: np.array([value]) for key, value in values.items()}
    first, second = stacks_of(lane)
    assert second.discs == 7
    assert second.end - second.start == pytest.approx(7 * 1.0 + 6 * 0.4)
    side = 1e3 * float(values["side_gap"])
    parts = list(between_stages(first.end, second.start, side=side, both=ends > 1))
    assert all(first.end <= part.start < part.end <= second.start for part in parts)
    plates = sorted((p.start, p.end) for p in parts if p.look == "casing")
    assert all(low[1] < high[0] for low, high in pairwise(plates))
    assert len(plates) == 1 + ends
