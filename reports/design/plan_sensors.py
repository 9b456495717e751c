"""Where each sensor sits on the bench: a small drawing with numbers, and the list beside it."""

from collections.abc import Mapping
from dataclasses import dataclass

from reports.design.facts import BuildFacts
from reports.design.plan_logs import HELD, LEVER, LOGGED, Columns, columns_of
from reports.design.plan_readings import WRITTEN
from reports.kit.svg import Drawing, Point

OF_STAGES = " Drawn with one stage; the list says where the others are read."
SEATED = (
    "Numbers as in the list. Not to scale; valve and trip are one, containment and relief valve "
    "are not shown."
)
WIDTH, HEIGHT = 360.0, 250.0
SHAFT = 142.0
"""Height of the shaft's axis in the drawing."""
STACK = (150.0, 190.0)
"""Ends of the stack along the shaft."""
RIM, BORE = 44.0, 20.0
"""Radii of stack and exhaust as drawn."""
BADGE = 8.5
"""Radius of the circle around a number."""
SEATS: Mapping[str, tuple[str, Point, Point]] = {
    "supply_pressure": ("gauge at the regulator's dial", (66, 14), (66, 38)),
    "mass_flow": (
        "meter in the supply before the valve, ten bores of straight pipe before it",
        (96, 62),
        (96, 38),
    ),
    "supply_temperature": ("probe in the pipe, just before the nozzles", (148, 14), (170, 50)),
    "nozzle_pressure": ("second dial, in the plenum of the nozzles", (200, 52), (174, 78)),
    "rim_pressure": (
        "1 mm hole in the casing ring, midway between two nozzles, no burr",
        (170, 228),
        (170, SHAFT + RIM + 8),
    ),
    "exhaust_temperature": (
        "probe in the exhaust, behind the collar, clear of the shaft",
        (219, 84),
        (209, SHAFT - BORE - 8),
    ),
    "nozzle_pressure_2": (
        "2 mm hole through the room ring behind stage 1, clear of the passages' holes",
        (262, 228),
        (206, SHAFT + RIM + 4),
    ),
    "nozzle_pressure_3": ("the same behind stage 2", (288, 228), (212, SHAFT + RIM + 4)),
    "exhaust_temperature_2": ("probe behind stage 2", (248, 62), (214, SHAFT - BORE - 6)),
    "exhaust_temperature_3": ("probe behind stage 3", (272, 62), (219, SHAFT - BORE - 4)),
    "outlet_angle": (
        "thread at the tip of a probe in the outlet, see the test",
        (194, 214),
        (209, SHAFT + 12),
    ),
    "outlet_rise": (
        "tube of 2 mm in the same place, into the flow, to a water column",
        (216, 214),
        (213, SHAFT + 12),
    ),
    "speed": (
        "mark on the free end of the shaft, optical pick-up",
        (66, SHAFT - 26),
        (84, SHAFT),
    ),
    "shaft_torque": (
        "generator hung in bearings, with a lever on a balance",
        (290, 208),
        (300, 178),
    ),
    "voltage": ("across the terminals of the generator", (348, SHAFT - 38), (330, SHAFT - 14)),
    "current": ("in one lead to the load", (348, SHAFT + 28), (330, SHAFT + 14)),
}
"""Reading of the loaded run: its place in words, and in the drawing those of number and sensor."""
WATCHED: Mapping[str, tuple[str, str, Point, Point]] = {
    "Vibration": (
        "on the bearing housing beside the stack, across the shaft",
        "mm/s RMS",
        (106, SHAFT + 48),
        (112, SHAFT + 12),
    ),
    "Bearing temperature": (
        "on each bearing housing",
        "°C",
        (244, SHAFT + 48),
        (232, SHAFT + 12),
    ),
}
"""What is watched and not logged, with its unit."""


@dataclass(frozen=True)
class Sensor:
    """One line of the list."""

    number: int
    reads: str
    place: str
    unit: str
    within: str
    """Usual standard uncertainty, as the log's head has it; '' for what is not logged."""


def sensors(facts: BuildFacts) -> tuple[Sensor, ...]:
    """List every sensor with its place, and the unit in which the log takes it."""
    found = []
    also = {"shaft_torque": f"; rotor locked: {HELD['shaft_torque'][0]} on a lever of {LEVER}"}
    if facts.study.supply.dial == "before-hose":
        also["supply_pressure"] = ", before the hose"
    if len(facts.stacks) > 1:
        also["rim_pressure"] = "; of stage 1, through its nozzle plate"
        also["exhaust_temperature"] = "; of stage 1: sealed into the room ring behind it"
        also["speed"] = "; the free end is closed: take the coupling instead"
    for key, (unit, within) in _logged(facts).items():
        place = SEATS[key][0]
        name = key.replace("_", " ").capitalize()
        found.append((name, f"{place}{also.get(key, '')}", WRITTEN.get(unit, unit), within))
    found += [(name, place, unit, "") for name, (place, unit, _, _) in WATCHED.items()]
    return tuple(Sensor(number, *line) for number, line in enumerate(found, 1))


