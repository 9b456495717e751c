"""Discs with round holes, and the spacers between them, as they are drawn."""

import math

import pytest

from engine.physics.machine.web import HOLES, web_shape
from reports.design.facts import BuildData, build_facts_of
from reports.design.outlines import (
    Circle,
    NoWebError,
    Outline,
    Web,
    blocked_share,
    disc,
    spacer,
    web_of,
)
from reports.design.rotor_drawings import rotor_marks
from tests.reports.test_drawing import area, of_kind, reread
from tests.reports.test_sheet import changed

BUILDS = [(6, 36.0, 0.5), (5, 36.0, 0.48), (3, 60.0, 0.62), (4, 90.0, 0.7)]


def holed(spokes: int, bore: float, blocked: float) -> Web:
    return web_of(
        shaft_diameter=8.0, exhaust_bore=bore, blockage=blocked, spokes=spokes, holes=True
    )


@pytest.mark.parametrize(("spokes", "bore", "blocked"), BUILDS)
def test_a_disc_with_holes_is_cut_as_it_is_computed(
    spokes: int, bore: float, blocked: float
) -> None:
    drawn = holed(spokes, bore, blocked)
    cut = reread(disc(diameter=2 * bore, web=drawn))
    circles = of_kind(cut, "CIRCLE", "INSIDE")
    assert len(circles) == len(list(cut.modelspace())) - 1 == spokes + 1
    holes = sum(area(circle) for circle in circles) - math.pi * 4.0**2
    share = 1 - holes / (math.pi * ((bore / 2) ** 2 - 4.0**2))
    assert share == pytest.approx(blocked, rel=0.02)
    assert share == pytest.approx(blocked_share(drawn), rel=1e-3)
    computed = web_shape(
        shaft_radius=4e-3, bore_radius=bore / 2e3, blockage=blocked, spokes=spokes, holes=True
    )
    assert computed.fits
    for ours, theirs in (
        (drawn.spoke_width, computed.spoke_width),
        (drawn.hub_radius, computed.hub_radius),
        (drawn.fillet, computed.fillet),
    ):
        assert ours == pytest.approx(1e3 * float(theirs), rel=0.03)


@pytest.mark.parametrize(("spokes", "bore", "blocked"), BUILDS)
def test_its_spacer_is_closed_leaves_the_holes_free_and_reaches_the_bore(
    spokes: int, bore: float, blocked: float
) -> None:
    web = holed(spokes, bore, blocked)
    part = spacer(web=web)
    assert isinstance(part.outside, Outline)
    edges = part.outside.edges
    follow = zip(edges, (*edges[1:], edges[0]), strict=True)
    assert max(math.dist(one.end, two.start) for one, two in follow) < 1e-9
    holes = list(disc(diameter=2 * bore, web=web).inside[1:])
    assert all(isinstance(hole, Circle) for hole in holes)
    (outline,) = of_kind(reread(part), "LWPOLYLINE", "OUTSIDE")
    assert part.area == pytest.approx(area(outline) - math.pi * 4.0**2, rel=1e-4)
    points = [point for edge in edges for point in (edge.start, edge.end)]
    assert max(math.hypot(*p) for p in points) == pytest.approx(bore / 2)
    for hole in holes:
        assert isinstance(hole, Circle)
        assert min(math.dist(p, hole.centre) for p in points) > hole.radius - 1e-9


def test_more_than_the_walls_leave_is_refused() -> None:
    # Six holes with walls of 2 mm around a shaft of 8 mm leave 55 % of a bore of 36 mm.
    with pytest.raises(NoWebError, match=r"a web blocks from 0\.44"):
        holed(6, 36.0, 0.3)
    assert blocked_share(holed(6, 36.0, 0.446)) < 0.46
    assert all(holed(count, 60.0, 0.75).holes for count in HOLES)


def test_drawings_give_holes_their_circle_and_arms_their_width(sheet_data: BuildData) -> None:
    facts = build_facts_of(changed(sheet_data, hold="holes", spokes=6.0, exhaust_blockage=0.5))
    cut = disc(diameter=facts.disc.width, web=facts.web)
    assert cut == facts.disc
    entries = [mark for part in (cut, facts.spacer) for mark in rotor_marks(facts, part)]
    texts = " ".join(f"{mark.text} {mark.below}" for mark in entries)
    web = facts.web
    assert f"6× ⌀{2 * web.fillet:g}" in texts
    assert f"on ⌀{round(2 * web.pitch_radius, 2):g}, 6× 60°" in texts
    assert "arms, radial sides" in texts
    assert "spokes" not in texts
