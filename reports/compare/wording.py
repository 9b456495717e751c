"""The sentences of a comparison, made from its facts. Plain text: nothing here knows HTML."""

import math
from collections.abc import Iterable, Sequence

from engine.columns import COLUMNS, band_key
from reports.compare.facts import Comparison, Reach, RunSide
from reports.compare.reached import EVEN, Lead
from reports.kit.quantities import (
    THIN,
    bare,
    begun,
    count,
    inline_label,
    listed,
    number,
    percent,
    quantity,
    setting,
    signed_percent,
    with_article,
    within,
)
from reports.run.search_facts import Aim

TOLD = 5
"""Up to this many spans or differences are listed one by one; more are summed up."""
SECTIONS = {"build": "Machine and ranges", "search": "Search"}
"""Headings of those sections of a study whose name says too little."""
_WITHIN = f"within {number(100 * EVEN, trim=True)}{THIN}%"
_IN_BANDS = "what one gives more lies inside the bands"
UNTOUCHED = ("search",)
"""Sections of a study that change the search, and not what can be reached."""


def heading(comparison: Comparison) -> str:
    """Name the page."""
    return f"{count(len(comparison.sides))} runs compared"


def headline(comparison: Comparison) -> str:
    """Say in one line what the verdict begins with."""
    return verdict(comparison)[0].partition(": ")[0].removesuffix(".")


def below_headline(comparison: Comparison) -> tuple[str, ...]:
    """Give the verdict without that line."""
    first, *others = verdict(comparison)
    rest = first.partition(": ")[2]
    return (*([begun(rest)] if rest else []), *others)


def name(place: int) -> str:
    """Name a run inside a sentence by its place."""
    return f"run {place + 1}"


def verdict(comparison: Comparison) -> tuple[str, ...]:
    """Say which run gives more, where, by how much, and what may explain it."""
    if not any(side.run.front for side in comparison.sides):
        return ("None of these runs has found a design that meets every limit of its study.",)
    return (
        *_of_builds(comparison),
        *_at_required(comparison),
        *_to_believe(comparison),
        *_beyond(comparison),
        *_whole(comparison),
        _explanation(comparison),
    )


def _of_builds(comparison: Comparison) -> list[str]:
    """Say first whether the best builds differ, and whether what they give does."""
    places = [place for place, side in enumerate(comparison.sides) if side.best is not None]
    if len(places) < 2:
        return []
    label = inline_label(comparison.aims[0].key)
    even = all(comparison.sides[place].even for place in places)
    told = [
        f"{inline_label(key)} {_versus([quantity(key, values[place]) for place in places])}"
        for key, values in comparison.builds
    ]
    if not told:
        same = f"is their {label}" if even else f"not their {label}"
        return [f"The best builds are the same, {'and so' if even else 'but'} {same}."]
    start = f"{begun(label)} is even, but the builds differ"
    if [key for key, _ in comparison.builds] == ["speed"]:
        start = f"One stack at different speeds, {label} {'even' if even else 'not even'}"
    elif not even:
        start = f"{begun(label)} differs, and so do the builds"
    more = len(told) - TOLD
    left = f"; and {more} more, in the table of the best builds" if more > 0 else ""
    return [f"{start}: {'; '.join(told[:TOLD])}{left}."]


def _to_believe(comparison: Comparison) -> list[str]:
    """Say which run's numbers to go by, where a bench log stands behind some of them."""
    fits = {p: s.run.study.fit for p, s in enumerate(comparison.sides) if s.run.study.fit}
    others = [place for place in range(len(comparison.sides)) if place not in fits]
    if not fits or not others:
        return []
    told = []
    for place, fit in fits.items():
        usual = comparison.sides[others[0]].run.study.fixed()
        logs = f" ({listed(list(fit.logs))})" if fit.logs else ""
        changed = [
            f"{inline_label(key)} {quantity(key, value)}"
            + (f", not {quantity(key, float(usual[key]))}" if _is_known(usual.get(key)) else "")
            for key, value in list(fit.values.items())[:TOLD]
        ]
        told.append(
            f"Go by {name(place)}: its model is fitted to bench logs{logs}, {_names(others)} "
            f"{'rests' if len(others) == 1 else 'rest'} on usual coefficients. The bench gave "
            f"{'; '.join(changed)}."
        )
    return told


def _is_known(value: object) -> bool:
    return isinstance(value, int | float) and math.isfinite(value)


