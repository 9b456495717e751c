"""What a reader is told beside a number of how sure it is."""

from reports.run.candidate_wording import cell
from reports.run.doubt_wording import doubts, efficiency_text, range_text

AIR: dict[str, float | str] = {"free_air_flow": 0.01, "turbine_efficiency": 0.29, "validity": ""}


def test_an_efficiency_above_built_machines_is_told_on_shop_air_alone() -> None:
    assert "29" in efficiency_text(AIR)
    assert "10 to 25 %" in efficiency_text(AIR)
    assert efficiency_text({**AIR, "turbine_efficiency": 0.2}) == ""
    assert efficiency_text({**AIR, "free_air_flow": float("nan")}) == ""
    assert cell("turbine_efficiency", AIR).remark == "built ones commonly 10 to 25 %"
    assert cell("turbine_efficiency", {**AIR, "free_air_flow": float("nan")}).remark == ""


def test_a_relation_outside_of_its_range_is_told_in_the_opening() -> None:
    found = {**AIR, "validity": "wall friction of the gaps"}
    assert range_text(found) == (
        "Computed outside the range of a relation: wall friction of the gaps."
    )
    assert doubts(found) == [efficiency_text(AIR), range_text(found)]
    assert doubts({**AIR, "turbine_efficiency": 0.2}) == []
