"""Drawn parts as solids and as an order, measured again by readers that are not ours."""

import csv
import io
import itertools
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import ezdxf.path
import numpy as np
import pytest
from ezdxf.filemanagement import read

from reports.design.casing import Casing, NoCasingError, casing
from reports.design.drawings.dxf import dxf_of
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.items import items_of
from reports.design.machine import plates_of
from reports.design.outlines import Outline
from reports.design.plate import REAM_ALLOWANCE, Plate, as_cut
from reports.design.sheet import write_sheet
from reports.design.step import Product, TurnedProduct, step_of
from reports.design.turned import Bores, Turned, chamfered, rings
from reports.design.turned_parts import TurnedPart, turned_parts
from tests.support.kernel import box_of, is_valid, levels, solids, volume

SHAPES = {
    "one nozzle": {},
    "four, steep": {"nozzle_count": 4, "inlet_angle": math.radians(20), "nozzle_width": 0.3},
    "divergent": {"nozzle_count": 2, "exit_width": 0.65},
    "many on a large rim": {"nozzle_count": 12, "disc_diameter": 200.0},
}


@pytest.fixture(scope="module")
def facts(sheet_data: BuildData) -> BuildFacts:
    return build_facts_of(sheet_data)


@pytest.fixture(scope="module")
def files(sheet_data: BuildData) -> Mapping[str, str]:
    made = write_sheet(sheet_data)
    return {name: text for name, text in made.items() if isinstance(text, str)}


@dataclass(frozen=True)
class Body:
    """A solid of the machine, measured once."""

    solid: Any
    volume: float


@pytest.fixture(scope="module")
def machine(files: Mapping[str, str], tmp_path_factory: pytest.TempPathFactory) -> list[Body]:
    found = solids(files["machine.step"], tmp_path_factory.mktemp("machine"))
    return [Body(solid, volume(solid)) for solid in found]


def like(machine: list[Body], wanted: float) -> list[Any]:
    """Solids of this volume."""
    return [body.solid for body in machine if math.isclose(body.volume, wanted, rel_tol=1e-9)]


def drawn(**changes: Any) -> Casing:
    given: dict[str, Any] = {
        "disc_diameter": 100.0,
        "rim_clearance": 0.3,
        "exhaust_bore": 50.0,
        "seal_clearance": 0.05,
        "inlet_angle": math.radians(6),
        "nozzle_count": 1,
        "nozzle_width": 0.5,
        "nozzle_land": 2.0,
    }
    given |= changes
    return casing(**{"exit_width": given["nozzle_width"], **given})


def apart(one: Any, other: Any) -> float:
    extrema = pytest.importorskip("OCP.BRepExtrema").BRepExtrema_DistShapeShape(one, other)
    return float(extrema.Value())


def walls_across(solid: Any) -> list[float]:
    """Distance from the shaft's axis of every flat wall that is normal to x."""
    explorer, kinds = (pytest.importorskip(f"OCP.{name}") for name in ("TopExp", "TopAbs"))
    adaptor, topods = (pytest.importorskip(f"OCP.{name}") for name in ("BRepAdaptor", "TopoDS"))
    found, each = list[float](), explorer.TopExp_Explorer(solid, kinds.TopAbs_FACE)
    while each.More():
        surface = adaptor.BRepAdaptor_Surface(topods.TopoDS.Face(each.Current()))
        if surface.GetType().name == "GeomAbs_Plane":
            plane = surface.Plane()
            if abs(plane.Axis().Direction().X()) > 1 - 1e-12:
                found.append(float(plane.Location().X()))
        each.Next()
    return sorted(found)


def test_the_machine_is_read_as_valid_solids_of_the_drawn_volume(
    facts: BuildFacts, files: Mapping[str, str], machine: list[Body]
) -> None:
    parts = [item.part for item in items_of(facts)]
    assert len(machine) == sum(part.pieces for part in parts)
    assert all(is_valid(body.solid) for body in machine)
    expected = sorted(part.volume for part in parts for _ in range(part.pieces))
    np.testing.assert_allclose(sorted(body.volume for body in machine), expected, rtol=1e-9)
    names = {part.name for part in parts}
    assert set(re.findall(r"PRODUCT\('([^']*)'", files["machine.step"])) > names


