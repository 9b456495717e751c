import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from engine.physics.arrays import Lanes
from engine.physics.flow.manifold import MOST_UNEVEN, uneven_flow


@pytest.mark.parametrize("stiffness", [30.0, 5.0, 2.0])
def test_unevenness_is_that_of_the_stream_integrated_along_its_way(stiffness: float) -> None:
    # Share W of the flow that has joined up to a place x, and what joins there, w = W': pressure by
    # momentum and friction, w by the pressure, with W = 1 at the outlet. Shot for w at the far end.
    momentum, rubbing = 2.66, 0.05 * 3.0

    def along(_: float, state: Lanes) -> Lanes:
        joined, joins = state
        fall = 2 * momentum * joined * joins + rubbing * joined**2  # over dynamic pressure
        return np.array([joins, fall / stiffness])

    def shot(first: float) -> tuple[float, float]:
        found = solve_ivp(along, (0, 1), (0.0, first), rtol=1e-9, atol=1e-10)
        return float(found.y[0, -1]), float(found.y[1, -1])

    first = float(brentq(lambda w: shot(w)[0] - 1, 0.01, 1.0))
    found = uneven_flow(
        dynamic_pressure=1.0,
        stiffness=stiffness,
        length_ratio=3.0,
        momentum=momentum,
        friction=0.05,
    )
    # Exact but for friction, which counts as if the flow joined evenly.
    assert_allclose(found, shot(first)[1] - first, rtol=0.01)


def test_a_stream_that_fluid_joins_from_the_side_falls_by_its_whole_momentum() -> None:
    # Without friction, momentum alone: twice the dynamic pressure.
    found = uneven_flow(
        dynamic_pressure=100.0, stiffness=1e4, length_ratio=9.0, momentum=2.0, friction=0.0
    )
    assert_allclose(found, 0.02, rtol=1e-12)


def test_gaps_that_do_not_hold_their_share_are_told_by_the_largest_number() -> None:
    given = {"length_ratio": 1.0, "momentum": 2.0, "friction": 0.0}
    found = uneven_flow(
        dynamic_pressure=np.array([1.0, 1.0, 1.0, np.nan]),
        stiffness=np.array([-5.0, 0.0, np.nan, 5.0]),
        **given,
    )
    assert_allclose(found, [MOST_UNEVEN, MOST_UNEVEN, np.nan, np.nan])
