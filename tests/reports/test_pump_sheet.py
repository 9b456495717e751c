"""The build sheet of a pump: its casing measured by readers that are not ours, and its words."""

import io
import math
import re
from collections.abc import Mapping
from html import unescape
from typing import Any

import pytest
from ezdxf.filemanagement import read

from reports.design.as_made import as_made
from reports.design.casing import NoCasingError
from reports.design.collector import TONGUE, Collector, collector
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.items import items_of
from reports.design.pump.tables import FAILS, speeds
from reports.design.sheet import write_sheet
from reports.kit.quantities import THIN, quantity
from tests.reports.test_machine_files import Body, box_of, is_valid, solids, volume
from tests.support.pumps import pump_data

GIVEN: dict[str, Any] = {
    "disc_diameter": 100.0, "rim_clearance": 3.0, "eye_diameter": 40.0, "seal_clearance": 0.1,
    "ring_length": 5.0, "throat_area": 100.0, "port_diameter": 16.0, "height": 20.0,
    "suction_ends": 1, "carrier": 42.0, "eye_area": 800.0,
}  # fmt: skip


@pytest.fixture(scope="module", params=[1, 2], ids=["one eye", "two eyes"])
def data(request: pytest.FixtureRequest) -> BuildData:
    return pump_data(suction_ends=request.param)


@pytest.fixture(scope="module")
def facts(data: BuildData) -> BuildFacts:
    return build_facts_of(data)


@pytest.fixture(scope="module")
def made(data: BuildData) -> Mapping[str, str | bytes]:
    return write_sheet(data)


@pytest.fixture(scope="module")
def texts(made: Mapping[str, str | bytes]) -> Mapping[str, str]:
    return {name: text for name, text in made.items() if isinstance(text, str)}


@pytest.fixture(scope="module")
def machine(texts: Mapping[str, str], tmp_path_factory: pytest.TempPathFactory) -> list[Body]:
    found = solids(texts["machine.step"], tmp_path_factory.mktemp("pump"))
    return [Body(solid, volume(solid)) for solid in found]


def drawn(**changes: Any) -> Collector:
    return collector(**{**GIVEN, **changes})


def said(page: str) -> str:
    text = unescape(re.sub(r"<[^>]+>", " ", page.split("</style>")[1]))
    return re.sub(r"\s+", " ", text.replace(THIN, " "))


def test_the_casing_is_valid_solids_of_which_none_is_where_another_is(
    facts: BuildFacts, machine: list[Body]
) -> None:
    parts = [item.part for item in items_of(facts)]
    assert len(machine) == sum(part.pieces for part in parts)
    assert all(is_valid(body.solid) for body in machine)
    expected = sorted(part.volume for part in parts for _ in range(part.pieces))
    assert sorted(body.volume for body in machine) == pytest.approx(expected, rel=1e-9)
    common = pytest.importorskip("OCP.BRepAlgoAPI").BRepAlgoAPI_Common
    boxes = [box_of(body.solid) for body in machine]
    kinds = {round(body.volume, 6): place for place, body in enumerate(machine)}
    checked = 0
    for place in kinds.values():
        for other in kinds.values():
            if other > place and not boxes[place].IsOut(boxes[other]):
                shared = common(machine[place].solid, machine[other].solid).Shape()
                assert shared.IsNull() or volume(shared, 1e-3) < 1e-6
                checked += 1
    assert checked > len(kinds)


def test_the_throat_in_the_file_has_the_area_of_the_design(
    texts: Mapping[str, str], facts: BuildFacts
) -> None:
    lines = [
        entity.get_points()  # type: ignore[attr-defined]
        for entity in read(io.StringIO(texts["collector-plate.dxf"])).modelspace()
        if entity.dxftype() == "LWPOLYLINE"
    ]
    assert len(lines) == 1
    x = [point[0] for point in lines[0]]
    bore = facts.number("disc_diameter") * 500 + facts.number("rim_clearance") * 1e3
    assert x[0] == pytest.approx(bore)  # the tongue begins where the casing bore is
    throat = x[4] - bore - TONGUE  # behind four quarters the outer wall, off the straight one
    height = facts.number("stack_height") * 1e3
    assert throat * height == pytest.approx(facts.number("throat_area") * 1e6, rel=0.02)