def sensor_drawing(facts: BuildFacts) -> Drawing:
    """Draw supply, casing, shaft and generator, with the number of each sensor at its place."""
    chart = Drawing(
        WIDTH,
        HEIGHT,
        says="Where the sensors sit, from the supply through valve, casing and shaft to the load; "
        "the list beside it says the same.",
        size=11.5,
    )
    _supply(chart)
    _machine(chart, two_ends=facts.number("exhaust_ends") > 1)
    _generator(chart)
    at = [SEATS[key][1:] for key in _logged(facts)]
    at += [(badge, seat) for _, _, badge, seat in WATCHED.values()]
    for number, (badge, seat) in enumerate(at, 1):
        chart.line(badge, seat, "leader")
        chart.mark(seat, "disc", "ink", 2.2)
        _badge(chart, badge, number)
    return chart


def _logged(facts: BuildFacts) -> Columns:
    """Give unit and uncertainty of each reading of the loaded run, in the order of the numbers."""
    logged = columns_of(LOGGED, facts.study, len(facts.stacks))
    return {key: logged[key] for key in SEATS if key in logged}


def _badge(chart: Drawing, at: Point, number: int) -> None:
    chart.circle(at, BADGE, "paper")
    chart.text((at[0], at[1] + 4), f"{number}", anchor="middle", bold=True)


def _supply(chart: Drawing) -> None:
    """Draw the pipe from the supply, with meter and valve, down into the casing."""
    chart.text((2, 28), "supply", "air")
    for offset in (-4, 4):
        chart.line((2, 38 + offset), (170 + offset * -1, 38 + offset), "cut")
    chart.line((174, 34), (174, SHAFT - RIM - 12), "cut")
    chart.line((166, 42), (166, SHAFT - RIM - 12), "cut")
    chart.box((88, 31), (16, 14), "paper")
    # Two triangles, tip to tip: a valve.
    chart.area([(118, 30), (118, 46), (134, 30), (134, 46)], "paper")
    chart.text((126, 60), "trip", "soft", anchor="middle")
    _arrow(chart, (12, 38), (50, 38))
    _arrow(chart, (170, 62), (170, SHAFT - RIM - 4))


def _machine(chart: Drawing, *, two_ends: bool) -> None:
    """Draw section of casing, stack, shaft and bearings, and the way of the exhaust."""
    left, right = STACK
    for sign in (-1, 1):
        edge = SHAFT + sign * BORE
        rim = SHAFT + sign * (RIM + 8)
        for x in (left - 14, right + 6):
            corner = (x, min(edge, rim) if x > left or two_ends else SHAFT - RIM - 8)
            chart.box(corner, (8, abs(rim - edge)), "paper")
        chart.box((left - 14, rim - (0 if sign > 0 else 7)), (right - left + 28, 7), "paper")
        for disc in range(5):
            x = left + disc * (right - left - 3) / 4
            near, far = sorted((SHAFT + sign * (BORE - 14), SHAFT + sign * RIM))
            chart.box((x, near), (3, far - near), "metal")
    if not two_ends:
        chart.box((left - 14, SHAFT - BORE), (8, 2 * BORE - 0), "paper")
    chart.box((84, SHAFT - 4), (198, 8), "paper")
    for x in (106, 226):
        chart.box((x, SHAFT - 12), (12, 24), "paper")
        chart.line((x, SHAFT - 12), (x + 12, SHAFT + 12), "thin")
        chart.line((x, SHAFT + 12), (x + 12, SHAFT - 12), "thin")
    chart.line((74, SHAFT), (290, SHAFT), "axis")
    _arrow(chart, (right + 1, SHAFT - 12), (right + 34, SHAFT - BORE - 12))
    if two_ends:
        _arrow(chart, (left - 1, SHAFT - 12), (left - 34, SHAFT - BORE - 12))
    chart.text((right + 38, SHAFT - BORE - 8), "exhaust", "air")


def _generator(chart: Drawing) -> None:
    """Draw generator, its lever on a balance, and the leads to the load."""
    chart.box((272, SHAFT - 20), (42, 40), "paper")
    chart.text((293, SHAFT + 5), "G", anchor="middle", bold=True)
    chart.line((300, SHAFT + 20), (300, 192), "cut")
    chart.line((292, 192), (308, 192), "cut")
    for y in (SHAFT - 14, SHAFT + 14):
        chart.line((314, y), (358, y), "rule")
    chart.text((358, SHAFT + 4), "load", "soft", anchor="end")


def _arrow(chart: Drawing, start: Point, end: Point) -> None:
    """Draw the way of the gas."""
    (x, y), (to_x, to_y) = start, end
    length = ((to_x - x) ** 2 + (to_y - y) ** 2) ** 0.5
    along, up = (to_x - x) / length, (to_y - y) / length
    chart.curve([start, (to_x - 5 * along, to_y - 5 * up)], "air fine")
    back = (to_x - 7 * along, to_y - 7 * up)
    wings = [(back[0] - 3 * up, back[1] + 3 * along), (back[0] + 3 * up, back[1] - 3 * along)]
    chart.area([end, *wings], "full air")
