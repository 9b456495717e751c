"""Facts and sentences of the page, against numbers worked out by hand."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.columns import LOSSES
from engine.model.limits import SETTLES_NOWHERE, STATUS_MEANING
from engine.model.parts import LOOSE, TOO_HOT
from engine.model.pump.duty import NO_HEAD, SHUT
from engine.physics.arrays import Reason
from engine.run.pick import marked
from engine.study.search import Search
from engine.study.study import Study
from reports.kit.quantities import THIN
from reports.run import candidate_wording, opening, wording
from reports.run.facts import Candidate, Facts, RunData, aims_of, facts_of, losses_of

RPM = 2 * math.pi / 60
BUILD = {
    "disc_count": 20.0,
    "disc_diameter": 0.15,
    "gap": 3e-4,
    "inlet_angle": math.radians(10),
    "exhaust_bore": 0.04,
    "speed": 18000 * RPM,
    "nozzle_footprint": 0.5,
    "casing_angle": math.radians(11),
    "bore_ratio": 0.3,
    "bore_wall": 5e-3,
    "mouth_depth": 5e-4,
    "mass_flow": 0.02,
}


def _study(limits: Mapping[str, Any] | None = None, aims: Mapping[str, str] | None = None) -> Study:
    return Study.model_validate(
        {
            "title": "By hand",
            "supply": {"pressure": "7 bar absolute", "temperature": "20 degC"},
            "ranges": {
                "disc_count": {"min": 10, "max": 30},
                "disc_diameter": {"min": "100 mm", "max": "200 mm"},
                "gap": {"choices": ["0.3 mm", "0.4 mm"]},
                "inlet_angle": "10 deg",
                "exhaust_bore": {"min": "30 mm", "max": "60 mm"},
                "speed": {"min": "9000 rpm", "max": "18000 rpm"},
            },
            "limits": limits or {},
            "aims": aims or {"electric_power": "maximise", "safety_margin": "maximise"},
        }
    )


def _table(power: Sequence[float], margin: Sequence[float], **more: Any) -> dict[str, Any]:
    n_rows = len(power)
    table: dict[str, Any] = {key: np.full(n_rows, value) for key, value in BUILD.items()}
    table["electric_power"] = np.array(power, dtype=float)
    table["safety_margin"] = np.array(margin, dtype=float)
    table["status"] = np.full(n_rows, "matched", dtype="U20")
    table["feasible"] = np.ones(n_rows)
    return table | {key: np.asarray(values) for key, values in more.items()}


def _facts(study: Study, designs: dict[str, Any], front: dict[str, Any] | None = None) -> Facts:
    return facts_of(RunData(study, "", {}, designs, designs if front is None else front))


def test_the_most_power_must_meet_the_margin_of_the_study() -> None:
    front = _table([300, 200, 100], [1.2, 1.6, 2.0])
    assert marked(_study({"safety_margin": {"min": 1.5}}), front)["most"] == 1


def test_without_a_limit_a_build_that_fails_below_its_own_speed_is_not_marked() -> None:
    front = _table([300, 200, 100], [0.9, 1.6, 2.0])
    assert marked(_study(), front)["most"] == 1
    assert marked(_study(), _table([300, 200], [0.8, 0.9])) == {}


def test_the_safest_build_still_makes_half_the_best_power() -> None:
    front = _table([300, 200, 151, 149], [1.2, 1.6, 2.0, 3.0])
    assert marked(_study(), front)["safest"] == 2


def test_the_knee_is_farthest_beyond_an_even_trade_of_percents() -> None:
    # Logarithms scaled to their span: (1, 0), (0.85, 0.74), (0.26, 0.92), (0, 1).
    front = _table([100, 90, 60, 50], [1.2, 2.0, 2.27, 2.4])
    assert marked(_study(), front)["knee"] == 1


def test_a_front_that_bends_outward_only_in_percents_has_a_knee() -> None:
    # Scaled values add up to 0.472 + 0.412 = 0.88, their logarithms to 0.555 + 0.508 = 1.06.
    assert marked(_study(), _table([154, 114, 78.3], [1.44, 2.14, 3.14]))["knee"] == 1


def test_a_front_that_bends_inward_has_no_knee() -> None:
    assert "knee" not in marked(_study(), _table([100, 60, 50], [1.2, 1.3, 2.4]))


def test_a_front_of_one_design_is_one_build_with_every_role() -> None:
    facts = _facts(_study(), _table([100], [2.0]))
    (only,) = facts.candidates
    assert (only.roles, only.name) == (("pick", "calmer", "calmest"), "Pick")
    assert list(opening.three_text(facts.candidates)) == [
        "Pick is also the calmer and the calmest build: nothing better was found."
    ]


def test_an_aim_of_least_counts_twice_the_least_as_useful() -> None:
    study = _study(aims={"mass_flow": "minimise", "electric_power": "maximise"})
    front = _table([50, 80, 90, 120], [2, 2, 2, 2], mass_flow=[0.010, 0.015, 0.019, 0.021])
    rows = marked(study, front)
    assert (rows["most"], rows["safest"]) == (0, 2)
    assert wording.role_label("most", aims_of(study)) == "Least mass flow"
    assert wording.role_label("safest", aims_of(study)) == "Most electric power"
    assert wording.role_label("calmest", aims_of(study)) == "Calmest"


def test_a_third_aim_is_weighed_in_the_knee_and_its_limit_in_the_marks() -> None:
    aims = {
        "electric_power": "maximise",
        "safety_margin": "maximise",
        "mass_flow": "minimise",
    }
    front = _table([100, 90, 80], [1.5, 1.6, 1.55], mass_flow=[0.03, 0.03, 0.01])
    assert marked(_study(aims=aims), front)["most"] == 0
    limited = _study({"mass_flow": {"max": "20 g/s"}}, aims)
    assert set(marked(limited, front).values()) == {2}


def test_losses_are_in_the_order_of_the_flow_with_their_share() -> None:
    values = {"isentropic_power": 1000.0, "loss_generator": 50.0, "loss_nozzle": 100.0}
    nozzle, generator = losses_of(values)
    assert (nozzle.key, nozzle.watts, nozzle.share) == ("loss_nozzle", 100.0, 0.1)
    assert (generator.key, generator.share) == ("loss_generator", 0.05)
    assert losses_of(dict.fromkeys(LOSSES, 1.0)) == ()


def test_designs_that_miss_a_limit_are_counted_among_those_that_work() -> None:
    designs = _table(
        [100, 90, 80, math.nan, math.nan],
        [1.0, 1.4, 1.6, 1.0, 1.0],
        status=["matched", "matched", "matched", "no flow", "no flow"],
        feasible=[0, 0, 1, 0, 0],
    )
    facts = _facts(_study({"safety_margin": {"min": 1.5}}), designs, _table([80, 70], [1.6, 1.51]))
    margin = facts.limits[0]
    assert (margin.key, margin.side, margin.bound, margin.failed) == (
        "safety_margin",
        "min",
        1.5,
        2,
    )
    assert (facts.evaluated, facts.matched, facts.feasible) == (5, 3, 1)
    assert facts.statuses == (("no flow", 2),)


def test_designs_within_three_percent_of_a_limit_are_at_it() -> None:
    front = _table([100, 90, 80, 70], [1.5, 1.53, 1.56, 2.0])
    margin = _facts(_study({"safety_margin": {"min": 1.5}}), front).limits[0]
    assert (margin.binding, margin.span) == (2, (90.0, 100.0))


def test_both_sides_of_a_limit_are_told_apart() -> None:
    front = _table([100, 90, 80], [1.1, 1.6, 3.0])
    limits = _facts(_study({"safety_margin": {"min": 1.5, "max": 2.5}}), front).limits
    sides = {(fact.side, fact.failed) for fact in limits if fact.key == "safety_margin"}
    assert sides == {("min", 1), ("max", 1)}


def test_variables_at_an_end_of_their_range_are_listed_with_their_share() -> None:
    front = _table([100, 90, 80, 70], [1, 2, 3, 4], disc_diameter=[0.2, 0.2, 0.2, 0.1995])
    ends = {(end.key, end.end): end.share for end in _facts(_study(), front).range_ends}
    assert ends == {
        ("disc_diameter", "largest"): 1.0,
        ("gap", "smallest"): 1.0,
        ("speed", "largest"): 1.0,
    }


def test_each_relation_outside_its_range_is_counted_once_a_design() -> None:
    front = _table([100, 90, 80], [1, 2, 3], validity=["gap flow; windage", "", "windage"])
    assert _facts(_study(), front).outside == (("windage", 2), ("gap flow", 1))


def test_the_closest_designs_are_ranked_by_how_far_they_miss() -> None:
    designs = _table(
        [100, 90, 80, 70],
        [1.0, 1.4, 1.2, 1.49],
        status=["matched", "matched", "matched", "no flow"],
        feasible=[0, 0, 0, 0],
    )
    facts = _facts(_study({"safety_margin": {"min": 1.5}}), designs, {})
    assert [design.values["electric_power"] for design in facts.closest] == [90, 80, 100]
    assert wording.missed_text(facts.closest[0]) == "safety margin at least 1.5, here 1.40"
    assert facts.candidates == ()


BANDS = {
    "electric_power_p10": [209.0, 150, 90],
    "electric_power_p50": [240.0, 158, 99],
    "electric_power_p90": [266.0, 175, 109],
    "safety_margin_p10": [1.21, 2.4, 4.0],
    "safety_margin_p50": [1.25, 2.5, 4.1],
    "safety_margin_p90": [1.27, 2.7, 4.3],
    "safety_margin_chance": [0.91, 1.0, 1.0],
    "chance_all": [0.44, 0.6, 0.7],
}
STRANGER = {
    **BANDS,
    "peak_ratio": [1.16] * 3,
    "trip_factor": [1.15] * 3,
    "runaway_ratio": [2.33, 2.8, 4.5],
    "stored_energy": [750.0, 680, 257],
    "supply_power": [3900.0] * 3,
    "supply_efficiency": [241 / 3900, 160 / 3900, 100 / 3900],
    "governing_mode": ["bearing limit"] * 3,
}


def _shown(**changes: Any) -> Facts:
    limited = _study({"safety_margin": {"min": 1.2}})
    return _facts(limited, _table([241, 160, 100], [1.26, 2.57, 4.17], **(STRANGER | changes)))


def test_a_stranger_reads_which_build_to_cut() -> None:
    facts = _shown()
    heading = opening.heading(facts).replace(THIN, " ")
    assert heading == "Build 20 discs of 150 mm, 0.3 mm apart, and run them at 18 000 rpm."
    told = "Of the builds whose safety margin holds in nine of ten, it has the most electric power."
    assert told in opening.why_text(facts)
    limits = {"safety_margin": {"min": 1.2}, "stress_margin": {"min": 1.5}}
    both = _study(limits).model_copy(update={"search": Search(robust=True)})
    facts_of_both = replace(facts, study=both)
    assert "safety margin and stress margin each hold in" in opening.why_text(facts_of_both)
    power, failure, drawn, energy = (
        (figure.value.replace(THIN, " "), figure.words.replace(THIN, " "))
        for figure in opening.figures(facts)
    )
    assert power == ("241 W", "at the terminals; eight builds in ten fall between 209 and 266 W")
    assert failure[0] == "1.26 ×"
    assert "the bearings; nine builds in ten reach 1.21 × or more" in failure[1]
    assert drawn == ("3.9 kW", "drawn by the compressor, so 6 % comes back")
    assert energy[0] == "750 J"
    assert "100 kg dropped from 0.76 m" in energy[1]


def test_a_stranger_reads_whether_it_may_run_without_a_trip() -> None:
    facts = _shown()
    assert "an overspeed trip set to 20 700 rpm" in opening.musts(facts).replace(THIN, " ")
    assert opening.trip_text(facts) == (
        "If the load drops off, it races to 2.33 times running speed, and the first failure comes "
        "at 1.26 times. Only the trip saves it."
    )
    held = _shown(runaway_ratio=[1.1, 1.1, 1.1])
    assert opening.trip_text(held).endswith("Fit the trip anyway.")
    burst = _shown(peak_ratio=[1.5, 1.5, 1.5])
    assert burst.pick.design == 2  # the first fails before its trip has acted, so it is no pick
    assert "both run past their first failure. The trip must act." in opening.ruler_text(facts)


def test_a_build_that_holds_nothing_is_said_to_be_only_the_nearest() -> None:
    facts = _shown(safety_margin_chance=[0.52, 0.5, 0.4])
    assert not facts.holds
    assert opening.heading(facts).startswith("No build here holds its limits in nine of ten.")
    assert f"safety margin holds in 52{THIN}% of builds" in opening.why_text(facts)
    assert "robust: true" in opening.why_text(facts)


def test_what_the_supply_allows_is_told_apart_from_the_metal() -> None:
    limited = _study({"safety_margin": {"min": 1.2}, "mass_flow": {"max": "21 g/s"}})
    flow = {f"mass_flow_{end}": [0.02] * 3 for end in ("p10", "p50", "p90")}
    table = _table(
        [241, 160, 100], [1.26, 2.57, 4.17], **STRANGER, **flow, mass_flow_chance=[0.6, 1, 1]
    )
    facts = _facts(limited, table)
    assert facts.holds
    assert f"mass flow in 60{THIN}% of builds" in opening.air_text(facts)
    assert opening.air_text(_shown()) == ""


def test_the_heading_without_feasible_design_names_the_limit_missed_most() -> None:
    designs = _table([100, 90, 80, 70], [1.0, 1.4, 1.2, 1.6], feasible=[0, 0, 0, 0])
    designs["bore_ratio"] = np.array([0.3, 0.3, 0.3, 0.9])
    facts = _facts(_study({"safety_margin": {"min": 1.5}}), designs, {})
    assert opening.heading(facts) == "None of the 4 builds meets every limit."
    assert opening.lead(facts)[0].replace(THIN, " ") == (
        "The limit missed most often is safety margin at least 1.5: 75 % of the builds with an "
        "operating point miss it."
    )


def test_the_lead_says_when_no_design_even_works() -> None:
    nan = [math.nan, math.nan]
    designs = _table(nan, nan, status=["no flow", "gap choked"], feasible=[0, 0])
    assert opening.lead(_facts(_study(), designs, {})) == (
        "None of them even has an operating point.",
    )


def test_the_date_is_written_as_people_do() -> None:
    assert opening.date_text("2026-11-28T19:06:11+00:00") == f"28{THIN}Nov 2026, 19:06"
    assert opening.date_text("yesterday") == "yesterday"


@pytest.mark.parametrize(
    ("margin", "says"),
    [(1.4, "Only a trip that acts in time"), (1.8, "the first failure comes at 1.80 times")],
)
def test_a_lost_load_is_judged_by_margin_and_runaway(margin: float, says: str) -> None:
    front = _table([300], [margin], runaway_ratio=[1.6])
    facts = _facts(_study(), front)
    assert says in candidate_wording.notes(facts.candidates[0])[0]
    warned = [text for text in wording.cautions(facts) if "the pick would not survive" in text]
    assert len(warned) == (margin < 1.6)


@pytest.mark.parametrize(("ends", "place"), [(1, "farthest from it"), (2, "in the middle")])
def test_unevenly_shared_flow_is_told_with_its_range(ends: int, place: str) -> None:
    uneven = {"uneven_flow_low": [0.061], "uneven_flow_high": [0.084], "exhaust_ends": [ends]}
    (told,) = candidate_wording.notes(_first(uneven))
    assert "6.1 to 8.4" in told
    assert place in told
    assert not candidate_wording.notes(_first(uneven | {"uneven_flow_high": [0.02]}))


def _first(values: dict[str, Any]) -> Candidate:
    return _facts(_study(), _table([300], [1.4], **values)).candidates[0]


def test_nothing_is_said_of_a_lost_load_where_runaway_is_unknown() -> None:
    facts = _facts(_study(), _table([300], [1.4], runaway_ratio=[math.nan]))
    assert candidate_wording.notes(facts.candidates[0]) == ()
    assert candidate_wording.survives(facts.candidates[0])


def test_notes_name_ice_overload_and_relations_out_of_range() -> None:
    front = _table(
        [300],
        [1.4],
        exhaust_temperature=[263.15],
        generator_load=[1.2],
        validity=["windage"],
    )
    notes = [
        note.replace(THIN, " ")
        for note in candidate_wording.notes(_facts(_study(), front).candidates[0])
    ]
    assert notes == [
        "The exhaust leaves at −10.0 °C; moisture in it will ice it up.",
        "It overloads the generator: its rating at this speed is less.",
        "Relations used outside their published range: windage.",
    ]


def test_the_cautions_name_rotor_gas_mains_codes_and_stored_energy() -> None:
    facts = _facts(_study(), _table([300], [1.4], stored_energy=[1962.0]))
    text = " ".join(wording.cautions(facts)).replace(THIN, " ")
    for word in (
        "containment",
        "overspeed trip",
        "Compressed air",
        "relief valve",
        "Mains",
        "licensed electrician",
        "a ring on its web",
        "Local codes",
        "no certificate",
        "Pick 1 960 J; the largest equals 100 kg dropped from 2.0 m",
    ):
        assert word in text
    assert "team" not in text


def test_steam_has_its_own_caution() -> None:
    study = _study()
    boiler = study.supply.model_copy(update={"fluid": "steam"})
    facts = _facts(study.model_copy(update={"supply": boiler}), _table([300], [1.4]))
    assert any("licensed boiler practice" in text for text in wording.cautions(facts))


def test_every_reason_without_operating_point_has_a_meaning() -> None:
    names = {reason.name.lower().replace("_", " ") for reason in Reason} - {"matched"}
    assert set(STATUS_MEANING) == names | {LOOSE, TOO_HOT, NO_HEAD, SETTLES_NOWHERE, SHUT}
