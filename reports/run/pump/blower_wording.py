"""The sentences of the page of a pump that moves a gas. Plain text."""

import math

from engine.columns import band_key
from engine.model.cautions import BLADED_FAN, BLOWER_CAUTION, DUST, STEADY_DENSITY
from reports.kit.quantities import MINUS, THIN, number, percent, power, quantity, whole_percent
from reports.run.opening import Figure, failure_words
from reports.run.search_facts import Values

MUSTS = (
    "a guard, a screen before the eye that keeps hands and rags out, and free way for the gas it "
    "takes in and gives."
)
PAGE = {
    "curve": "Pressure against flow",
    "bladed": "Or a fan with blades?",
    "lifts": "moves the gas",
    "fluid": "What the gas goes through",
}
"""Headings and words of the page that differ from those of a pump of a liquid."""
NOT_INCLUDED = (
    (
        "Measurements of your machine. Every loss coefficient is a published value or common "
        "practice. The flow leaves the rim nearly along the tangent, far outside of the range for "
        "which the laws of collectors were found: until a bench run replaces them, use pressures "
        "and powers to compare builds. No published curve of such a blower could be read in "
        "numbers, so none was held against these."
    ),
    (
        "Flow that turns back inside the gaps, beyond its share of the radius. Below some flow the "
        "middle of a wide gap is sucked back, and pressure and power are then indicative."
    ),
    (
        "Density that changes behind the discs: from rim to discharge it counts as one. Up to a "
        "pressure at the discharge of 1.1 times that at the suction this is of no weight."
    ),
    "Unequal gaps in the flow. Pressure is computed with every gap as drawn.",
    "Moisture and dust in the gas, what sticks to the discs, noise, and surge in long pipes.",
    "Vibration beyond the first standing wave of a disc and the first bending of the shaft.",
    "Strength of any part but the discs: bolts, shaft, casing, pipes.",
)
DANGERS = (
    (
        "Discs, shaft and coupling catch sleeves and hands, and the eye draws in what hangs before "
        "it. Guard them, and lock the motor's supply before a hand goes near."
    ),
    "Mains kills. The motor's wiring is work for a licensed electrician.",
    (
        "A spark in the casing lights gas or dust that burns, and blows it on. Air with wood dust, "
        "flour, solvent or gas in it belongs to fans that are certified for that."
    ),
)
CAUTIONS = (BLOWER_CAUTION, *DANGERS, STEADY_DENSITY, DUST)
COMPARISON = BLADED_FAN


def pascals(rise: float) -> str:
    """Write a difference of pressures of a gas."""
    text = number(abs(rise), trim=True)
    return f"{MINUS if rise < 0 else ''}{text}{THIN}Pa"


def rise_text(values: Values, fluid: str) -> str:
    """Say the rise of pressure, and the column of the gas that weighs as much."""
    return (
        f"{pascals(float(values['pressure_rise']))}, {quantity('head', values['head'])} of {fluid}"
    )


def gives_text(values: Values, fluid: str, *, met: str) -> str:
    """Say where the pick runs."""
    shut = float(values["shutoff_head"]) / float(values["head"]) * float(values["pressure_rise"])
    return (
        f"It delivers {quantity('flow', values['flow'])} at {rise_text(values, fluid)}, {met}; "
        f"shut, it would reach {pascals(shut)}."
    )


def figures(values: Values, fluid: str, *, by_system: bool, suction: float) -> tuple[Figure, ...]:
    """List the four large numbers: delivery, first failure, power drawn, ratio of pressures."""
    rise, head = float(values["pressure_rise"]), quantity("head", values["head"])
    flow, band = quantity("flow", values["flow"]), _band(values, "flow" if by_system else "head")
    first = (
        Figure(flow, f"delivered at {pascals(rise)}, {head} of {fluid}{band}")
        if by_system
        else Figure(pascals(rise), f"of pressure at {flow}, {head} of {fluid}{band}")
    )
    return (
        first,
        Figure(f"{number(float(values['safety_margin']))}{THIN}×", failure_words(values)),
        Figure(
            power(float(values["electric_power"])),
            f"drawn by the motor, of which {whole_percent(float(values['wire_to_water']))} moves "
            f"the {fluid}{_band(values, 'electric_power')}",
        ),
        Figure(
            f"{number(1 + rise / suction, 4)}{THIN}×",
            "pressure at the discharge over that at the suction, absolute; up to 1.1 density "
            "counts as nearly constant",
        ),
    )


def _band(values: Values, key: str) -> str:
    low, high = (float(values.get(band_key(key, part), math.nan)) for part in ("p10", "p90"))
    if not (math.isfinite(low) and math.isfinite(high)):
        return ""
    return f"; eight in ten fall between {quantity(key, low)} and {quantity(key, high)}"


def passes_text(values: Values, fluid: str) -> str:
    """Say what grains pass, and how warm the gas gets."""
    return (
        f"A single grain below {quantity('free_passage', values['free_passage'])} goes through the "
        f"pick. The {fluid} leaves {quantity('temperature_rise', values['temperature_rise'])} "
        f"warmer; {percent(1 - float(values['volumetric_efficiency']))} of what goes through the "
        "gaps leaks back to the eye."
    )
