"""Notes on relations that are used outside the range in which they were established."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds
from engine.model.bolts import misfit, soft_plates
from engine.model.runaway import torque_told
from engine.physics.arrays import Lanes, Mask, Reason, ValidRange
from engine.physics.flow.match import Throughflow
from engine.physics.flow.ring import RING_RANGE
from engine.physics.flow.short_duct import DUCT_RANGE, SHARP_RANGE
from engine.physics.flow.windage import WINDAGE_RANGE
from engine.physics.gap.averaged import AVERAGED_RANGE, FRICTION_RANGE, faster_ekman_number
from engine.physics.machine.web import WEB_RANGE, WebShape

Notes = NDArray[np.str_]

THIN_DISC = 0.08
"""Thickness over rim radius up to which plane stress holds well (Timoshenko and Goodier 1970)."""
WIDE_GAP = 6.0
"""Ekman parameter above which discs faster than the fluid pump it outward along the walls."""
MOST_DIFFERENCE = 0.05
"""Largest difference of power between the two levels of gap flow without a note."""
RING = "ring around the discs, whose edges all but close the rim"
"""See `ring.ring_around_discs`; `point --plane` tells of one build."""
NO_WEB = "blocked share, which no hub with so many spokes or holes fills"
NO_BOLTS = "bolts, which do not fit on the discs or in the thread of an end clamp"
SOFT_PLATES = "bolts between end plates that give way: the waves come at lower speeds"
RUNNER = "spokes in the exhaust, which work more than the discs"
"""Their share is solved in a plane and not measured; then most of the power rests on it."""
GREASE_RANGE = ValidRange(
    source="lithium soap greases; common practice, no source",
    bounds={"warmest": (0.0, 393.15), "stiffest": (0.0, 1e-3)},
)
GREASE = "grease of the bearings, too hot or too stiff"
UNEVEN = "one flow for all gaps, which share it unevenly"
MOST_UNEVEN = 0.25
"""Difference between the flows of two gaps, over the mean, without a note; power then lacks about
1 %, as it falls with the square of what a gap is off."""
OFF_WITH_BACKFLOW = 0.01
"""Error of the pressure drop of resolved flow, over it, that 95 of 100 gaps with backflow keep
within, whatever its share; of 347, two are beyond, 1 and 5 % off. Torque is within 3e-3."""
RUNAWAY = "runaway speed, where the flow has no operating point any more"
RUNAWAY_BOUND = "runaway speed, an upper bound as the flow there is not known"
AVERAGED = "averaged gap flow"
DIFFERS = "averaged gap flow, see the power when resolved"
UNSETTLED = "gap flow, which does not settle when resolved"


def notes_of(stages: Sequence[tuple[Builds, Builds, Throughflow]], web: WebShape) -> Notes:
    """Name the relations outside their range in any stage, '' where there are none.

    Stages are builds, results by column key, and flow.
    """
    outside = [_outside(*stage, web) for stage in stages]
    # Few sets of notes occur, so each is worded once.
    sets = np.zeros(len(stages[0][0]["speed"]), dtype=np.int64)
    for each in outside:
        for place, lanes in enumerate(each.values()):
            sets |= lanes.astype(np.int64) << place
    found, lane = np.unique(sets, return_inverse=True)
    words = [
        "; ".join(note for place, note in enumerate(outside[0]) if bits >> place & 1)
        for bits in found.tolist()
    ]
    return np.array(words, dtype=str)[lane]


def _outside(build: Builds, states: Builds, flow: Throughflow, web: WebShape) -> dict[str, Mask]:
    """Relations and the lanes in which they are outside their range. Columns by key, SI."""
    rim = build["disc_diameter"] / 2
    disc_reynolds = flow.ring.density * build["speed"] * rim**2 / flow.ring.viscosity
    faster = faster_ekman_number(
        ekman_number=states["ekman_number"], swirl_ratio=states["rim_swirl_ratio"]
    )
    is_computed = np.isnan(build["nozzle_discharge"]) | np.isnan(build["nozzle_velocity"])
    return {
        "nozzle coefficients": is_computed
        & (
            DUCT_RANGE.outside(reynolds=states["nozzle_reynolds"], land_ratio=build["nozzle_land"])
            | (build["nozzle_entry"] == "sharp")
            & SHARP_RANGE.outside(land_ratio=build["nozzle_land"])
        ),
        RING: RING_RANGE.outside(edge_share=states["edge_share"]),
        "end-face drag": WINDAGE_RANGE.outside(
            disc_reynolds=disc_reynolds, side_gap_ratio=build["side_gap"] / rim
        ),
        AVERAGED: AVERAGED_RANGE.outside(
            faster_ekman_number=faster,
            laminar_ekman_number=faster * (1 - states["turbulent_share"]),
            gap_reynolds=states["gap_reynolds"],
        )
        # Discs faster than the fluid pump it outward in wide gaps: more than one flow is possible.
        | (states["rim_swirl_ratio"] < 1) & (states["ekman_number"] > WIDE_GAP),
        "wall friction of the gaps": FRICTION_RANGE.outside(gap_mach=states["gap_mach"]),
        "plane stress of a thin disc": np.asarray(build["disc_thickness"] / rim > THIN_DISC),
        "plate modes": WEB_RANGE.outside(
            radius_ratio=build["exhaust_bore"] / build["disc_diameter"],
            width_ratio=web.spoke_width / (build["exhaust_bore"] / 2),
            hub_ratio=web.hub_radius / (build["exhaust_bore"] / 2),
            thickness_ratio=build["disc_thickness"] / rim,
        ),
        GREASE: GREASE_RANGE.outside(
            warmest=states["bearing_temperature"], stiffest=states["grease_running"]
        ),
        NO_WEB: ~web.fits,
        NO_BOLTS: misfit(build),
        SOFT_PLATES: soft_plates(build),
        RUNNER: np.abs(flow.web_torque) > (build["disc_count"] - 1) * np.abs(flow.gap.torque),
    }


def rechecked(notes: Notes, difference: Lanes) -> Notes:
    """Remove or replace the note on the gap flow after the recheck.

    `difference` is NaN where the resolved flow did not settle.
    """
    kept = without(notes, AVERAGED)
    kept = joined(kept, DIFFERS, np.abs(difference) > MOST_DIFFERENCE)
    return joined(kept, UNSETTLED, np.isnan(difference))


def without(notes: Notes, note: str) -> Notes:
    """Take a note out of others."""
    kept = np.strings.replace(np.strings.replace(notes, f"{note}; ", ""), note, "")
    return np.strings.rstrip(kept, "; ")


def unevenly_shared(notes: Notes, share: Lanes) -> Notes:
    """Append the note on gaps that share the flow unevenly, where it is not there yet."""
    told = np.strings.find(notes, UNEVEN) >= 0
    return joined(notes, UNEVEN, (share > MOST_UNEVEN) & ~told)


def runaway_told(notes: Notes, found: Builds) -> Notes:
    """Append notes on runaway speeds at which there is no operating point, where not there yet.

    `found` is what `driven` tells of the builds just below.
    """
    told = np.strings.find(notes, "runaway speed") >= 0
    bound = np.isposinf(torque_told(found))
    sure = np.isin(found["status"], (Reason.MATCHED, Reason.NO_FLOW))
    notes = joined(notes, RUNAWAY, ~told & ~sure & ~bound)
    return joined(notes, RUNAWAY_BOUND, ~told & bound)


def joined(notes: Notes, note: str, lanes: Mask) -> Notes:
    """Append a note in some lanes."""
    longer = np.strings.add(np.where(notes == "", "", np.strings.add(notes, "; ")), note)
    return np.where(lanes, longer, notes)
