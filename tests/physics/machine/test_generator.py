from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.optimize import brentq

from engine.fluids.by_name import free_air_density
from engine.physics.machine.generator import generator_output
from engine.physics.machine.supply_power import free_air_flow
from engine.units import FREE_AIR_DENSITY

RATING: dict[str, Any] = {
    "rated_power": 250.0,
    "rated_speed": 2000.0,
    "rated_efficiency": 0.8,
    "iron_share": 0.35,
}


def output(input_power: Any, speed: Any = 2000.0, **changes: Any) -> NDArray[np.float64]:
    return generator_output(input_power=input_power, speed=speed, **{**RATING, **changes})


def test_at_its_rating_the_generator_has_its_rated_efficiency() -> None:
    assert_allclose(output(250.0 / 0.8), 250.0, rtol=1e-12)


@pytest.mark.parametrize("speed", [400.0, 1000.0, 2000.0, 3000.0])
@pytest.mark.parametrize("watts", [60.0, 120.0, 500.0])
def test_output_and_losses_add_up_to_the_input(speed: float, watts: float) -> None:
    # Independent: the loss model (common practice, no source) solved by bracketing, not by formula.
    loss = 250.0 * (1 / 0.8 - 1)

    def left(power: float) -> float:
        iron = 0.35 * loss * (speed / 2000.0) ** 1.3
        copper = 0.65 * loss * (power / 250.0 * 2000.0 / speed) ** 2
        return float(watts - power - iron - copper)

    assert_allclose(output(watts, speed), brentq(left, 0.0, watts, xtol=1e-13), rtol=1e-9)


def test_a_shaft_that_does_not_cover_the_iron_loss_draws_power() -> None:
    iron = 0.35 * 62.5
    assert_allclose(output(np.array([iron, 0.0, -50.0])), [0.0, -iron, -50.0 - iron], atol=1e-12)


def test_output_is_continuous_where_it_changes_sign() -> None:
    around = 0.35 * 62.5 + np.array([-1e-9, 1e-9])
    assert_allclose(output(around), 0.0, atol=2e-9)


def test_slow_turning_costs_copper_and_fast_turning_costs_iron() -> None:
    # Consequence of voltage in proportion to speed: common practice, no source.
    efficiency = output(150.0, np.array([300.0, 1500.0, 12_000.0])) / 150.0
    assert efficiency[1] > max(efficiency[0], efficiency[2])


def test_a_lossless_generator_gives_what_it_gets() -> None:
    assert_allclose(output(np.array([1.0, 400.0]), rated_efficiency=1.0), [1.0, 400.0])


def test_free_air_is_air_at_one_bar_and_twenty_degrees() -> None:
    # ISO 1217 reference state: 1e5 / (287.05 x 293.15) = 1.18837 kg/m3, so 10 g/s is 504.9 l/min.
    # Real air is 0.04 % denser than the ideal gas that reads a flow of free air in a study.
    assert_allclose(free_air_density("air"), 1.18837, rtol=5e-4)
    assert_allclose(free_air_density("air"), FREE_AIR_DENSITY, rtol=5e-4)
    flow = free_air_flow(mass_flow=0.010, reference_density=free_air_density("air"))
    assert_allclose(flow * 60e3, 504.9, atol=0.3)
