"""What the page says of the choice if the casing rubs half as much, or twice. Plain text."""

import math

from engine.bench.telling import TellingTest
from engine.columns import COLUMNS
from engine.run.rubbing import Rubbing
from engine.study.study import Study
from reports.kit.quantities import THIN, bare, inline_label, listed, number, percent, quantity
from reports.run.facts import Facts

SMALL = 0.02
"""Regret, as a share of the best value, below which a build is about as good as the best."""
WORDS = {0.5: "half as much", 2.0: "twice as much"}
NAMED = ("disc_count", "gap", "disc_diameter", "nozzle_count", "nozzle_width", "rim_clearance",
         "inlet_angle", "exhaust_bore", "speed", "disc_thickness")  # fmt: skip
"""Searched keys that tell the best build from the one shown, those that matter most first."""
MOST_NAMED = 4


def factor_text(factor: float) -> str:
    """Write how much the casing rubs, against the study."""
    return WORDS.get(factor, f"{number(factor)} times as much")


def intro(study: Study) -> str:
    """Say why the choice is looked at again."""
    off = percent(study.uncertainty.casing_factor)
    return (
        "Nobody has measured how hard the fluid around the discs rubs on the casing, and that "
        f"picks the build. The bands take it as known within {off}. Here it is halved and "
        "doubled: every build shown is computed again, beside the best builds that the "
        "search has met, with all limits kept. The best is the one with the best first aim that "
        "is no worse in the other."
    )


def value_text(each: Rubbing) -> str:
    """Write what the build shown gives there."""
    return quantity(each.key, each.value) if math.isfinite(each.value) else "no operating point"


def missed_text(each: Rubbing) -> str:
    """Name the limits that the build shown misses there, with what it has; '' for none."""
    names = [
        f"{inline_label(key)} ({_value(key, value) if math.isfinite(value) else 'unknown'})"
        for key, value in each.missed.items()
    ]
    return f"misses the limit of {listed(names)}" if names else ""


def best_text(each: Rubbing) -> str:
    """Write what the best build gives there."""
    return quantity(each.key, each.best) if each.build else "none keeps every limit"


def regret_text(each: Rubbing) -> str:
    """Write what the build shown loses against the best."""
    if not each.build or not math.isfinite(each.value) or each.missed:
        return ""
    share = each.regret / abs(each.best) if each.best else math.nan
    return f"{quantity(each.key, each.regret)} ({percent(share)})"


def build_text(facts: Facts, each: Rubbing) -> str:
    """Name what differs between the best build and the one shown."""
    if not each.build:
        return ""
    if each.is_same:
        return "the build shown"
    shown = next(c.values for c in facts.candidates if c.design == each.design)
    keys = [
        *(key for key in NAMED if key in each.build),
        *(k for k in each.build if k not in NAMED),
    ]
    differing = [key for key in keys if not _is_same(shown[key], each.build[key])]
    parts = [f"{inline_label(key)} {_value(key, each.build[key])}" for key in differing]
    more = len(parts) - MOST_NAMED
    tail = [f"{more} more"] if more > 0 else []
    return listed([*parts[:MOST_NAMED], *tail])


def verdict(facts: Facts) -> str:
    """Say what the doubt costs the first build marked."""
    own = [each for each in facts.rubbing if each.design == facts.pick.design]
    told = facts.pick.told
    parts = []
    for each in own:
        start = f"If the casing rubs {factor_text(each.factor)},"
        if each.missed:
            gives = f"gives {value_text(each)} and {missed_text(each)}"
            best = f"the best that keeps all limits gives {best_text(each)}"
            parts.append(f"{start} {told} {gives}; {best if each.build else best_text(each)}.")
        elif not each.build or not math.isfinite(each.value):
            parts.append(f"{start} {told} has {value_text(each)}.")
        elif each.regret <= SMALL * abs(each.best):
            parts.append(
                f"{start} {told} gives {value_text(each)}, and no build found gives much more."
            )
        else:
            parts.append(
                f"{start} {told} gives {value_text(each)}, and another build "
                f"{best_text(each)}: {told} loses {regret_text(each)}."
            )
    return " ".join(parts)


def change_text(test: TellingTest) -> str:
    """Say what is changed on the machine between both halves of the test."""
    if test.change == "nozzles blocked":
        before, after = (bare("nozzle_count", test.nozzle_count[place]) for place in (0, -1))
        return (
            f"Run with all {before}{THIN}nozzles, then with {after} open and the others blocked, "
            "so that those left stand evenly around the rim."
        )
    before, after = (quantity("rim_clearance", test.rim_clearance[place]) for place in (0, -1))
    return (
        f"Run with {before} between rim and casing, then with a casing ring that leaves {after} "
        "and nozzles that end at its bore, at the same angle to the rim."
    )


def telling_text(told: str, test: TellingTest) -> str:
    """Say which bench test tells how hard the casing rubs."""
    place = len(test.speed) - 1
    low, high = (ends[place] for ends in test.expected["shaft_torque"])
    column = COLUMNS["shaft_torque"]
    read = " or ".join(number(float(column.to_drawing(end)), 3) for end in (low, high))
    within = number(float(column.to_drawing(test.instrument["shaft_torque"][place])), 2)
    apart = number(test.apart, 2)
    verdict_ = "so it tells" if test.tells else "which is not enough to be certain"
    return (
        f"The bench test that tells, for {told}: {change_text(test)} At "
        f"{quantity('speed', test.speed[place])} the shaft then gives {read}{THIN}"
        f"{column.unit.symbol} (half or twice the friction; ±{THIN}{within} by the instrument). "
        f"All its readings lie {apart} standard uncertainties apart, {verdict_}; without the "
        f"change they lie {number(test.apart_as_built, 2)} apart. The bench plan (swirlstack "
        "plan-test) holds it."
    )


def _value(key: str, value: float | str) -> str:
    if isinstance(value, str):
        return value
    return bare(key, value) if COLUMNS[key].is_count else quantity(key, value)


def _is_same(shown: float | str, best: float | str) -> bool:
    if isinstance(shown, str) or isinstance(best, str):
        return shown == best
    return math.isclose(shown, best, rel_tol=1e-6)
