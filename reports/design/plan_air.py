"""How long the tests of a bench plan take, and what they draw, against what the supply gives."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from engine.study.supply import source_of
from reports.design.facts import BuildFacts
from reports.design.plan_logs import LOADS, TWICE
from reports.kit.quantities import THIN, count, number, percent, quantity

STEADY = 10.0
"""Minutes for which each state of the loaded run is held, as the plan says."""
HELD_STILL = 1.0
"""Minutes for each pressure of the locked rotor: two readings; common practice, no source."""
RUN_UP = 1.0
"""Minutes with the supply open for one run-up of a trip test or a coast-down; common practice."""
RUN_UPS = {"Trip test at low speed": 2, "Coast-down": 4}
"""Run-ups that these tests ask for."""
AT_FRICTION = 3.0
"""Minutes for each reading of the friction on the casing; common practice, no source."""


@dataclass(frozen=True)
class Drawn:
    """What one test draws from the supply."""

    test: str
    minutes: float
    flow: float
    """The most while it lasts [kg/s]."""
    mass: float
    """In all, at most [kg]."""


def drawn(facts: BuildFacts) -> tuple[Drawn, ...]:
    """List what each test draws at most: throttled steps are counted at their full flow."""
    return tuple(_drawn(facts))


def _drawn(facts: BuildFacts) -> Iterator[Drawn]:
    full = facts.number("mass_flow")
    for test, runs in RUN_UPS.items():
        yield _steps(test, [full] * runs, RUN_UP)
    locked = [each.bands["mass_flow"].expected for each in facts.locked]
    yield _steps("Rotor locked", locked, HELD_STILL)
    loaded = [each.bands["mass_flow"].expected for each in facts.readings for _ in LOADS]
    yield _steps("Loaded run", loaded, STEADY)
    if facts.telling is not None:
        low, high = facts.telling.expected["mass_flow"]
        rubbing = [max(pair) for pair in zip(low.tolist(), high.tolist(), strict=True)] * TWICE
        yield _steps("Casing friction", rubbing, AT_FRICTION)


def _steps(test: str, flows: list[float], minutes: float) -> Drawn:
    known = [flow for flow in flows if math.isfinite(flow)]
    return Drawn(
        test=test,
        minutes=minutes * len(known),
        flow=max(known, default=math.nan),
        mass=60 * minutes * sum(known),
    )


def rows(facts: BuildFacts) -> tuple[tuple[str, str, str, str], ...]:
    """Write test, minutes, flow, and share of what the supply gives, of each and of all."""
    found = drawn(facts)
    available = facts.study.supply.available_flow
    told = [
        (
            each.test,
            count(each.minutes),
            _flow(facts, each.flow),
            "" if available is None else percent(each.flow / available),
        )
        for each in found
    ]
    return (*told, ("All", count(sum(each.minutes for each in found)), "", ""))


def verdict(facts: BuildFacts) -> str:
    """Say whether the supply feeds the tests, and how much they draw in all."""
    found, supply = drawn(facts), facts.study.supply
    most = max((each.flow for each in found if math.isfinite(each.flow)), default=math.nan)
    longest = max(each.minutes for each in found)
    whole = _amount(facts, sum(each.mass for each in found))
    start = f"The tests draw at most {whole} in all. "
    if supply.available_flow is None:
        told = (
            f"The study does not state what its supply gives: it must give {_flow(facts, most)} "
            f"for {count(longest)} minutes on end."
        )
    elif most <= supply.available_flow:
        told = (
            f"The supply gives {_flow(facts, supply.available_flow)} without a pause, so no test "
            "has to wait for it."
        )
    else:
        told = (
            f"That is more than the {_flow(facts, supply.available_flow)} that the supply gives "
            "without a pause: hold the fast steps shorter, and wait between them."
        )
    lasts = float(facts.candidate.values.get("receiver_time", math.nan))
    if math.isfinite(lasts):
        told += f" The receiver alone lasts {quantity('receiver_time', lasts)} at full flow."
    return start + told


def _flow(facts: BuildFacts, flow: float) -> str:
    """Write a flow as the meter of the supply shows it."""
    if not math.isfinite(flow):
        return "not known"
    litres = _litres(facts)
    if not math.isfinite(litres):
        return quantity("mass_flow", flow)
    return f"{number(60 * flow * litres)}{THIN}l/min"


def _amount(facts: BuildFacts, mass: float) -> str:
    litres = _litres(facts)
    if not math.isfinite(litres):
        return f"{number(mass)}{THIN}kg"
    free = "" if _is_liquid(facts) else " of free air"
    return f"{number(mass * litres / 1000)}{THIN}m³{free}"


def _litres(facts: BuildFacts) -> float:
    """Litres of a kilogram as the supply is metered: free air, or the liquid; NaN for a vapour."""
    if _is_liquid(facts):
        return 1000 / source_of(facts.study.supply).density
    free, mass = (
        float(facts.candidate.values.get(key, math.nan)) for key in ("free_air_flow", "mass_flow")
    )
    return 1000 * free / mass


def _is_liquid(facts: BuildFacts) -> bool:
    return math.isfinite(source_of(facts.study.supply).density)
