"""A ladder of sizes: what is scaled, what is refused, and the page and command of it."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.catalogue import bearings
from engine.cli import main
from engine.errors import StudyError
from engine.run.sizes import (
    RULES,
    Rung,
    climb,
    flow_dimension,
    ladder_of,
    middle_diameter,
    of_diameter,
    refuse_unscalable,
    scaled,
)
from engine.study.parts import nut_passes
from engine.study.reader import read_study
from engine.study.study import Study
from reports.sizes import HOME, LogScale, honest_text, rules_text, write_sizes
from tests.support.places import ROOT

LANE = ROOT / "studies" / "lane-workshop.yaml"


@pytest.fixture(scope="module")
def lane() -> Study:
    study = read_study(LANE)
    search = study.search.model_copy(update={"designs": 400, "generation": 100})
    return study.model_copy(update={"search": search})


@pytest.fixture(scope="module")
def rungs(lane: Study) -> list[Rung]:
    return climb([scaled(lane, ratio) for ratio in (0.5, 4.0)])


def test_a_ladder_goes_up_by_equal_factors_and_takes_the_unit_from_either_end() -> None:
    # Free air of 1.188 kg/m3: 600 l/min are 11.9 g/s.
    flows = ladder_of("300..1200l/min", 3, "air_flow")
    assert flows[1] == pytest.approx(0.0119, rel=0.01)
    assert flows == ladder_of("300 l/min..1200 l/min", 3, "air_flow")
    assert flows[1] / flows[0] == pytest.approx(flows[2] / flows[1])
    assert ladder_of("5..10 g/s", 2, "mass_flow") == pytest.approx([0.005, 0.01])


@pytest.mark.parametrize("text", ["300", "300..100l/min", "..l/min", "1..2 bananas", "-1..5l/min"])
def test_a_ladder_that_is_none_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(StudyError, match=r"write 300\.\.10000l/min"):
        ladder_of(text, 3, "air_flow")


def test_everything_with_a_rule_is_scaled_by_it_and_all_else_stays(lane: Study) -> None:
    large = scaled(lane, 8.0)
    before, after = lane.fixed(), large.fixed()
    for key, value in before.items():
        if key in RULES and np.isfinite(float(value)):
            want = float(value) * 8 ** RULES[key]
            assert float(after[key]) == pytest.approx(want), key
        elif key != "bearing":
            assert after[key] == value or np.isnan(float(value)), key
    widths, wider = lane.searched()["nozzle_width"], large.searched()["nozzle_width"]
    assert wider.values == pytest.approx([2 * value for value in widths.values or ()])
    assert large.searched()["speed"].highest == pytest.approx(lane.searched()["speed"].highest / 2)
    assert large.searched()["disc_count"].highest == 80
    assert large.searched()["inlet_angle"] == lane.searched()["inlet_angle"]
    assert large.supply.available_flow == pytest.approx(8 * (lane.supply.available_flow or 0))
    # Rims stay as fast: diameter times speed is the same.
    ends = [each.searched() for each in (lane, large)]
    assert ends[0]["speed"].highest * ends[0]["disc_diameter"].highest == pytest.approx(
        ends[1]["speed"].highest * ends[1]["disc_diameter"].highest
    )


@pytest.mark.parametrize("ratio", [0.3, 1.0, 3.0, 15.0])
def test_the_bearing_fits_the_scaled_shaft(lane: Study, ratio: float) -> None:
    found = scaled(lane, ratio).fixed()
    name, shaft = str(found["bearing"]), float(found["shaft_diameter"])
    assert nut_passes(name, shaft)
    assert bearings()[name].bore >= 0.55 * shaft


def test_the_studys_own_size_is_itself(lane: Study) -> None:
    same = scaled(lane, 1.0)
    np.testing.assert_equal(same.fixed(), lane.fixed())
    assert same.searched() == lane.searched()


def test_by_diameter_all_discs_have_it(lane: Study) -> None:
    found = of_diameter(lane, 2 * middle_diameter(lane))
    assert found.searched()["disc_diameter"].values == (2 * middle_diameter(lane),)
    assert found.supply.available_flow == pytest.approx(8 * (lane.supply.available_flow or 0))


def test_studies_that_cannot_be_scaled_are_refused_in_words(lane: Study) -> None:
    endless = lane.supply.model_copy(update={"available_flow": None})
    with pytest.raises(StudyError, match="add available_flow"):
        refuse_unscalable(lane.model_copy(update={"supply": endless}), "s.yaml")
    robust = lane.search.model_copy(update={"robust": True})
    with pytest.raises(StudyError, match="leave robust and method out"):
        refuse_unscalable(lane.model_copy(update={"search": robust}), "s.yaml")
    with pytest.raises(StudyError, match="no ladder of pumps"):
        refuse_unscalable(read_study(ROOT / "studies" / "fish-pond.yaml"), "s.yaml")
    refuse_unscalable(lane, "s.yaml")
    assert flow_dimension(lane) == "air_flow"


def test_more_flow_gives_more_power_and_every_best_build_keeps_the_limits(
    rungs: list[Rung],
) -> None:
    small, large = (rung.best for rung in rungs)
    assert large["electric_power"][0] > 3 * small["electric_power"][0]
    for rung in rungs:
        assert rung.best["safety_margin"][0] >= 1.2
        assert rung.best["mass_flow"][0] <= rung.flow * (1 + 1e-9)
        assert abs(rung.best["resolved_difference"][0]) < 0.05


def test_rules_of_later_stages_are_told_where_a_study_has_them(lane: Study) -> None:
    assert "stage" not in " ".join(rules_text(lane))
    three = read_study(ROOT / "studies" / "lane-workshop-stages.yaml")
    assert "discs of stage 3" in " ".join(rules_text(three))


def test_the_page_holds_the_ladder_its_rules_and_what_a_home_takes(
    lane: Study, rungs: list[Rung]
) -> None:
    page = write_sizes(lane, rungs, 3.0)
    assert "http" not in page.replace("http-equiv", "").replace("http://www.w3.org", "")
    assert page.count("<tr>") == 1 + len(rungs)
    for words in ("LED lamp, 9", "laptop, 50", "s mean, 400", "kettle, 2.2"):
        assert words in page
    assert all(rule.split(":")[0] in page for rule in rules_text(lane))
    told = honest_text(lane, rungs)
    # By hand: between both sizes power goes as a straight line of logarithms.
    powers = [float(rung.best["electric_power"][0]) for rung in rungs]
    assert powers[0] < HOME < powers[1]
    share = np.log(HOME / powers[0]) / np.log(powers[1] / powers[0])
    flow = 300 * 8**share
    said = float(re.search(r"about ([\d\u2009\u202f ]+)", told)[1].translate(  # type: ignore[index]
        {0x2009: None, 0x202F: None, 0x20: None}))  # fmt: skip
    assert said == pytest.approx(flow, rel=0.01)


def test_a_size_that_misses_every_limit_is_said(lane: Study, rungs: list[Rung]) -> None:
    nothing = Rung(0.1, lane, {}, "safety_margin")
    page = write_sizes(lane, [*rungs, nothing], 3.0)
    assert "no build keeps every limit; most miss safety margin" in page
    assert write_sizes(lane, [nothing], 1.0).count("<svg") == 0


def test_prices_bring_the_cost_of_an_hour(lane: Study, rungs: list[Rung]) -> None:
    assert "Hour [" not in write_sizes(lane, rungs, 1.0)
    price = type(lane.supply).model_validate(
        {"fluid": "air", "pressure": "6 bar gauge", "temperature": "20 degC",
         "energy_price": "0.29 EUR/kWh"}
    ).energy_price  # fmt: skip

    def priced(study: Study) -> Study:
        return study.model_copy(
            update={"supply": study.supply.model_copy(update={"energy_price": price})}
        )

    dear = [Rung(rung.flow, priced(rung.study), rung.best) for rung in rungs]
    page = write_sizes(priced(lane), dear, 1.0)
    assert "Hour [EUR]" in page
    assert "an hour costs, hundredths of EUR" in page


def test_decades_lie_evenly_on_a_scale_of_logarithms() -> None:
    scale = LogScale(10.0, 1000.0, 0.0, 2.0)
    assert [scale(value) for value in (10, 100, 1000)] == pytest.approx([0, 1, 2])
    assert np.isnan(scale(0.0))


@pytest.mark.parametrize("rungs_asked", ["1", "13", "x"])
def test_the_command_refuses_odd_numbers_of_sizes(
    rungs_asked: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main(["sizes", str(LANE), "--flow", "300..600l/min", "--rungs", rungs_asked])
    assert capsys.readouterr().err


def test_the_command_writes_a_page_and_says_each_size(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    text = LANE.read_text(encoding="utf-8").replace("designs: 30000", "designs: 400")
    path = tmp_path / "few.yaml"
    path.write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    given: list[Any] = ["sizes", str(path), "--diameter", "90..110mm", "--rungs", "2"]
    assert main(given) == 0
    told = capsys.readouterr().out
    assert "discs of 90" in told.replace("\n", " ")
    assert "What was scaled" in (tmp_path / "sizes.html").read_text(encoding="utf-8")
