"""What one value, one range or one limit of a study may be, and how its text is read."""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Generic, Literal, Self, TypeAlias, TypeVar, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ModelWrapValidatorHandler,
    ValidationError,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import InitErrorDetails, PydanticCustomError

from engine import units
from engine.errors import WrongValueError, suggestion
from engine.study.plausible import checked
from engine.units import shown

STANDARD_ATMOSPHERE = 101325.0
"""Pressure of the atmosphere where the study gives none [Pa]."""
MOST_STEPS = 100_000
"""Steps a range may have at most; a finer range is better left without a step."""
RANGE_FORMS = "{min, max, step}, {choices: [...]} or one value"
LIMIT_FORMS = "{min: ...}, {max: ...} or both"

Fault: TypeAlias = tuple[tuple[str, ...], WrongValueError]
"""A mistake with the keys that lead to it from the model that found it."""


def refuse(faults: Sequence[Fault]) -> None:
    """Raise all faults of a model at once, each with its keys; nothing where there are none."""
    details = [
        InitErrorDetails(
            type=PydanticCustomError("wrong_value", "{text}", {"text": str(e), "error": e}),
            loc=keys,
            input=None,
        )
        for keys, e in faults
    ]
    if details:
        raise ValidationError.from_exception_data(title="study", line_errors=details)


@dataclass(frozen=True)
class Quantity:
    """Reads a text of one dimension and keeps it inside bounds [SI]."""

    dimension: str
    above: float = -math.inf
    least: float = -math.inf
    below: float = math.inf
    most: float = math.inf

    def __call__(self, value: object, info: ValidationInfo) -> float:
        """SI number of the text."""
        near = {"atmosphere": STANDARD_ATMOSPHERE, **(info.context or {}), **(info.data or {})}
        reference = None if info.field_name == "atmosphere" else near["atmosphere"]
        number = units.parse(value, self.dimension, atmosphere=reference)
        if info.field_name == "step":  # a distance between values, not a value
            return number
        if self.above < number < self.below and self.least <= number <= self.most:
            return number
        raise WrongValueError(
            found=f"{units.shorten(value)} is out of bounds", expected=self.expectation
        )

    @property
    def expectation(self) -> str:
        """Phrase saying what the value is, with its bounds in drawing units."""
        words = {"above": self.above, "from": self.least, "below": self.below, "up to": self.most}
        bounds = (
            f"{word} {bound:.0f}"
            if self.dimension == "count"
            else f"{word} {shown(bound, self.dimension)}"
            for word, bound in words.items()
            if math.isfinite(bound)
        )
        return " ".join((units.DIMENSIONS[self.dimension].phrase, *bounds))


@dataclass(frozen=True)
class Name:
    """Checks that a text names a row of a table, where the context knows the rows."""

    table: Literal["material", "process", "bearing", "generator"]

    def __call__(self, value: str, info: ValidationInfo) -> str:
        """Give the text itself."""
        known = (info.context or {}).get("names", {}).get(self.table)
        if known is None or value in known:
            return value
        plain = re.match(r"\s*(?:[A-Za-z]{1,3}[ -]?)?([0-9]{3,5})(?![0-9])", value)
        if self.table == "bearing" and plain and plain[1] in known:
            found = f"{units.shorten(value)} names one make of the bearing {plain[1]}"
            remedy = (
                f"write {plain[1]}, and what closes it as bearing_seal: open, shield or contact; "
                "play makes no difference here"
            )
            raise WrongValueError(found, "the size alone", remedy)
        raise WrongValueError(
            found=f"{units.shorten(value)} is unknown",
            expected=f"a row of the {self.table} table",
            remedy=suggestion(value, known),
        )


class BackPressure(Quantity):
    """A pressure, or the word "atmosphere"."""

    def __call__(self, value: object, info: ValidationInfo) -> float:
        """SI number of the text, or the study's atmosphere."""
        if value != "atmosphere":
            return super().__call__(value, info)
        return float(info.data.get("atmosphere", STANDARD_ATMOSPHERE))


def read(dimension: str, **bounds: float) -> BeforeValidator:
    """Make the validator of a quantity, for an annotation."""
    return BeforeValidator(Quantity(dimension, **bounds))