def test_no_part_of_the_machine_is_where_another_is(machine: list[Body]) -> None:
    common = pytest.importorskip("OCP.BRepAlgoAPI").BRepAlgoAPI_Common
    boxes = [box_of(body.solid) for body in machine]
    # One of each kind is enough, and it suffices that its neighbours are clear of it.
    kinds = {round(body.volume, 6): place for place, body in enumerate(machine)}
    checked = set[tuple[float, float]]()
    for kind, place in kinds.items():
        for other, body in enumerate(machine):
            pair = kind, round(body.volume, 6)
            if other != place and pair not in checked and not boxes[place].IsOut(boxes[other]):
                shared = common(machine[place].solid, body.solid).Shape()
                assert shared.IsNull() or volume(shared, 1e-3) < 1e-6
                checked |= {pair, pair[::-1]}
    assert len(checked) > len(kinds)


def test_each_turned_part_is_one_valid_solid_of_the_drawn_volume(
    facts: BuildFacts, files: Mapping[str, str], tmp_path: Path
) -> None:
    made = [part for part in turned_parts(facts) if not part.bought]
    assert len(made) == 6
    for part in made:
        (solid,) = solids(files[f"{part.file}.step"], tmp_path)
        assert is_valid(solid)
        assert volume(solid) == pytest.approx(part.volume, rel=1e-9)
        assert levels(solid) == pytest.approx(part.part.ends, abs=1e-6)


def test_turned_bodies_hold_cones_grooves_and_bores(tmp_path: Path) -> None:
    shaft = Turned("shaft", chamfered(rings([(8, 0, 14), (11, 14, 16), (8, 16, 58)]), 0.5))
    ends = 2 * math.pi / 3 * 0.5 * (3.5**2 + 3.5 * 4 + 4**2)  # two cones, worked by hand
    assert shaft.volume == pytest.approx(math.pi * (16 * 55 + 5.5**2 * 2) + ends)
    flange = Turned("flange", rings([(42, 0, 4)], bore=20), Bores(3, 3.4, 35, 0, 4))
    assert flange.volume == pytest.approx(math.pi * 4 * (21**2 - 10**2 - 3 * 1.7**2))
    for part in (shaft, flange):
        pair = TurnedProduct(part, ((0.0, 0.0, 0.0), (100.0, 0.0, 5.0)), (False, True))
        found = solids(step_of([pair], part.name), tmp_path)
        assert len(found) == 2
        assert all(map(is_valid, found))
        assert [*map(volume, found)] == pytest.approx([part.volume] * 2, rel=1e-9)
        assert levels(found[1]) == pytest.approx((5 - part.length, 5), abs=1e-6)
    pointed = TurnedProduct(
        Turned("cone", ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))), ((0.0,) * 3,), (False,)
    )
    with pytest.raises(ValueError, match="a cone ends in a point"):
        step_of([pointed], "cone")


def test_collars_run_in_the_end_plates_with_their_clearance(
    facts: BuildFacts, machine: list[Body]
) -> None:
    collar = next(part for part in turned_parts(facts) if part.name == "collar")
    plate = next(plate for plate in plates_of(facts) if plate.name == "end plate")
    collars, plates = (like(machine, part.volume) for part in (collar, plate))
    assert len(collars) == 2
    clearance = 1e3 * facts.number("seal_clearance")
    near = min(apart(one, plates[0]) for one in collars)
    assert near == pytest.approx(clearance, abs=1e-6)


def test_a_belt_stands_where_the_layout_puts_it(sheet_data: BuildData) -> None:
    belted = {**sheet_data.front, "drive_ratio": np.array([0.2])}
    facts = build_facts_of(replace(sheet_data, front=belted))
    parts = {part.name: part for part in turned_parts(facts)}
    assert parts["generator pulley"].places[0][0] == pytest.approx(facts.laid("centres"))
    assert "half coupling" not in parts
    assert isinstance(parts["pulley"], TurnedPart)
    assert parts["pulley"].remark.startswith("100 teeth")


