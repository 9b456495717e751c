"""A study made around builds that were tried: what `run` takes as it is."""

import math

import pytest

from engine.errors import StudyError
from engine.study.around import MOST_CHOICES, study_around
from engine.study.reader import parse_study, starter_text
from engine.study.study import Study
from engine.study.yaml_text import read_lines, written

TEXT = starter_text("tried: a & b")
BUILD = {
    "disc_count": "12", "disc_diameter": "110 mm", "gap": "0.4 mm", "inlet_angle": "8 deg",
    "exhaust_bore": "40 mm", "speed": "14000 rpm",
}  # fmt: skip


def around(*builds: dict[str, str], text: str = TEXT) -> Study:
    return parse_study(study_around(text, "tried.yaml", builds), "kept.yaml")


def values(study: Study, key: str) -> list[float]:
    given = study.searched()[key].values
    assert given is not None
    return list(given)


def test_ranges_lie_two_steps_around_the_builds_on_the_grid_of_the_study() -> None:
    study = around(BUILD, {**BUILD, "disc_count": "14", "inlet_angle": "7 deg"})
    assert values(study, "disc_count") == [*range(10, 17)]
    assert values(study, "disc_diameter") == pytest.approx([0.10, 0.105, 0.11, 0.115, 0.12])
    assert values(study, "gap") == pytest.approx([0.3e-3, 0.4e-3, 0.5e-3, 0.6e-3])
    # The range begins at 6 degrees, one step below.
    assert values(study, "inlet_angle") == pytest.approx([math.radians(a) for a in range(6, 11)])
    wide = parse_study(TEXT, "tried.yaml")
    for key, given in study.searched().items():
        whole = wide.searched()[key].values
        assert whole is not None
        assert all(any(math.isclose(v, w) for w in whole) for v in given.values or ())
    assert study.title == "Around 2 builds: tried: a & b"
    assert (study.limits, study.aims, study.search) == (wide.limits, wide.aims, wide.search)
    assert (study.supply, study.machine) == (wide.supply, wide.machine)


def test_a_value_between_the_steps_is_searched_too() -> None:
    study = around({**BUILD, "gap": "0.45 mm", "speed": "14250 rpm", "disc_count": "60"})
    assert values(study, "gap") == pytest.approx([0.3e-3, 0.4e-3, 0.45e-3, 0.5e-3, 0.6e-3])
    rpm = [value * 30 / math.pi for value in values(study, "speed")]
    assert rpm == pytest.approx([13500, 14000, 14250, 14500, 15000])
    assert values(study, "disc_count") == [29, 30, 60]


def test_builds_far_apart_and_off_the_steps_take_the_steps_alone() -> None:
    fine = TEXT.replace("max: 30000 rpm, step: 500 rpm", "max: 30000 rpm, step: 1 rpm")
    builds = ({**BUILD, "speed": "5000.5 rpm"}, {**BUILD, "speed": "29000 rpm"})
    study = around(*builds, text=fine)
    assert study.searched()["speed"].choices is None
    assert len(values(study, "speed")) > MOST_CHOICES


def test_a_range_without_steps_stays_without() -> None:
    text = TEXT.replace("max: 70 mm, step: 2 mm", "max: 70 mm")
    given = around(BUILD, text=text).searched()["exhaust_bore"]
    assert given.values is None
    assert (given.lowest, given.highest) == pytest.approx((0.035, 0.045))


def test_words_are_those_of_the_builds() -> None:
    text = TEXT.replace("  process: laser-cut\n", "").replace(
        "ranges: ", "ranges:\n  process: {choices: [laser-cut, waterjet, turned]}\n#"
    )
    two = around({**BUILD, "process": "turned"}, {**BUILD, "process": "laser-cut"}, text=text)
    assert two.searched()["process"].values == ("laser-cut", "turned")
    one = around({**BUILD, "process": "turned"}, text=text)
    assert one.searched()["process"].values == ("turned",)


def test_a_machine_number_is_kept_or_searched_where_builds_differ() -> None:
    one = around({**BUILD, "rim_clearance": "0.7 mm", "bearing": "6000", "shaft_diameter": "10 mm"})
    assert one.machine.rim_clearance == pytest.approx(0.7e-3)
    assert (one.machine.bearing, one.machine.shaft_diameter) == ("6000", 0.01)
    two = around({**BUILD, "nozzle_width": "0.4 mm"}, BUILD)
    assert values(two, "nozzle_width") == pytest.approx([0.3e-3, 0.4e-3])
    assert "nozzle_width" not in two.machine.model_fields_set


def test_the_supply_of_the_builds_is_that_of_the_study() -> None:
    study = around({**BUILD, "pressure": "5 bar gauge"}, {**BUILD, "pressure": "5 bar gauge"})
    assert study.supply.pressure == pytest.approx(601325.0)
    with pytest.raises(StudyError, match="pressure: differs between these builds"):
        around({**BUILD, "pressure": "5 bar gauge"}, BUILD)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gap": "3"}, "has no unit"),
        ({"gap": "1e9 mm"}, "is not plausible"),
        ({"depth": "3 mm"}, "is not a variable or machine number"),
        ({"pressure": "nan bar gauge"}, "not a finite number"),
        ({"notch_factor": "2"}, "is given in one build and computed in another"),
    ],
)
def test_a_build_that_cannot_be_read_is_refused(change: dict[str, str], words: str) -> None:
    supply = {key: text for key, text in change.items() if key == "pressure"}
    with pytest.raises(StudyError, match=words):
        around({**BUILD, **change}, {**BUILD, **supply})


def test_texts_written_are_those_read() -> None:
    texts = read_lines(TEXT, "tried.yaml").texts
    again = written(texts, "a heading\nof two lines")
    assert again.startswith("# a heading\n# of two lines\n")
    assert read_lines(again, "again.yaml").texts == texts
