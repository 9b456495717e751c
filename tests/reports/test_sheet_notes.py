"""What a build sheet says of one design's bearings, balance, nozzles and ranges."""

from typing import Any

import pytest

from engine.model.validity import RUNAWAY, RUNAWAY_BOUND
from reports.design import balance_wording, sheet_tables, sheet_wording
from reports.design.facts import BuildData, build_facts_of
from reports.kit.quantities import THIN, quantity
from tests.reports.test_sheet import changed, rows_of


def test_a_divergent_nozzle_has_an_exit_too(sheet_data: BuildData) -> None:
    facts = build_facts_of(changed(sheet_data, nozzle_form="convergent-divergent"))
    exits = [
        size for _, sizes in sheet_tables.sizes(facts) for size in sizes if "exit" in size.name
    ]
    assert exits[0].nominal.replace(THIN, " ") == "0.39 mm"  # 0.3 mm times 1.3


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"safety_margin": 1.1}, "The trip acts only above the first failure"),
        ({"notch_factor": 1.0}, "assumes a notch factor of 1 at the bore"),
        ({"validity": "plate modes"}, "Relations used outside their published range: plate modes"),
    ],
)
def test_what_is_wrong_with_a_design_is_among_the_cautions(
    sheet_data: BuildData, values: dict[str, Any], words: str
) -> None:
    sound = changed(sheet_data, safety_margin=2.0, validity="")
    assert words not in " ".join(sheet_wording.cautions(build_facts_of(sound)))
    changed_facts = build_facts_of(changed(sheet_data, **values))
    assert words in " ".join(sheet_wording.cautions(changed_facts))


def test_a_relation_outside_its_range_is_beside_its_number(sheet_data: BuildData) -> None:
    facts = build_facts_of(changed(sheet_data, validity="plate modes"))
    marked = {known.name: known.outside for known in sheet_tables.speeds(facts)}
    assert not any(known.bad and known.outside for known in sheet_tables.speeds(facts))
    assert marked["Standing-wave speed"]
    assert not marked["Burst speed"]


@pytest.mark.parametrize("note", [RUNAWAY, RUNAWAY_BOUND])
def test_what_limits_the_runaway_speed_is_beside_it(sheet_data: BuildData, note: str) -> None:
    plain, noted = (
        {known.name: known for known in sheet_tables.speeds(build_facts_of(data))}["Runaway"]
        for data in (
            changed(sheet_data, validity=""),
            changed(sheet_data, validity=f"plate modes; {note}"),
        )
    )
    assert not plain.outside
    assert noted.outside
    assert noted.remark == f"{plain.remark}; {note.removeprefix('runaway speed, ')}"


def test_the_bearings_have_what_closes_them_and_their_load_life_and_warmth(
    sheet_data: BuildData,
) -> None:
    facts = build_facts_of(changed(sheet_data, bearing_seal="contact"))
    (bearing,) = [row for name, row in rows_of(facts).items() if name.startswith("Bearing")]
    assert "with rubbing lips at both sides (RS or 2RS)" in bearing.text
    told = sheet_wording.bearings_note(facts)
    assert quantity("bearing_temperature", facts.number("bearing_temperature")) in told
    assert f"outlast more than {quantity('bearing_life', 3.6e8)} by its rating" in told
    assert quantity("rotor_mass", facts.number("rotor_mass")) in sheet_wording.masses_note(facts)


def test_the_balance_that_the_fit_keeps_is_said(sheet_data: BuildData) -> None:
    for grade, told in ((20e-3, "balance it clamped as it will run"), (1e-3, "still keeps G")):
        facts = build_facts_of(changed(sheet_data, assembly_grade=grade))
        (note,) = [line for line in balance_wording.balance(facts) if "H7/h6" in line]
        assert told in note


def test_nozzles_are_counted_beside_their_sizes(sheet_data: BuildData) -> None:
    groups = dict(sheet_tables.sizes(build_facts_of(changed(sheet_data, nozzle_count=4.0))))
    (nozzles,) = [size for sizes in groups.values() for size in sizes if size.name == "Nozzles"]
    assert nozzles.nominal == "4"
    assert nozzles.remark.startswith("convergent, ")