def test_stack_and_clearance_in_the_solids_are_those_of_the_design(
    facts: BuildFacts, machine: list[Body]
) -> None:
    by_volume = {plate.part.name: like(machine, plate.volume) for plate in plates_of(facts)}
    discs, (nozzles,) = by_volume["disc"], by_volume["nozzle plate"]
    low, high = (min(levels(s)[0] for s in discs), max(levels(s)[1] for s in discs))
    assert high - low == pytest.approx(1e3 * facts.number("stack_height"), abs=1e-6)
    assert levels(nozzles) == pytest.approx((low, high), abs=1e-6)
    clearance = 1e3 * facts.number("rim_clearance")
    assert apart(discs[0], nozzles) == pytest.approx(clearance, abs=1e-6)
    gaps = sorted(levels(s)[0] for s in discs)
    pitch = 1e3 * (facts.number("gap") + facts.number("disc_thickness"))
    np.testing.assert_allclose(np.diff(gaps), pitch, atol=1e-6)


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES.keys())
def test_throat_and_axis_of_the_first_jet_are_in_the_solid(
    shape: Mapping[str, Any], tmp_path: Path
) -> None:
    found = drawn(**shape)
    (solid,) = solids(step_of([Product(found.nozzle_plate, 7.0, (0.0,))], "plate"), tmp_path)
    assert is_valid(solid)
    width = shape.get("nozzle_width", 0.5)
    mouth = shape.get("exit_width", width)
    across = [x for x in walls_across(solid) if x > 0]
    radius = shape.get("disc_diameter", 100.0) / 2
    offset = radius * math.cos(shape.get("inlet_angle", math.radians(6)))
    assert offset - mouth / 2 == pytest.approx(across[0], abs=1e-6)
    assert min(x for x in across if x > across[0] + 1e-3) - across[0] == pytest.approx(
        width, abs=1e-6
    )


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES.keys())
def test_plates_are_closed_and_leave_walls(shape: Mapping[str, Any]) -> None:
    found = drawn(**shape)
    passages = found.nozzle_plate.inside[0]
    assert isinstance(passages, Outline)
    follow = zip(passages.edges, (*passages.edges[1:], passages.edges[0]), strict=True)
    assert max(math.dist(one.end, two.start) for one, two in follow) < 1e-9
    along, across = found.nozzle.plenum_at
    plenum = math.hypot(along, across)
    assert plenum - found.nozzle.plenum > found.bore + 3.9
    assert found.bolt_circle - found.bolt_hole / 2 > plenum + found.nozzle.plenum + 3.9


def test_nozzles_that_cannot_be_cut_are_refused_with_the_reason(sheet_data: BuildData) -> None:
    with pytest.raises(NoCasingError, match="40 nozzles with their plenums do not fit"):
        drawn(nozzle_count=40)
    with pytest.raises(NoCasingError, match="does not open into the casing bore"):
        drawn(nozzle_width=1.0, inlet_angle=math.radians(1))
    crowded = {**sheet_data.front, "nozzle_count": np.array([60.0])}
    made = write_sheet(replace(sheet_data, front=crowded))
    assert "nozzle-plate.dxf" not in made
    assert "shaft.step" in made
    assert "No casing is drawn: 60 nozzles" in str(made["sheet.html"])


def test_a_stack_with_one_exhaust_is_closed_at_its_other_end(sheet_data: BuildData) -> None:
    one = {**sheet_data.front, "exhaust_ends": np.array([1.0])}
    plates = {p.part.name: p for p in plates_of(build_facts_of(replace(sheet_data, front=one)))}
    discs = plates["disc"].pieces + plates["closing disc"].pieces
    assert discs == sheet_data.front["disc_count"][0]
    assert len(plates["closing disc"].part.inside) == 1
    assert plates["cover plate"].levels[0] == pytest.approx(
        plates["closed plate"].levels[0] + plates["closed plate"].thickness
    )
    assert "end plate" not in plates


def test_the_order_lists_what_a_cutting_service_counts_in_the_files(
    facts: BuildFacts, files: Mapping[str, str]
) -> None:
    rows = list(csv.DictReader(io.StringIO(files["order.csv"])))
    assert [row["file"] for row in rows] == [name for name in files if name.endswith(".dxf")]
    for row in rows:
        space = read(io.StringIO(files[row["file"]])).modelspace()
        assert int(row["pierces"]) == len(space)
        length = sum(
            a.distance(b)
            for entity in space
            for points in [list(ezdxf.path.make_path(entity).flattening(1e-4))]
            for a, b in itertools.pairwise(points)
        )
        assert float(row["cut_length_mm"]) == pytest.approx(length, rel=1e-3, abs=1)
    pieces = {row["file"]: int(row["pieces"]) for row in rows}
    assert pieces["disc.dxf"] == facts.number("disc_count")
    assert pieces["spacer.dxf"] == facts.number("disc_count") - 1


