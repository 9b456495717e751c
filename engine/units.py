"""Text with a unit to an SI number, with its dimension checked. Only this module uses pint.

A value is text such as ``0.3 mm``. A bare number has no unit and is refused where one is needed,
also when it comes from Python, so that no unit is ever guessed.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from typing import TYPE_CHECKING

import numpy as np

from engine.cache import Arrays, cached
from engine.columns import UNITS
from engine.errors import WrongValueError

if TYPE_CHECKING:
    import pint

FREE_AIR_DENSITY = 1e5 / (287.05 * 293.15)
"""Density of dry air at 1 bar and 20 °C, the reference state of ISO 1217 [kg/m3]."""


class UnitError(WrongValueError):
    """A value that cannot be read as a quantity of the dimension needed."""


@dataclass(frozen=True)
class Dimension:
    """What a value measures, with an example of how it is written."""

    phrase: str
    example: str
    unit: str
    """SI unit, as pint writes it."""


DIMENSIONS: Mapping[str, Dimension] = {
    "ratio": Dimension("a plain number or a percentage", "0.95", ""),
    "count": Dimension("a whole number", "4", ""),
    "length": Dimension("a length", "0.3 mm", "m"),
    "head": Dimension("a head", "3 m", "m"),
    "area": Dimension("an area", "60 mm2", "m**2"),
    "angle": Dimension("an angle", "12 deg", "rad"),
    "angular_speed": Dimension("a rotational speed", "18000 rpm", "rad/s"),
    "speed": Dimension("a speed", "50 m/s", "m/s"),
    "pressure": Dimension("a pressure", "6 bar gauge", "Pa"),
    "pressure_difference": Dimension("a difference of pressures", "5 mbar", "Pa"),
    "temperature": Dimension("a temperature", "20 degC", "K"),
    "temperature_difference": Dimension("a temperature difference", "5 K", "K"),
    "mass_flow": Dimension("a mass flow", "10 g/s", "kg/s"),
    "volume": Dimension("a volume", "0.2 l", "m**3"),
    "volume_flow": Dimension("a volume flow", "400 l/min", "m**3/s"),
    "air_flow": Dimension("a mass flow or a flow of free air", "600 l/min", "kg/s"),
    "power": Dimension("a power", "250 W", "W"),
    "energy": Dimension("an energy", "100 J", "J"),
    "torque": Dimension("a torque", "1 mN m", "N*m"),
    "force": Dimension("a force", "20 N", "N"),
    "stress": Dimension("a stress", "150 MPa", "Pa"),
    "shear": Dimension("a shear stress", "50 Pa", "Pa"),
    "density": Dimension("a density", "870 kg/m3", "kg/m**3"),
    "mass": Dimension("a mass", "1.5 kg", "kg"),
    "unbalance": Dimension("an unbalance", "12 g mm", "kg*m"),
    "stiffness": Dimension("a stiffness", "20 MN/m", "N/m"),
    "frequency": Dimension("a frequency", "300 Hz", "1/s"),
    "time": Dimension("a time", "5 ms", "s"),
    "voltage": Dimension("a voltage", "24 V", "V"),
    "current": Dimension("a current", "3 A", "A"),
    "resistance": Dimension("an electric resistance", "0.3 ohm", "ohm"),
    "inductance": Dimension("an inductance", "30 uH", "H"),
    "capacitance": Dimension("a capacitance", "4.7 mF", "F"),
    "speed_constant": Dimension("a speed per voltage", "500 rpm/V", "rad/s/V"),
    "kinematic_viscosity": Dimension("a kinematic viscosity", "20 mm2/s", "m**2/s"),
    "balance_grade": Dimension("a balance grade", "2.5 mm/s", "m/s"),
    "specific_consumption": Dimension("a specific consumption", "60 kg/kWh", "kg/J"),
    "specific_power": Dimension("a power per free-air flow", "6.5 kW/(m3/min)", "W/(m**3/s)"),
}
"""Every dimension a study may use, by name."""

# Common spellings that pint does not know or reads as another unit (its cfm is a centifermi).
_WRITTEN = {"Nm": "N m", "mNm": "mN m", "cfm": "ft3/min", "C": "degC"}
_NAMES = {"rev": "turn"}
_SIGNS = str.maketrans(
    {"−": "-", "µ": "u", "μ": "u", "²": "2", "³": "3", "·": "*", "\u00a0": " ", "\u202f": " "}
)
_BASES = ("[length]", "[mass]", "[time]", "[temperature]", "[current]")
_LONGEST = 60
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_PER_TIME = re.compile(r"1 ?/ ?(min|s|sec|second|minute)|(min|s)\s?(\^|\*\*)?-1")
_THOUSANDS = re.compile(
    r"([+-]?[1-9][0-9]{0,2}(?:(?:,[0-9]{3})+|(?:'[0-9]{3})+|(?:_[0-9]{3})+| [0-9]{3}))"
    r"(?![0-9.,])(.*)"
)
_NOT_FINITE = re.compile(r"[+-]?\.?(nan|inf|infinity)\b", re.IGNORECASE)
_FACTOR = r"[A-Za-z]+(?:(?:\^|\*\*)?-?[1-4])?"
_PRODUCT = rf"{_FACTOR}(?:(?: *\* *| +){_FACTOR})*"
_QUOTIENT = rf"{_PRODUCT}(?: */ *{_FACTOR})*"
_UNIT = re.compile(rf"{_QUOTIENT}(?: */ *\({_QUOTIENT}\))?")
_PART = re.compile(r"(/ *\()|(/?) *([A-Za-z]+)(?:\^|\*\*)?(-?[1-4])?")
_REFERENCE = re.compile(r"(?:[\s(]+(gauge|absolute|abs|g|a)|(?<=bar|psi)(g|a))\)?$")


def unit_example(dimension: str) -> str:
    """Text of an example value of this dimension."""
    return DIMENSIONS[dimension].example


def expectation(dimension: str) -> str:
    """Phrase that names a dimension and gives an example."""
    return f"{DIMENSIONS[dimension].phrase} such as {unit_example(dimension)}"


def shown(value: float, dimension: str) -> str:
    """Text of an SI value in its drawing unit, for messages."""
    unit = next((unit for unit in UNITS.values() if unit.dimension == dimension), None)
    if unit is None:
        return f"{value:.6g} {DIMENSIONS[dimension].unit}"
    drawn = (value - unit.si_offset) / unit.si_factor
    symbol = {"count": "", "bar": "bar absolute"}.get(unit.symbol, unit.symbol)
    return f"{drawn:.6g} {symbol}".strip()


def counted(number: float) -> str:
    """Text of a whole number with no-break spaces between thousands, as the pages write it.

    Examples
    --------
    >>> counted(1539570.0).split()
    ['1', '539', '570']
    """
    return f"{number:,.0f}".replace(",", "\u00a0")


def fixed(number: float, digits: int) -> str:
    """Text of a number with this many significant digits, never with an exponent.

    Examples
    --------
    >>> fixed(0.000012345, 3), fixed(0.5, 4), fixed(26500.0, 4).split()
    ('0.0000123', '0.5', ['26', '500'])
    """
    if abs(number) >= 10 ** (digits - 1):
        return counted(number)
    places = digits - 1 - math.floor(math.log10(abs(number))) if number else 0
    text = f"{number:.{min(places, 12)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(share: float, places: int = 1) -> str:
    """Text of a share in percent.

    Examples
    --------
    >>> percent(0.123), percent(0.5, 0)
    ('12.3 %', '50 %')
    """
    return f"{100 * share:.{places}f} %"


def shorten(value: object) -> str:
    """Quoted text of any value, shortened and made printable."""
    text = str(value)
    return repr(text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}...")


def parse(value: object, dimension: str, *, atmosphere: float | None = None) -> float:
    """SI number of a text with a unit; an int for "count".

    A pressure must end in ``gauge`` or ``absolute`` (also ``abs``, ``(g)``, ``barg``, ``bara``).
    `atmosphere` [Pa] is added to a gauge pressure; without it a gauge pressure is refused. The
    volume of an air flow is free air at 1 bar and 20 °C (ISO 1217). Raises UnitError.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        kinds = {list: "a list", tuple: "a list", dict: "a section with keys", bool: "a yes or no"}
        found = kinds.get(type(value), "no value" if value is None else "no text")
        raise _wrong(dimension, found)
    number, unit = _split(str(value), dimension)
    if dimension == "count":
        return _whole(number, unit, dimension, value)
    if dimension == "ratio":
        return _ratio(number, unit, dimension, value)
    offset: float | None = 0.0
    if dimension == "pressure":
        unit, is_gauge = _reference(unit, dimension, value)
        offset = atmosphere if is_gauge else 0.0
    if offset is None:
        remedy = "write it as in 1.013 bar absolute"
        found = f"{shorten(value)} is gauge"
        raise UnitError(found, "an absolute pressure here", remedy)
    if not unit:
        remedy = f"add the unit, as in {unit_example(dimension)}"
        raise _wrong(dimension, f"{shorten(value)} has no unit", remedy)
    return _finite(_to_si(number, unit, dimension, value) + offset, value, dimension)


