"""Disc and spacer as drawn and as cut, measured again by readers that are not ours."""

import io
import itertools
import math
import re
from xml.etree import ElementTree as ET

import ezdxf.path
import pytest
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.filemanagement import read

from engine.physics.machine.web import SPOKES, web_shape
from reports.design.drawings.dimensions import Callout
from reports.design.drawings.dxf import dxf_of
from reports.design.drawings.flat import FlatDrawing, flat_sheet
from reports.design.drawings.frames import INSET, Block, bar_level, scale_text
from reports.design.drawings.paper import A4, in_page, svg_of
from reports.design.facts import reamed
from reports.design.outlines import (
    Circle,
    Flat,
    NoWebError,
    Outline,
    Part,
    Web,
    disc,
    spacer,
    web_of,
)
from reports.design.shop_sizes import general_tolerance

SHAFT, BORE, RIM, BLOCKED = 8.0, 70.0, 90.0, 0.25
HOSTILE = "<script>alert(1)</script> & \"x\" 'y'"
NAME = "{http://www.w3.org/2000/svg}"


def parts(shaft: float, bore: float, blocked: float) -> tuple[Part, Part]:
    web = web_of(shaft_diameter=shaft, exhaust_bore=bore, blockage=blocked)
    return disc(diameter=2 * bore, web=web), spacer(web=web)


@pytest.fixture(scope="module")
def web() -> Web:
    return web_of(shaft_diameter=SHAFT, exhaust_bore=BORE, blockage=BLOCKED)


@pytest.fixture(scope="module")
def cut(web: Web) -> Part:
    return disc(diameter=RIM, web=web)


def reread(part: Flat) -> Document:
    return read(io.StringIO(dxf_of(part, {"Part": part.name})))


def of_kind(document: Document, kind: str, layer: str) -> list[DXFGraphic]:
    return list(document.modelspace().query(f'{kind}[layer=="{layer}"]'))


def area(entity: DXFGraphic) -> float:
    """Area inside an outline, from its points as the other reader flattens it."""
    points = list(ezdxf.path.make_path(entity).flattening(1e-4))
    pairs = itertools.pairwise([*points, points[0]])
    return abs(float(sum(a.x * b.y - b.x * a.y for a, b in pairs))) / 2


def test_the_dxf_holds_the_circles_of_the_design(cut: Part) -> None:
    document = reread(cut)
    assert document.units == 4  # millimetres, DXF reference, header variable INSUNITS
    assert [c.dxf.radius for c in of_kind(document, "CIRCLE", "OUTSIDE")] == [RIM / 2]
    assert [c.dxf.radius for c in of_kind(document, "CIRCLE", "INSIDE")] == [SHAFT / 2]
    assert document.audit().errors == []


def test_the_dxf_holds_nothing_but_outlines_to_cut(cut: Part, web: Web) -> None:
    for part, count in ((cut, 5), (spacer(web=web), 2)):
        entities = list(reread(part).modelspace())
        assert len(entities) == count
        assert {entity.dxf.layer for entity in entities} == {"INSIDE", "OUTSIDE"}


def test_openings_end_at_the_bore_and_every_corner_is_round(cut: Part, web: Web) -> None:
    openings = of_kind(reread(cut), "LWPOLYLINE", "INSIDE")
    assert len(openings) == 3
    for opening in openings:
        assert opening.closed  # type: ignore[attr-defined]
        edges = list(opening.virtual_entities())  # type: ignore[attr-defined]
        radii = sorted(round(e.dxf.radius, 6) for e in edges if e.dxftype() == "ARC")
        assert radii == sorted([*[web.fillet] * 4, web.hub_radius, BORE / 2])
        # Smooth all round: no corner sharper than a fillet is left.
        points = list(ezdxf.path.make_path(opening).flattening(1e-4))
        ways = [(b - a).angle for a, b in itertools.pairwise([*points, points[1]]) if b != a]
        turns = [abs(math.remainder(b - a, math.tau)) for a, b in itertools.pairwise(ways)]
        assert max(turns) < 0.1


def test_the_blocked_share_is_that_of_the_study(cut: Part) -> None:
    openings = of_kind(reread(cut), "LWPOLYLINE", "INSIDE")
    annulus = math.pi / 4 * (BORE**2 - SHAFT**2)
    share = 1 - sum(area(opening) for opening in openings) / annulus
    assert share == pytest.approx(BLOCKED, rel=0.01)