def holes(plate: Plate, version: str) -> list[float]:
    document = read(io.StringIO(dxf_of(as_cut(plate.part), {}, version=version)))
    assert document.audit().errors == []
    return sorted(circle.dxf.radius for circle in document.modelspace().query("CIRCLE"))


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_the_shaft_hole_is_cut_small_and_the_drawing_gives_both_sizes(
    facts: BuildFacts, files: Mapping[str, str], version: str
) -> None:
    hole = 1e3 * facts.number("shaft_diameter")
    for plate in plates_of(facts)[:3]:
        assert holes(plate, version)[0] == pytest.approx((hole - REAM_ALLOWANCE) / 2)
        drawing = files[f"{plate.file}.svg"]
        assert f"⌀{hole - REAM_ALLOWANCE:g} cut" in drawing
        assert "ream H7 (+0.0" in drawing


def test_every_dxf_has_closed_outlines_and_no_doubles(files: Mapping[str, str]) -> None:
    for name in (name for name in files if name.endswith(".dxf")):
        document = read(io.StringIO(files[name]))
        assert document.audit().errors == []
        found = set[Any]()
        for entity in document.modelspace():
            if entity.dxftype() == "CIRCLE":
                key: Any = (*entity.dxf.center.round(3), round(entity.dxf.radius, 3))
            else:
                assert entity.closed  # type: ignore[attr-defined]
                corners = entity.get_points()  # type: ignore[attr-defined]
                key = tuple((round(x, 3), round(y, 3)) for x, y, *_ in corners)
                assert len(set(key)) == len(key)
            assert key not in found
            found.add(key)


def test_dowels_are_cut_small_and_let_no_plate_go_on_turned_over(facts: BuildFacts) -> None:
    casing = facts.casing
    assert casing is not None
    dowels = casing.holes[casing.bolts :]
    cut = as_cut(casing.side_ring, casing)
    radii = sorted(edge.radius for edge in cut.inside[1:] if not isinstance(edge, Outline))
    assert radii[:2] == pytest.approx([casing.bolt_size / 2 - REAM_ALLOWANCE / 2] * 2)
    # Turned over about any axis that brings the dowels onto each other, the bolts do not meet.
    one, two = (math.atan2(*hole.centre[::-1]) for hole in dowels)
    pitch = math.tau / casing.bolts
    met = abs(math.remainder(one + two, pitch))
    assert met > math.radians(2)
    # Nor turned round: no turn but a whole one brings dowels onto dowels.
    assert abs(math.remainder(2 * (one - two), math.tau)) > math.radians(5)


@pytest.mark.parametrize("nozzles", [1, 2, 3, 4])
def test_arms_leave_the_ports_of_the_supply_free(sheet_data: BuildData, nozzles: int) -> None:
    front = {**sheet_data.front, "nozzle_count": np.array([float(nozzles)])}
    facts = build_facts_of(replace(sheet_data, front=front))
    assert facts.casing is not None
    plate = next(plate for plate in plates_of(facts) if plate.name == "free-end plate")
    openings = [edge for edge in plate.part.inside if isinstance(edge, Outline)]
    assert len(openings) == 3
    port = facts.casing.supply_plate.inside[-1]
    assert not isinstance(port, Outline)
    points = np.array([e.start for edge in openings for e in edge.edges])
    apart_from = np.hypot(*(points - port.centre).T)
    assert port.radius == facts.casing.port_drill / 2
    assert apart_from.min() > port.radius


def test_the_older_dxf_holds_the_same_closed_outlines(facts: BuildFacts) -> None:
    part = as_cut(plates_of(facts)[0].part)
    document = read(io.StringIO(dxf_of(part, {}, version="R12")))
    assert document.dxfversion == "AC1009"
    chains = list(document.modelspace().query("POLYLINE"))
    assert len(chains) == len(part.inside) - 1
    assert all(chain.is_closed for chain in chains)


def test_a_title_cannot_leave_its_string_in_the_step_file(facts: BuildFacts) -> None:
    plate = plates_of(facts)[0]
    text = step_of([plate], "It's\n#1=X; \\ 5 °C')")
    assert text.isascii()
    assert "'It''s #1=X; \\\\ 5 \\X4\\000000B0\\X0\\C'')'" in text
    assert text.count("\n#1=") == 1