@dataclass(frozen=True)
class _Unit:
    """A unit as pint defines it."""

    factor: float
    offset: float
    """SI value of 0 in this unit; not 0 for a temperature in degC."""
    kind: tuple[float, ...]
    """Powers of `_BASES`; the power of the radian, to tell a rotational speed from a frequency; and
    the number of other base dimensions."""


def _wrong(dimension: str, found: str, remedy: str = "") -> UnitError:
    remedy = remedy or f"write it as in {unit_example(dimension)}"
    return UnitError(found, expectation(dimension), remedy)


def _split(text: str, dimension: str) -> tuple[float, str]:
    """Cut a text into number and unit, or say which of the common mistakes it has."""
    written = text.strip().translate(_SIGNS).replace("°C", "degC").replace("°F", "degF")
    written, shown, example = written.replace("°", " deg"), shorten(text), unit_example(dimension)
    if not written:
        raise _wrong(dimension, "no value")
    if len(written) > _LONGEST:
        raise _wrong(dimension, f"{shown} is too long for a value")
    if _NOT_FINITE.match(written):
        raise _wrong(dimension, f"{shown} is not a finite number")
    match = _NUMBER.match(written)
    if match is None:
        raise _wrong(dimension, f"{shown} does not begin with a number")
    rest = written[match.end() :].strip()
    number = match.group()
    if dimension == "angular_speed" and _PER_TIME.fullmatch(rest):
        rpm = f"{number} rpm" if "min" in rest else f"{60 * float(number):.6g} rpm"
        found = f"{shown} counts per time, and does not say of what"
        raise _wrong(dimension, found, f"for revolutions write {rpm}")
    if thousands := _THOUSANDS.fullmatch(written):
        whole, unit = re.sub(r"[,'_ ]", "", thousands[1]), thousands[2].strip()
        remedy = f"write {whole} {unit}".rstrip()
        sign = "comma" if "," in thousands[1] else "break"
        if thousands[1].count(",") == 1:
            remedy += f", or {thousands[1].replace(',', '.')} {unit}".rstrip()
            remedy += " if it is a decimal comma"
        raise _wrong(dimension, f"{shown} has a {sign} in its number", remedy)
    if rest.startswith(","):
        remedy = f"write a decimal point and nothing between thousands, as in {example}"
        raise _wrong(dimension, f"{shown} has a comma in its number", remedy)
    if rest[:1].isdigit() or rest[:1] in ("_", "'", "."):
        remedy = f"write all digits of the number together, as in {example}"
        raise _wrong(dimension, f"{shown} has a break in its number", remedy)
    if rest.startswith("/"):
        remedy = f"write a decimal number, as in {example}"
        raise _wrong(dimension, f"{shown} is a fraction", remedy)
    return _finite(float(match.group()), text, dimension), rest