@pytest.mark.parametrize("shaft", [6.0, 8.0, 20.0])
@pytest.mark.parametrize("bore", [30.0, 70.0, 140.0])
@pytest.mark.parametrize("blocked", [0.12, 0.25, 0.5, 0.8])
def test_every_web_blocks_its_share_in_closed_outlines(
    shaft: float, bore: float, blocked: float
) -> None:
    try:
        both = parts(shaft, bore, blocked)
    except NoWebError as error:
        assert not error.least <= blocked <= error.most  # noqa: PT017  (only some have none)
        return
    for part in both:
        for outline in (part.outside, *part.inside):
            if isinstance(outline, Outline):
                follow = zip(outline.edges, (*outline.edges[1:], outline.edges[0]), strict=True)
                assert max(math.dist(one.end, two.start) for one, two in follow) < 1e-9
    openings = of_kind(reread(both[0]), "LWPOLYLINE", "INSIDE")
    annulus = math.pi / 4 * (bore**2 - shaft**2)
    share = 1 - sum(area(opening) for opening in openings) / annulus
    assert share == pytest.approx(blocked, rel=0.01)
    assert both[0].web.spoke_width >= 2.0


@pytest.mark.parametrize("spokes", SPOKES)
def test_the_web_drawn_is_the_web_computed(spokes: int) -> None:
    for shaft, bore, blocked in ((8.0, 42.0, 0.4), (8.0, 90.0, 0.3), (12.0, 60.0, 0.5)):
        drawn = web_of(shaft_diameter=shaft, exhaust_bore=bore, blockage=blocked, spokes=spokes)
        computed = web_shape(
            shaft_radius=shaft / 2e3, bore_radius=bore / 2e3, blockage=blocked, spokes=spokes
        )
        assert computed.fits
        assert 1e3 * float(computed.spoke_width) == pytest.approx(drawn.spoke_width, rel=0.03)
        assert 1e3 * float(computed.hub_radius) == pytest.approx(drawn.hub_radius, rel=0.03)
        openings = [cut for cut in disc(diameter=2 * bore, web=drawn).inside if cut.area > 0]
        assert len(openings) == spokes + 1  # and the shaft hole


def test_the_spacer_lies_on_hub_and_spokes_of_the_disc(web: Web) -> None:
    (outside,) = of_kind(reread(spacer(web=web)), "LWPOLYLINE", "OUTSIDE")
    points = list(ezdxf.path.make_path(outside).flattening(1e-3))
    assert max(math.hypot(p.x, p.y) for p in points) == pytest.approx(BORE / 2, abs=1e-6)
    blocked = BLOCKED * math.pi / 4 * (BORE**2 - SHAFT**2)
    hole = math.pi / 4 * SHAFT**2
    # All that it lacks against the disc's web are the fillets at the bore.
    assert area(outside) - hole < blocked
    assert area(outside) - hole == pytest.approx(blocked, rel=0.04)


def test_areas_of_the_parts_are_those_that_another_reader_finds(cut: Part, web: Web) -> None:
    document = reread(cut)
    inside = [
        area(entity)
        for kind in ("CIRCLE", "LWPOLYLINE")
        for entity in of_kind(document, kind, "INSIDE")
    ]
    assert cut.area == pytest.approx(math.pi / 4 * RIM**2 - sum(inside), rel=1e-4)
    (outside,) = of_kind(reread(spacer(web=web)), "LWPOLYLINE", "OUTSIDE")
    hole = math.pi / 4 * SHAFT**2
    assert spacer(web=web).area == pytest.approx(area(outside) - hole, rel=1e-4)


@pytest.mark.parametrize(
    ("shaft", "bore", "blocked"), [(8.0, 24.0, 0.1), (8.0, 24.0, 0.95), (12.0, 14.0, 0.25)]
)
def test_a_share_that_no_hub_with_spokes_blocks_is_refused(
    shaft: float, bore: float, blocked: float
) -> None:
    with pytest.raises(NoWebError, match="a web blocks from"):
        web_of(shaft_diameter=shaft, exhaust_bore=bore, blockage=blocked)


def drawn(part: Part, entry: str = "steel") -> FlatDrawing:
    callout = Callout(entry, entry, (part.web.bore_radius, 0.0), "left")
    block = Block(entry, "1", "1 of 1", "", "1", entry, "", entry, {entry: entry})
    half = part.width / 2
    return FlatDrawing(part, 1.0, "1", entry, half, [callout], [entry], block, entry)


def shown(drawing: FlatDrawing) -> str:
    return svg_of(flat_sheet(drawing))


