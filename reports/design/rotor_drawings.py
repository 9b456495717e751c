"""Dimensions and notes on the drawings of discs, spacers and end clamps."""

import math
from collections.abc import Sequence

from reports.design import drawing_wording
from reports.design.drawings.dimensions import Callout, Control
from reports.design.facts import BuildFacts
from reports.design.fits import limits
from reports.design.outlines import Circle, Outline, Part, Point, axis_of, point_along
from reports.design.plate import REAM_ALLOWANCE
from reports.design.shop_sizes import general, plain
from reports.kit.quantities import number

MIDDLE = (0.0, 0.0)


def rotor_notes(facts: BuildFacts, part: Part) -> Sequence[str]:
    """List the notes below a part of the rotor."""
    if isinstance(part.outside, Circle):
        return drawing_wording.disc_notes(facts)
    return drawing_wording.spacer_notes(facts, part.name)


def rotor_marks(facts: BuildFacts, part: Part) -> tuple[Callout, ...]:
    """Give the dimensions of a part of the rotor, each at an edge of its own."""
    web, shop = facts.web, facts.tolerances
    hole = 2 * web.shaft_radius
    small = plain(hole - REAM_ALLOWANCE)
    round_part = isinstance(part.outside, Circle)
    flat = Control("flatness", plain(1e3 * shop.lean)) if round_part else None
    at = point_along(math.pi * 5 / 6 if web.spokes == 3 else math.pi, web.shaft_radius)
    ream = f"ream {limits(hole, 'H7').text}"
    found = [Callout(f"⌀{small} cut", ream, at, "left", centre=MIDDLE, datum="A")]
    if round_part:
        turn = axis_of(web, 0) - 0.5 * math.tau / web.spokes
        rim = point_along(turn, part.width / 2)
        off = Control("position", f"⌀{plain(2e3 * shop.eccentricity)}", "A")
        found += [
            Callout("rim", "", rim, "right", centre=MIDDLE, control=off),
            Callout(
                "face at rim",
                "both faces",
                point_along(turn + math.pi - 0.15, 0.97 * part.width / 2),
                "left",
                control=Control("run-out", plain(1e3 * shop.run_out), "A"),
            ),
            Callout(
                "face", "", point_along(turn + math.pi, 0.9 * part.width / 2), "left", control=flat
            ),
        ]
    # What closes an end has a shaft hole alone, or with those of bolts.
    openings = [edge for edge in part.inside[1:] if web.holes or isinstance(edge, Outline)]
    if round_part and not openings:
        return tuple(found)
    found += _hole_marks(part) if web.holes else _spoke_marks(part)
    if round_part:
        bore = 2 * web.bore_radius
        share = 1.0 if web.holes else 2 / 3
        at = point_along(axis_of(web, 0) - share * math.pi / web.spokes, web.bore_radius)
        text = f"⌀{plain(bore)} {general(bore)}"
        told = "over the holes" if web.holes else facts.bore
        found.append(Callout(text, told, at, "right", centre=MIDDLE))
    return tuple(found)


def _spoke_marks(part: Part) -> list[Callout]:
    """Dimensions of spokes and hub."""
    web = part.web
    last, left = axis_of(web, web.spokes - 1), axis_of(web, round(web.spokes / 3))
    middle, half = (web.hub_radius + web.bore_radius) / 2, web.spoke_width / 2
    hub = 2 * web.hub_radius
    apart = f"{web.spokes}× {number(360 / web.spokes, 3, trim=True)}°"
    return [
        Callout(
            f"{plain(web.spoke_width)} {general(web.spoke_width)}",
            f"{web.spokes} spokes, {apart}",
            point_along(left, middle, -half),
            "left",
            over=point_along(left, middle, half),
        ),
        Callout(f"R{plain(web.fillet)}", "every corner", part.corner, "left"),
        Callout(
            f"⌀{plain(round(hub, 2))} {general(hub)}",
            "hub",
            point_along((last + axis_of(web, 0) + math.tau) / 2, web.hub_radius),
            "right",
            centre=MIDDLE,
        ),
    ]


def _hole_marks(part: Part) -> list[Callout]:
    """Dimensions of round holes, or of a spacer between them."""
    web, size, pitch = part.web, 2 * part.web.fillet, 2 * part.web.pitch_radius
    half = math.pi / web.spokes
    last, left = axis_of(web, web.spokes - 1) + half, axis_of(web, round(web.spokes / 3))
    middle = point_along(last, web.pitch_radius)
    apart = f"{web.spokes}× {number(360 / web.spokes, 3, trim=True)}°"
    circle = f"on ⌀{plain(round(pitch, 2))}, {apart}"
    if isinstance(part.outside, Circle):
        x, y = point_along(0.0, web.fillet)
        at = (middle[0] + x, middle[1] + y)
        hole = f"{web.spokes}× ⌀{plain(size)} {general(size)}"
        return [Callout(hole, circle, at, "right", centre=middle)]
    x, y = point_along(last + math.pi, web.fillet)
    tip = 2 * web.bore_radius * math.sin(web.arm)
    sides = [point_along(left + turn, web.bore_radius) for turn in (-web.arm, web.arm)]
    return [
        Callout(f"R{plain(web.fillet)}", circle, (middle[0] + x, middle[1] + y), "right"),
        Callout(
            f"{plain(round(tip, 2))} {general(tip)}",
            "arms, radial sides",
            sides[0],
            "left",
            over=sides[1],
        ),
    ]


def spoke_axes(part: Part) -> tuple[tuple[Point, Point], ...]:
    """Draw lines through the middle of every spoke, to beyond the edge on both sides."""
    reach = 1.04 * part.width / 2
    return tuple(
        (point_along(axis, reach), point_along(axis, -reach))
        for axis in (axis_of(part.web, spoke) for spoke in range(part.web.spokes))
    )
