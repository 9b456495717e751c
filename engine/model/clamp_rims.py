"""What the rims of end clamps as wide as the discs take from the shaft."""

from collections.abc import Sequence

import numpy as np

from engine.model.bolts import has_bolts
from engine.model.lanes import added
from engine.model.shaft_layout import CLAMP_THICKNESS
from engine.model.stages import Stage
from engine.physics.arrays import Lanes
from engine.physics.flow.clamp_rims import clamp_rims

CLAMPS = 2
"""Of a stack."""


def drag_of_clamps(stages: Sequence[Stage]) -> Lanes:
    """Power that the rims of wide end clamps of all stages brake with [W]; 0 without bolts."""
    return added([_drag(stage) for stage in stages])


def _drag(stage: Stage) -> Lanes:
    """Power of one stage. A rim that its fluid drives gives nothing: nobody has measured that."""
    flow, circuit = stage.flow, stage.circuit
    ring, found = flow.ring, np.zeros_like(flow.rotor_flow)
    rows = np.flatnonzero(has_bolts(stage.build))
    if not rows.size:
        return found
    rims = clamp_rims(
        density=ring.density[rows],
        viscosity=ring.viscosity[rows],
        ring_swirl=(ring.fastest + ring.slowest)[rows] / 2,
        leakage=ring.leakage[rows] / CLAMPS,
        leakage_swirl=ring.leakage_swirl[rows],
        core_speed=ring.core_speed[rows],
        width=CLAMP_THICKNESS,
        **{
            key: getattr(circuit, key)[rows]
            for key in (
                *("angular_speed", "rim_radius", "rim_clearance"),
                *("casing_factor", "exchange_factor"),
            )
        },
    )
    found[rows] = CLAMPS * circuit.angular_speed[rows] * np.maximum(rims.torque, 0.0)
    return found