def test_the_svg_shows_the_outlines_of_the_dxf(cut: Part) -> None:
    root = ET.fromstring(shown(drawn(cut)))  # noqa: S314  our own text
    scale = drawn(cut).scale
    radii = [float(c.get("r", "")) for c in root.iter(f"{NAME}circle")][:2]
    assert radii == pytest.approx([scale * RIM / 2, scale * SHAFT / 2])
    middle = [float(c.get(k, "")) for c in [*root.iter(f"{NAME}circle")][:1] for k in ("cx", "cy")]
    openings = of_kind(reread(cut), "LWPOLYLINE", "INSIDE")
    paths = [*root.iter(f"{NAME}path")][: len(openings)]
    for path, opening in zip(paths, openings, strict=True):
        ends = re.findall(r"(-?[\d.]+) (-?[\d.]+)(?= [LAZ]|$)", path.get("d", ""))
        drew = [((float(x) - middle[0]) / scale, (middle[1] - float(y)) / scale) for x, y in ends]
        cuts = [(v[0], v[1]) for v in opening.get_points()]  # type: ignore[attr-defined]
        assert len(drew) == len(cuts) + 1
        for one, two in zip(drew[:-1], cuts, strict=True):
            assert one == pytest.approx(two, abs=1.5e-3)
        assert drew[-1] == pytest.approx(cuts[0], abs=1.5e-3)


def test_a_drawing_is_true_to_scale_on_paper(cut: Part) -> None:
    root = ET.fromstring(shown(drawn(cut)))  # noqa: S314  our own text
    assert root.get("width") == "180mm"
    assert root.get("viewBox", "").split()[2] == "180"
    assert scale_text(drawn(cut).scale) == "1:1"
    wide = Part("disc", Circle(100.0), cut.inside, cut.web)
    assert scale_text(drawn(wide).scale) == "1:2"
    (bar,) = (
        p
        for p in root.iter(f"{NAME}path")
        if p.get("d", "").startswith(f"M{INSET:.3f} {bar_level(A4):.3f}")
    )
    ends = re.findall(r"[ML]([\d.]+) ", bar.get("d", ""))
    assert float(ends[1]) - float(ends[0]) == 50


def test_no_letter_is_lower_than_two_and_a_half_millimetres(cut: Part) -> None:
    # ISO 3098: capitals are 0.72 of the size of type in usual fonts, from memory.
    root = ET.fromstring(shown(drawn(cut)))  # noqa: S314  our own text
    sizes = [float(text.get("font-size", "")) for text in root.iter(f"{NAME}text")]
    assert min(sizes) * 0.72 >= 2.5


def test_hostile_text_stays_text_in_drawing_and_dxf(cut: Part) -> None:
    within = in_page(shown(drawn(cut, HOSTILE)))
    for text in (within, shown(drawn(cut, HOSTILE))):
        root = ET.fromstring(text)  # noqa: S314  our own text
        assert not [e for e in root.iter() if e.tag.endswith("script")]
        assert HOSTILE in [e.text for e in root.iter()]
    assert "http" not in within
    document = read(io.StringIO(dxf_of(cut, {"Study": "a\n  0\nEOF\nb"})))
    assert document.header.custom_vars.get("Study") == "a 0 EOF b"


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_a_dxf_holds_neither_the_time_nor_a_new_identity(cut: Part, version: str) -> None:
    written = [dxf_of(cut, {"Study": "x"}, version=version) for _ in range(2)]
    assert written[0] == written[1]
    # Read again by the library: the same outlines.
    assert len(read(io.StringIO(written[0])).modelspace()) == 1 + len(cut.inside)


def test_general_tolerances_and_reamed_holes_are_those_of_the_standards() -> None:
    # ISO 2768-1 class f and ISO 286-2 H7, from memory: +-0.15 for 30 to 120 mm; 15 um for 6 to 10.
    assert [general_tolerance(size) for size in (5.0, 25.0, 90.0, 150.0)] == [0.05, 0.1, 0.15, 0.2]
    assert [reamed(size) for size in (8.0, 12.0, 25.0)] == [0.015, 0.018, 0.021]


def test_the_side_view_lies_below_the_circle_around_three_spokes() -> None:
    three = web_of(shaft_diameter=SHAFT, exhaust_bore=BORE, blockage=BLOCKED, spokes=3)
    drawing = drawn(spacer(web=three))
    root = ET.fromstring(shown(drawing))  # noqa: S314  our own text
    around = max(root.iter(f"{NAME}circle"), key=lambda each: float(each.get("r", "")))
    assert float(around.get("r", "")) == pytest.approx(drawing.scale * BORE / 2, abs=1e-3)
    low = float(around.get("cy", "")) + float(around.get("r", ""))
    (low_corner, *_) = (
        [float(y) for _, y in re.findall(r"[ML]([\d.]+) ([\d.]+)", path.get("d", ""))]
        for path in root.iter(f"{NAME}path")
        if path.get("d", "").count("L") == 3 and path.get("d", "").endswith("Z")
    )
    assert min(low_corner) > low
