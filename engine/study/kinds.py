"""The kinds of machines that a study may ask for: its class, and the keys of its sections.

A kind that is added here, with its columns in `engine.columns.columns_of`, is read, checked,
explained and searched; nothing else in this package asks which kind a study is.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import BaseModel

from engine.columns import Machine as MachineKind
from engine.errors import Problem, StudyError
from engine.study.aims import measured
from engine.study.events import Events
from engine.study.loads import Loads
from engine.study.machine import Machine, Made, Ranges, stated
from engine.study.pump.machine import PumpMachine, PumpRanges
from engine.study.pump.study import PumpStudy
from engine.study.pump.supply import Duty, Suction
from engine.study.pump.uncertainty import STANDARD as PUMP_STANDARD
from engine.study.pump.uncertainty import PumpUncertainty
from engine.study.search import Search
from engine.study.study import Study
from engine.study.supply import Supply
from engine.study.uncertainty import SHARED, Uncertainty


@dataclass(frozen=True)
class Kind:
    """One kind of machine, as a study asks for it."""

    name: MachineKind
    study: type[Study]
    models: Mapping[str, type[BaseModel]]
    """Model of each section that has keys of its own."""
    standard: tuple[str, ...]
    """Keys of standard uncertainties; the others but `samples` are tolerances."""
    machine_only: tuple[str, ...] = ()
    """Keys under machine that are no number of a build."""

    @property
    def known(self) -> Mapping[str, tuple[str, ...]]:
        """Keys that each section may hold; '' is the file itself."""
        return _known(self.name)

    @property
    def tolerances(self) -> tuple[str, ...]:
        """Keys of tolerances."""
        known = self.models["uncertainty"].model_fields
        return tuple(key for key in known if key not in (*self.standard, "samples"))


KINDS: Mapping[str, Kind] = {
    "turbine": Kind(
        "turbine",
        Study,
        {
            "supply": Supply,
            "machine": Made,
            "ranges": Ranges,
            "search": Search,
            "loads": Loads,
            "events": Events,
            "uncertainty": Uncertainty,
        },
        SHARED,
        ("fit",),
    ),
    "pump": Kind(
        "pump",
        PumpStudy,
        {
            "supply": Suction,
            "duty": Duty,
            "machine": PumpMachine,
            "ranges": PumpRanges,
            "search": Search,
            "uncertainty": PumpUncertainty,
        },
        PUMP_STANDARD,
        ("fit",),
    ),
}
"""Every kind by the word that a study has for it."""


@cache
def _known(name: str) -> Mapping[str, tuple[str, ...]]:
    kind = KINDS[name]
    models, study = kind.models, kind.study
    sections = (key for key in study.model_fields if key != "fit")
    top = tuple(key for key in sections if key not in ("loads", "events", "duty") or key in models)
    ranges = (*study.variables, *study.numbers)
    known = {key: tuple(models[key].model_fields) for key in models}
    known |= {"machine": (*known["machine"], *kind.machine_only), "ranges": ranges}
    known |= dict.fromkeys(("limits", "aims"), measured(kind.name))
    return {"": top, **{key: known[key] for key in top if key in known}}


def kind_of(study: Study) -> Kind:
    """Kind of machine that a study asks for."""
    return KINDS[study.kind]


def refuse_pump(study: Study, file: str, found: str, remedy: str) -> None:
    """Raise StudyError where a study is of a pump, for what only turbines have so far."""
    if study.kind == "pump":
        raise StudyError([Problem(file=file, key="kind", found=found, remedy=remedy)])


def refuse_stages(count: float, file: str, found: str, remedy: str) -> None:
    """Raise StudyError where a build has more stages than one, for what only one has so far."""
    if count > 1:
        raise StudyError([Problem(file=file, key="stage_count", found=found, remedy=remedy)])


def value_type(key: str) -> Any:
    """Annotation of one value of a variable or machine number, of any kind of machine."""
    for machine, ranges in ((Machine, Ranges), (PumpMachine, PumpRanges)):
        if key in machine.model_fields:
            return stated(machine.model_fields[key].rebuild_annotation())
        if key in ranges.model_fields:
            given: Any = ranges.model_fields[key].annotation
            return given.model_fields["min"].annotation
    raise KeyError(key)


def homes_of(word: str, kind: Kind) -> dict[str, list[str]]:
    """Sections in which another kind of machine has this key, by kind."""
    found: dict[str, list[str]] = {}
    for other in KINDS.values():
        if other.name != kind.name:
            homes = [name for name, keys in other.known.items() if word in keys]
            found |= {other.name: homes} if homes else {}
    return found
