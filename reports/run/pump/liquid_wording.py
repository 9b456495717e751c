"""What the page of a pump of a liquid says of every build. Plain text."""

NOT_INCLUDED = (
    (
        "Measurements of your machine. Every loss coefficient is a published value or common "
        "practice. The flow leaves the rim nearly along the tangent, far outside of the range for "
        "which the laws of collectors were found: until a bench run replaces them, use heads and "
        "powers to compare builds. No published curve of such a pump could be read in numbers, so "
        "none was held against these."
    ),
    (
        "Flow that turns back inside the gaps, beyond its share of the radius. Below some flow the "
        "middle of a wide gap is sucked back, and head and power are then indicative."
    ),
    "Unequal gaps in the flow. Head is computed with every gap as drawn.",
    "Air in the fluid, wear by grit, fibres that hang on spokes, and what time does to the fluid.",
    "Vibration beyond the first standing wave of a disc and the first bending of the shaft.",
    "Strength of any part but the discs: bolts, shaft, casing, pipes.",
)
DANGERS = (
    (
        "Discs, shaft and coupling catch sleeves and hands. Guard them, and lock the motor's "
        "supply before a hand goes near."
    ),
    (
        "Mains beside water kills. A breaker for earth faults (30 mA), a motor for wet places and "
        "its wiring are work for a licensed electrician."
    ),
    (
        "A pump that runs shut heats its fluid until it boils, and the casing may burst. Fit a "
        "relief or a bypass where the discharge can be shut."
    ),
)
PAGE = {
    "curve": "Head against flow",
    "bladed": "Or a bladed pump?",
    "lifts": "lifts the fluid",
    "fluid": "What the fluid goes through",
}
"""Headings and words of the page; see those of a blower."""