def quantity_of(annotation: object) -> Quantity | None:
    """Find the quantity that an annotation reads; None for words."""
    if isinstance(annotation, BeforeValidator):
        return annotation.func if isinstance(annotation.func, Quantity) else None
    parts = annotation if isinstance(annotation, list) else get_args(annotation)
    return next(
        filter(None, map(quantity_of, (*parts, *getattr(annotation, "__metadata__", ())))), None
    )


Length = Annotated[float, read("length", above=0)]
Area = Annotated[float, read("area", above=0)]
Room = Annotated[float, read("length", least=0)]
Angle = Annotated[float, read("angle", above=0, below=math.pi / 2)]
AngularSpeed = Annotated[float, read("angular_speed", above=0)]
Pressure = Annotated[float, read("pressure", above=0)]
"""Absolute pressure; the text must say gauge or absolute."""
Power = Annotated[float, read("power", above=0)]
Force = Annotated[float, read("force", least=0)]
Torque = Annotated[float, read("torque", least=0)]
Voltage = Annotated[float, read("voltage", above=0)]
Current = Annotated[float, read("current", above=0)]
Viscosity = Annotated[float, read("kinematic_viscosity", above=0)]
Duration = Annotated[float, read("time", least=0)]
Volume = Annotated[float, read("volume", least=0)]
Grade = Annotated[float, read("balance_grade", above=0)]
Share = Annotated[float, read("ratio", least=0, below=1)]
Fraction = Annotated[float, read("ratio", above=0, most=1)]
Factor = Annotated[float, read("ratio", least=1)]
Ratio = Annotated[float, read("ratio", above=0)]
Count = Annotated[int, read("count", least=1)]
Dial = Literal["at-nozzles", "before-hose"]
Material = Annotated[str, AfterValidator(Name("material"))]
Process = Annotated[str, AfterValidator(Name("process"))]
Generator = Annotated[str, AfterValidator(Name("generator"))]
Bearing = Annotated[
    str,
    BeforeValidator(lambda value: str(value) if type(value) is int else value),
    AfterValidator(Name("bearing")),
]
"""Its size is all digits, so that it may be a number in Python."""


