"""The build sheet's figures against the design's row, and its text against the world."""

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from html import unescape
from typing import Any

import numpy as np
import pytest

from engine.bench.readings import READ
from engine.model.warp import warp
from engine.physics.machine.margins import MODES
from engine.study.fit import Fit
from engine.study.study import Study
from reports.design import (
    balance_wording,
    casing_wording,
    drawing_wording,
    plan_wording,
    sheet_quantities,
    sheet_tables,
    sheet_wording,
)
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.items import items_of, whole_list
from reports.design.outlines import NoWebError
from reports.design.part_rows import Row, part_rows
from reports.design.sheet import write_sheet
from reports.kit.quantities import THIN, quantity
from reports.kit.svg import Drawing, failure

HOSTILE = "</title><script>alert(1)</script><img src=x onerror=alert(1)> & 'x' \"y\" {{ 7*7 }}"
RPM = 2 * math.pi / 60


def changed(data: BuildData, **values: Any) -> BuildData:
    """The same design with other entries in its row."""
    return replace(data, front={**data.front, **{k: np.array([v]) for k, v in values.items()}})


@pytest.fixture(scope="module")
def made(sheet_data: BuildData) -> Mapping[str, str | bytes]:
    return write_sheet(sheet_data)


@pytest.fixture(scope="module")
def files(made: Mapping[str, str | bytes]) -> Mapping[str, str]:
    return texts(made)


def texts(made: Mapping[str, str | bytes]) -> dict[str, str]:
    """Files that are text."""
    return {name: text for name, text in made.items() if isinstance(text, str)}


@pytest.fixture(scope="module")
def page(files: Mapping[str, str]) -> str:
    return files["sheet.html"]


@pytest.fixture(scope="module")
def facts(sheet_data: BuildData) -> BuildFacts:
    return build_facts_of(sheet_data)


def words_of(page: str) -> str:
    """Text of a page, with plain spaces."""
    text = unescape(re.sub(r"<[^>]+>", " ", page.split("</style>")[1]))
    return re.sub(r"\s+", " ", text.replace(THIN, " "))


def test_a_sheet_is_a_page_with_drawings_and_outlines(
    made: Mapping[str, str | bytes], files: Mapping[str, str]
) -> None:
    rotor, casing = ["disc", "spacer", "end-clamp"], ["nozzle-plate", "supply-ring", "side-ring"]
    flat = [*rotor, *casing, "supply-plate", "end-plate", "free-end-plate", "drive-end-plate"]
    flat.append("generator-plate")
    turned = ["shaft", "collar", "sleeve", "free-end-carrier", "drive-end-carrier", "distance-tube"]
    whole = ["general-arrangement", "view-from-the-drive", "parts-list", "parts-list-2"]
    whole += ["exploded-view", "exploded-view-2"]
    drawn = [name.removesuffix(".svg") for name in files if name.endswith(".svg")]
    assert sorted(drawn) == sorted([*whole, *flat, "nozzle", *turned])
    assert [name for name in files if name.endswith(".dxf")] == [f"{name}.dxf" for name in flat]
    steps = [name for name in files if name.endswith(".step")]
    assert steps == ["machine.step", *(f"{name}.step" for name in turned)]
    assert {"order.csv", "turned.csv", "bought.csv", "parts.csv"} < set(files)
    assert files["sheet.html"].count('<figure class="sheet"><svg') == len(drawn)
    assert files["disc.dxf"].rstrip().endswith("EOF")
    pdf = made["drawings.pdf"]
    assert isinstance(pdf, bytes)
    assert len(re.findall(rb"/Type /Page\b", pdf)) == len(drawn)
    # Less than is sent by mail.
    assert sum(len(content) for content in made.values()) < 3e6


