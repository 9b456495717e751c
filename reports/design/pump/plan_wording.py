"""What the bench plan of a pump says. Plain text: nothing here knows HTML."""

from reports.design.facts import BuildFacts
from reports.design.pump.wording import cautions as sheet_cautions
from reports.design.pump.wording import is_blower, stops
from reports.design.sheet_quantities import of
from reports.kit.quantities import THIN, bare, count, quantity

__all__ = [
    "band_rule", "cautions", "headline", "order", "readings_note", "sensors", "stops", "title",
]  # fmt: skip


def title(facts: BuildFacts) -> str:
    """Name the page."""
    return f"Bench plan of a disc {facts.study.works_as}"


SENSORS = (
    ("Speed", "mark on the coupling, optical pick-up", "rpm, within 0.3 %"),
    (
        "Flow",
        (
            "meter in the discharge, ten bores of straight pipe before it, the valve behind it; or "
            "a vessel on scales and a watch"
        ),
        "l/min, within 2 %",
    ),
    (
        "Pressure rise",
        (
            "difference of two gauges at one height, in pipes of the same bore two bores before "
            "the suction and behind the port; or one gauge across both"
        ),
        "mbar, within 1 %",
    ),
    (
        "Rise behind the rim",
        "hole of 1 mm in the port ring, midway round from the port, no burr, against the suction",
        "mbar, within 1 %",
    ),
    ("Electric power", "wattmeter before the motor and its inverter", "W, within 2 %"),
    ("Torque", "only if the motor hangs in bearings with a lever on a balance", "mN m"),
    ("Temperature", "probe in the suction", "°C, within 1 K"),
    ("Vibration", "on the bearing housing, across the shaft", "mm/s RMS, watched"),
)
"""What is read, where, and how it stands in the log."""


OF_GAS = {
    "Flow": (
        "a calibrated orifice or nozzle before the suction, ten bores of straight pipe before it; "
        "the valve in the discharge; flow as volume at the suction"
    ),
    "Pressure rise": (
        "slanted tube or gauge between holes of 1 mm in straight pipes of the same bore, two bores "
        "before the suction and behind the port"
    ),
}
"""Where the same is read of a gas."""


def sensors(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """List what is read, where, and how it stands in the log."""
    own = OF_GAS if is_blower(facts) else {}
    return tuple((name, own.get(name, place), unit) for name, place, unit in SENSORS)


def curve_title(facts: BuildFacts) -> str:
    """Name the run that the log is of."""
    return "Pressure against flow" if is_blower(facts) else "Head against flow"


def headline(facts: BuildFacts) -> str:
    """Say in one sentence what the plan is for."""
    return f"Test design {bare('design', facts.candidate.design)} in this order."


def cautions(facts: BuildFacts) -> tuple[str, ...]:
    """List the cautions of the bench, those of the build sheet among them."""
    first = "Work switch and valve from where no coupling or hose can hit you."
    return (first, *sheet_cautions(facts))


def order(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """List the tests in their order: name, how it is done, and what it tells."""
    speed, slow = of(facts, "speed"), quantity("speed", 0.7 * facts.number("speed"))
    clear = quantity("seal_clearance", facts.drawn("seal_clearance"))
    wet = not is_blower(facts)
    flood = (
        "Flood and pressure",
        (
            "Fill it with the vent open until no bubble comes. Shut the discharge and hold the "
            "suction's pressure for ten minutes. Look for leaks at joints and seals."
        ),
        "that it is tight and full",
    )
    return (
        (
            "Wear ring",
            (
                "Before the casing is closed: measure ring and plate at four places. Drawn: "
                f"{clear} of radial clearance. Write what you measured into the study, as "
                "seal_clearance."
            ),
            "the clearance, which in a log looks exactly like the wear ring factor",
        ),
        *((flood,) * wet),
        (
            "Direction",
            (
                "Touch the switch for a blink. Discs turn counterclockwise seen from the drive. "
                f"Set the drive so that it cannot exceed {quantity('speed', _top(facts))}."
            ),
            "that it delivers and does not only stir",
        ),
        (
            curve_title(facts),
            (
                f"At {speed}, then at {slow}: set each flow of the table by the valve in the "
                "discharge, never by one in the suction, from full flow to shut. Hold each for a "
                f"minute, shut for ten seconds at most: below {of(facts, 'least_flow')} what "
                "it moves warms. Read everything at once, and fill in one row of head-flow.csv."
            ),
            (
                "leakage through the wear rings, throat loss and wall friction by head; motor and "
                "end faces by power"
            ),
        ),
        *((_suction_test(facts),) if wet else ()),
    )


def _suction_test(facts: BuildFacts) -> tuple[str, str, str]:
    """Say how the NPSH is found."""
    return (
        "Suction",
        (
            "At the duty, close the valve in the suction slowly until head falls by 3 %, and "
            "open it again at once. Write down the suction's pressure there."
        ),
        (
            f"the NPSH at 3 %: less than the {of(facts, 'npsh_required')} at which the first "
            "bubbles begin"
        ),
    )


def _top(facts: BuildFacts) -> float:
    return facts.number("overspeed_factor") * facts.number("speed")


def band_rule(facts: BuildFacts) -> str:
    """State what the bands of the readings include."""
    samples = count(facts.study.uncertainty.samples)
    return (
        f"The band holds 19 of 20 of {samples} samples, the same as for the bands of the report: "
        "coefficients, temperature and tolerances varied as the study's uncertainty says. It does "
        "not include errors of the instruments and of the model itself, nor what a slot takes more "
        "than a round throat. Shut means a fiftieth of the flow."
    )


def readings_note(facts: BuildFacts) -> str:
    """Say how to fill in the log, and what a fit can and cannot tell."""
    del facts
    return (
        "Put the units and uncertainties of your instruments into the head of head-flow.csv, and "
        "write ignore for a column you cannot measure. Then give swirlstack fit STUDY "
        "head-flow.csv and name the fit in the study. Head or pressure rise alone tells the wear "
        "ring factor, the throat loss factor and the friction of the walls apart: leakage acts "
        "most when nearly shut, the throat most at full flow. Power adds the motor and the drag of "
        f"the end faces. The eye's loss is too small to be seen, and the cone's looks like the "
        f"walls': both stay as in the study. With 1{THIN}% of noise expect some 5{THIN}% on the "
        f"leakage, and 15{THIN}% on the throat."
    )