class Frozen(BaseModel):
    """Refuses unknown keys and later changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Section(Frozen):
    """A part of a study, whose numbers must be plausible."""

    section: ClassVar[str]
    """Name of the part in the table of what is plausible."""

    @field_validator("*")
    @classmethod
    def _is_plausible(cls, value: Any, info: ValidationInfo) -> Any:
        key = str(info.field_name)
        if not isinstance(value, Range):
            return checked(cls.section, key, value)
        refuse(list(implausible(cls.section, key, value)))
        return value


V = TypeVar("V")


class Range(Frozen, Generic[V]):
    """Values a variable may take: a span with an optional step, a list of choices, or one value.

    A stepped span holds min + k * step, so max is a value only where it lies on that grid. Whole
    numbers without a step go by one. Numbers among the choices are kept in rising order.
    """

    min: V | None = None
    max: V | None = None
    step: V | None = Field(default=None, validate_default=True)
    choices: tuple[V, ...] | None = None

    @field_validator("step")
    @classmethod
    def _step_of_counts(cls, step: V | None, info: ValidationInfo) -> V | int | None:
        return 1 if step is None and isinstance(info.data.get("min"), int) else step

    @field_validator("choices")
    @classmethod
    def _rising(cls, choices: tuple[Any, ...] | None) -> tuple[Any, ...] | None:
        is_text = choices is not None and any(isinstance(choice, str) for choice in choices)
        return choices if choices is None or is_text else tuple(sorted(choices))

    @model_validator(mode="wrap")
    @classmethod
    def _from_text(cls, value: object, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if isinstance(value, list | tuple):
            raise WrongValueError(
                found="a list", expected=RANGE_FORMS, remedy="write {choices: [...]}"
            )
        given = {"choices": [value]} if isinstance(value, str | int | float) else value
        made = handler(given)
        if isinstance(given, Mapping):
            refuse(list(_faults(made, given)))
        return made

    @property
    def values(self) -> tuple[V, ...] | None:
        """Every value in order; None for a span without a step."""
        if self.choices is not None:
            return self.choices
        low, high, step = _span(self)
        if low == high:
            return (low,)
        if step is None:
            return None
        steps = range(math.floor((high - low) / step + 1e-9) + 1)
        return tuple(_clean(low + k * step) for k in steps)

    @property
    def lowest(self) -> V:
        """First value."""
        lowest: V = self.choices[0] if self.choices else _span(self)[0]
        return lowest

    @property
    def highest(self) -> V:
        """Last value; max itself for a span without a step."""
        values = self.values
        highest: V = values[-1] if values else _span(self)[1]
        return highest

    @property
    def is_fixed(self) -> bool:
        """Whether it holds one value only, so that nothing is searched."""
        return self.values is not None and len(self.values) == 1


def _clean(value: Any) -> Any:
    """Drop the rounding of a sum, so that a value of the grid equals its own text when read."""
    return float(f"{value:.12g}") if isinstance(value, float) else value


def _span(made: Range[V]) -> tuple[Any, Any, Any]:
    return made.min, made.max, made.step


def _faults(made: Range[V], given: Mapping[str, object]) -> Iterator[Fault]:
    """Find what is wrong between values that are each right; `given` holds their texts."""
    if made.choices is not None:
        beside = [key for key in given if key != "choices"]
        if beside:
            remedy = "keep the choices or the span"
            yield (beside[0],), WrongValueError(f"{beside[0]} together with choices", remedy=remedy)
        elif not made.choices:
            yield ("choices",), WrongValueError("no choices", "at least one value")
        elif len(set(made.choices)) < len(made.choices):
            yield ("choices",), WrongValueError("a value is given twice", remedy="keep it once")
    elif made.min is None and made.max is None:
        yield (), WrongValueError("an empty range", RANGE_FORMS)
    elif made.min is None or made.max is None:
        missing = "min" if made.min is None else "max"
        yield (), WrongValueError(f"{missing} is missing", RANGE_FORMS, f"add {missing}")
    else:
        yield from _span_faults(made, given)


def _span_faults(made: Range[V], given: Mapping[str, object]) -> Iterator[Fault]:
    low, high, step = _span(made)
    if isinstance(low, str):
        yield ("min",), WrongValueError("a span of words", "{choices: [...]}", "list the words")
    elif low > high:
        found = f"{given['max']} is below min {given['min']}"
        yield ("max",), WrongValueError(found, remedy="swap them or widen the range")
    elif step is not None and step <= 0:
        expected = "the distance between two values, above zero"
        yield ("step",), WrongValueError(units.shorten(given["step"]), expected)
    elif step is not None and low < high and step > (high - low) * (1 + 1e-9):
        found = f"{given['step']} is wider than the range from {given['min']} to {given['max']}"
        yield ("step",), WrongValueError(found, remedy="narrow the step or write the value alone")
    elif step is not None and (high - low) / step > MOST_STEPS:
        remedy = "widen the step, or leave it out for any value between"
        yield ("step",), WrongValueError(f"more than {MOST_STEPS} steps", remedy=remedy)


def implausible(section: str, key: str, given: "Range[Any] | Limit[Any]") -> Iterator[Fault]:
    """Find the numbers of a range or a limit that its key cannot have."""
    ends = {(end,): [getattr(given, end)] for end in ("min", "max")}
    for keys, values in {**ends, ("choices",): getattr(given, "choices", None) or ()}.items():
        for value in values:
            if isinstance(value, float) and math.isnan(value):
                continue  # a speed that settles
            try:
                checked(section, key, value)
            except WrongValueError as error:
                yield keys, error


class Limit(Frozen, Generic[V]):
    """Bounds that a result must keep; None where there is none."""

    min: V | None = None
    max: V | None = None

    @model_validator(mode="wrap")
    @classmethod
    def _from_text(cls, value: object, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(value, Mapping | Limit):
            remedy = f"write {{min: {value}}}" if isinstance(value, str) and value else ""
            raise WrongValueError(units.shorten(value), LIMIT_FORMS, remedy)
        made = handler(value)
        low: Any = made.min
        high: Any = made.max
        if low is None and high is None:
            raise WrongValueError(found="no bound", expected=LIMIT_FORMS)
        if isinstance(value, Mapping) and None not in (low, high) and low > high:
            found = f"{value['max']} is below min {value['min']}"
            refuse([(("max",), WrongValueError(found, remedy="swap them or drop one"))])
        return made
