"""What the sheet says of pressure and of a burst, for a talk with a specialist. Plain text."""

from dataclasses import dataclass

from engine.model.casing import (
    ALLOWABLE,
    BOLTS,
    JOINT,
    RING_STRAIN,
    RING_STRESS,
    WALL,
    CasingEstimates,
    casing_estimates,
)
from reports.design.facts import BuildFacts
from reports.design.sheet_quantities import mm
from reports.design.stage_wording import stacked
from reports.kit.quantities import THIN, listed, number, percent, quantity

TITLE = "Pressure and a burst: what to ask a specialist about"


@dataclass(frozen=True)
class Estimate:
    """One row of the table."""

    name: str
    result: str
    basis: str


def estimates(facts: BuildFacts) -> CasingEstimates:
    """Estimate what this build asks of its casing."""
    supply = facts.study.supply
    return estimates_at(facts, max(supply.pressure - supply.atmosphere, 0.0))


def estimates_at(facts: BuildFacts, pressure: float) -> CasingEstimates:
    """Estimate the same for a pressure over the surroundings [Pa]."""
    bolts = BOLTS if facts.housing is None else facts.housing.bolts
    # Of several stacks the highest.
    discs, height, _ = max(stacked(facts), key=lambda stack: stack[1])
    values = {**facts.candidate.values, "disc_count": float(discs), "stack_height": height}
    return casing_estimates(values, pressure=pressure, bolts=bolts)


def burst_rows(found: CasingEstimates) -> tuple[Estimate, ...]:
    """List what a burst does to a wall, with the source of each estimate."""
    chord, corner = found.perforation
    hard = "hard missile on mild steel (BRL formula in BC-TOP-9A, Bechtel 1974, from memory)"
    each = f"{number(1000 * found.fragment_mass)}{THIN}g at {number(found.fragment_speed)}{THIN}m/s"
    return (
        Estimate(
            "A third of the stack flies off",
            f"{each}, {quantity('stored_energy', found.fragment_energy)}",
            f"burst at {quantity('speed', found.speed)}, the lower of burst and runaway speed; a "
            f"third of one disc has {quantity('stored_energy', found.disc_energy)}",
        ),
        Estimate("Wall it perforates, striking flat", _wall(chord), f"{hard}, chord times height"),
        Estimate(
            "Wall it perforates, striking with a corner", _wall(corner), f"{hard}, height squared"
        ),
        Estimate(
            "Ring that takes up all three by stretching",
            _wall(found.stretching),
            f"strain energy at {quantity('bore_stress', RING_STRESS)} and {percent(RING_STRAIN)} "
            "strain over the height of the casing; common practice, no source",
        ),
    )


def burst_text(found: CasingEstimates) -> tuple[str, ...]:
    """Say what to make of them."""
    walls = listed([mm(wall, 1) for wall in found.walls])
    return (
        (
            f"By these published estimates a plain steel ring round this stack would need {walls}. "
            "None was made for thin stacked discs. Take the bracket as what to ask a specialist "
            "about, not as enough."
        ),
        (
            "The work to ask for: Hagg and Sankey, The containment of disk burst fragments by "
            "cylindrical shells, J. Eng. Power 96 (1974) 114, two stages, not worked here; ring "
            "tests in NASA CP-2017 (1977)."
        ),
        (
            "A ring stops pieces by stretching: name its elongation on the order. No cast iron, "
            "no plastics. The plane of the discs stays empty of people all the same."
        ),
    )


def pressure_rows(found: CasingEstimates) -> tuple[Estimate, ...]:
    """List what the full supply pressure asks of casing, plates and bolts."""
    stress = f"{quantity('bore_stress', ALLOWABLE)} allowable"
    share = listed([f"{size} {percent(part)}" for size, part in found.bolt_shares.items()])
    return (
        Estimate(
            "Shell",
            _wall(found.shell),
            f"ASME VIII-1 UG-27, {stress}, joint {number(JOINT, trim=True)}, from memory",
        ),
        Estimate(
            f"Hoop stress in a wall of {mm(WALL)}",
            quantity("bore_stress", found.hoop_stress),
            "Lame, thick cylinder",
        ),
        Estimate("Flat end plates", _wall(found.end_plate), f"ASME VIII-1 UG-34, C 0.3, {stress}"),
        Estimate(
            f"Force on each of {found.bolts} bolts",
            f"{number(found.bolt_force / 1e3)}{THIN}kN",
            f"of the proof load of class 8.8 (ISO 898-1, from memory): {share}",
        ),
    )


def pressure_text(found: CasingEstimates) -> str:
    """Say which pressure is meant."""
    over = number(found.pressure / 1e5)
    return (
        f"Assumed: the exhaust is blocked, and the casing holds the whole supply pressure, {over}"
        f"{THIN}bar over the surroundings. Corrosion, ports and fatigue are not counted; your "
        "pressure code decides, not these numbers."
    )


def _wall(thickness: float) -> str:
    return mm(thickness, 1)
