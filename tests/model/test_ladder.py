from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.model.evaluation import evaluate
from engine.model.ladder import KEYS, ladder
from engine.study.study import Study


def test_what_gaps_and_spokes_take_is_the_torque_of_the_rotor(
    shop_air: Study, builds: Callable[..., dict[str, NDArray[Any]]]
) -> None:
    # Shaft and rotor differ by drag; the disc edges and driven faces are the rest, a small part.
    found = {key: values[0] for key, values in evaluate(shop_air, builds()).items()}
    jets, ring, bore, outlet = ladder(found)
    assert jets.passing > ring.passing > bore.passing > outlet.passing > 0
    assert_allclose(ring.passing - outlet.passing, found["rotor_torque"], rtol=0.12)
    assert_allclose(bore.passing - outlet.passing, found["web_power"] / found["speed"], rtol=1e-9)
    by_hand = found["mass_flow"] * found["jet_speed"] * np.cos(np.radians(10)) * 0.075
    assert_allclose(jets.passing, by_hand, rtol=1e-12)


def test_there_is_no_ladder_without_an_operating_point() -> None:
    assert ladder(dict.fromkeys(KEYS, np.nan)) == ()
    assert ladder({}) == ()
