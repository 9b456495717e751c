"""Which builds of a long front a page lists."""

import math

import numpy as np

from reports.run.listed import MOST_LISTED, listed_of
from reports.run.search_facts import Aim


def test_a_long_front_is_listed_evenly_with_all_that_is_named() -> None:
    # On a quarter of a circle, most of them crowded at one end.
    turns = np.sort(np.random.default_rng(3).beta(0.4, 2.0, 1500)) * math.pi / 2
    front = {
        "design": np.arange(1500.0),
        "electric_power": 300 * np.cos(turns),
        "safety_margin": 1 + np.sin(turns),
    }
    aims = [Aim("electric_power", True, None), Aim("safety_margin", True, 1.0)]
    named = (3, 4, 700)
    listed = listed_of(front, aims, named)
    assert len(listed["design"]) == MOST_LISTED
    assert {0.0, 1499.0, *map(float, named)} <= set(listed["design"].tolist())
    assert (np.diff(listed["design"]) > 0).all()
    # No build is farther from one that is listed than half of what even steps of an arc are, twice.
    away = np.abs(turns[:, None] - turns[listed["design"].astype(int)]).min(axis=1)
    assert away.max() < 1.1 * math.pi / 2 / MOST_LISTED
    assert listed_of(listed, aims, named) is listed
