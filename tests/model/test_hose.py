from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.bands.inputs import inputs
from engine.errors import StudyError
from engine.model.evaluation import evaluate
from engine.model.hose import ROUGHNESS
from engine.physics.flow.hose import hose_flow
from engine.run.preview import preview
from engine.study.reader import parse_study
from engine.study.study import Study
from engine.study.supply import source_of
from tests.support.wild import SUPPLIES, study_on

Columns = dict[str, NDArray[Any]]


def behind_hose(study: Study) -> Study:
    supply = study.supply.model_copy(update={"dial": "before-hose"})
    return study.model_copy(update={"supply": supply})


def passed(study: Study, found: Columns) -> NDArray[np.float64]:
    """Flow of the hose between the dial and the pressure found before the nozzles."""
    source = source_of(study.supply)
    return hose_flow(
        fluid=source.fluid,
        pressure=source.pressure,
        enthalpy=source.enthalpy,
        end_pressure=found["nozzle_pressure"],
        bore=found["hose_bore"],
        length=found["hose_length"],
        roughness=ROUGHNESS,
        friction_scale=found["hose_factor"],
        fittings_loss=found["couplings"] * found["coupling_loss"],
    )


@pytest.fixture(scope="module")
def hoses(shop_air: Study, builds: Callable[..., Columns]) -> tuple[Columns, Columns]:
    """The middling build with wide nozzles, at the dial and behind hoses of several bores."""
    lanes = builds(
        nozzle_width=0.5e-3,
        hose_bore=np.array([8.0, 10.0, 13.0, 100.0]) * 1e-3,
        hose_length=10.0,
        couplings=2,
    )
    return evaluate(shop_air, lanes), evaluate(behind_hose(shop_air), lanes)


def test_flow_of_hose_and_nozzles_agree(shop_air: Study, hoses: tuple[Columns, Columns]) -> None:
    found = hoses[1]
    assert list(found["status"]) == 4 * ["matched"]
    assert_allclose(passed(shop_air, found), found["mass_flow"], rtol=2e-6)
    assert np.all(np.diff(found["nozzle_pressure"]) > 0)


def test_a_narrow_hose_costs_power_and_a_wide_one_none(hoses: tuple[Columns, Columns]) -> None:
    at_dial, behind = hoses
    assert_allclose(at_dial["loss_hose"], 0.0, atol=1e-12)
    assert np.all(np.diff(behind["loss_hose"]) < 0)
    share = behind["electric_power"] / at_dial["electric_power"]
    assert share[0] < 0.9
    assert_allclose(share[3], 1.0, rtol=1e-3)
    assert_allclose(behind["loss_balance"] / behind["isentropic_power"], 0.0, atol=1e-12)


def test_where_nothing_chokes_hose_and_match_are_found_together() -> None:
    # water: the flow follows from the pressure before the nozzles less that around the rim
    study = behind_hose(study_on(SUPPLIES["water"]))
    lanes = {
        "disc_count": np.array([11, 21]),
        "disc_diameter": np.array([0.15, 0.15]),
        "gap": np.array([0.5e-3, 0.5e-3]),
        "inlet_angle": np.array([0.2, 0.2]),
        "exhaust_bore": np.array([0.05, 0.05]),
        "speed": np.array([20.0, 40.0]),
        "nozzle_width": np.array([2e-3, 2e-3]),
        "hose_bore": np.array([30e-3, 30e-3]),
        "hose_length": np.array([5.0, 5.0]),
    }
    found = evaluate(study, lanes)
    assert list(found["status"]) == ["matched", "matched"]
    drop = study.supply.pressure - found["nozzle_pressure"]
    assert np.all(drop > 0.02e5)
    assert_allclose(passed(study, found), found["mass_flow"], rtol=2e-6)


def test_a_study_with_a_hose_must_say_where_its_dial_is() -> None:
    text = """title: x
supply: {fluid: air, pressure: 6 bar gauge, temperature: 20 degC}
machine: {hose_length: 10 m}
ranges: {disc_count: 10, disc_diameter: 120 mm, gap: 0.3 mm, inlet_angle: 10 deg,
  exhaust_bore: 50 mm, speed: 15000 rpm}
"""
    with pytest.raises(
        StudyError, match=r"x.yaml:3: machine.hose_length: is a hose.*dial: before-hose"
    ):
        parse_study(text, "x.yaml")
    study = parse_study(text.replace("supply: {", "supply: {dial: before-hose, "), "x.yaml")
    assert {"hose_factor", "coupling_loss"} <= set(inputs(study))
    told = preview(study)
    assert 0 < told.hose_drop[0] == told.hose_drop[1]
    assert 0 < told.hose_share < 0.2
    near = parse_study(text.replace("supply: {", "supply: {dial: at-nozzles, "), "x.yaml")
    assert not {"hose_factor", "coupling_loss"} & set(inputs(near))
