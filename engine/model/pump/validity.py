"""Notes on relations that a pump uses outside the range in which they were established."""

import numpy as np

from engine.columns import Builds
from engine.model.validity import (
    AVERAGED,
    GREASE,
    GREASE_RANGE,
    NO_WEB,
    THIN_DISC,
    Notes,
    joined,
    without,
)
from engine.physics.arrays import Lanes
from engine.physics.flow.windage import WINDAGE_RANGE
from engine.physics.machine.web import WEB_RANGE, WebShape
from engine.physics.pump.mouth import VANELESS_RANGE

TALL = "collector of a tall stack, which a slot would feed better than the round throat here"
VANELESS = "friction behind the rim, whose law was measured at steeper flow"
DIFFERS = "averaged gap flow, see the head when resolved"
UNSETTLED = "gap flow, which does not settle when resolved"
DENSE = "density of the gas, taken as that behind the rim from there to the discharge"
MOST_RATIO = 1.1
"""Pressure at the discharge over that at the suction without a note: density then changes by
some 7 %, which the march through the gaps follows and the stations behind it do not."""
MOST_DIFFERENCE = 0.02
"""Largest difference of head between the two levels of gap flow without a note."""
WIDE = 8.0
"""Ekman parameter up to which both levels of gap flow give one head within 2 %; 3.3 % at 10.6."""


def rechecked_notes(notes: Notes, difference: Lanes) -> Notes:
    """Replace the note on the gap flow after the recheck; it stays where fluid flows back.

    `difference` of head is NaN where there is none.
    """
    known = np.isfinite(difference)
    told = np.strings.find(notes, AVERAGED) >= 0
    kept = np.where(known, without(notes, AVERAGED), notes)
    kept = joined(kept, DIFFERS, np.abs(difference) > MOST_DIFFERENCE)
    return joined(kept, UNSETTLED, ~known & ~told)


def notes_of_pump(
    stack: Builds,
    numbers: Builds,
    web: WebShape,
    *,
    disc_reynolds: Lanes,
    pressure_ratio: Lanes,
) -> Notes:
    """Name the relations outside their range, '' where there are none. Columns by key, SI.

    `pressure_ratio` of discharge and suction is that of a gas; 1 for a liquid.
    """
    rim, bore = stack["disc_diameter"] / 2, stack["exhaust_bore"] / 2
    outside = {
        VANELESS: VANELESS_RANGE.outside(discharge_angle=numbers["discharge_angle"]),
        DENSE: pressure_ratio > MOST_RATIO,
        AVERAGED: (numbers["backflow_share"] > 0) | (numbers["ekman_number"] > WIDE),
        TALL: np.sqrt(4 * stack["throat_area"] / np.pi) < numbers["stack_height"],
        "end-face drag": WINDAGE_RANGE.outside(
            disc_reynolds=disc_reynolds, side_gap_ratio=stack["side_gap"] / rim
        ),
        "plane stress of a thin disc": np.asarray(stack["disc_thickness"] / rim > THIN_DISC),
        "plate modes": WEB_RANGE.outside(
            radius_ratio=bore / rim,
            width_ratio=web.spoke_width / bore,
            hub_ratio=web.hub_radius / bore,
            thickness_ratio=stack["disc_thickness"] / rim,
        ),
        GREASE: GREASE_RANGE.outside(
            warmest=numbers["bearing_temperature"], stiffest=numbers["grease_running"]
        ),
        NO_WEB: ~web.fits,
    }
    notes = np.full(rim.shape, "")
    for note, lanes in outside.items():
        notes = joined(notes, note, lanes)
    return notes
