"""The table of generators, data sheets in a study, and voltages of its loads."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.errors import StudyError
from engine.model.evaluation import evaluate
from engine.study.generators import generator_values, generators
from engine.study.reader import parse_study, starter_text
from engine.study.study import Study
from tests.conftest import MakeBuilds

RPM = 2 * np.pi / 60


def parsed(machine: str, loads: str = "") -> Study:
    text = starter_text("sheet").partition("\nloads:")[0].partition("\nuncertainty:")[0]
    head, _, rest = text.partition("\nmachine:")
    comment, _, rest = rest.partition("\n")
    text = f"{head}\nmachine:{comment}\n{machine}{rest}"
    return parse_study(f"{text.rstrip()}\n{loads}", "sheet.yaml")


def with_machine(study: Study, **changes: Any) -> Study:
    return study.model_copy(update={"machine": study.machine.model_copy(update=changes)})


def test_every_kind_is_a_whole_data_sheet_that_says_where_it_is_from() -> None:
    assert len(generators()) >= 4
    for name, row in generators().items():
        values = generator_values(name)
        assert "no source" in row["source"], name
        assert {"generator_kv", "winding_resistance", "generator_speed"} <= set(values), name
        # At its highest speed and current the winding must not take half of what it makes.
        volts = values["generator_speed"] / values["generator_kv"]
        amps = values["generator_current"]
        assert values["winding_resistance"] * amps < 0.25 * volts, name
        assert values["no_load_loss"] < 0.25 * volts * amps, name
        overlap = 3 / np.pi * values["pole_pairs"] * values["winding_inductance"] / 2
        assert overlap * values["generator_speed"] * amps < 0.5 * volts, name


def test_a_kind_fills_what_the_study_leaves_out() -> None:
    plain = parsed("  generator: spindle-48v\n").fixed()
    assert_allclose(float(plain["generator_kv"]), 500 * RPM)
    assert plain["pole_pairs"] == 2
    own = parsed("  generator: spindle-48v\n  winding_resistance: 0.7 ohm\n").fixed()
    assert own["winding_resistance"] == 0.7
    assert own["generator_kv"] == plain["generator_kv"]


def test_without_a_data_sheet_a_generator_is_its_rating(
    shop_air: Study, builds: MakeBuilds
) -> None:
    # The law of the rating, written again: see engine.physics.machine.generator.
    found = evaluate(shop_air, builds())
    driven = found["shaft_power"] * found["drive_efficiency"]
    rated, turns = found["generator_power"], found["speed"] / found["generator_speed"]
    loss = rated * (1 / found["generator_efficiency"] - 1)
    iron = found["generator_iron_share"] * loss * turns**1.3
    copper = (
        (1 - found["generator_iron_share"]) * loss * (found["electric_power"] / rated / turns) ** 2
    )
    assert_allclose(found["electric_power"] + iron + copper, driven, rtol=1e-9)
    assert np.isnan(found["generator_kv"]).all()


def test_with_a_data_sheet_power_and_load_are_those_of_its_circuit(
    shop_air: Study, builds: MakeBuilds
) -> None:
    sheet = {
        "generator_kv": 400 * RPM, "winding_resistance": 0.5, "no_load_loss": 20.0,
        "generator_current": 8.0, "rectifier_drop": 1.5, "winding_temperature": 293.15,
    }  # fmt: skip
    found = evaluate(with_machine(shop_air, **sheet), builds())
    driven = found["shaft_power"] * found["drive_efficiency"]
    volts = found["speed"] / (400 * RPM)
    left = driven - 20.0 * (found["speed"] / found["generator_speed"]) ** 1.3
    amps = left / volts
    assert_allclose(found["electric_power"], left - 1.5 * amps - 0.5 * amps**2, rtol=1e-9)
    assert_allclose(found["generator_load"], amps / 8.0, rtol=1e-9)
    assert_allclose(found["loss_balance"], 0.0, atol=1e-7)


BROKEN = {
    "no resistance": ("  generator_kv: 500 rpm/V\n", "", "generator_kv", "add winding_resistance"),
    "no constant": (
        "  winding_resistance: 0.4 ohm\n", "", "winding_resistance", "add generator_kv",
    ),
    "unknown kind": ("  generator: spindel-48v\n", "", "generator", "spindle-48v"),
    "no unit": ("  generator_kv: 500\n", "", "generator_kv", "as in 500 rpm/V"),
    "half a dump": (
        "", "loads:\n  voltage: 48 V\n  dump_voltage: 60 V\n  appliances: {laptop: 1}\n",
        "dump_voltage", "add dump_power",
    ),
    "dump below the bus": (
        "",
        "loads: {voltage: 48 V, dump_voltage: 40 V, dump_power: 90 W, appliances: {laptop: 1}}\n",
        "dump_voltage", "raise it",
    ),
    "lowest above its own": (
        "", "loads:\n  voltage: 48 V\n  appliances: {laptop: {lowest_voltage: 50 V}}\n",
        "lowest_voltage", "correct one of them",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
def test_half_a_data_sheet_is_told_with_its_key_and_remedy(case: str) -> None:
    machine, loads, key, remedy = BROKEN[case]
    with pytest.raises(StudyError) as caught:
        parsed(machine, loads)
    (problem,) = caught.value.problems
    assert problem.line is not None
    assert problem.key is not None
    assert problem.key.endswith(key)
    assert remedy in str(problem)