def test_rounding_makes_the_throat_that_is_drawn_the_one_that_is_computed(data: BuildData) -> None:
    made, rounding = as_made(data.study, dict(data.front), 0)
    area, height = (float(made[key][0]) for key in ("throat_area", "stack_height"))
    steps = area / height / 5e-5  # twentieths of a millimetre
    assert steps == pytest.approx(round(steps), abs=1e-6)
    assert "throat_area" in {key for key, _, _ in rounding.sizes}
    assert made["flow"][0] == pytest.approx(data.front["flow"][0], rel=0.02)


def test_the_passage_grows_evenly_and_never_comes_nearer_than_the_casing_bore() -> None:
    spiral = drawn().spiral
    edges = spiral.outline().edges
    ends = [math.hypot(*edge.end) - spiral.bore for edge in edges[:4]]
    whole = spiral.throat + TONGUE
    assert ends == pytest.approx([whole * turn / 4 for turn in (1, 2, 3, 4)], abs=0.05 * whole)
    assert min(math.hypot(*edge.start) for edge in edges) >= spiral.bore - 1e-9
    for edge, following in zip(edges, (*edges[1:], edges[0]), strict=True):
        assert math.dist(edge.end, following.start) < 1e-9
    # Area of a pipe of 16 mm, and the usual 5 to 6 degrees either side of a cone's axis.
    assert spiral.mouth * 20.0 == pytest.approx(math.pi * 16**2 / 4, rel=0.01)
    slope = math.degrees(math.atan2(spiral.mouth - spiral.throat, spiral.length))
    assert slope <= 10.0 + 1e-9


def test_the_suction_has_the_area_of_the_eye_where_it_fits() -> None:
    wide = drawn()
    assert len(wide.suctions) * math.pi * wide.suction_drill**2 / 4 >= 800
    for hole in wide.suction_holes:
        assert math.hypot(*hole.centre) - hole.radius >= 21
        assert math.hypot(*hole.centre) + hole.radius <= wide.chamber
    many = drawn(eye_area=4000.0)
    assert len(many.suctions) > 1


@pytest.mark.parametrize(("changes", "words"), [
    ({"throat_area": 10.0}, "too narrow to cut"),
    ({"ring_length": 13.0}, "longer than its plate"),
    ({"eye_diameter": 92.0}, "no room for a wear ring"),
    ({"port_diameter": 60.0}, "no pipe thread"),
    ({"carrier": 300.0}, "no suction fits"),
])  # fmt: skip
def test_what_cannot_be_cut_is_refused_with_the_reason(
    changes: dict[str, float], words: str
) -> None:
    with pytest.raises(NoCasingError, match=words):
        drawn(**changes)


def test_without_a_casing_the_sheet_says_why_and_draws_the_rotor() -> None:
    files = write_sheet(pump_data(port_diameter=60e-3))
    assert "no pipe thread" in said(str(files["sheet.html"]))
    assert "disc.dxf" in files
    assert "collector-plate.dxf" not in files


def test_the_sheet_speaks_of_head_flow_and_suction_and_not_of_jets(
    texts: Mapping[str, str], data: BuildData
) -> None:
    text = said(texts["sheet.html"])
    for key, label in (("flow", "Flow"), ("head", "Head"), ("npsh_margin", "NPSH margin")):
        shown = quantity(key, float(data.front[key][0])).replace(THIN, " ")
        assert f"{label} {shown}" in text
    for words in ("Flood it", "bladed pump", "Motor", "Wear ring", "Throat, across"):
        assert words in text, words
    for word in ("nozzle", "turbine", "exhaust", "generator", "jets", "overspeed trip", "collar"):
        every = " ".join(texts[name] for name in texts if name.endswith((".svg", ".csv")))
        found = re.search(rf".{{0,60}}\b{word}.{{0,40}}", f"{text} {every}", flags=re.IGNORECASE)
        assert found is None, found
    assert "<b>of water" not in texts["sheet.html"]


def test_speeds_to_know_end_with_every_way_of_failing(facts: BuildFacts) -> None:
    found = {known.name: known for known in speeds(facts)}
    running = facts.number("speed")
    assert found["Highest of its drive"].speed == pytest.approx(1.1 * running)  # usual factor
    lowest = min(facts.number(key) for key in FAILS)
    assert found["First failure"].speed == pytest.approx(lowest)
    assert found["Motor limit speed"].mode == "motor limit"
