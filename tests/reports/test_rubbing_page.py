"""What the report says of the choice if the casing rubs half or twice as much."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from engine.bench.telling import TellingTest
from engine.run.rubbing import Rubbing
from reports.kit.quantities import THIN
from reports.run.facts import RunData, facts_of
from reports.run.page import write_report
from reports.run.rubbing_wording import build_text, regret_text, telling_text, verdict

TEST = TellingTest(
    change="wider casing",
    nozzle_count=np.full(4, 2.0),
    rim_clearance=np.array([0.5e-3, 0.5e-3, 1e-3, 1e-3]),
    speed=np.array([800.0, 2000.0, 800.0, 2000.0]),
    expected={"shaft_torque": (np.full(4, 0.144), np.full(4, 0.125))},
    instrument={"shaft_torque": np.full(4, 0.0027)},
    apart=9.3,
    apart_as_built=3.2,
)


def rubbed(data: RunData, *changes: dict[str, Any]) -> RunData:
    first = facts_of(data).candidates[0]
    build = {key: first.values[key] for key in data.study.searched()}
    each = Rubbing(first.design, 0.5, "electric_power", 300.0, {}, 300.0, build, is_same=True)
    return replace(data, rubbing=tuple(replace(each, **c) for c in changes), telling=TEST)


def said(data: RunData) -> str:
    return verdict(facts_of(data)).replace(THIN, " ")


def test_a_loss_is_said_in_watts_and_percent_with_what_to_build_instead(run_data: RunData) -> None:
    plain = facts_of(run_data)
    build = dict(rubbed(run_data, {}).rubbing[0].build)
    data = rubbed(
        run_data,
        {},
        {"factor": 2.0, "value": 285.0, "is_same": False, "build": build | {"gap": 0.00123}},
    )
    assert said(data) == (
        "If the casing rubs half as much, the pick gives 300 W, and no build found gives much "
        "more. "
        "If the casing rubs twice as much, the pick gives 285 W, and another build 300 W: "
        "the pick loses 15.0 W (5.0 %)."
    )
    facts = facts_of(data)
    assert build_text(facts, data.rubbing[0]) == "the build shown"
    assert build_text(facts, data.rubbing[1]).replace(THIN, " ") == "gap 1.23 mm"
    page = write_report(data)
    assert "If the casing rubs half or twice as much" in page
    assert regret_text(data.rubbing[1]) in page
    assert plain.rubbing == ()
    assert "If the casing rubs half or twice as much" not in write_report(run_data)


def test_a_limit_that_is_missed_is_named_with_what_the_build_has(run_data: RunData) -> None:
    cases: Sequence[tuple[dict[str, Any], str]] = (
        (
            {"missed": {"generator_load": 1.05}, "value": 310.0},
            (
                "the pick gives 310 W and misses the limit of generator load (105.0 %); "
                "the best that keeps all limits gives 300 W."
            ),
        ),
        (
            {"missed": {"generator_load": 1.05}, "value": 310.0, "build": {}},
            (
                "the pick gives 310 W and misses the limit of generator load (105.0 %); "
                "none keeps every limit."
            ),
        ),
        ({"value": np.nan}, "the pick has no operating point."),
    )
    for change, wanted in cases:
        data = rubbed(run_data, change)
        assert said(data).partition(", ")[2] == wanted
        assert regret_text(data.rubbing[0]) == ""
        assert wanted.partition("; ")[0][-20:-8] in write_report(data).replace(THIN, " ")


def test_the_bench_test_is_said_with_both_readings() -> None:
    text = telling_text("the pick", TEST).replace(THIN, " ")
    assert "0.5 mm between rim and casing, then with a casing ring that leaves 1 mm" in text
    assert "144 or 125 mN m (half or twice the friction; ± 2.7 by the instrument)" in text
    assert "9.3 standard uncertainties apart, so it tells; without the change they lie 3.2" in text
    doubtful = replace(
        TEST, change="nozzles blocked", nozzle_count=np.array([4.0, 4, 2, 2]), apart=2
    )
    text = telling_text("the calmer build", doubtful).replace(THIN, " ")
    assert "Run with all 4 nozzles, then with 2 open and the others blocked" in text
    assert "which is not enough to be certain" in text