def test_figures_are_those_of_the_row(page: str, sheet_data: BuildData) -> None:
    front, text = sheet_data.front, words_of(page)
    for key, label in (
        ("electric_power", "Electric power"),
        ("resolved_power", "Checked power"),
        ("safety_margin", "Safety margin"),
        ("stored_energy", "Stored energy"),
    ):
        shown = quantity(key, float(front[key][0])).replace(THIN, " ")
        assert f"{label} {shown}" in text
    for key, label in (
        ("yield_speed", "Yield speed"),
        ("burst_speed", "Burst speed"),
        ("wave_speed", "Standing-wave speed"),
        ("shaft_critical_speed", "Shaft critical speed"),
        ("bearing_limit_speed", "Bearing limit speed"),
        ("rub_speed", "Rub speed"),
    ):
        assert f"{label} {sheet_quantities.turns(front[key][0]).replace(THIN, ' ')}" in text
    for name, key in (
        ("Outer diameter", "disc_diameter"),
        ("Exhaust bore", "exhaust_bore"),
        ("Shaft hole", "shaft_diameter"),
        ("Disc thickness", "disc_thickness"),
        ("Spacer thickness", "gap"),
    ):
        assert f"{name} {quantity(key, float(front[key][0])).replace(THIN, ' ')}" in text


def test_speeds_to_know_follow_from_the_row(facts: BuildFacts) -> None:
    speeds = {known.name: known.speed for known in sheet_tables.speeds(facts)}
    assert speeds["Running speed"] == pytest.approx(15_000 * RPM)
    assert speeds["Trip"] == pytest.approx(1.15 * 15_000 * RPM)  # README: usual trip factor
    fails = [facts.number(key) for key in sheet_tables.FAILS]
    assert speeds["First failure"] == pytest.approx(min(fails))
    assert {known.mode for known in sheet_tables.speeds(facts)} == {"", *MODES}
    assert speeds["Runaway"] == pytest.approx(facts.number("runaway_ratio") * 15_000 * RPM)


def test_each_failing_speed_has_the_mark_of_the_charts(page: str, facts: BuildFacts) -> None:
    # The way of failing is named after the speed at which it comes: by hand, not from the code.
    named = {"rub_speed": "rim rub", "wave_speed": "standing wave", "burst_speed": "burst"}
    assert {key: sheet_tables.FAILS[key] for key in named} == named
    table = page.partition('id="speeds"')[2].partition("</table>")[0]
    for mode in MODES:
        shape, words = failure(mode)
        drawing = Drawing(14, 14, says=words)
        drawing.mark((7, 7), shape, "ink", 5)
        assert drawing.svg() in table
    trip = sheet_quantities.rpm(1.15 * facts.number("speed")).replace(THIN, " ")
    assert trip == "17 250 rpm"  # 1.15 times 15,000
    assert f"acts at {trip}" in words_of(page)


def test_five_readings_end_at_the_row(facts: BuildFacts, sheet_data: BuildData) -> None:
    assert [reading.speed / RPM for reading in facts.readings] == pytest.approx(
        [3000, 6000, 9000, 12000, 15000]
    )
    last = facts.readings[-1].bands
    front = sheet_data.front
    assert last["electric_power"].expected == pytest.approx(front["resolved_power"][0])
    assert last["mass_flow"].expected == pytest.approx(front["mass_flow"][0])
    for key in READ:
        assert last[key].low <= front[key][0] <= last[key].high
    assert facts.readings[-1].validity == front["validity"][0]


def test_the_clamp_must_carry_the_torque_of_a_locked_rotor(facts: BuildFacts) -> None:
    held = facts.locked[-1].bands["shaft_torque"]
    assert facts.clamp.torque == held.high
    assert held.high > max(reading.bands["shaft_torque"].high for reading in facts.readings)


