"""What the drawing of a plate of the casing tells: its dimensions, and its axes."""

import math

from reports.design.carriers import ARM, ARMS, FOOT_SHARE, SCREW, TAP_DRILL, centre_height
from reports.design.casing import Casing, Housing
from reports.design.collector import Collector
from reports.design.drawings.dimensions import Callout, Control
from reports.design.facts import BuildFacts
from reports.design.fits import limits
from reports.design.outlines import Circle, Outline, Point, point_along
from reports.design.plate import REAM_ALLOWANCE, Plate
from reports.design.pump.drawings import pump_marks
from reports.design.shop_sizes import general, plain
from reports.design.turned_parts import carrier_screws
from reports.kit.quantities import number

MIDDLE = (0.0, 0.0)


def casing_marks(facts: BuildFacts, casing: Housing, plate: Plate) -> tuple[Callout, ...]:
    """Dimensions of a plate of the casing, or of one that holds a bearing."""
    name, circle = plate.part.name, casing.bolt_circle
    place = max(casing.bolts // 8, 1)
    bolt, dowel = casing.holes[place].centre, casing.holes[casing.bolts]
    size, turn = 2 * dowel.radius, math.tau / casing.bolts
    found = [
        Callout(
            f"{casing.bolts}× ⌀{plain(casing.bolt_hole)}",
            f"{casing.bolts}× {number(360 / casing.bolts, 4, trim=True)}°, {casing.bolt}",
            point_along(place * turn, circle + casing.bolt_hole / 2),
            "right",
            centre=bolt,
        ),
        Callout(
            f"2× ⌀{plain(size - REAM_ALLOWANCE)} cut",
            f"ream {limits(size, 'H7').text}",
            point_along(turn / 2, circle + dowel.radius),
            "right",
            centre=dowel.centre,
            control=Control("position", "⌀0.02", "B"),
        ),
        Callout(
            f"⌀{plain(2 * circle)} ±0.1",
            f"dowels at {_degrees(casing, 0)}, {_degrees(casing, 1)}",
            point_along(-turn / 2, circle),
            "right",
            centre=MIDDLE,
        ),
    ]
    middle = next((e for e in plate.part.inside[:1] if isinstance(e, Circle)), None)
    round_hole = middle is not None or facts.casing is not None
    radius = middle.radius if middle is not None else casing.bore
    fit = {
        "nozzle plate": ("H8", "casing bore"),
        "side ring": ("H8", "casing bore"),
        "supply ring": ("H8", "casing bore"),
        "port ring": ("H8", "casing bore"),
        "end plate": ("H7", f"{facts.seal} runs in it"),
        "port plate": ("H7", f"{facts.seal} runs in it"),
        "supply plate": ("H7", "collar runs in it"),
        "free-end plate": ("H7", "carrier"),
        "drive-end plate": ("H7", "carrier"),
    }.get(name)
    within = limits(2 * radius, fit[0]).text if fit else general(2 * radius)
    square = Control("squareness", "0.02", "B") if fit and fit[0] == "H7" else None
    if round_hole:
        found.append(
            Callout(
                f"⌀{plain(2 * radius)}",
                within,
                point_along(math.pi * 0.9, radius),
                "left",
                centre=MIDDLE,
                control=square,
                datum="A" if square is None else "",
            )
        )
    found.append(
        Callout(
            "faces" if not fit else f"faces; {fit[1]}",
            "",
            point_along(math.pi * 1.1, casing.outside - 0.3 * (casing.outside - circle)),
            "left",
            control=Control("parallelism", "0.02", "B"),
            datum="B",
        )
    )
    return (*found, *_special_marks(facts, casing, plate))


def _degrees(casing: Housing, dowel: int) -> str:
    x, y = casing.holes[casing.bolts + dowel].centre
    return f"{number(math.degrees(math.atan2(y, x)) % 360, 4, trim=True)}°"


def _special_marks(facts: BuildFacts, casing: Housing, plate: Plate) -> list[Callout]:
    """Dimensions that only one kind of plate has."""
    name, found = plate.part.name, list[Callout]()
    nozzles = round(facts.number("nozzle_count"))
    if isinstance(casing, Collector):
        found += pump_marks(casing, plate)
    if not isinstance(casing, Casing):
        pass
    elif name == "nozzle plate":
        axis = (casing.nozzle.offset, casing.nozzle.mouth)
        found.append(Callout(plain(casing.nozzle.offset), f"{nozzles}×, jet's axis", axis, "right"))
    elif name.startswith("supply"):
        along, across = casing.nozzle.plenum_at
        threaded = name == "supply plate"
        size = casing.port_drill if threaded else 2 * casing.nozzle.plenum
        ports = f"tap {casing.port} through" if threaded else "at every plenum"
        port = (across + size / 2, along)
        text = f"{nozzles}× ⌀{plain(size)}"
        found.append(Callout(text, ports, port, "right", centre=(across, along)))
    if name in ("free-end plate", "drive-end plate"):
        screws, turn = carrier_screws(facts) / 2, math.tau / ARMS
        tap = point_along(-turn, screws)
        outer = casing.bolt_circle - casing.bolt_hole / 2 - 4
        foot, level = FOOT_SHARE * casing.outside, 6 - centre_height(casing.outside)
        found += [
            Callout(
                f"{ARMS}× ⌀{plain(TAP_DRILL)}",
                f"tap {SCREW}, on ⌀{plain(2 * screws)}",
                point_along(-turn, screws + TAP_DRILL / 2),
                "left",
                centre=tap,
            ),
            Callout(
                f"{plain(2 * foot)} {general(2 * foot)}",
                "foot",
                (-foot, level),
                "left",
                over=(foot, level),
            ),
            Callout(
                plain(centre_height(casing.outside)),
                "±0.05, centre height",
                (0.6 * casing.outside, -centre_height(casing.outside)),
                "right",
            ),
        ]
        if any(isinstance(edge, Outline) for edge in plate.part.inside):
            arms = f"{ARMS} arms {plain(ARM)} wide"
            found.append(Callout(f"R{plain(outer)}", arms, (0.0, -outer), "left"))
    return found


def plate_axes(facts: BuildFacts, casing: Housing, plate: Plate) -> tuple[tuple[Point, Point], ...]:
    """Both axes of the plate; on the nozzle plate the axis of every jet."""
    reach = 1.03 * casing.outside
    found = (((-reach, 0.0), (reach, 0.0)), ((0.0, -reach), (0.0, reach)))
    if isinstance(casing, Casing) and plate.part.name == "nozzle plate":
        return (*found, *jet_axes(casing, round(facts.number("nozzle_count"))))
    return found


def jet_axes(casing: Casing, nozzles: int) -> tuple[tuple[Point, Point], ...]:
    """Axis of every jet, from its plenum to where it is nearest to the shaft."""
    back, offset = casing.nozzle.plenum_at[0] - casing.nozzle.plenum, casing.nozzle.offset
    turns = [math.tau * place / nozzles for place in range(nozzles)]
    return tuple(
        (point_along(turn, offset, back), point_along(turn, offset, 0.0)) for turn in turns
    )
