"""What the bench plan says besides the texts of the build sheet. Plain text: no HTML."""

import math

from engine.model.tapped import TappedDisc
from reports.design import bolted_wording
from reports.design.facts import BuildFacts
from reports.design.plan_logs import HELD, LEVER, LOADS
from reports.design.plan_readings import instruments
from reports.design.sheet_quantities import of, rpm, trip
from reports.design.sheet_wording import cautions as sheet_cautions
from reports.design.sheet_wording import stops as sheet_stops
from reports.kit.quantities import THIN, bare, number, quantity
from reports.run.rubbing_wording import change_text
from reports.run.trip_wording import allowed_text

OVER_PRESSURE = 1.1
"""Supply pressure, over the study's, by which the relief valve must have opened."""
TAP_BAND = 0.1
"""By how much a disc may ring beyond the computed frequencies, as a share; common practice, no
source."""
TAP_RULE = (
    "Mode 1 tells whether the clamp holds: find it first. Two modes of one shape, turned against "
    "each other, count once; in a true disc they may ring a little apart. The band allows "
    f"{100 * TAP_BAND:.0f}{THIN}% for sheet, modulus and model at either end (common practice, no "
    "source). A disc that rings below the band of mode 1 is loose: tighten it, and do not run it "
    "before it rings in the band. Write the frequencies into tap-test.csv, in any row, more rows "
    "if you hear more; those that you do not hear stay blank. Then give swirlstack fit STUDY "
    "tap-test.csv and name the fit in the study: the standing-wave speeds go with the frequencies."
)
"""How to read the expected frequencies of the tap test."""
LOW_TRIP = 0.4
"""Speed of the trip test over running speed; common practice, no source."""


