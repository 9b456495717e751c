"""Bands against closed forms and very many samples, and the rules by which samples are drawn."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray
from scipy.stats import qmc

from engine.bands.inputs import drawn, fitted, hypercube, inputs, sampled_shares
from engine.bands.results import UNSAMPLED, evaluate_judged, plain_limits, with_bands
from engine.model.evaluation import evaluate
from engine.model.limits import violations, with_standing
from engine.physics.arrays import Reason
from engine.run.folder import read_front
from engine.run.launch import run_study
from engine.study.fit import Fit
from engine.study.reader import starter_text
from engine.study.study import Study
from engine.study.uncertainty import Uncertainty
from tests.support.places import STUDIES

Columns = dict[str, NDArray[Any]]
MakeBuilds = Callable[..., Columns]
NORMAL_P90 = 1.2815515655446004
"""Standard normal quantile of 0.9: Abramowitz and Stegun 1964, table 26.5 (from memory)."""
SUPPLIES: dict[str, dict[str, str]] = {
    "air": {"pressure": "6 bar gauge", "temperature": "20 degC"},
    "steam": {"fluid": "steam", "pressure": "5 bar gauge", "superheat": "60 K"},
    "water": {"fluid": "water", "pressure": "0.5 bar gauge", "temperature": "12 degC"},
}


def only(**given: str | float) -> dict[str, str]:
    """Uncertainty section in which only this is uncertain."""
    fields = Uncertainty.model_fields
    exact = dict.fromkeys(("gap", "disc_thickness", "disc_diameter", "exhaust_bore"), "0 mm")
    exact |= {"nozzle_width": "0 mm", "seal_clearance": "0 mm", "inlet_angle": "0 deg"}
    exact |= {"supply_temperature": "0 K"}
    none = {key: exact.get(key, "0") for key in fields if key != "samples"}
    return none | {key: str(value) for key, value in given.items()}


def changed(study: Study, **sections: Any) -> Study:
    """Study with other sections, from their texts."""
    texts = {
        "title": study.title,
        "supply": {"pressure": "6 bar gauge", "temperature": "20 degC"},
        "machine": {"seal_clearance": "0.05 mm", "seal_throttles": 3, "exhaust_blockage": "0.1"},
        "ranges": {
            "disc_count": {"min": 3, "max": 30},
            "disc_diameter": {"min": "80 mm", "max": "200 mm"},
            "gap": {"min": "0.1 mm", "max": "0.6 mm"},
            "inlet_angle": {"min": "5 deg", "max": "30 deg"},
            "exhaust_bore": {"min": "20 mm", "max": "100 mm"},
            "speed": {"min": "100 rpm", "max": "40000 rpm"},
        },
    }
    return Study.model_validate(texts | sections)


def one(builds: MakeBuilds, study: Study, **changes: Any) -> Columns:
    return evaluate(study, {k: v for k, v in builds(**changes).items() if k in study.searched()})


def test_a_normal_discharge_coefficient_gives_a_normal_flow(
    shop_air: Study, builds: MakeBuilds
) -> None:
    study = changed(
        shop_air,
        limits={"mass_flow": {"max": "100 g/s"}},
        uncertainty=only(nozzle_discharge=0.01, samples=4096),
    )
    found = with_bands(study, one(builds, study))
    # A choked nozzle passes flow in proportion to its coefficient.
    share = NORMAL_P90 * 0.01 / found["nozzle_discharge"]
    usual = found["mass_flow"]
    assert_allclose(found["mass_flow_p10"] / usual, 1 - share, rtol=2e-4)
    assert_allclose(found["mass_flow_p50"] / usual, 1.0, rtol=2e-4)
    assert_allclose(found["mass_flow_p90"] / usual, 1 + share, rtol=2e-4)


def test_height_follows_a_flat_tolerance_of_the_gap(shop_air: Study, builds: MakeBuilds) -> None:
    study = changed(
        shop_air,
        limits={"stack_height": {"max": "100 mm"}},
        uncertainty=only(gap="0.02 mm", samples=4096),
    )
    found = with_bands(study, one(builds, study))
    gaps = found["disc_count"] - 1
    # A tenth of a flat distribution is in the last tenth of its width.
    assert_allclose(found["stack_height_p90"], found["stack_height"] + gaps * 0.016e-3, rtol=1e-4)
    assert_allclose(found["stack_height_p10"], found["stack_height"] - gaps * 0.016e-3, rtol=1e-4)


def test_a_limit_at_the_median_is_met_by_half_of_the_samples(
    shop_air: Study, builds: MakeBuilds
) -> None:
    plain = changed(shop_air)
    flow = one(builds, plain)["mass_flow"].item()
    study = changed(
        shop_air,
        limits={"mass_flow": {"max": f"{flow} kg/s"}, "stack_height": {"max": "1 m"}},
        uncertainty=only(nozzle_discharge=0.01, samples=1024),
    )
    found = with_bands(study, one(builds, study))
    assert_allclose(found["mass_flow_chance"], 0.5, atol=0.01)
    assert_array_equal(found["stack_height_chance"], 1.0)
    assert_array_equal(found["chance_all"], found["mass_flow_chance"])


def test_256_samples_give_p10_and_p90_of_very_many_within_some_percent(
    shop_air: Study, builds: MakeBuilds
) -> None:
    study = changed(shop_air)
    gap, discs = np.array([0.2e-3, 0.3e-3, 0.4e-3]), np.array([11, 10, 8])
    few = one(builds, study, gap=gap, disc_count=discs)
    found, very_many = with_bands(study, few), with_bands(study, few, samples=16_384)
    for key in ("electric_power_p10", "electric_power_p90", "safety_margin_p10"):
        assert_allclose(found[key], very_many[key], rtol=0.015, err_msg=key)


def test_the_hypercube_is_that_of_a_general_library() -> None:
    for n_inputs, n_samples, seed in ((5, 64, 3), (1, 2, 0)):
        expected = qmc.LatinHypercube(n_inputs, rng=seed).random(n_samples)
        assert_array_equal(hypercube(n_inputs, n_samples, seed), expected)


def test_no_value_is_drawn_outside_its_possible_range(shop_air: Study, builds: MakeBuilds) -> None:
    study = changed(
        shop_air,
        uncertainty={
            "nozzle_discharge": "0.3", "generator_efficiency": "0.5", "notch_factor": "2",
            "seal_clearance": "1 mm", "supply_pressure": "0.9", "disc_thickness": "1 mm",
        },
    )  # fmt: skip
    unit = hypercube(len(inputs(study)), 2000, seed=1)
    given = drawn(study, one(builds, study), unit)
    assert given["nozzle_discharge"].min() > 0
    assert given["nozzle_discharge"].max() <= 1
    assert given["generator_efficiency"].min() > 0
    assert given["generator_efficiency"].max() <= 1
    assert given["notch_factor"].min() >= 1
    assert given["seal_clearance"].min() == 0
    assert given["supply_pressure"].min() > study.supply.back_pressure
    # Laser-cut sheet comes from 0.3 to 3 mm, shared/processes.toml.
    assert given["disc_thickness"].min() >= 0.3e-3


def test_samples_share_their_coefficients_and_supply_but_not_their_tolerances(
    shop_air: Study, builds: MakeBuilds
) -> None:
    study = changed(shop_air)
    two = one(builds, study, disc_thickness=np.array([0.5e-3, 0.5e-3]), speed=np.array([900, 1500]))
    two["process"] = np.array(["laser-cut", "ground"])
    two["disc_thickness"] = np.array([1e-3, 1e-3])
    given = drawn(study, two, hypercube(len(inputs(study)), 64, seed=1))
    for key in ("nozzle_velocity", "supply_pressure", "supply_temperature"):
        first, second = given[key].reshape(2, 64)
        assert_array_equal(first, second)
    first, second = given["gap"].reshape(2, 64) - two["gap"][0]
    # Spacers of laser-cut stacks are good to 10 µm, of ground ones to 3 µm, shared/processes.toml.
    assert_allclose(first / 10e-6, second / 3e-6, rtol=1e-6)
    assert 0.9 * 10e-6 < np.abs(first).max() <= 10e-6


def test_bands_of_a_design_do_not_depend_on_the_others(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    study = changed(shop_air, uncertainty={"samples": "64"})
    results = evaluate(
        study, {k: v for k, v in random_builds(5, 2).items() if k in study.searched()}
    )
    together = with_bands(study, results)
    alone = with_bands(study, {key: values[3:4] for key, values in results.items()})
    for key in ("electric_power_p10", "safety_margin_p90", "chance_all"):
        assert_allclose(alone[key], together[key][3:4], rtol=1e-9, err_msg=key)


def test_a_design_without_operating_point_has_no_band(shop_air: Study, builds: MakeBuilds) -> None:
    study = changed(shop_air, uncertainty={"samples": "32"})
    found = with_bands(study, one(builds, study, speed=np.array([1500.0, 90_000.0])))
    assert found["status"][1] != Reason.MATCHED.name.lower()
    assert np.isfinite(found["electric_power_p10"]).tolist() == [True, False]
    assert np.isfinite(found["chance_all"]).tolist() == [True, False]


def test_a_study_with_exact_inputs_has_bands_without_width(
    shop_air: Study, builds: MakeBuilds
) -> None:
    study = changed(shop_air, uncertainty=only(samples=16))
    found = with_bands(study, one(builds, study))
    for part in ("p10", "p50", "p90"):
        assert_allclose(found[f"electric_power_{part}"], found["electric_power"], rtol=1e-9)


def test_bands_of_a_resolved_design_enclose_its_resolved_power(
    shop_air: Study, builds: MakeBuilds
) -> None:
    study = changed(shop_air, search={"flow": "resolved"}, uncertainty=only(samples=16))
    found = with_bands(study, one(builds, study))
    assert found["gap_flow"] == "resolved"
    for part in ("p10", "p90"):
        assert_allclose(found[f"electric_power_{part}"], found["electric_power"], rtol=1e-9)


@pytest.mark.parametrize("name", SUPPLIES)
def test_a_supply_given_for_a_lane_equals_a_study_with_that_supply(
    shop_air: Study, builds: MakeBuilds, name: str
) -> None:
    texts = SUPPLIES[name]
    study = changed(shop_air, supply=texts)
    slow = {"speed": np.array([60.0])} if name == "water" else {}
    build = {k: v for k, v in builds(**slow).items() if k in study.searched()}
    pressure = study.supply.pressure * 1.03
    temperature = study.supply.temperature + (0.0 if name == "steam" else 4.0)
    supply = {key: value for key, value in texts.items() if key not in ("superheat", "temperature")}
    supply |= {"pressure": f"{pressure} Pa absolute", "temperature": f"{temperature} K"}
    if name == "steam":  # its enthalpy does not change, so it is slightly colder
        lane = evaluate(study, build | {"supply_pressure": np.array([pressure])})
        supply["temperature"] = f"{lane['disc_temperature'].item()} K"
    lane = evaluate(
        study,
        build
        | {"supply_pressure": np.array([pressure]), "supply_temperature": np.array([temperature])},
    )
    whole = evaluate(changed(shop_air, supply=supply), build)
    # A liquid keeps the density of the study's own state; steam has another table.
    rough = {"air": 1e-6, "steam": 2e-3, "water": 2e-3}
    for key in ("electric_power", "mass_flow", "supply_power", "disc_temperature", "jet_speed"):
        assert_allclose(lane[key], whole[key], rtol=rough[name], err_msg=key)


def test_a_robust_study_is_judged_by_the_poor_ends_of_its_bands(
    shop_air: Study, builds: MakeBuilds
) -> None:
    study = changed(
        shop_air,
        limits={"gap_hold": {"min": "0.5"}, "mass_flow": {"max": "12 g/s"}},
        search={"robust": "true"},
    )
    assert list(study.aims) == ["electric_power_p10", "safety_margin_p10"]
    assert set(study.all_limits) == {"gap_hold_p10", "mass_flow_p90"}
    assert {key: (limit.min, limit.max) for key, limit in plain_limits(study).items()} == {
        "gap_hold": (0.5, None),
        "mass_flow": (None, 0.012),
    }
    build = {k: v for k, v in builds().items() if k in study.searched()}
    found = evaluate_judged(study, build)
    assert found["electric_power_p10"] < found["electric_power"] < found["electric_power_p90"]
    assert violations(found, with_standing(study.all_limits)).shape == (1, 6)
    # The values by which a front was judged do not change when more samples are taken.
    again = with_bands(study, found)
    assert_array_equal(again["electric_power_p10"], found["electric_power_p10"])
    assert again["electric_power_p90"] != found["electric_power_p90"]


def test_bands_come_in_the_same_order_on_every_start() -> None:
    """Sets are ordered by a seed that Python draws when it starts; stored tables must not be."""
    code = (
        "import numpy as np\n"
        "from engine.bands.results import with_bands\n"
        "from engine.study.reader import read_study\n"
        f"study = read_study({str(STUDIES / 'lane-workshop.yaml')!r})\n"
        "print(*with_bands(study, {'status': np.array([-1])}, samples=32))\n"
    )
    orders = {
        subprocess.run(  # noqa: S603
            [sys.executable, "-c", code],
            env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path), "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in "123"
    }
    assert len(orders) == 1
    assert "stress_margin_chance" in orders.pop()


def test_bands_come_the_same_in_two_steps(shop_air: Study, builds: MakeBuilds) -> None:
    study = changed(shop_air, search={"robust": "true"})
    build = {k: v for k, v in builds().items() if k in study.searched()}
    whole = evaluate_judged(study, build)
    drawn_only = evaluate_judged(study, build | {UNSAMPLED: np.ones(1)})
    assert "electric_power_p10" not in drawn_only
    assert UNSAMPLED not in drawn_only
    found = evaluate_judged(study, drawn_only)
    assert found.keys() == whole.keys()
    for key, values in whole.items():
        assert_array_equal(found[key], values, err_msg=key)


def test_a_robust_run_meets_its_limits_in_most_samples(tmp_path: Path) -> None:
    text = starter_text("robust").replace("designs: 20000", "designs: 600\n  robust: true")
    path = tmp_path / "robust.yaml"
    path.write_text(text, encoding="utf-8")
    outcome = run_study(path, tmp_path / "run")
    front = read_front(outcome.folder)
    assert outcome.state.feasible
    # Chances are of 256 samples; the search used 32.
    for key in ("stress_margin", "gap_hold", "mass_flow"):
        assert (front[f"{key}_chance"] >= 0.8).all(), key
    assert (np.diff(front["electric_power_p10"]) <= 0).all()


def test_fitted_numbers_are_drawn_with_their_spread_and_correlation(
    shop_air: Study, builds: MakeBuilds
) -> None:
    standard = {"rim_mixing": 0.01, "seal_clearance": 4e-6, "windage_factor": 0.1}
    correlation = np.array([[1.0, -0.9, 0.0], [-0.9, 1.0, 0.3], [0.0, 0.3, 1.0]])
    values = {"rim_mixing": 0.8, "seal_clearance": 5e-5, "windage_factor": 1.2}
    study = changed(shop_air).model_copy(update={"fit": Fit(values, standard, correlation)})
    assert inputs(study)[-3:] == tuple(standard)
    assert len(set(inputs(study))) == len(inputs(study))
    build = one(builds, study) | {key: np.array([value]) for key, value in values.items()}
    given = drawn(study, build, sampled_shares(study, 4000, seed=3))
    found = np.stack([given[key] for key in standard])
    # Sample moments of a normal distribution: within four standard errors (1/sqrt(2 n), 1/sqrt(n))
    assert_allclose(found.std(axis=1), list(standard.values()), rtol=4 / np.sqrt(8000))
    assert_allclose(found.mean(axis=1), list(values.values()), rtol=5e-3)
    assert_allclose(np.corrcoef(found), correlation, atol=4 / np.sqrt(4000))
    stated = study.model_copy(update={"uncertainty": Uncertainty(rim_mixing="0.02")})
    assert "rim_mixing" not in fitted(stated)