def test_the_clamp_is_that_of_the_spokes_and_the_nut_that_of_the_clamp(facts: BuildFacts) -> None:
    # Three spokes on two faces at friction 0.1 and 0.2; dry nut: 0.2 times force and diameter. The
    # torque adds little.
    clamp = facts.clamp
    assert clamp.force[1] == pytest.approx(3 * clamp.pull / 2 / 0.1, rel=0.05)
    assert clamp.force[1] == pytest.approx(2 * clamp.force[0])
    assert clamp.nut_torque[1] == pytest.approx(0.2 * clamp.usual * facts.number("shaft_diameter"))
    # ISO 898-1: 84.3 mm2 of an M12, from memory; 0.6 of the yield strength of S355.
    assert clamp.usual == pytest.approx(min(clamp.force[1], 0.6 * 355e6 * 84.3e-6), rel=0.02)
    lower = min(clamp.wave_of_web, clamp.wave_of_hub)
    assert lower == pytest.approx(facts.number("wave_speed"), rel=1e-6)
    told = " ".join(sheet_wording.clamp_notes(facts))
    assert f"clamp with {clamp.usual / 1000:.2g}" in told
    assert quantity("speed", clamp.wave_of_hub) in told


@pytest.mark.parametrize(
    ("share", "said"), [(1.0, ""), (0.7, "holds only degreased hubs"), (0.3, "holds no hub")]
)
def test_a_shaft_too_thin_for_the_clamp_is_told(facts: BuildFacts, share: float, said: str) -> None:
    least = replace(facts.clamp, usual=share * facts.clamp.force[1])
    told = " ".join(sheet_wording.clamp_notes(replace(facts, clamp=least)))
    assert ("most that the shaft should carry" in told) == (share < 1)
    assert said in told


def test_a_warp_at_speed_is_told_as_an_order_of_magnitude(facts: BuildFacts) -> None:
    told = [step for step in sheet_wording.assembly(facts) if "neither flat nor alike" in step]
    assert len(told) == 1
    assert "orders of magnitude" in told[0]
    values, forced = facts.candidate.values, facts.number("forced_wave_speed")
    half = warp({**values, "speed": forced / 2})
    assert half.grown == pytest.approx(4 / 3)
    assert 0 < half.kept < 2
    assert warp({**values, "speed": 1e-3}).kept == pytest.approx(1)
    assert math.isinf(warp({**values, "speed": forced}).grown)
    beyond = replace(facts, warp=replace(facts.warp, grown=math.inf))
    assert "without limit" in " ".join(sheet_wording.assembly(beyond))


def test_what_a_laser_takes_from_full_hard_sheet_is_told(
    facts: BuildFacts, sheet_data: BuildData
) -> None:
    assert "anneals" not in " ".join(drawing_wording.disc_notes(facts))
    hard = build_facts_of(changed(sheet_data, material="stainless-301-full-hard"))
    told = " ".join(drawing_wording.disc_notes(hard))
    assert "anneals a thin skin" in told
    water = build_facts_of(
        changed(sheet_data, material="stainless-301-full-hard", process="waterjet")
    )
    assert "anneals" not in " ".join(drawing_wording.disc_notes(water))


def test_the_pick_of_a_report_is_called_so(sheet_data: BuildData) -> None:
    pick = build_facts_of(replace(sheet_data, letter="", roles=("pick",)))
    assert sheet_wording.standing(pick).endswith("; in the report: pick.")
    none = build_facts_of(replace(sheet_data, letter="", roles=()))
    assert sheet_wording.standing(none).endswith("; not marked in the report.")


def rows_of(facts: BuildFacts) -> dict[str, Row]:
    """Lines of the parts list by name."""
    return {row.name: row for row in part_rows(whole_list(facts, items_of(facts))).rows}


def test_masses_are_those_of_the_model_where_both_know_them(facts: BuildFacts) -> None:
    rows = rows_of(facts)
    turning = ("Disc", "Spacer", "End clamp", "Shaft", "Collar", "Sleeve", "Clamp nut")
    weighed = sum(rows[name].total for name in turning)
    # The model has the drive's hub and the inner rings of the bearings beside these.
    assert 0.95 < weighed / facts.number("rotor_mass") < 1
    assert rows["Disc"].pieces == 11
    assert rows["Spacer"].pieces == 10
    assert rows["Disc"].total == pytest.approx(11 * rows["Disc"].each)