def order(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """List the tests in their order: name, how it is done, and what it tells."""
    top = quantity("speed", facts.number("speed"))
    return (
        (
            "Tap test",
            _tapping(facts),
            "the frequencies of the discs, and with them the standing waves",
        ),
        (
            "Trip and relief",
            (
                f"See the overspeed trip act, then set it to {rpm(trip(facts))}. "
                "See the relief valve open. Turn it for nothing else before both have worked."
            ),
            "that the other tests may be run",
        ),
        (
            "Trip test at low speed",
            (
                f"Set the trip to {rpm(low_trip(facts))}. Take the load off, open "
                "the supply and log speed against time, twenty readings a second or more, from "
                "well below that speed until it slows down. Then throttle the supply for a slow "
                "run-up and do it again. Valve time by itself: a microphone on the valve, from "
                f"the trip's click to silence; the study has {of(facts, 'trip_delay')} and "
                f"{of(facts, 'valve_closing')}. Set the trip back afterwards."
            ),
            f"trip delay and closing of the valve. {allowed_text(facts.candidate.values)}".strip(),
        ),
        *_second_dial(facts),
        *_between(facts),
        (
            "Rotor locked",
            (
                f"Clamp a lever of {LEVER} to the shaft and hold its end with a spring balance, "
                "not by hand. Read force, flow and rim pressure at each supply pressure of the "
                "table below. Read each force twice, pulling in and letting out, and log the mean: "
                "this cancels the friction of the bearings."
            ),
            "nozzle discharge, and nozzle velocity or rim mixing",
        ),
        (
            "Coast-down",
            (
                f"Bring it to {top}, or to the highest speed already run. Shut supply, nozzles "
                "and exhaust, take the load off, and log speed against time until it almost "
                "stands. Do this three times, and once with the generator uncoupled if possible."
            ),
            "windage and bearing drag; the difference is the generator's iron loss",
        ),
        *_without_seals(facts),
        (
            "Loaded run",
            (
                f"Run the speeds of the table below, slowest first, each at {_shares()} of the "
                "load that gives the table's power. Throttle the supply to hold the speed, for at "
                "least ten minutes. Fill in one row of the log for each."
            ),
            "nozzle velocity or rim mixing, exhaust loss, generator efficiency and iron share",
        ),
        *_generator_test(facts),
        *_outlet(facts),
        *_rubbing_test(facts),
    )


def _tapping(facts: BuildFacts) -> str:
    """Say how one disc is held and tapped."""
    if facts.bolts is not None:
        return bolted_wording.tapping(facts.bolts)
    clamp = f"{number(facts.clamp.usual / 1000, 2)}{THIN}kN"
    return (
        "Before the stack is assembled: clamp one disc alone on the shaft, between two "
        f"spacers and the end clamps, with {clamp} as the build sheet says. Hold the shaft "
        "in soft cloth. Tap the rim with a pencil, between and at the "
        f"{facts.web.arm_name}s, and write down each frequency that returns at every "
        "tap, by a spectrum program of a phone close to the rim. Do the same with a disc "
        "from the other end of the pile."
    )


def tap_heads(facts: BuildFacts) -> tuple[str, str]:
    """Name the two ends of how far out a disc is held."""
    if facts.bolts is not None:
        return "Held at the bolts alone", "Held by whole washers"
    return "Held at the hub alone", "Whole web held"


def _between(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """Describe the readings between stages; nothing where there is one stage."""
    if len(facts.stacks) == 1:
        return ()
    how = (
        "Before the casing is closed, drill a 2 mm hole through each room ring, clear of bolts and "
        "passages, tap it for a dial and a probe, and close it for the first run. Read the "
        "pressure between the stages in each row of rotor-locked.csv and loaded-run.csv. Stop "
        "where it leaves its band: above it, a passage or the next nozzles are narrower than "
        "drawn; below it, the seals of the partition or of its joint leak."
    )
    tells = "how the stages share the pressure; loss of the passage and leak past the partition"
    return (("Pressure between the stages", how, tells),)


def _outlet(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """Describe the readings at the outlet; nothing where it lies in a closed room."""
    if len(facts.stacks) > 1:
        return ()
    return (
        (
            "Outlet",
            (
                "At four speeds of the loaded run. Before the start, clamp a probe to the casing "
                f"so that its tip lies in the outlet, {_outlet_radius(facts)} from the axis and "
                "5 mm clear of all that turns; touch it only at standstill. A thread at its tip "
                "shows the angle to the shaft, a tube of 2 mm that points into the flow the "
                "pressure on a water column (1 mbar is 10 mm). Write both into loaded-run.csv."
            ),
            (
                "how much of the exhaust the spokes take along; without it, that looks like rim "
                "mixing"
            ),
        ),
    )


def _outlet_radius(facts: BuildFacts) -> str:
    """Radius at which the model gives the swirl of the outlet: that of its mean square."""
    radius = math.hypot(facts.web.bore_radius, facts.web.hub_radius) / math.sqrt(2)
    return f"{round(2 * radius) / 2:g}{THIN}mm"


def _without_seals(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """Describe the coast-down without shaft seals; nothing where there are none."""
    if facts.number("shaft_seal_torque") == 0:
        return ()
    how = (
        "Take the shaft seals out and coast down again, from the same speed, into "
        "coast-down-no-seals.csv. Give this log to swirlstack fit first and name the fit in the "
        "study, then coast-down.csv."
    )
    return (("Coast-down without seals", how, "drag of the shaft seals, apart from the bearings"),)


def _generator_test(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """Describe the test of the generator; nothing where no data sheet is given."""
    if not facts.study.by_data_sheet:
        return ()
    how = (
        "Turn the machine at three speeds without load, at half and at full load, and read volts "
        "and amps behind the bridge into generator-test.csv. Then take the generator off and run "
        "it as a motor without load near these speeds: write its amps below 0. A speed that is "
        "read at the generator counts times the ratio of the drive."
    )
    return (("Generator by itself", how, "its constant, winding resistance and no-load loss"),)


def _second_dial(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """Describe the test that tells what the hose takes; nothing where there is none."""
    if facts.study.supply.dial == "at-nozzles":
        return ()
    how = (
        "Screw a second dial into the plenum of the nozzles before the other tests, and read it in "
        "each row of rotor-locked.csv and loaded-run.csv. If the hose can be taken off, log the "
        "locked rotor again with its couplings alone, and write hose_length: 0 m under build in "
        "the head of that log."
    )
    return (("Second dial", how, "coupling loss; with the second log, friction of the hose too"),)


def _rubbing_test(facts: BuildFacts) -> tuple[tuple[str, str, str], ...]:
    """Describe the test that tells how hard the casing rubs; nothing where there is none."""
    if facts.telling is None:
        return ()
    how = (
        f"{change_text(facts.telling)} Read torque, flow and rim pressure at the speeds of the "
        "table below, before and after, each twice. Keep supply, brake and dials as they are: what "
        "counts is the change, and torque and flow must repeat within 1 %."
    )
    return (("Casing friction", how, "friction of the ring around the discs on the casing"),)


def rubbing_rule(facts: BuildFacts) -> str:
    """Say how far the readings of that test lie apart, and what to do with them."""
    test = facts.telling
    if test is None:
        return ""
    verdict = "tells them apart" if test.tells else "does not tell them apart for certain"
    return (
        "First with half, then with twice the friction of the study; ± is the standard uncertainty "
        f"of the instrument. All readings together lie {number(test.apart, 2)} standard "
        "uncertainties apart, with everything else uncertain too, so the test "
        f"{verdict}; without the change they lie {number(test.apart_as_built, 2)} apart. Write "
        "them into casing-friction.csv and give it to swirlstack fit. It frees the casing factor "
        "where torque and flow repeat within 1 %; from coarser readings it cannot part friction "
        "from mixing."
    )


def low_trip(facts: BuildFacts) -> float:
    """Speed to which the trip is set for its test, in hundreds of rpm [rad/s]."""
    step = 100 * math.pi / 30
    return max(round(LOW_TRIP * facts.number("speed") / step), 1) * step


def headline(facts: BuildFacts) -> str:
    """Say in one sentence what the plan is for."""
    return f"Test design {bare('design', facts.candidate.design)} in this order, slowest first."


def cautions(facts: BuildFacts) -> tuple[str, ...]:
    """List the cautions of the bench, those of the build sheet among them."""
    return (
        "Work valve and readings from elsewhere. Nobody stands in the plane of the discs.",
        *sheet_cautions(facts),
    )


def stops(facts: BuildFacts) -> tuple[str, ...]:
    """List when to shut the supply at once."""
    supply = facts.study.supply
    most = supply.back_pressure + OVER_PRESSURE * (supply.pressure - supply.back_pressure)
    (dial,) = instruments(("supply_pressure",), HELD, facts.study)
    return (
        *sheet_stops(facts),
        f"Supply above {dial.setting(most)}: the relief valve has not opened.",
        "Rim pressure rises with the supply but speed does not: the exhaust is blocked.",
    )


def readings_note(facts: BuildFacts) -> str:
    """Say how to fill in the logs."""
    steps = ", ".join(bare("speed", reading.speed) for reading in facts.readings)
    return (
        f"Write the readings into loaded-run.csv (a row for each load at {steps}{THIN}rpm), those "
        "of the locked rotor into rotor-locked.csv (replace the pressures there by those you "
        "read), trip test and coast-down into trip-test.csv and coast-down.csv. Put the units and "
        "uncertainties of your instruments into their heads; write ignore for a column you cannot "
        "measure. Then give swirlstack fit STUDY rotor-locked.csv and name the fit in the study; "
        "do the same with "
        "the trip test, the coast-down, then the loaded run. All may stand in one file: add a "
        "column {quantity: test} that names the test of each row."
    )


def run_plan(facts: BuildFacts) -> str:
    """Say how to do the first run."""
    steps = ", ".join(bare("speed", reading.speed) for reading in facts.readings)
    return (
        f"Hold each speed ({steps}{THIN}rpm) by the load, with the supply of the study, until "
        "bearing and exhaust temperatures are steady, at least ten minutes. Write down every "
        "reading, then go on. Use less pressure the first time. Keep everyone out of the plane of "
        "the discs; work the valve and take the readings from elsewhere."
    )


def band_rule(facts: BuildFacts) -> str:
    """State what the bands of the readings include."""
    (dial,) = instruments(("supply_pressure",), HELD, facts.study)
    place = "hose" if facts.study.supply.dial == "before-hose" else "nozzles"
    return (
        "Expected: with gap flow resolved across the gap where it converged, else averaged. The "
        f"band holds 19 of 20 of {facts.study.uncertainty.samples} samples, the same as for the "
        "bands of the report (coefficients, supply and tolerances varied as the study's "
        "uncertainty says), shifted by the difference of the resolved flow. It does not include "
        "errors of the instruments and of the model itself. The supply is that of the study: "
        f"{dial.setting(facts.study.supply.pressure)} and "
        f"{quantity('exhaust_temperature', facts.study.supply.temperature)} before the {place}."
    )


def held_rule(facts: BuildFacts) -> str:
    """Explain the readings of the locked rotor."""
    most = max(reading.breakaway for reading in facts.locked)
    (force,) = instruments(("shaft_torque",), HELD, facts.study)
    return (
        f"Force on a lever of {LEVER}; on another it is less as the lever is longer, and the log "
        f"states the length. Friction at rest makes a single force uncertain by "
        f"{force.width(most)}{THIN}N either way; the fit allows for that. Bands as in the loaded "
        "run."
    )


def tap_rows(disc: TappedDisc) -> tuple[tuple[str, str, str, str], ...]:
    """List mode, frequency held at the hub or bolts, at web or washers, and band of a reading."""
    hub, web = disc.frequency[0], disc.frequency[-1]
    return tuple(
        (
            f"{n + 1}",
            number(low),
            number(high),
            f"{number((1 - TAP_BAND) * low)} to {number((1 + TAP_BAND) * high)}",
        )
        for n, (low, high) in enumerate(zip(hub.tolist(), web.tolist(), strict=True))
    )


def fall_text(share: float, time: float) -> str:
    """Write the time of coasting down to a share of running speed, with its band."""
    band = f"{number(0.6 * time)} to {number(1.5 * time)}"
    return f"{number(time)}{THIN}s ({band}), {_share(share)}"


def _shares() -> str:
    return ", ".join(map(_share, LOADS))


def _share(share: float) -> str:
    return f"{100 * share:.0f}{THIN}%"