def _at_required(comparison: Comparison) -> list[str]:
    first, second = comparison.aims
    found = {
        place: float(side.best[first.key])
        for place, side in enumerate(comparison.sides)
        if side.best is not None
    }
    where = _where(second)
    missing = [place for place in range(len(comparison.sides)) if place not in found]
    verb = "has" if len(missing) == 1 else "have"
    told = [f"{begun(_names(missing))} {verb} no design there."] if missing and found else []
    if not found:
        return [f"No run reaches {where}."]
    order = sorted(found, key=lambda place: -found[place] if first.maximise else found[place])
    best, *others = order
    label = inline_label(first.key)
    value = _with_band(comparison.sides[best], first)
    if not others:
        return [f"{begun(where)}, only {name(best)} has a design: {value} {label}.", *told]
    rivals = [f"{_with_band(comparison.sides[p], first)} from {name(p)}" for p in others]
    gap = abs(found[best] - found[others[0]])
    if comparison.sides[others[0]].even:
        even = [place for place in order if comparison.sides[place].even]
        text = f"{begun(where)}, {_names(even)} are even in {label}: "
        why = _IN_BANDS if gap > EVEN * abs(found[others[0]]) else _WITHIN
        return [f"{text}{value} from {name(best)}, {listed(rivals)}; {why}.", *told]
    most = "most" if first.maximise else "least"
    text = f"{begun(where)}, {name(best)} gives the {most} {label}: {value}, against "
    return [f"{text}{listed(rivals)} ({_lead_text(first, gap, found[others[0]])}).", *told]


def _with_band(side: RunSide, first: Aim) -> str:
    """Write the first aim of a run's best design, with what eight builds in ten give."""
    values = side.best or {}
    value = quantity(first.key, values[first.key])
    ends = [values.get(band_key(first.key, part), math.nan) for part in ("p10", "p90")]
    if not all(map(_is_known, ends)):
        return value
    low, high = (bare(first.key, end) for end in ends)
    return f"{value} (eight builds in ten: {low} to {high})"


def band_cell(side: RunSide, first: Aim) -> str:
    """Write the ends of the band of a run's best design for the table; '' where it has none."""
    return _with_band(side, first).partition(": ")[2].removesuffix(")") if side.best else ""


def has_bands(comparison: Comparison) -> bool:
    """Whether the band of any run's best design is known."""
    return any(band_cell(side, comparison.aims[0]) for side in comparison.sides)


def _where(second: Aim) -> str:
    if second.required is None:
        return f"at any {inline_label(second.key)}"
    more = "more" if second.maximise else "less"
    label = with_article(inline_label(second.key))
    return f"at {label} of {setting(second.key, second.required)} or {more}"


def _lead_text(first: Aim, gain: float, other: float) -> str:
    way = "more" if first.maximise else "less"
    amount = f"{quantity(first.key, gain)} {way}"
    if other <= 0:
        return amount
    return f"{amount}, {number(100 * gain / other, 2)}{THIN}%"


def _beyond(comparison: Comparison) -> list[str]:
    """Say which run gives more, span by span of the second aim."""
    leads = comparison.leads
    if len(leads) < 2:
        return [_stretch(lead, comparison.aims) for lead in leads if lead.leader is not None]
    if len(leads) <= TOLD:
        return [_stretch(lead, comparison.aims) for lead in leads]
    return [_shares(leads, comparison), *_alone(leads, comparison.aims)]


def _stretch(lead: Lead, aims: tuple[Aim, Aim]) -> str:
    first, second = aims
    where = f"{_ends(lead, second)} of {inline_label(second.key)}"
    if lead.leader is None:
        return f"{begun(where)}, the best runs are even."
    if lead.alone:
        return f"{begun(where)}, only {name(lead.leader)} has a design."
    return f"{begun(where)}, {name(lead.leader)} leads, by up to {_gain(lead, first)}."


def _ends(lead: Lead, second: Aim) -> str:
    return f"from {quantity(second.key, lead.low)} to {quantity(second.key, lead.high)}"


def _gain(lead: Lead, first: Aim) -> str:
    if not math.isfinite(lead.ratio):
        return quantity(first.key, lead.gain)
    return f"{quantity(first.key, lead.gain)} or {number(100 * lead.ratio, 2)}{THIN}%"


