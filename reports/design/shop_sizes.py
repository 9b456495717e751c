"""To which step a shop is told a size: the one place of the rule. All in mm, no drawing, no files.

A size is told no finer than its maker can set or measure it. A cut edge has the step of its general
tolerance (`GENERAL`), so that 5.89 becomes 5.9; what is turned, reamed or set on a dial has 0.01; a
radius half of that, so that its diameter is round. Common practice, no source.

A size that the study states, as a number, a choice or a step of a range, is told as it stands: a
gap of 0.127 is a shim that is bought like that. Rounded is what a search has found between two
ends, and what the drawing works out; `as_made` computes again with what comes of it.
"""

import math

GENERAL = (
    (6.0, 0.05),
    (30.0, 0.1),
    (120.0, 0.15),
    (400.0, 0.2),
    (1000.0, 0.3),
)
"""ISO 2768-1 f: tolerance up to this size, plus or minus [mm]; from memory."""
FINE_CUT, CUT = 0.05, 0.1
"""Step of a cut size below and above `SMALL` [mm]."""
SMALL = GENERAL[0][0]
DIAL = 0.01
"""Step of what is turned, reamed or set on a dial; of sheet and shim [mm]."""
HALF = DIAL / 2
"""Step of a radius, or of a clearance on both sides [mm]."""
DIGITS = 9
"""Decimals that tell a sum of such steps from noise."""


def cut_step(size: float) -> float:
    """Step to which a cut size is told."""
    return FINE_CUT if size <= SMALL + HALF else CUT


def cut(size: float) -> float:
    """Round the size of a cut edge.

    Examples
    --------
    >>> cut(5.89), cut(11.78), cut(2.13)
    (5.9, 11.8, 2.15)
    """
    return rounded(size, cut_step(size))


def cut_up(size: float) -> float:
    """Round the size of a cut edge up."""
    step = cut_step(size)
    return round(math.ceil(size / step - 1e-6) * step, DIGITS)


def cut_down(size: float) -> float:
    """Round the size of a cut edge down."""
    step = cut_step(size)
    return round(math.floor(size / step + 1e-6) * step, DIGITS)


def dial(size: float) -> float:
    """Round a size that is turned, reamed or set on a dial.

    Examples
    --------
    >>> dial(47.2399)
    47.24
    """
    return rounded(size, DIAL)


def rounded(size: float, step: float) -> float:
    """Round to the nearest step, never to nothing."""
    return round(max(round(size / step), 1) * step, DIGITS)


def general_tolerance(size: float) -> float:
    """Find the general tolerance of a length, plus or minus."""
    return next((within for most, within in GENERAL if size <= most), GENERAL[-1][1])


def plain(value: float) -> str:
    """Write a length in mm as a drawing does, without its unit.

    Examples
    --------
    >>> plain(8.0), plain(23.4567)
    ('8', '23.457')
    """
    return f"{round(value, 3):g}" if value < 1000 else f"{value:.1f}"


def general(value: float) -> str:
    """Write the general tolerance of a length, both in mm."""
    return f"±{general_tolerance(value):g}"
