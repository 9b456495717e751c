"""Limits of size by ISO 286-1, for the fits that the drawings use; sizes in mm. From memory.

A letter tells where a zone lies from the nominal size, a number how wide it is. Small letters are
shafts, large ones holes. The standard's grades follow from i = 0.45 D^(1/3) + 0.001 D, with D the
geometric mean of a step of sizes in mm, i in um: IT5 7 i, IT6 10 i, IT7 16 i, IT8 25 i, IT9 40 i.
"""

import re
from bisect import bisect_left
from dataclasses import dataclass

STEPS = (3.0, 6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0, 180.0, 250.0, 315.0, 400.0, 500.0)
"""Sizes up to which a column holds [mm]; the last one serves larger sizes too."""
GRADES = {
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
}
"""Width of a zone [um]."""
ABOVE = {"p": (6, 12, 15, 18, 22, 26, 32, 37, 43, 50, 56, 62, 68)}
"""Lower limit of a shaft over its nominal size [um]."""
AROUND = {("j", 5): (-2, -2, -2, -3, -4, -5, -7, -9, -11, -13, -16, -18, -20)}
"""Lower limit of a shaft whose zone holds its nominal size [um]."""


@dataclass(frozen=True)
class Limits:
    """A fit of a size, and how far the size may be off [mm]."""

    size: float
    fit: str
    lower: float
    upper: float

    @property
    def text(self) -> str:
        """Tolerances as a drawing gives them, on one line.

        Examples
        --------
        >>> limits(8.0, "H7").text, limits(8.0, "j5").text
        ('H7 (+0.015/0)', 'j5 (+0.004/−0.002)')
        """
        return f"{self.fit} ({_signed(self.upper)}/{_signed(self.lower)})"


def limits(size: float, fit: str) -> Limits:
    """Look up the limits of a size with a fit such as H7; raises ValueError for an unknown one."""
    found = re.fullmatch(r"([A-Za-z]+)(\d+)", fit)
    column = min(bisect_left(STEPS, size), len(STEPS) - 1)
    if found is None or int(found[2]) not in GRADES:
        msg = f"no limits are known for the fit {fit}"
        raise ValueError(msg)
    letter, grade = found[1], int(found[2])
    width = GRADES[grade][column]
    if letter == "H":
        lower = 0
    elif letter == "h":
        lower = -width
    elif (letter, grade) in AROUND:
        lower = AROUND[letter, grade][column]
    elif letter in ABOVE:
        lower = ABOVE[letter][column]
    else:
        msg = f"no limits are known for the fit {fit}"
        raise ValueError(msg)
    return Limits(size, fit, lower / 1e3, (lower + width) / 1e3)


def _signed(value: float) -> str:
    return "0" if value == 0 else f"{'+' if value > 0 else '−'}{abs(value):.3f}"
