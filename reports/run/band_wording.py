"""What the page says of bands, of their causes and of the loads carried."""

import math

from engine.model.loads import demand, load_text, needed
from engine.study.loads import Load
from engine.study.study import Study
from reports.kit.quantities import THIN, inline_label, listed, number, percent, power
from reports.run.bands import Carries, Source
from reports.run.facts import Candidate

TELLING = 0.05
"""Least share of a variance at which an input is named."""


def sources_text(candidate: Candidate) -> str:
    """Say where the bands of a candidate come from."""
    return " ".join(source_text(key, sources) for key, sources in candidate.sources.items())


def source_text(key: str, sources: tuple[Source, ...]) -> str:
    """Say in a sentence where the band of a result comes from."""
    known = [source for source in sources if source.total >= TELLING]
    if not known:
        return f"No uncertain input changes {inline_label(key)}."
    named = [f"{inline_label(source.key)} ({percent(source.total)})" for source in known[:3]]
    text = listed(named)
    share = sum(source.total for source in known[:3])
    part = "most comes" if share > 0.5 else "the largest parts come"
    text = f"{part} from {text}"
    together = 1 - sum(source.first for source in sources)
    if together > TELLING:
        text += f"; {percent(together)} from several acting together"
    return f"Band of {inline_label(key)}: {text}."


def needed_text(study: Study) -> str:
    """Say how much power the needed appliances take."""
    if study.loads is None:
        return ""
    some = needed(study.loads)
    if not some:
        return "No appliance is marked as needed; they are taken in the order of the study."
    running, most = sum(load.running for load in some), demand(some)
    text = f"The needed ones take {_watts(running)} together"
    surge = f", and {_watts(most)} while the largest surge lasts" if most > running else ""
    return f"{text}{surge}."


def set_text(loads: tuple[Load, ...]) -> str:
    """Name a set of appliances."""
    return ", ".join(load_text(load) for load in loads)


def counted_text(carries: Carries) -> str:
    """Write the power counted on."""
    return _watts(carries.power)


def spare_text(carries: Carries) -> str:
    """Say how much power is left or missing beyond the needed appliances."""
    if carries.spare >= 0:
        return f"{_watts(carries.spare)} spare"
    return f"{_watts(-carries.spare)} too little"


def swing_text(study: Study) -> str:
    """Say which swing of the supply the lamp's numbers are for."""
    if study.loads is None:
        return ""
    share = number(100 * study.loads.supply_swing, trim=True)
    return f"Filament lamp at fixed speed, as supply above back pressure swings by ±{share}{THIN}%"


def lamp_text(carries: Carries) -> str:
    """Say how much a filament lamp changes with the swing."""
    if not math.isfinite(carries.lamp):
        return "unknown"
    return f"voltage {percent(carries.lamp)}, light {percent(carries.light)}"


def holds_text(carries: Carries) -> str:
    """Say how long stored energy lasts at the low end of the swing."""
    if math.isnan(carries.holds):
        return "unknown"
    if math.isinf(carries.holds):
        return "not needed"
    if carries.holds < 120:
        return f"{number(carries.holds, 2)}{THIN}s"
    if carries.holds < 7200:
        return f"{number(carries.holds / 60, 2)}{THIN}min"
    return f"{number(carries.holds / 3600, 2)}{THIN}h"


def tolerance_note(study: Study) -> str:
    """Say what the samples vary and what they leave out."""
    return (
        f"From {number(study.uncertainty.samples)} samples of a Latin hypercube, each computed "
        "with the whole model. A sample varies every loss coefficient, the generator, the supply "
        "and the shop's tolerances at once, within what is possible (no discharge coefficient "
        "above 1). What nobody measured in the ring around the discs is varied too; other errors "
        "of the model are not included. A sample without an operating point gives no power and "
        "misses every limit."
    )


def starting_text(load: Load) -> str:
    """Say how much power an appliance takes, and how much more as it starts."""
    text = _watts(load.running)
    return f"{text}, {_watts(load.surge)} more while one starts" if load.surge else text


def _watts(value: float) -> str:
    return power(value)
