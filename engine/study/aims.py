"""Limits and aims, as stated and at the poor end of a band."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import ValidationInfo, create_model

from engine.columns import AS_DRAWN, COLUMNS, Machine, band_key, columns_of
from engine.errors import WrongValueError
from engine.study.values import STANDARD_ATMOSPHERE, Frozen, Limit, implausible, read, refuse

Aim: TypeAlias = Literal["maximise", "minimise"]


def measured(machine: Machine) -> tuple[str, ...]:
    """Results of a kind of machine that are numbers: what limits bound and aims name."""
    known = columns_of(machine).values()
    return tuple(c.key for c in known if c.kind == "result" and not c.is_text)


MEASURED = measured("turbine")
"""Those of a turbine."""


def _named(value: object, info: ValidationInfo) -> tuple[str, ...]:
    """Results that a section names; a model of all of them would take long to build."""
    known = measured(info.data.get("kind", "turbine"))
    return tuple(key for key in known if isinstance(value, Mapping) and key in value)


def read_limits(value: object, info: ValidationInfo) -> dict[str, Limit[float]]:
    """Limits as a study states them; raises ValidationError with every mistake."""
    supply = info.data.get("supply")
    atmosphere = supply.atmosphere if supply else STANDARD_ATMOSPHERE
    context = {**(info.context or {}), "atmosphere": atmosphere}
    fields: Any = {
        key: (Limit[Annotated[float, read(COLUMNS[key].unit.dimension)]] | None, None)
        for key in _named(value, info)
    }
    model: Any = create_model("Limits", __base__=Frozen, **fields)
    given = model.model_validate(value, context=context)
    limits = {key: limit for key, limit in given if limit is not None}
    faults = [
        ((key, *keys), error)
        for key, limit in limits.items()
        for keys, error in implausible("limits", key, limit)
    ]
    refuse(faults)
    return limits


def default_aims() -> dict[str, Aim]:
    """Aims of a study of a turbine that states none."""
    return {"electric_power": "maximise", "safety_margin": "maximise"}


def read_aims(value: object, info: ValidationInfo) -> dict[str, Aim]:
    """Two or three aims, in the order of the study; raises WrongValueError for another number."""
    fields: Any = dict.fromkeys(_named(value, info), (Aim | None, None))
    model: Any = create_model("Aims", __base__=Frozen, **fields)
    chosen = model.model_validate(value)
    aims: dict[str, Aim] = {
        key: getattr(chosen, key)
        for key in (value if isinstance(value, Mapping) else ())
        if getattr(chosen, key) is not None
    }
    if not 2 <= len(aims) <= 3:
        raise WrongValueError(found=f"{len(aims)} aims", expected="two or three")
    return aims


def poor_end(more_is_better: bool) -> str:
    """Part of a band that is its poor end."""
    return "p10" if more_is_better else "p90"


def robust_limits(limits: Mapping[str, Limit[float]]) -> dict[str, Limit[float]]:
    """Put each bound on the end of the band that comes nearest to it, if the column has a band."""
    robust = {}
    for key, limit in limits.items():
        if key in AS_DRAWN:
            robust[key] = limit
            continue
        if limit.min is not None:
            low = Limit[float].model_construct(min=limit.min, max=None)
            robust[band_key(key, poor_end(True))] = low
        if limit.max is not None:
            high = Limit[float].model_construct(min=None, max=limit.max)
            robust[band_key(key, poor_end(False))] = high
    return robust
