"""What the sheet of a pump says of the pressure in its casing. Plain text."""

from engine.model.casing import CasingEstimates
from engine.physics.pump.suction import GRAVITY
from reports.design.casing_wording import Estimate, estimates_at, pressure_rows
from reports.design.facts import BuildFacts
from reports.design.pump.wording import study_of
from reports.kit.quantities import THIN, number, quantity

__all__ = ["TITLE", "burst_rows", "burst_text", "estimates", "pressure_rows", "pressure_text"]

TITLE = "Pressure: what to ask a specialist about"


def estimates(facts: BuildFacts) -> CasingEstimates:
    """Estimate what this build asks of its casing, its discharge shut."""
    supply = study_of(facts).supply
    rise = supply.density * GRAVITY * facts.number("shutoff_head")
    fastest = facts.number("overspeed_factor") ** 2
    return estimates_at(facts, max(supply.pressure + fastest * rise - supply.atmosphere, 0.0))


def burst_rows(found: CasingEstimates) -> tuple[Estimate, ...]:
    """List what a burst does to a wall: nothing here, as no drive turns it that fast."""
    del found
    return ()


def burst_text(found: CasingEstimates) -> tuple[str, ...]:
    """Say how much the discs hold, and that they are not expected to burst."""
    return (
        (
            f"At {quantity('speed', found.speed)}, the highest speed of its drive, the discs hold "
            f"{quantity('stored_energy', 3 * found.fragment_energy)}. The margins above say how "
            "far that is from a burst; plates and bolts as drawn are not made to hold one."
        ),
    )


def pressure_text(found: CasingEstimates) -> str:
    """Say which pressure is meant."""
    over = number(found.pressure / 1e5, 2)
    return (
        f"Assumed: the discharge is shut at the highest speed of the drive, and the casing holds "
        f"{over}{THIN}bar over the surroundings. Running shut heats what is inside, and a "
        "valve that slams hammers: neither is counted, nor are corrosion, ports and fatigue. Your "
        "pressure code decides, not these numbers."
    )
