from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.bands.inputs import spread
from engine.model.evaluation import evaluate
from engine.study.study import Study

Columns = dict[str, NDArray[Any]]


@pytest.fixture(scope="module")
def unstated(shop_air: Study) -> Study:
    """The shop-air study without coefficients of its nozzles."""
    machine = shop_air.machine.model_copy(
        update={"nozzle_discharge": None, "nozzle_velocity": None}
    )
    return shop_air.model_copy(update={"machine": machine})


def test_a_nozzle_sawn_through_a_block_passes_less_than_one_relieved_behind(
    unstated: Study, builds: Callable[..., Columns]
) -> None:
    # 20 mm of land in a slot of 0.3 mm: 33 hydraulic diameters of friction factor 0.021, 0.7 in
    # all, so 0.80 by the Fanno table; two widths leave 0.96 to 0.98 (ISO 9300 and ISO 5167-3).
    lanes = builds(
        nozzle_land=np.array([2.0, 67.0, 67.0, 67.0]),
        nozzle_entry=np.array(["rounded", "rounded", "sharp", "sharp"]),
        nozzle_discharge=np.array([np.nan, np.nan, np.nan, 0.9]),
    )
    found = evaluate(unstated, lanes)
    assert_allclose(found["nozzle_discharge"], [0.965, 0.80, 0.73, 0.9], atol=0.012)
    assert np.all(np.diff(found["nozzle_velocity"][:3]) < 0)
    whole = found["mass_flow"] / found["nozzle_discharge"]
    assert_allclose(whole, whole[0], rtol=1e-12)  # choked: flow is as the coefficient


def test_walls_behind_the_throat_take_speed_but_no_flow(
    unstated: Study, builds: Callable[..., Columns]
) -> None:
    forms = np.array(["convergent", *["convergent-divergent"] * 3])
    ratios = np.array([1.3, 1.0, 1.15, 1.3])
    found = evaluate(unstated, builds(nozzle_form=forms, nozzle_area_ratio=ratios))
    assert_allclose(found["nozzle_discharge"], found["nozzle_discharge"][0], rtol=1e-12)
    speed = found["nozzle_velocity"]
    assert_allclose(speed[1], speed[0], rtol=1e-12)
    # A wedge of 5 degrees is 1.7 and 3.4 widths long: friction factor 0.02 over some 0.8 and 1.5
    # hydraulic diameters takes half of that from the momentum, less what the pressure gives back.
    assert np.all(np.diff(speed[1:]) < 0)
    assert 0.006 < 1 - speed[3] / speed[1] < 0.016


def test_a_coefficient_is_as_certain_as_it_is_near_one(
    unstated: Study, builds: Callable[..., Columns]
) -> None:
    found = evaluate(unstated, builds(nozzle_land=np.array([2.0, 67.0])))
    for table in (found, unstated.fixed() | builds(nozzle_land=np.array([2.0, 67.0]))):
        lanes = {key: np.broadcast_to(value, (2,)) for key, value in table.items()}
        known = spread(unstated, lanes, "nozzle_discharge")
        assert_allclose(known.middle, found["nozzle_discharge"], rtol=1e-12)
        assert_allclose(known.width, 0.01 + (1 - found["nozzle_discharge"]) / 5, rtol=1e-12)


def test_a_sharp_nozzle_too_short_to_fill_again_is_noted(
    unstated: Study, builds: Callable[..., Columns]
) -> None:
    lanes = builds(
        nozzle_land=np.array([0.5, 0.5, 3.0]), nozzle_entry=np.array(["sharp", "rounded", "sharp"])
    )
    notes = evaluate(unstated, lanes)["validity"]
    assert ["nozzle coefficients" in note for note in notes] == [True, False, False]