def _finite(number: float, value: object, dimension: str) -> float:
    """Refuse infinity and NaN, and drop the rounding error of a conversion: 80.1 mm is 0.0801 m."""
    if not math.isfinite(number):
        raise _wrong(dimension, f"{shorten(value)} is not a finite number")
    return float(f"{number:.15g}")


def _whole(number: float, unit: str, dimension: str, value: object) -> int:
    if unit:
        found = f"{shorten(value)} has a unit or words after its number"
        raise _wrong(dimension, found, "write the number alone")
    if not number.is_integer() or abs(number) > 2**53:
        raise _wrong(dimension, f"{shorten(value)} is not whole")
    return int(number)


def _ratio(number: float, unit: str, dimension: str, value: object) -> float:
    if unit in ("%", "percent"):
        return number / 100
    if unit:
        raise _wrong(dimension, f"{shorten(value)} has a unit", "write it as in 0.95 or 95 %")
    return number


def _reference(unit: str, dimension: str, value: object) -> tuple[str, bool]:
    """Cut ``gauge`` or ``absolute`` off a pressure's unit; give the unit, and whether gauge."""
    match = _REFERENCE.search(unit)
    if match is None:
        remedy = "end it with gauge (above the atmosphere) or absolute"
        raise _wrong(dimension, f"{shorten(value)} does not say gauge or absolute", remedy)
    return unit[: match.start()].strip(), (match[1] or match[2]).startswith("g")


