"""What the page says of bands, of their sources and of the appliances carried."""

import math
from collections.abc import Sequence

from engine.columns import CHANCE_ALL
from engine.model.loads import demand, load_text, needed
from engine.study.loads import Load
from engine.study.study import Study
from reports.kit.quantities import THIN, inline_label, listed, number, percent, quantity
from reports.run.bands import Carries, Source
from reports.run.facts import Candidate

TELLING = 0.05
"""Share of a variance from which an input is worth naming."""
GOOD_CHANCE = 0.8
"""Chance of all limits below which a surer build is worth a search of its own."""
ADVICE = "A search with robust: true finds builds that hold them more surely."


def sources_text(candidate: Candidate) -> str:
    """Say what the bands of a candidate come from."""
    return " ".join(source_text(key, sources) for key, sources in candidate.sources.items())


def source_text(key: str, sources: tuple[Source, ...]) -> str:
    """Say in a sentence what the band of a result comes from."""
    known = [source for source in sources if source.total >= TELLING]
    if not known:
        return f"Nothing that is uncertain moves {inline_label(key)}."
    named = [f"{inline_label(source.key)} ({percent(source.total)})" for source in known[:3]]
    text = listed(named)
    share = sum(source.total for source in known[:3])
    part = "most comes" if share > 0.5 else "the largest parts come"
    text = f"{part} from {text}"
    together = 1 - sum(source.first for source in sources)
    if together > TELLING:
        text += f"; {percent(together)} only from several together"
    return f"Band of {inline_label(key)}: {text}."


def doubt_text(marks: Sequence[tuple[str, Candidate]], *, robust: bool) -> str:
    """Say beside the answer what is left of it once everything uncertain varies; '' if unknown."""
    known = [
        mark for mark in marks if math.isfinite(float(mark[1].values.get(CHANCE_ALL, math.nan)))
    ]
    if not known:
        return ""
    letter, best = known[0]
    least = quantity("electric_power", float(best.values["electric_power_p10"]))
    chances = [f"{percent(float(each.values[CHANCE_ALL]))} of {name}" for name, each in known]
    text = (
        f"As tolerances, supply and coefficients vary, nine builds of {letter} in ten give {least} "
        f"or more, and every limit holds in {listed(chances)}."
    )
    poor = min(float(each.values[CHANCE_ALL]) for _, each in known) < GOOD_CHANCE
    return f"{text} {ADVICE}" if poor and not robust else text


def needed_text(study: Study) -> str:
    """Say what the needed appliances ask for."""
    if study.loads is None:
        return ""
    some = needed(study.loads)
    if not some:
        return "None of the appliances is needed; they are taken in the order of the study."
    running, most = sum(load.running for load in some), demand(some)
    text = f"The needed ones take {_watts(running)} together"
    return (
        f"{text}, {_watts(most)} as the hardest of them starts." if most > running else f"{text}."
    )


def set_text(loads: tuple[Load, ...]) -> str:
    """Name a set of appliances."""
    return ", ".join(load_text(load) for load in loads)


def spare_text(carries: Carries) -> str:
    """Say what is left or missing beside the needed appliances."""
    if carries.spare >= 0:
        return f"{_watts(carries.spare)} spare"
    return f"{_watts(-carries.spare)} too little"


def swing_text(study: Study) -> str:
    """Say what swing the lamp's numbers are for."""
    if study.loads is None:
        return ""
    share = number(100 * study.loads.supply_swing, trim=True)
    return f"Filament lamp at fixed speed, as supply over back pressure swings by ±{share}{THIN}%"


def lamp_text(carries: Carries) -> str:
    """Say how a filament lamp takes the swing."""
    if not math.isfinite(carries.lamp):
        return "unknown"
    return f"voltage {percent(carries.lamp)}, light {percent(carries.light)}"


def holds_text(carries: Carries) -> str:
    """Say how long the stored energy lasts at the low end of the swing."""
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
    """Say what was drawn and what was not."""
    return (
        f"From {number(study.uncertainty.samples)} samples by a Latin hypercube through the whole "
        "model: every loss coefficient, the generator, the supply and the shop's tolerances drawn "
        "at once, none beyond what it can be (no discharge coefficient above 1). Not drawn: the "
        "error of the model itself. A sample without operating point gives no power and misses "
        "every limit."
    )


def starting_text(load: Load) -> str:
    """Give running and starting power of a line of the list."""
    text = _watts(load.running)
    return f"{text}, {_watts(load.surge)} more while one starts" if load.surge else text


def _watts(value: float) -> str:
    return quantity("electric_power", value)
