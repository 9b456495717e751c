"""What the build sheet says of discs that bolts hold: sizes, parts and assembly. Plain text."""

from collections.abc import Iterable

from engine.model.casing import PROOF_STRESS
from engine.physics.machine.clamp import (
    FACE_RATIO,
    LEAST_NUT_FACTOR,
    USUAL_NUT_FACTOR,
    thread_stress,
)
from reports.design.bolted_drawings import LIMITS
from reports.design.facts import BuildFacts
from reports.design.ring_bolts import RingBolts
from reports.design.sheet_quantities import (
    Size,
    general,
    millimetres,
    mm,
    of,
    plus_minus,
    reamed_text,
)
from reports.kit.quantities import THIN, number, quantity

BOLT_SHARE = 0.7
"""Of the proof stress of a bolt, to which it is tightened; common practice, no source."""


def ring_sizes(facts: BuildFacts, bolts: RingBolts) -> Iterable[Size]:
    """List the dimensions of discs, washers and end clamps."""
    web, shop, diameter = facts.web, facts.tolerances, facts.disc.width
    bore, hole, n_bolts = 2 * web.bore_radius, 2 * web.shaft_radius, len(bolts.holes)
    yield Size("Outer diameter", millimetres(diameter), general(diameter), "end clamps too")
    yield Size(facts.bore.capitalize(), millimetres(bore), general(bore), "end clamps too")
    yield Size("Holes of the bolts", millimetres(bolts.size), "H11", f"{n_bolts}, reamed together")
    yield Size("Circle of the bolts", millimetres(bolts.circle), general(bolts.circle), "")
    wedge = f"taper of a disc at most {mm(shop.wedge)}"
    yield Size("Disc thickness", of(facts, "disc_thickness"), plus_minus(shop.thickness), wedge)
    yield Size("Rim out of plane", "0", f"{mm(shop.lean)} at most", "from the washers")
    yield Size("Axial run-out at the rim", "0", f"{mm(shop.run_out)} at most", "total reading")
    yield Size("Rim off the circle", "0", f"{mm(shop.eccentricity)} at most", "offset")
    wide = f"⌀{millimetres(bolts.washer)}; sets the gap"
    yield Size("Washer thickness", of(facts, "gap"), plus_minus(shop.spacer), wide)
    yield Size("End clamp, shaft hole", millimetres(hole), reamed_text(hole), "cut undersize")
    hub, spoke = 2 * web.hub_radius, web.spoke_width
    yield Size("End clamp, hub", millimetres(hub), general(hub), "inner edge of the openings")
    told = f"{web.spokes}, on the lines of the bolts"
    yield Size("End clamp, spokes", millimetres(spoke), general(spoke), told)
    yield Size("End clamp, fillets", millimetres(web.fillet), "none smaller", "every corner")


def stacking(facts: BuildFacts, bolts: RingBolts) -> tuple[str, ...]:
    """Say how the pack is put together and clamped."""
    force = bolt_force(bolts)
    greased, dry = (
        f"{number(factor * force * 1e-3 * bolts.size, 2)}{THIN}N{THIN}m"
        for factor in (LEAST_NUT_FACTOR, USUAL_NUT_FACTOR)
    )
    n_bolts, turn = len(bolts.holes), number(360 / len(bolts.holes), trim=True)
    clamp = facts.clamp
    ground = mm(1e-3 * FACE_RATIO * 2 * facts.web.shaft_radius)
    return (
        (
            f"Lay the end clamp with countersunk holes on its outer face, put {n_bolts} bolts "
            "through it from below, then disc, a washer on every bolt, disc, and so on. Turn every "
            f"disc by {turn}° against the one below, so that the rolling tapers of {n_bolts} discs "
            "cancel. Put the tube in before the other end clamp closes the pack."
        ),
        (
            f"Tighten the bolts crosswise in three rounds: {greased} if greased, {dry} if dry, "
            f"which pulls {quantity('bearing_preload', force)} each, {number(100 * BOLT_SHARE)}"
            f"{THIN}% of the proof stress of class 8.8 (common practice, no source). Secure every "
            f"thread with locking compound. {LIMITS}"
        ),
        (
            "Measure the pack inside the end clamps at every bolt, then finish the tube "
            f"(⌀{ground}) to the mean within {mm(1e-5)}. Heads and threads must lie below the "
            "outer faces: they run beside the casing."
        ),
        (
            f"Then onto the shaft, against its flange. The nut presses end clamp, tube and end "
            f"clamp together: {number(clamp.usual / 1000, 2)}{THIN}kN, which holds the torque of "
            f"{quantity('shaft_torque', clamp.torque)} by friction; "
            f"{number(clamp.nut_torque[0], 2)}{THIN}N{THIN}m if greased, "
            f"{number(clamp.nut_torque[1], 2)}{THIN}N{THIN}m if dry; then lock it."
        ),
    )


def bolt_force(bolts: RingBolts) -> float:
    """Force of a tightened bolt [N]."""
    stress = float(thread_stress(force=1.0, diameter=1e-3 * bolts.size))
    return BOLT_SHARE * PROOF_STRESS / stress


def tapping(bolts: RingBolts) -> str:
    """Say how one disc on bolts is tapped."""
    return (
        "Before the pack is assembled: hold one disc alone between both end clamps, on every bolt "
        "a washer at each face of it and a tube of 10 mm beyond, so that the air beside the disc "
        f"weighs next to nothing. Take {len(bolts.holes)} bolts longer by that much, and tighten "
        "them as the build sheet says. Lay an end clamp on soft foam. Tap the rim with a pencil, "
        "between and at the bolts, and write down each frequency that returns at every tap, by a "
        "spectrum program of a phone close to the rim. Do the same with a disc from the other end "
        "of the pile."
    )
