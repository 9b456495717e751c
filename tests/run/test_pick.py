"""The pick and the calmer builds beside it, on small fronts judged by hand."""

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.errors import StudyError
from engine.run.chosen import row_named
from engine.run.pick import is_other_speed, on_front, picks_of, same_parts
from engine.study.study import Study

LIMITS = {"safety_margin": {"min": 1.2}, "stress_margin": {"min": 1.5}}
RPM = 2 * math.pi / 60


def _study(loads: Mapping[str, Any] | None = None, **more: Any) -> Study:
    given = {
        "title": "By hand",
        "supply": {"pressure": "7 bar absolute", "temperature": "20 degC"},
        "ranges": {
            "disc_count": {"min": 10, "max": 30},
            "disc_diameter": "150 mm",
            "gap": {"choices": ["0.3 mm", "0.4 mm"]},
            "inlet_angle": "10 deg",
            "exhaust_bore": "40 mm",
            "speed": {"min": "9000 rpm", "max": "18000 rpm", "step": "500 rpm"},
        },
        "limits": LIMITS,
        "aims": {"electric_power": "maximise", "safety_margin": "maximise"},
    }
    return Study.model_validate({**given, **({"loads": loads} if loads else {}), **more})


def _front(power: Sequence[float], p10: Sequence[float], **more: Any) -> dict[str, Any]:
    """A front whose builds hold everything unless `more` says otherwise."""
    n_rows = len(power)
    table: dict[str, Any] = {
        "electric_power": power,
        "electric_power_p10": 0.9 * np.array(power),
        "safety_margin": 1.1 * np.array(p10),
        "safety_margin_p10": p10,
        "stress_margin_p10": np.full(n_rows, 2.0),
        "safety_margin_chance": np.full(n_rows, 0.95),
        "stress_margin_chance": np.full(n_rows, 0.95),
        "peak_ratio": np.full(n_rows, 1.2),
        "design": np.arange(n_rows) + 1.0,
    }
    return {key: np.asarray(values, dtype=float) for key, values in {**table, **more}.items()}


def test_the_pick_is_the_best_whose_metal_holds_in_nine_of_ten_and_above_the_peak() -> None:
    front = _front(
        [250, 246, 243, 241, 180],
        [1.50, 1.22, 1.19, 1.27, 1.9],
        safety_margin_chance=[0.95, 0.52, 0.9, 0.91, 1.0],
        stress_margin_chance=[0.89, 1.00, 1.0, 0.90, 1.0],
    )
    picks = picks_of(_study(), front)
    assert picks is not None
    assert picks.rows["pick"] == 3
    assert picks.holds
    assert picks.misses["pick"] == ()
    assert picks.rows["most"] == 0
    assert picks.misses["most"] == ("stress_margin",)


def test_what_the_air_supply_allows_is_no_part_of_the_rule() -> None:
    front = _front([250, 200], [1.5, 1.9], mass_flow_chance=[0.1, 1.0], chance_all=[0.1, 1.0])
    picks = picks_of(_study(), front)
    assert picks is not None
    assert picks.rows["pick"] == 0
    assert picks.holds


def test_limits_that_the_study_does_not_state_are_not_asked_for() -> None:
    front = _front([250, 200], [1.5, 1.9], stress_margin_chance=[0.1, 1.0])
    picks = picks_of(_study(limits={"safety_margin": {"min": 1.2}}), front)
    assert picks is not None
    assert picks.rows["pick"] == 0


def test_where_none_passes_the_nearest_of_use_is_taken_and_what_it_misses_is_named() -> None:
    front = _front(
        [250, 200, 20],
        [1.10, 1.15, 1.9],
        safety_margin_chance=[0.2, 0.5, 0.95],
        stress_margin_chance=[0.95, 0.95, 0.89],
        peak_ratio=[1.2, 1.2, 1.2],
    )
    picks = picks_of(_study(), front)
    assert picks is not None
    assert (picks.rows["pick"], picks.holds) == (1, False)
    assert picks.misses["pick"] == ("safety_margin", "peak_ratio")
    # The last misses least, but with a twelfth of the power it is of no use.
    assert picks.misses["most"] == ("safety_margin", "peak_ratio")


def test_a_peak_that_is_not_known_is_not_passed() -> None:
    picks = picks_of(_study(), _front([250], [1.5], peak_ratio=[math.nan]))
    assert picks is not None
    assert not picks.holds
    assert picks.misses["pick"] == ("peak_ratio",)


