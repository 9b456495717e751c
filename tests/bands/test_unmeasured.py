"""What was never measured is uncertain unless the study says otherwise, and moves the numbers."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from engine.bands.inputs import inputs, spread
from engine.model.evaluation import evaluate
from engine.study.study import Study
from engine.study.uncertainty import SHARED, Uncertainty

UNMEASURED = (
    "rim_mixing",
    "casing_factor",
    "filling_factor",
    "exchange_factor",
    "entry_factor",
    "transition_factor",
    "windage_factor",
)


@pytest.mark.parametrize("robust", [False, True])
def test_each_is_uncertain_by_default_with_its_reason(shop_air: Study, *, robust: bool) -> None:
    search = shop_air.search.model_copy(update={"robust": robust})
    study = shop_air.model_copy(update={"search": search})
    # Bands, sensitivities and chances all draw the same inputs.
    assert set(UNMEASURED) <= set(inputs(study)) & set(SHARED)
    for key in UNMEASURED:
        field = Uncertainty.model_fields[key]
        assert field.default > 0
        assert isinstance(field.json_schema_extra, dict)
        assert field.json_schema_extra["source"]


def test_a_study_states_its_own(shop_air: Study, builds: Callable[..., dict[str, Any]]) -> None:
    stated = Uncertainty.model_validate({"transition_factor": "10 %", "casing_factor": "0"})
    study = shop_air.model_copy(update={"uncertainty": stated})
    assert "casing_factor" not in inputs(study)
    lanes = {**study.fixed(), **builds()}
    lanes = {key: np.broadcast_to(np.asarray(value), 1) for key, value in lanes.items()}
    assert spread(study, lanes, "transition_factor").width == pytest.approx(0.1)
    assert spread(shop_air, lanes, "transition_factor").width == pytest.approx(0.25)


def test_each_moves_the_power_of_a_build_in_transition(
    shop_air: Study, builds: Callable[..., dict[str, Any]]
) -> None:
    usual, lower = shop_air.fixed(), len(UNMEASURED)
    lanes = {key: np.repeat(values, lower + 1) for key, values in builds(gap=0.25e-3).items()}
    lanes |= {
        key: np.where(np.arange(lower + 1) == n, 0.8, 1.0) * usual[key]
        for n, key in enumerate(UNMEASURED)
    }
    found = evaluate(shop_air, lanes)
    assert 0.02 < found["turbulent_share"][lower] < 0.9  # near the rim
    power = found["electric_power"]
    moved = np.abs(power[:lower] / power[lower] - 1)
    assert (moved > 1e-5).all(), dict(zip(UNMEASURED, moved.tolist(), strict=True))
    # Turbulence that begins sooner takes more of the radius.
    early = found["turbulent_share"][UNMEASURED.index("transition_factor")]
    assert early > found["turbulent_share"][lower]