def test_the_gap_check_is_the_sum_of_the_tolerances(facts: BuildFacts) -> None:
    # Laser-cut: 2 x 0.5 um/mm x 150 mm lean, 10 um spacer, 20 um run-out, see processes.toml.
    assert facts.gap.narrowest == pytest.approx(0.2e-3 - 0.18e-3)
    assert facts.gap.widest == pytest.approx(0.2e-3 + 0.18e-3)
    assert facts.gap.running == facts.number("rim_gap") <= facts.gap.narrowest


def test_discs_that_may_touch_are_named(sheet_data: BuildData) -> None:
    facts = build_facts_of(changed(sheet_data, gap=0.15e-3))
    assert facts.gap.narrowest == 0
    assert any("discs may touch" in step for step in sheet_wording.assembly(facts))


def test_permissible_unbalance_is_given_as_a_weight_to_grind(facts: BuildFacts) -> None:
    allowed, tip = facts.number("permissible_unbalance"), facts.number("exhaust_bore") / 2
    first = balance_wording.balance(facts)[0].replace(THIN, " ")
    assert f"{1e6 * allowed / 2 / tip:.3g} mg at the tips" in first


def test_rim_clearance_is_reduced_by_growth_offset_and_size(facts: BuildFacts) -> None:
    # ISO 2768-1 f from memory: +-0.2 mm on a diameter of 150 mm, so 0.1 mm on the radius.
    left = 0.5e-3 - facts.number("rim_growth") - 0.05e-3 - 0.1e-3
    assert facts.room.left == pytest.approx(left)


def test_one_exhaust_end_needs_a_disc_without_openings(sheet_data: BuildData) -> None:
    facts = build_facts_of(changed(sheet_data, exhaust_ends=1.0))
    rows = rows_of(facts)
    assert (rows["Disc"].pieces, rows["Closing disc"].pieces) == (10, 1)
    assert rows["Closing disc"].each > rows["Disc"].each
    assert rows["Collar"].pieces == 1
    told = " ".join(drawing_wording.disc_notes(facts))
    assert "one more disc without openings" in told


def test_a_dimension_is_never_taken_from_a_fit(sheet_data: BuildData) -> None:
    fit = Fit({"seal_clearance": 5.7e-6}, {"seal_clearance": 1e-6}, np.eye(1))
    fitted = sheet_data.study.model_copy(
        update={"fit": replace(fit, drawn={"seal_clearance": 0.1e-3})}
    )
    data = replace(changed(sheet_data, seal_clearance=5.7e-6), study=fitted)
    sizes = {
        size.name: size for _, each in sheet_tables.sizes(build_facts_of(data)) for size in each
    }
    assert sizes["Collar seal clearance, radial"].nominal.replace("0.100", "0.1") == f"0.1{THIN}mm"


def test_a_tap_test_is_named_where_waves_are_told(facts: BuildFacts, sheet_data: BuildData) -> None:
    assert "No disc was measured." in " ".join(sheet_wording.cautions(facts))
    fit = Fit({"wave_factor": 1.02}, {"wave_factor": 0.02}, np.eye(1))
    tapped = replace(facts, study=sheet_data.study.model_copy(update={"fit": fit}))
    assert "A tap test of one disc corrects it." in " ".join(sheet_wording.cautions(tapped))


def test_a_hose_is_a_part_and_the_spokes_are_walls(sheet_data: BuildData) -> None:
    supply = sheet_data.study.supply.model_copy(update={"dial": "before-hose"})
    study = sheet_data.study.model_copy(update={"supply": supply})
    facts = build_facts_of(replace(sheet_data, study=study))
    assert "with 2 couplings" in rows_of(facts)["Hose"].text
    assert "before the hose" in plan_wording.band_rule(facts)
    without = build_facts_of(sheet_data)
    assert "Hose" not in rows_of(without)
    for power, words in ((20.0, "gives 20"), (-3.0, "brakes them by 3")):
        told = " ".join(
            sheet_wording.assembly(build_facts_of(changed(sheet_data, web_power=power)))
        )
        assert f"the flow between them {words}" in told


