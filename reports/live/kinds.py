"""What differs between kinds of machines on the page on which a build is tried."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from engine.columns import columns_of
from engine.model.worth import told, worth_of
from engine.study.pump.study import PumpStudy
from engine.study.study import Study
from reports.kit.fluids import dangers
from reports.kit.quantities import quantity
from reports.kit.svg import Drawing
from reports.run import candidate_wording
from reports.run.charts.machine import section_and_view
from reports.run.facts import Candidate
from reports.run.opening import Figure, figures_of, musts_of
from reports.run.page import GIVES, NEEDS, STRENGTH
from reports.run.pump import page as pump_page
from reports.run.pump import sketch
from reports.run.pump import wording as of_pump
from reports.run.search_facts import Values

DRAWS = ("supply_power", *NEEDS[:3], "specific_consumption", "fuel_power", "pump_power")
"""What a turbine takes from its supply."""
PUMP_DRAWS = (
    "electric_power", "motor_load", "npsh_required", "temperature_rise", "least_flow",
)  # fmt: skip
"""What a pump takes from its motor and its suction."""


@dataclass(frozen=True)
class Kind:
    """What is said and drawn of a build of one kind of machine."""

    figures: Callable[[Study, Values], tuple[Figure, ...]]
    musts: Callable[[Study, Values], str]
    """What it must never run without; `values` may be empty."""
    notes: Callable[[Candidate], tuple[str, ...]]
    pictures: Callable[[Study, Candidate], tuple[Drawing, Drawing]]
    """Section and view."""
    draws: Callable[[Study, Values], list[str]]
    rows: tuple[str, ...]
    """Rows of the table of kept builds, besides aims and what is searched."""
    cautions: Callable[[Study], Sequence[str]]
    short: Callable[[Study], Sequence[str]]
    """What the four large numbers are called where there is little room."""


def kind_of(study: Study) -> Kind:
    """Find what is said of the machines of a study."""
    return KINDS[study.kind]


def _pump(study: Study) -> PumpStudy:
    assert isinstance(study, PumpStudy)  # noqa: S101  (its kind chose these words)
    return study


def _numbers(study: Study, values: Values, keys: Sequence[str]) -> list[str]:
    columns = columns_of(study.works_as)
    return [
        f"{columns[key].label}: {quantity(key, values[key])}"
        for key in dict.fromkeys(keys)
        if key in columns and float(values.get(key, math.nan)) > 0
    ]


def _draws(study: Study, values: Values) -> list[str]:
    worth = told(worth_of(study, values)) if float(values["electric_power"]) > 0 else []
    return [*_numbers(study, values, DRAWS), *worth]


KINDS: Mapping[str, Kind] = {
    "turbine": Kind(
        figures=figures_of,
        musts=lambda _, values: musts_of(values),
        notes=candidate_wording.notes,
        pictures=lambda study, build: section_and_view(build, str(study.supply.fluid)),
        draws=_draws,
        rows=("electric_power", "safety_margin", *GIVES, *NEEDS, *STRENGTH),
        cautions=lambda study: dangers(str(study.supply.fluid)),
        short=lambda _: ("power", "first failure", "drawn", "in the discs"),
    ),
    "pump": Kind(
        figures=lambda study, values: of_pump.figures_of(_pump(study), values),
        musts=lambda study, _: of_pump.musts_of(_pump(study)),
        notes=of_pump.notes,
        pictures=lambda _, build: (sketch.section(build), sketch.view(build)),
        draws=lambda study, values: _numbers(study, values, PUMP_DRAWS),
        rows=("flow", "head", "electric_power", "safety_margin",
              *(key for _, keys in pump_page.GROUPS for key in keys)),
        cautions=lambda study: of_pump.cautions_of(_pump(study)),
        short=lambda study: (
            "delivered" if _pump(study).duty.is_system else "rise",
            "first failure",
            "drawn",
            "pressure ratio" if _pump(study).supply.is_gas else "NPSH left",
        ),
    ),
}  # fmt: skip
"""By the word that a study has for it."""
