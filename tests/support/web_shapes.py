"""Waves of discs on spokes with their shapes, by which they are known from place to place.

A shape is its harmonics along three circles of the ring, (circle, order). The orders of a phase
index p are p + k N, N spokes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from engine.physics.machine.web import NODAL_DIAMETERS
from tests.support.bolted_disc import BoltedSector
from tests.support.webbed_disc import POISSON, Sector
from tests.support.webbed_plane import Floats

KEPT, KEPT_AT_REST = 20, 8
"""Waves of each number of nodal diameters, and modes at rest of each phase index."""
CIRCLES = (-5, -3, -1)
"""Rows of nodes along which shapes are kept: near the bore, in the middle, at the rim."""
STEPS = np.arange(-5, 5)
"""Orders of a shape, in steps of the number of spokes from the phase index."""
POINTS = 360
PHASES = 7
"""Most phase indices that any number of spokes of the tables has."""


@dataclass(frozen=True)
class Solved:
    """Waves and modes at rest of one disc, lowest first; NaN where there are no more."""

    waves: Floats
    """(nodal diameters, wave, 6): speed, share, B, slope with Poisson's ratio, softening, fluid."""
    shapes: NDArray[np.complex64]
    """(nodal diameters, wave, circle, order)"""
    rest: Floats
    """(phase index, mode, 2): frequency, slope of its logarithm with Poisson's ratio."""
    rest_shapes: NDArray[np.complex64]


def harmonics_of(sector: Sector, phase_index: int) -> Callable[[Any], Any]:
    """What takes a shape over all degrees of freedom to its harmonics, (circle, order)."""
    spokes = sector.web.spokes
    edge = np.pi / spokes
    points = -edge + 2 * edge * np.arange(POINTS) / POINTS
    orders = (phase_index + spokes * STEPS)[:, np.newaxis]
    circles = []
    for row in sector.circles if isinstance(sector, BoltedSector) else CIRCLES:
        sampled, at = sector.along(row, points)
        circles.append((np.exp(-1j * orders * points) @ sampled / POINTS, at))
    return lambda shape: np.stack([to_order @ shape[at] for to_order, at in circles])


def solved(sector: Sector) -> Solved:
    """Waves and modes at rest of a disc."""
    spokes = sector.web.spokes
    harmonics = [harmonics_of(sector, p) for p in range(spokes // 2 + 1)]
    size = NODAL_DIAMETERS.size
    waves = np.full((size, KEPT, 6), np.nan)
    shapes = np.zeros((size, KEPT, len(CIRCLES), STEPS.size), np.complex64)
    rest = np.full((PHASES, KEPT_AT_REST, 2), np.nan)
    rest_shapes = np.zeros((PHASES, KEPT_AT_REST, len(CIRCLES), STEPS.size), np.complex64)
    for row, n in enumerate(NODAL_DIAMETERS):
        phase_index, _ = phase_and_order(spokes, int(n))
        for place, wave in enumerate(sector.waves(int(n), KEPT)):
            waves[row, place] = (
                wave.speed,
                wave.share,
                wave.stiffening,
                wave.poisson_slope,
                wave.softening,
                wave.fluid,
            )
            shapes[row, place] = harmonics[phase_index](wave.shape)
    for p, made in enumerate(harmonics):
        basis, small = sector.projected(p)
        stiff = small["laplacian"] - (1 - POISSON) * small["gauss"]
        squares, vectors = scipy.linalg.eigh(stiff, small["mass"])
        for place in range(KEPT_AT_REST):
            x = vectors[:, place]
            gauss = float(np.real(np.vdot(x, small["gauss"] @ x)))
            rest[p, place] = np.sqrt(squares[place]), gauss / (2 * squares[place])
            rest_shapes[p, place] = made(basis @ x)
    return Solved(waves, shapes, rest, rest_shapes)


def phase_and_order(spokes: int, n: int) -> tuple[int, int]:
    """Phase index whose modes hold n nodal diameters, and n in their sense of rotation."""
    index = n % spokes
    return (spokes - index, -n) if 2 * index > spokes else (index, n)
