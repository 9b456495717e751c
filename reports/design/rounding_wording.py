"""What the sheet says of sizes rounded as a shop reads them. Plain text."""

from collections.abc import Iterable

from engine.columns import COLUMNS, is_share
from reports.design.as_made import TELLS, Rounding
from reports.design.shop_sizes import CUT, DIAL, FINE_CUT, SMALL
from reports.kit.quantities import THIN, inline_label, listed, number, percent, quantity

DIGITS = 5
"""Of a size before and after."""


def rounding_text(rounding: Rounding) -> tuple[str, ...]:
    """Say how sizes were rounded and what that changes."""
    rule = (
        f"Sizes are rounded to what a shop reads: {FINE_CUT:g}{THIN}mm for a cut edge up to "
        f"{SMALL:g}{THIN}mm and {CUT:g}{THIN}mm above, {DIAL:g}{THIN}mm for what is turned, reamed "
        "or set on a dial. What the study states stays as stated. Drawings, files and every number "
        "here are of the rounded build; the report has those of the search."
    )
    sizes = list(_sizes(rounding))
    made = f" Rounded were: {listed(sizes)}." if sizes else ""
    return (rule + made, _moved(rounding), *_missed(rounding))


def _sizes(rounding: Rounding) -> Iterable[str]:
    """Each size with what it was, where the two can be told apart as written."""
    for key, before, after in rounding.sizes:
        one, two = (_written(key, value) for value in (before, after))
        if one != two:
            yield f"{inline_label(key)} {two} for {one}"


def _written(key: str, value: float) -> str:
    column = COLUMNS[key]
    if is_share(key):
        return f"{number(100 * value, DIGITS - 1, trim=True)}{THIN}%"
    text = number(float(column.to_drawing(value)), DIGITS, trim=True)
    return f"{text}{THIN}{column.unit.symbol}" if column.unit.symbol else text


def _moved(rounding: Rounding) -> str:
    """Name the results that move so far that a reader of both pages would ask."""
    if not rounding.results:
        return f"No result on this sheet moves by more than {percent(TELLS)} by it."
    told = [
        f"{inline_label(key)} {two} for {one}"
        for key, before, after in rounding.results
        for one, two in [_told_apart(key, before, after)]
    ]
    return f"By more than {percent(TELLS)} it moves: {listed(told)}."


def _told_apart(key: str, before: float, after: float) -> tuple[str, str]:
    """Write two values of a result, with more digits where they would read alike."""
    usual = quantity(key, before), quantity(key, after)
    return usual if usual[0] != usual[1] else (_written(key, before), _written(key, after))


def _missed(rounding: Rounding) -> Iterable[str]:
    if rounding.missed:
        names = listed([inline_label(key) for key in rounding.missed])
        yield (
            f"Rounded, this build no longer keeps the study's limit of {names}: build another, or "
            "give its ranges steps that a shop reads and search again."
        )
