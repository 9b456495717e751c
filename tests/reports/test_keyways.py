"""Keyways of shaft and hub in their solids, measured again by readers that are not ours."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate

from reports.design.facts import BuildData, build_facts_of
from reports.design.step import TurnedProduct, step_of
from reports.design.turned import Broach, Keyway, Turned, chamfered, rings
from reports.design.turned_parts import turned_parts
from tests.support.kernel import is_valid, solids, volume


@pytest.mark.parametrize(("diameter", "key"), [(8.0, (2.0, 1.2, 1.0)), (30.0, (8.0, 4.0, 3.3))])
def test_keyways_of_shaft_and_hub_are_in_the_solids(
    diameter: float, key: tuple[float, float, float], tmp_path: Path
) -> None:
    width, in_shaft, in_hub = key
    profile = chamfered(rings([(diameter + 3, 0, 10), (diameter, 10, 40)]), 0.5)
    keyway = Keyway(14.0, 34.0, width, in_shaft)
    shaft = Turned("shaft", profile, keyway=keyway)
    hub = Turned("hub", rings([(2 * diameter, 0, 25)], bore=diameter), broach=Broach(width, in_hub))
    # Metal above the floor, over the plan of the keyway, by a general library's integral.
    radius, half = diameter / 2, width / 2
    over = integrate.quad(
        lambda x: (20 - width + 2 * math.sqrt(half**2 - x**2))
        * (math.sqrt(radius**2 - x**2) - radius + in_shaft),
        -half, half, epsabs=0, epsrel=1e-12,
    )[0]  # fmt: skip
    assert replace(shaft, keyway=None).volume - shaft.volume == pytest.approx(over, rel=1e-9)
    for part in (shaft, hub):
        alone = TurnedProduct(part, ((0.0, 0.0, 0.0),), (False,))
        (solid,) = solids(step_of([alone], part.name), tmp_path)
        assert is_valid(solid)
        assert volume(solid) == pytest.approx(part.volume, rel=1e-9)


def test_a_slow_belt_has_its_key_in_shaft_and_pulley(sheet_data: BuildData) -> None:
    slow = {"drive_ratio": np.array([0.2]), "speed": np.array([500.0])}
    facts = build_facts_of(replace(sheet_data, front={**sheet_data.front, **slow}))
    parts = {part.name: part.part for part in turned_parts(facts)}
    keyway, broach = parts["shaft"].keyway, parts["pulley"].broach
    assert keyway is not None
    assert broach is not None
    assert broach.width == keyway.width
    assert keyway.start > parts["shaft"].length - facts.laid("hub_length") - 5
    beyond = replace(parts["shaft"], keyway=replace(keyway, end=2 * keyway.end))
    with pytest.raises(ValueError, match="the keyway lies in no cylinder"):
        _ = beyond.volume
