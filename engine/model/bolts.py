"""Bolts with washers that hold the rings of a stack between its end plates.

The end plates are the end clamps, as wide as the discs, on the spokes that block the exhaust. What
the bolts hold is as still as the plates are: below `STIFFER` the note of `soft_plates` says so.

- On the workshop's study bolts win nothing if their washers drag as much as they may: most power
  322 W where spokes give 329 and round holes 325, and at margins of 1.3, 1.5, 1.8, 2.2 and 2.8
  297, 262, 216, 173 and 130 W against 318, 290, 247, 206 and 157 (holes 314, 289, 248, 206, 158).
  End clamps as wide as the discs set the bearings 10 mm further apart, so the shaft of 8 mm bends
  first: 18 % sooner than without that length. If washers cost nothing, bolts would give 5 % more
  at most power and 2 to 5 % less at wide margins. The truth lies between: washers drive the discs
  with what they take, which is left out. That needs a march with a jump of swirl at the bolts. So
  the bundled studies do not search bolts.
- The web of an end clamp yields before the rings do in three of four random builds of each bundled
  study held so, as its peak stress is 1.2 times theirs in the median and up to 3.1 times. A wide
  bore turns it round: its rings are narrow, and their holes weaken them.
- The rims of these clamps turn beside the ring of fluid around the discs, in a space of their own
  (`clamp_rims`): where they brake, they take 0.5, 0, 0.2 and 0.3 % of the shaft's power in the
  median of random builds so held (workshop, boiler, vapour, mill), 4, 1, 3 and 1 % of every fourth,
  and 1.5, 0.6, 0.8 and 0.1 % of the forty strongest. Where faster fluid drives them it gives
  nothing. The ring itself still ends at the side chambers, as if no clamp stood between. The fluid
  around the clamps is faster than that in the chambers, so the ring would keep more: 1.0, 0.9, 0.7
  and 0 % of the power in the median. In water it may be slower, and the ring lose up to 1.2 % more.
- The numbers of the first point are from before rims and webs of clamps counted: both are against
  bolts.
"""

from dataclasses import replace

import numpy as np

from engine.catalogue import ASSEMBLY_TEMPERATURE, clamp_materials, material_state
from engine.columns import Builds
from engine.model.shaft_layout import CLAMP_THICKNESS
from engine.physics.arrays import Lanes, Mask, is_repeated, repeated
from engine.physics.machine.bolts import BoltCircle, bolt_circle

STIFFER = 10.0
"""Least stiffness of both end plates over that of all rings together, by thickness cubed: then the
pack on its plates is some three times as stiff as its rings need, and waves are a few percent lower
at most; derived here, a rough estimate."""

THREAD_LENGTH, STIFF_METAL = (1.0, 1.5), 90e9
"""Engaged thread over the diameter of a bolt in steel and metals as stiff, and in aluminium and
plastics; common practice, no source. Young's modulus between the two [Pa]."""


def has_bolts(build: Builds) -> Mask:
    """Whether bolts hold the rings of a lane."""
    hold = build["hold"]
    if is_repeated(hold) and hold.size:
        return repeated(hold[0] == "bolts", len(hold))
    return np.asarray(hold == "bolts")


def bolts_of_build(build: Builds) -> BoltCircle | None:
    """Bolts of every lane; None if no lane has any. One end clamp is tapped for them."""
    chosen = has_bolts(build)
    if not chosen.any():
        return None
    found = bolt_circle(
        r_inner=build["exhaust_bore"] / 2,
        r_outer=build["disc_diameter"] / 2,
        bolts=build["spokes"],
        circle=np.asarray(build["bolt_circle"], dtype=float),
        bolt=build["bolt_diameter"],
        washer=build["washer_diameter"],
        chosen=chosen,
    )
    return replace(found, fits=found.fits & ~short_threads(build))


def short_threads(build: Builds) -> Mask:
    """Whether an end clamp is too thin for the thread of these bolts."""
    thick = material_state(clamp_materials(build["material"]), ASSEMBLY_TEMPERATURE)
    least = np.where(thick.youngs_modulus > STIFF_METAL, *THREAD_LENGTH) * build["bolt_diameter"]
    return np.asarray(least > CLAMP_THICKNESS * (1 + 1e-9))


def soft_plates(build: Builds) -> Mask:
    """Whether end plates give way under the bolts."""
    with np.errstate(invalid="ignore"):
        rings = build["disc_count"] * np.power(build["disc_thickness"], 3)
    return has_bolts(build) & (STIFFER * rings > 2 * CLAMP_THICKNESS**3)


def misfit(build: Builds) -> Mask:
    """Whether bolts and washers do not fit on the rings, or the thread in a clamp is too short."""
    bolts = bolts_of_build(build)
    return has_bolts(build) & ~bolts.fits if bolts is not None else has_bolts(build)


def plate_rings(build: Builds) -> Lanes:
    """Share of an end clamp between bore and rim that is metal: all with bolts, else none."""
    return np.where(has_bolts(build), 1.0, 0.0)


def held_webs(build: Builds) -> Lanes:
    """Share of the web that lies in the stack: with bolts the end clamps alone have one."""
    return 1.0 - plate_rings(build)


def washers_in_gaps(build: Builds) -> Lanes:
    """Share of the gaps that washers and bolts fill; 0 without bolts."""
    bolts = bolts_of_build(build)
    if bolts is None:
        return np.zeros(len(build["speed"]))
    ring = np.square(build["disc_diameter"]) / 4 - np.square(build["exhaust_bore"]) / 4
    return np.where(bolts.chosen, build["spokes"] * bolts.washer**2 / ring, 0.0)
