"""What the bench plan says besides the build sheet's words. Plain text: nothing knows HTML."""

from reports.design.facts import BuildFacts, LockedReading
from reports.design.sheet_tables import trip
from reports.kit.quantities import THIN, bare, number, quantity

OVER_PRESSURE = 1.1
"""Supply pressure over the study's at which the relief valve must have opened."""
LEVER = "100 mm"
"""Arm on which the locked rotor is held, to be put right in the log."""
LOADS = (0.5, 0.75, 1.0)
"""Shares of the load that are run at each speed, so that iron and copper loss come apart."""


def order(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """List the tests in their order: name, how, and what it tells."""
    top = quantity("speed", facts.number("speed"))
    return (
        (
            "Trip and relief",
            (
                f"Overspeed trip seen to act, then set to {quantity('speed', trip(facts))}; "
                "relief valve seen to open. Nothing else runs before both have."
            ),
            "that the rest may be run",
        ),
        (
            "Rotor locked",
            (
                f"A lever of {LEVER} clamped to the shaft, its end held by a spring balance, not "
                "by hand. Force, flow and rim pressure at each supply pressure of the table below. "
                "Read each force twice, pulled in and let out, and log the mean: friction of the "
                "bearings then falls out."
            ),
            "nozzle discharge, and nozzle velocity or rim mixing",
        ),
        (
            "Coast-down",
            (
                f"Bring it to {top}, or as fast as steps already run allow; shut supply, "
                "nozzles and exhaust, take the load off, log speed against time until it "
                "crawls. Three times; once more with the generator uncoupled if it can be."
            ),
            "windage and bearing drag; the difference is the generator's iron loss",
        ),
        (
            "Loaded run",
            (
                f"Steps of the table below, slowest first, each at {_shares()} of the load at "
                "which the table's power is read, the supply throttled to hold the speed, ten "
                "minutes at least; a row of the log each."
            ),
            "nozzle velocity or rim mixing, exhaust loss, generator efficiency and iron share",
        ),
    )


def stops(facts: BuildFacts) -> tuple[str, ...]:
    """List stops by pressure and heat, which come on top of those of the build sheet."""
    supply = facts.study.supply
    most = supply.back_pressure + OVER_PRESSURE * (supply.pressure - supply.back_pressure)
    return (
        (
            f"Supply above {quantity('rim_pressure', most)} absolute: the relief valve has not "
            "opened. Shut the supply."
        ),
        (
            "Casing or rim pressure follows the supply up without the speed rising: the exhaust "
            "is blocked."
        ),
    )


def readings_note(facts: BuildFacts) -> str:
    """Say how the logs are filled in."""
    steps = ", ".join(bare("speed", reading.speed) for reading in facts.readings)
    return (
        f"Write the readings into loaded-run.csv ({steps}{THIN}rpm stand there, a row a load), "
        "those of the locked rotor into rotor-locked.csv over the pressures that stand there, and "
        "the coast-down into coast-down.csv; put units and uncertainties of your instruments into "
        "their heads. Then: swirlstack fit STUDY rotor-locked.csv, name the fit in the study, and "
        "so on with coast-down and loaded run. A column you have no instrument for: ignore."
    )


def held_rule(facts: BuildFacts) -> str:
    """Say how the readings of the locked rotor are meant."""
    most = max(reading.breakaway for reading in facts.locked)
    return (
        f"Force on a lever of {LEVER}: torque over its length. Friction at rest makes a single "
        f"torque uncertain by {quantity('shaft_torque', most)} either way, which the fit allows "
        "for. Bands as in the loaded run."
    )


def locked_rows(facts: BuildFacts) -> tuple[tuple[str, LockedReading, str], ...]:
    """List supply pressure as the dial shows it, reading and no note of each locked reading."""
    atmosphere = facts.study.supply.atmosphere
    return tuple(
        (f"{quantity('supply_pressure', reading.supply_pressure - atmosphere)} gauge", reading, "")
        for reading in facts.locked
    )


def fall_text(share: float, time: float) -> str:
    """Write the time in which the stack coasts down to a share of its speed, with its band."""
    band = f"{number(0.6 * time)} to {number(1.5 * time)}"
    return f"{number(time)}{THIN}s ({band}), {_share(share)}"


def _shares() -> str:
    return ", ".join(map(_share, LOADS))


def _share(share: float) -> str:
    return f"{100 * share:.0f}{THIN}%"