def test_calmest_has_the_largest_margin_at_half_the_power_and_calmer_is_the_knee_between() -> None:
    # Half of 240 W is 120 W. In logarithms, from 0 at the pick to 1 at 2.4: margins 0.12, 0.32,
    # 0.58, 0.87 of the way. Between 0.25 and 0.75 the build of 220 W keeps 0.87 of the power's
    # way and 0.32 of the margin's, 1.20 in all; that of 180 W 0.58 and 0.58, 1.17.
    front = _front([240, 235, 220, 180, 150, 120, 110], [1.2, 1.3, 1.5, 1.8, 2.2, 2.4, 3.0])
    picks = picks_of(_study(), front | {"peak_ratio": np.full(7, 1.15)})
    assert picks is not None
    assert [picks.rows[role] for role in ("pick", "calmer", "calmest")] == [0, 2, 5]


def test_no_calmer_build_fails_sooner_as_drawn_than_the_pick() -> None:
    # The second turns out more alike, so its tenth percentile is larger: it is not calmer.
    front = _front([240, 200, 150], [1.3, 1.5, 1.4], safety_margin=[1.8, 1.6, 1.9])
    picks = picks_of(_study(), front)
    assert picks is not None
    assert [picks.rows[role] for role in ("pick", "calmer", "calmest")] == [0, 2, 2]


def test_a_calmer_build_gives_more_than_the_calmest() -> None:
    # The second is less calm and gives less than the last: nobody would cut it.
    picks = picks_of(_study(), _front([104, 94, 97], [1.37, 1.40, 1.44]))
    assert picks is not None
    assert (picks.rows["calmer"], picks.rows["calmest"]) == (2, 2)


def test_builds_that_carry_what_must_run_come_first_and_set_the_calmest() -> None:
    loads = {"appliances": {"kiln fan": {"running": "60 W"}}}
    front = _front([240, 180, 90, 70, 60], [1.3, 1.6, 2.2, 2.4, 3.0])
    picks = picks_of(_study(loads), front)
    assert picks is not None
    # Nine tenths of 70 W carry 60 W, nine tenths of 60 W do not.
    assert picks.rows["calmest"] == 3
    assert picks.rows["carrying"] == 3


def test_on_small_fronts_roles_coincide() -> None:
    one = picks_of(_study(), _front([240], [1.5]))
    assert one is not None
    assert set(one.rows.values()) == {0}
    two = picks_of(_study(), _front([240, 200], [1.5, 1.8]))
    assert two is not None
    assert [two.rows[role] for role in ("pick", "calmer", "calmest")] == [0, 1, 1]


def test_an_empty_front_has_no_pick() -> None:
    assert picks_of(_study(), {}) is None
    assert picks_of(_study(), _front([], [])) is None


def test_a_front_without_bands_is_judged_by_its_results_and_says_so() -> None:
    front = {
        "electric_power": np.array([250.0, 200.0]),
        "safety_margin": np.array([1.1, 1.5]),
        "stress_margin": np.array([2.0, 2.0]),
    }
    picks = picks_of(_study(), front)
    assert picks is not None
    assert (picks.rows["pick"], picks.judged, picks.holds) == (1, False, False)


def test_a_stack_at_another_speed_has_the_same_parts() -> None:
    study = _study()
    builds = {
        "disc_count": np.array([12.0, 12.0, 13.0]),
        "gap": np.full(3, 0.3e-3),
        "speed": np.array([18000, 12000, 18000]) * RPM,
    }
    parts = same_parts(study, builds)
    assert parts[0] == parts[1] != parts[2]
    assert is_other_speed(study, builds, 0, 1)
    assert not is_other_speed(study, builds, 0, 2)
    assert not is_other_speed(study, builds, 0, 0)


def test_the_front_as_drawn_and_the_firm_one_are_told_apart() -> None:
    front = {"front_kind": np.array(["nominal", "both", "firm"])}
    assert on_front(front, "nominal").tolist() == [True, True, False]
    assert on_front(front, "firm").tolist() == [False, True, True]
    # A robust run has the firm one alone, and a run of before has no column.
    assert on_front({"front_kind": np.array(["firm"])}, "nominal").tolist() == [True]
    assert on_front({"speed": np.ones(2)}, "firm").tolist() == [True, True]


def test_a_build_is_called_safest_only_where_the_second_aim_is_a_safety_margin() -> None:
    front = _front([250, 200], [1.5, 1.9], mass_flow=[0.012, 0.008])
    assert row_named(Path("runs/x"), "safest", _study(), front) == 1
    other = _study(aims={"electric_power": "maximise", "mass_flow": "minimise"})
    with pytest.raises(StudyError, match="design safest is not on the front"):
        row_named(Path("runs/x"), "safest", other, front)