def _to_si(number: float, text: str, dimension: str, value: object) -> float:
    unit = _read_unit(_WRITTEN.get(text, text))
    if unit is None:
        raise _wrong(dimension, f"{shorten(value)} has an unknown unit")
    if dimension == "air_flow" and unit.kind == _kind_of("volume_flow"):
        return FREE_AIR_DENSITY * _to_si(number, text, "volume_flow", value)
    if unit.kind != _kind_of(dimension):
        if dimension == "torque" and unit.kind == _kind_of("unbalance"):
            force = re.sub(r"\b(k?g)\b", r"\1f", text)
            found = f"{shorten(value)} is a mass times a length"
            raise _wrong(dimension, found, f"a torque has a force: write {number:.6g} {force}")
        phrases = [DIMENSIONS[name].phrase for name in DIMENSIONS if _kind_of(name) == unit.kind]
        found = phrases[0] if phrases else "another kind of quantity"
        raise _wrong(dimension, f"{shorten(value)} is {found}")
    return number * unit.factor + (0.0 if dimension == "temperature_difference" else unit.offset)


@cache
def _registry() -> "pint.UnitRegistry[float]":
    import pint  # noqa: PLC0415  0.4 s, needed only for a unit that was never read before

    return pint.UnitRegistry(cache_folder=None)


@lru_cache(maxsize=256)
def _read_unit(text: str) -> _Unit | None:
    """Read a unit; None if it is not one. Pint is given only names and small powers."""
    if not _UNIT.fullmatch(text):
        return None
    factors, below = [], False
    for opens, slash, name, power in _PART.findall(text):
        below = below or bool(opens)
        if name:
            sign = -1 if below != bool(slash) else 1
            factors.append(f"{_NAMES.get(name, name)}**{sign * int(power or 1)}")
    try:
        return _kept("*".join(factors))
    except (AttributeError, ValueError, TypeError, ArithmeticError):
        return None


@cache
def _kind_of(dimension: str) -> tuple[float, ...]:
    return _kept(DIMENSIONS[dimension].unit or "radian/radian").kind


def _kept(text: str) -> _Unit:
    """Read a unit as pint does, from disk if pint has read it before; raises what pint raises."""
    arrays = cached({"unit": text}, lambda: _asked(text), library="pint")
    factor, offset = map(float, arrays["scale"])
    return _Unit(factor, offset, tuple(map(float, arrays["kind"])))


def _asked(text: str) -> Arrays:
    quantity = partial(_registry().Quantity, units=text)
    one, none = quantity(1.0), quantity(0.0)
    # By difference: a temperature of one degree is not the same as a step of one degree.
    factor, offset = (one - none).to_base_units(), none.to_base_units()
    if not math.isclose(
        quantity(3.0).to_base_units().magnitude, 3 * factor.magnitude + offset.magnitude
    ):
        raise ValueError(text)  # a logarithm, such as dBm
    powers = dict(one.dimensionality)
    radians = dict(one.to_root_units().unit_items()).get("radian", 0)
    kind = [*(powers.pop(base, 0) for base in _BASES), radians, len(powers)]
    scale = [factor.magnitude, offset.magnitude]
    return {"scale": np.array(scale, dtype=float), "kind": np.array(kind, dtype=float)}