def _shares(leads: Sequence[Lead], comparison: Comparison) -> str:
    """Sum up which runs lead where the lead changes often."""
    first, second = comparison.aims
    shared = [lead for lead in leads if not lead.alone]
    whole = sum(abs(lead.high - lead.low) for lead in shared)
    parts = []
    for place in (None, *range(len(comparison.sides))):
        own = [lead for lead in shared if lead.leader == place]
        if not own:
            continue
        share = percent(sum(abs(lead.high - lead.low) for lead in own) / whole)
        if place is None:
            parts.append(f"the best runs are even over {share} of it")
            continue
        most = max(own, key=lambda lead: lead.gain)
        parts.append(
            f"{name(place)} leads over {share}, by up to {_gain(most, first)} {_ends(most, second)}"
        )
    low, high = (quantity(second.key, end) for end in (shared[0].low, shared[-1].high))
    return f"From {low} to {high} of {inline_label(second.key)}: {'; '.join(parts)}."


def _alone(leads: Iterable[Lead], aims: tuple[Aim, Aim]) -> list[str]:
    return [_stretch(lead, aims) for lead in leads if lead.alone]


def _whole(comparison: Comparison) -> list[str]:
    """Say whether one front as a whole is better."""
    for place in range(len(comparison.sides)):
        others = [o for o in range(len(comparison.sides)) if o != place]
        beaten = [o for o in others if comparison.coverage[place, o] == 1.0]
        if beaten and all(comparison.coverage[o, place] < 1.0 for o in beaten):
            runs = listed([f"{name(o)}'s" for o in beaten])
            return [f"{begun(name(place))} equals or beats every design of {runs} front."]
    return []


def _explanation(comparison: Comparison) -> str:
    found = [d for d in comparison.differences if d.section not in UNTOUCHED]
    if not comparison.differences:
        return "The studies are the same, so any difference is chance or due to the program."
    if not found:
        return (
            "The studies differ only in the search, so any difference between the fronts is what "
            "one search has not found yet."
        )
    if len(found) <= TOLD:
        told = "; ".join(f"{_place(d.section, d.label)} ({_versus(d.values)})" for d in found)
        return f"Differences between the studies that may explain it: {told}."
    names = [_place(d.section, d.label) for d in found]
    told = ", ".join(names[: 2 * TOLD]) + (" and more" if len(names) > 2 * TOLD else "")
    return f"The studies differ in {len(found)} values, so no single one explains it: {told}."


def _place(section: str, label: str) -> str:
    text = within(label) or section
    told = {"supply": f"{text} of the supply", "limits": f"limit on {text}", "aims": f"aim {text}"}
    return told.get(section, text)


def _versus(values: Sequence[str]) -> str:
    return " against ".join(dict.fromkeys(values))


def measured(aim: Aim) -> str:
    """Name an aim with its unit, as a caption does."""
    symbol = COLUMNS[aim.key].unit.symbol
    return f"{inline_label(aim.key)} in {symbol}" if symbol else inline_label(aim.key)


def volume_text(comparison: Comparison) -> str:
    """Say how the shares are measured."""
    worst = [f"{inline_label(key)} {quantity(key, v)}" for key, v in comparison.reference.items()]
    return (
        "Share: the hypervolume of a front, as a share of that of all fronts together, measured "
        f"from the worst value of each aim on any front: {listed(worst)}."
    )


def against_best(reach: Reach, place: int, first: Aim) -> str:
    """Write how far a run is from the best of a level, or that it is even; '' for the best."""
    known = [value for value in reach.values if math.isfinite(value)]
    value = reach.values[place]
    if not known or not math.isfinite(value):
        return ""
    best = max(known) if first.maximise else min(known)
    if value == best or best <= 0:
        return ""
    return "even" if reach.even[place] else signed_percent(value / best - 1)


def is_best(reach: Reach, place: int, first: Aim) -> bool:
    """Whether a run gives the best of a level."""
    return math.isfinite(reach.values[place]) and not against_best(reach, place, first)


def state_text(side: RunSide) -> str:
    """Say how far a run has got."""
    run = side.run
    if run.state == "done":
        return "done"
    share = min(run.designs / run.budget, 1.0) if run.budget else 0.0
    return f"{run.state}, {percent(share)} of its designs"


def chart_note(comparison: Comparison) -> str:
    """Say what is drawn and what is not."""
    first, second = comparison.aims
    best = "most" if first.maximise else "least"
    text = (
        f"Each line gives the {best} {inline_label(first.key)} that a run reached at that "
        f"{inline_label(second.key)} or better; each mark is a design, its shape what fails first. "
        "Point at one to see it."
    )
    if has_bands(comparison):
        text += " Thin upright lines: what eight builds in ten give."
    if any(len(side.run.study.aims) > 2 for side in comparison.sides):
        text += " Designs that are best only by a third aim are not shown."
    return text


def _names(places: Sequence[int]) -> str:
    return listed([name(place) for place in places])
