"""A study of a pump that moves a gas: its keys, its density, and what it cannot have."""

import pytest
from CoolProp.CoolProp import PropsSI

from engine import pump_columns
from engine.columns import columns_of
from engine.errors import StudyError
from engine.model.limits import with_standing
from engine.study.pump.study import PumpStudy
from engine.study.reader import parse_study
from tests.support.places import STUDIES

FUMES = (STUDIES / "bench-fumes.yaml").read_text(encoding="utf-8")


def blower(text: str = FUMES) -> PumpStudy:
    study = parse_study(text, "fumes.yaml")
    assert isinstance(study, PumpStudy)
    return study


def test_air_makes_a_pump_a_blower_of_the_density_of_a_fluid_library() -> None:
    study = blower()
    assert study.works_as == "blower"
    exact = PropsSI("D", "T", 293.15, "P", 101325.0, "Air")
    assert study.supply.density == pytest.approx(exact, rel=1e-3)
    # What hose and filter take, as a head of that air.
    assert study.duty.system_head(500 / 60e3) == pytest.approx(1500 / (exact * 9.80665), rel=1e-3)
    assert study.duty.system_head(0.0) == 0


def test_nothing_of_a_blower_boils() -> None:
    assert not set(pump_columns.NOT_OF_GASES) & columns_of("blower").keys()
    assert set(pump_columns.NOT_OF_GASES) < columns_of("pump").keys()
    limits = with_standing(blower().all_limits, "blower")
    assert "npsh_margin" not in limits
    assert limits["eye_ratio"].max == 0.8
    assert columns_of("blower")["wire_to_water"].label == "Wire to gas"
    assert columns_of("pump")["wire_to_water"].label == "Wire to water"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("fluid: air", "fluid: steam", "supply.fluid: steam is a vapour, which may condense"),
        ("pressure_loss: 1500 Pa", "head_loss: 3 m",
         "duty.head_loss: 3 m of air weigh 35.4 Pa; expected pressure_loss of a gas"),
        ("pressure_loss: 1500 Pa", "static_head: 3 m", "write static_pressure: 800 Pa"),
        ("pressure_loss: 1500 Pa", "pressure_loss: 1500 Pa\n  head_loss: 3 m",
         "duty.pressure_loss: stands beside head_loss"),
        ("pressure_loss: 1500 Pa", "pressure_loss: 3 m", "duty.pressure_loss"),
        ("motor_load: {max: 100 %}", "npsh_margin: {min: 1 m}",
         "limits.npsh_margin: has no meaning for air, which does not boil; take it out"),
        ("safety_margin: maximise", "npsh_margin: maximise", "aims.npsh_margin: has no meaning"),
        ("fluid: air", "fluid: air\n  glycerol_share: 40 %", "has no meaning for air"),
        ("temperature: 20 degC", "temperature: -90 degC", "supply.temperature"),
    ],
)  # fmt: skip
def test_what_a_blower_cannot_have_gets_words(old: str, new: str, said: str) -> None:
    assert FUMES.count(old) == 1
    with pytest.raises(StudyError) as caught:
        blower(FUMES.replace(old, new))
    assert said in str(caught.value)
    assert "fumes.yaml:" in str(caught.value)


def test_a_liquid_may_have_its_duty_as_pressures_too() -> None:
    water = FUMES.replace("fluid: air", "fluid: water").replace("1500 Pa", "0.2 bar")
    study = blower(water.replace("pressure_loss", "static_pressure: 0.1 bar\n  pressure_loss"))
    assert study.works_as == "pump"
    # 0.1 bar is a metre of water, and the loss twice that at its flow.
    assert study.duty.system_head(0.0) == pytest.approx(1.02, rel=3e-3)
    assert study.duty.system_head(500 / 60e3) == pytest.approx(3.06, rel=3e-3)
