"""Limits of size against the standard's own formula and its table."""

import math

import pytest

from reports.design.fits import GRADES, STEPS, limits

TIMES = {5: 7, 6: 10, 7: 16, 8: 25, 9: 40}
"""ISO 286-1, table of grades: width over the tolerance unit i; from memory."""


@pytest.mark.parametrize("grade", TIMES)
def test_widths_follow_the_tolerance_unit_of_the_standard(grade: int) -> None:
    # i = 0.45 D^(1/3) + 0.001 D, D the geometric mean of the step (ISO 286-1, from memory). The
    # table is rounded to whole numbers and convenient ones.
    for column in range(1, len(STEPS)):
        size = math.sqrt(STEPS[column - 1] * STEPS[column])
        unit = 0.45 * size ** (1 / 3) + 0.001 * size
        assert GRADES[grade][column] == pytest.approx(TIMES[grade] * unit, rel=0.03, abs=0.7)


@pytest.mark.parametrize(
    ("size", "fit", "lower", "upper"),
    [
        # ISO 286-2 and tables of rolling bearings, from memory [um].
        (8.0, "H7", 0, 15),
        (8.0, "h6", -9, 0),
        (8.0, "j5", -2, 4),
        (15.0, "j5", -3, 5),
        (22.0, "H6", 0, 13),
        (28.0, "h6", -13, 0),
        (44.0, "p6", 26, 42),
        (95.0, "H8", 0, 54),
        (6.0, "H7", 0, 12),
    ],
)
def test_limits_are_those_of_the_table(size: float, fit: str, lower: int, upper: int) -> None:
    found = limits(size, fit)
    assert (round(1e3 * found.lower), round(1e3 * found.upper)) == (lower, upper)


@pytest.mark.parametrize("fit", ["H99", "zz", "K7"])
def test_an_unknown_fit_is_refused(fit: str) -> None:
    with pytest.raises(ValueError, match=f"no limits are known for the fit {fit}"):
        limits(10.0, fit)