def test_cautions_come_first_and_a_decision_record_last(page: str) -> None:
    heads = [unescape(head) for head in re.findall(r"<h2[^>]*>(.*?)</h2>", page)]
    assert heads[0] == "Before anything turns"
    assert heads[-1] == "Decision record"
    text = words_of(page)
    for words in ("overspeed trip", "relief valve", "licensed", "a ring on its web", "Signature"):
        assert words in text
    assert text.rindex("Study hash 5d2c") > text.index("Decision record")


def test_drawings_come_before_the_tables_and_readings_are_left_to_the_plan(page: str) -> None:
    heads = [unescape(head) for head in re.findall(r"<h2[^>]*>(.*?)</h2>", page)]
    order = ["Speeds to know", "Disc", "End plate", "Dimensions", "Parts", "Assembly"]
    assert [head for head in heads if head in order] == order
    assert "measured</th>" not in page
    assert "Expected bench readings" not in page
    start = page.index("<h1>") + 4
    headline = page[start : page.index("</h1>")].replace(THIN, " ")
    assert headline == "Build 11 discs of 150 mm, 0.2 mm apart, and run them at 15 000 rpm."


def test_the_sheet_asks_no_network_and_runs_no_script(page: str) -> None:
    assert not re.search(r"(https?|wss?|ftp):|url\(|@import|<script|<link|<img", page)
    assert "default-src 'none'; script-src 'none'" in unescape(page)


def test_text_of_a_study_stays_text(sheet_data: BuildData) -> None:
    study = Study.model_validate(
        {
            "title": HOSTILE[:120],
            "supply": {"pressure": "6 bar gauge", "temperature": "20 degC"},
            "ranges": {
                "disc_count": 11,
                "disc_diameter": "150 mm",
                "gap": "0.2 mm",
                "inlet_angle": "10 deg",
                "exhaust_bore": "50 mm",
                "speed": "15000 rpm",
            },
        }
    )
    data = replace(
        changed(sheet_data, governing_mode=HOSTILE, validity=HOSTILE),
        study=study,
        provenance={HOSTILE: HOSTILE},
    )
    files = texts(write_sheet(data))
    for text in (files["sheet.html"], files["disc.svg"]):
        assert "<script" not in text
        assert "<img" not in text
        assert "alert(1)" in text


def test_the_same_design_gives_the_same_sheet(
    sheet_data: BuildData, files: Mapping[str, str]
) -> None:
    again = write_sheet(sheet_data)
    for name in ("sheet.html", "disc.svg", "spacer.svg"):
        assert again[name] == files[name]


def test_a_design_whose_web_cannot_be_cut_has_no_sheet(sheet_data: BuildData) -> None:
    with pytest.raises(NoWebError):
        write_sheet(changed(sheet_data, exhaust_blockage=0.02))


def test_a_burst_is_a_bracket_of_estimates_and_no_verdict(page: str, facts: BuildFacts) -> None:
    found = casing_wording.estimates(facts)
    assert found.speed == pytest.approx(
        min(facts.number("burst_speed"), facts.number("runaway_ratio") * facts.number("speed"))
    )
    assert found.fragment_energy == pytest.approx(11 * found.disc_energy)
    assert found.walls[0] < found.walls[-1]
    section = page.partition('<h2 id="casing">')[2].partition("</section>")[0]
    section = words_of(f"</style>{section}")
    for row in (*casing_wording.burst_rows(found), *casing_wording.pressure_rows(found)):
        assert f"{row.name} {row.result}".replace(THIN, " ") in section
    assert "ask a specialist about, not as enough" in section
    assert not re.search(r"\b(safe|safely|contained)\b", section, re.IGNORECASE)
