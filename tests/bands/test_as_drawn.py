"""A limit on where the model holds is no matter of tolerances."""

from collections.abc import Callable
from typing import Any

import numpy as np

from engine.bands.results import with_bands
from engine.model.evaluation import evaluate
from engine.study.aims import robust_limits
from engine.study.study import Study
from engine.study.values import Limit


def test_a_share_of_the_rim_at_its_limit_costs_no_chance(
    shop_air: Study, random_builds: Callable[[int, int], dict[str, Any]]
) -> None:
    builds = {key: values[:6] for key, values in random_builds(40, 5).items()}
    found = evaluate(shop_air, builds)
    edge = Limit[float].model_construct(min=None, max=float(np.nanmin(found["edge_share"])))
    bounded = shop_air.model_copy(update={"limits": {**shop_air.limits, "edge_share": edge}})
    plain, held = (with_bands(study, found, samples=16) for study in (shop_air, bounded))
    np.testing.assert_array_equal(held["chance_all"], plain["chance_all"])
    assert "edge_share_chance" not in held
    assert "edge_share_p90" not in held


def test_a_robust_study_bounds_it_as_drawn() -> None:
    limit = Limit[float].model_construct(min=None, max=0.69)
    assert robust_limits({"edge_share": limit}) == {"edge_share": limit}
