"""Shear stress on the stream lines of an outward march; see `gentle`."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import entry
from engine.physics.gap.averaged_kernel import N_KEPT
from engine.physics.gap.turbulence_kernel import Turbulence

ACROSS = 24
"""Places from mid-gap to the wall at which profiles are taken."""


@entry
def worst_stresses(
    rules: Turbulence,
    trail: Lanes,
    gap: Lanes,
    shapes: Lanes,
    slopes: Lanes,
    streams: Lanes,
    found: Lanes,
) -> None:
    """Find the largest stress on each stream line, by lane.

    `trail` has the rows of `averaged_kernel.march_either_way` by station, lanes across. `shapes`
    are the modes at `ACROSS` places, `slopes` their slopes, `streams` their integrals from mid-gap.
    `found` takes the stresses, (line, lane); lines carry even shares of the flow.
    """
    lines, stations = found.shape[0], trail.shape[0] // N_KEPT
    last = shapes.shape[1] - 1
    for i in range(trail.shape[1]):
        for line in range(lines):
            found[line, i] = 0.0
        for k in range(stations):
            row = N_KEPT * k
            radius, speed, viscosity = trail[row, i], trail[row + 1, i], trail[row + 2, i]
            weight, wall = trail[row + 3, i], trail[row + 5, i]
            a1, a2 = trail[row + 6, i], trail[row + 7, i]
            b0, b1, b2 = trail[row + 8, i], trail[row + 9, i], trail[row + 10, i]
            # Stress at the wall by turbulence, which falls to none in mid-gap.
            outside = rules.shear * wall * math.hypot(b0 / radius, speed)
            laminar = 2 * viscosity / gap[i] * (1 - (1 - rules.kept_viscosity) * weight)
            line, carried, before = 0, 0.0, 0.0
            for j in range(1, last + 1):
                # Stress at this place, and the flow between it and mid-gap.
                out = speed * (slopes[0, j] + a1 * slopes[1, j] + a2 * slopes[2, j])
                around = b0 * slopes[0, j] + b1 * slopes[1, j] + b2 * slopes[2, j]
                stress = laminar * math.hypot(out, around / radius) + outside * j / last
                within = streams[0, j] + a1 * streams[1, j] + a2 * streams[2, j]
                while line < lines and (line + 0.5) / lines <= max(within, carried):
                    share = ((line + 0.5) / lines - carried) / max(within - carried, 1e-12)
                    here = before + share * (stress - before)
                    found[line, i] = max(found[line, i], here)
                    line += 1
                carried, before = max(within, carried), stress
