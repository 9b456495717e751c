"""Numbers as the page prints them: three significant digits, thin spaces, the columns' units."""

import math
from collections.abc import Sequence

from engine.columns import COLUMNS, UNITS, is_chance, is_share
from engine.physics.machine.fatigue import MOST_CYCLES
from engine.physics.machine.margins import HIGHEST_RUNAWAY

THIN = "\N{NARROW NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"
MISSING = "\N{EN DASH}"


def number(value: float, digits: int = 3, *, trim: bool = False) -> str:
    """Write a fixed-point number with this many significant digits; `trim` drops closing zeros.

    Examples
    --------
    >>> number(18347.0).replace(THIN, " ")
    '18 300'
    >>> number(0.3), number(0.3, trim=True), number(float("nan"))
    ('0.300', '0.3', '–')
    """
    if not math.isfinite(value):
        return MISSING
    if abs(value) < 1e-9:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    rounded = round(value, digits - 1 - exponent)
    if abs(rounded) >= 10 ** (exponent + 1):  # 9.996 became 10.00
        exponent += 1
    text = f"{abs(rounded):,.{max(0, digits - 1 - exponent)}f}".replace(",", THIN)
    if trim and "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{MINUS}{text}" if value < 0 else text


def count(value: float) -> str:
    """Write a whole number with thin spaces between thousands."""
    return f"{round(value):,}".replace(",", THIN)


def percent(share: float) -> str:
    """Write a share as percent; a few never become 0 %, and many never become 100 %.

    Examples
    --------
    >>> percent(0.1234).replace(THIN, " "), percent(0.99999).replace(THIN, " ")
    ('12.3 %', '>99.9 %')
    """
    if not math.isfinite(share):
        return MISSING
    if 0 < share < 0.0005:
        return f"<0.1{THIN}%"
    if 0.9995 <= share < 1:
        return f">99.9{THIN}%"
    text = "0" if share == 0 else "100" if share == 1 else f"{abs(100 * share):.1f}"
    return f"{MINUS if share < 0 and float(text) else ''}{text}{THIN}%"


def whole_percent(share: float) -> str:
    """Write a share that is not known better than to a percent.

    Examples
    --------
    >>> whole_percent(0.063).replace(THIN, " "), whole_percent(0.004).replace(THIN, " ")
    ('6 %', '0.4 %')
    """
    if not math.isfinite(share):
        return MISSING
    if 0 < share < 0.01:
        return f"{max(0.1, 100 * share):.1f}{THIN}%"
    return f"{100 * share:.0f}{THIN}%"


def chance(share: float) -> str:
    """Write a chance: whole percent, and never 0 or 100 for what is only rare or likely.

    Examples
    --------
    >>> chance(0.441).replace(THIN, " "), chance(0.999).replace(THIN, " ")
    ('44 %', '>99 %')
    """
    if not math.isfinite(share):
        return MISSING
    if 0 < share < 0.01:
        return f"<1{THIN}%"
    if 0.99 < share < 1:
        return f">99{THIN}%"
    return f"{100 * share:.0f}{THIN}%"


def power(watts: float) -> str:
    """Write a power: whole watts from a hundred on, kilowatts from a thousand on.

    Examples
    --------
    >>> power(241.3).replace(THIN, " "), power(3891.0).replace(THIN, " ")
    ('241 W', '3.9 kW')
    """
    if abs(watts) >= 1000:
        return f"{number(watts / 1000, 2)}{THIN}kW"
    return f"{number(watts, trim=True)}{THIN}W"


def signed_percent(ratio: float) -> str:
    """Write a change as percent with its sign, for a sentence or a table.

    Examples
    --------
    >>> signed_percent(0.0123).replace(THIN, " "), signed_percent(-0.0002).replace(THIN, " ")
    ('+1.2 %', '0.0 %')
    """
    change = round(100 * ratio, 1)
    text = f"{change:+.1f}" if change else "0.0"
    return f"{text}{THIN}%".replace("-", MINUS)


def bare(key: str, value: float | str) -> str:
    """Write a column's SI value in its drawing unit, without the unit."""
    column = COLUMNS[key]
    if isinstance(value, str) or column.is_text:
        return str(value)
    if said := _in_words(key, value):
        return said
    drawing = float(column.to_drawing(value))
    if column.is_count:
        return count(drawing) if math.isfinite(drawing) else MISSING
    if column.kind in ("result", "band"):
        return number(drawing)
    return number(drawing, 4, trim=True)


def _in_words(key: str, value: float) -> str:
    if key in ("survives_load_loss", "survives_trip") and math.isfinite(value):
        return "yes" if value == 1 else "no"
    if key == "runaway_ratio" and value >= HIGHEST_RUNAWAY:
        return f"≥{THIN}{number(HIGHEST_RUNAWAY, trim=True)}"
    if key == "fatigue_cycles" and math.isfinite(value):
        exponent = round(math.log10(max(value, 1.0)))
        return f"{'≥' if value >= MOST_CYCLES else '≈'}{THIN}{count(10**exponent)}"
    if is_chance(key):
        return chance(value)
    return percent(value) if is_share(key) else ""


def setting(key: str, value: float) -> str:
    """Write a number that somebody chose, such as a limit, with its unit and no closing zeros."""
    if is_share(key):
        return f"{number(100 * value, 4, trim=True)}{THIN}%"
    return _with_unit(key, number(float(COLUMNS[key].to_drawing(value)), 4, trim=True))


def quantity(key: str, value: float | str) -> str:
    """Write a column's SI value in its drawing unit, with the unit.

    Examples
    --------
    >>> quantity("gap", 3e-4).replace(THIN, " "), quantity("safety_margin", 1.5)
    ('0.3 mm', '1.50')
    """
    return _with_unit(key, bare(key, value))


def duration(seconds: float) -> str:
    """Write a short time.

    Examples
    --------
    >>> duration(0.00416).replace(THIN, " ")
    '4.16 ms'
    """
    unit = UNITS["ms"]
    return f"{number(seconds / unit.si_factor)}{THIN}{unit.symbol}"


def _with_unit(key: str, text: str) -> str:
    symbol = COLUMNS[key].unit.symbol
    if symbol == "deg" and text != MISSING:
        return f"{text}°"
    return text if symbol in ("", "text", "count") or text == MISSING else f"{text}{THIN}{symbol}"


def inline_label(key: str) -> str:
    """Write a column's label as it stands inside a sentence."""
    return within(COLUMNS[key].label)


def begun(text: str) -> str:
    """Write a text as it stands at the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def within(text: str) -> str:
    """Write a text as it stands inside a sentence."""
    return text[:1].lower() + text[1:]


def with_article(noun: str) -> str:
    """Put 'a' or 'an' before a noun."""
    return f"{'an' if noun[:1] in 'aeio' else 'a'} {noun}"


def listed(words: Sequence[str]) -> str:
    """Join words as a sentence does."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
