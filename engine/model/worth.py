"""Is it worth doing? What a build takes for what it gives, and what that costs.

Compressed air is a poor carrier of power: 7 to 8 kW at the compressor give 1 kW at an air motor
(rule of thumb of the trade, Compressed Air Challenge), and a small disc stack needs twice that. So
the appliances run longer from the socket of the compressor than from the turbine behind it. Only
what is there anyway, such as a head of water or steam that would be blown off, can pay back.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, isfinite, nan
from typing import Any, Literal, TypeAlias

from engine.study.study import Study
from engine.study.supply import source_of
from engine.units import counted

Source: TypeAlias = Literal["compressor", "boiler", "pump", "head"]
JOULES = 3.6e6
"""Of a kilowatt-hour."""


@dataclass(frozen=True)
class Costs:
    """Running costs, in the currency of the study; NaN where a price that they need is missing."""

    currency: str
    per_hour: float
    """What the supply takes in an hour."""
    per_kwh: float
    """What a kilowatt-hour from the terminals costs; NaN where there is no power."""
    given_per_hour: float
    """What the electricity of an hour is worth."""
    build: float
    """What the machine costs."""
    payback: float
    """Hours of running until it has paid for itself; inf: never, it costs more to run than it
    gives. NaN where a price is missing."""

    @property
    def gain_per_hour(self) -> float:
        """What an hour of running brings, less what it costs."""
        return self.given_per_hour - self.per_hour


@dataclass(frozen=True)
class Worth:
    """What a build takes and gives; NaN where it gives no power."""

    source: Source
    """What makes its supply; a head of water is there anyway."""
    power: float
    """At the terminals [W]."""
    drawn: float
    """By compressor, boiler and feed pump, or pump [W]; of a head the power of the flow."""
    taken_for_one: float
    """Kilowatt-hours in for one out; kilowatt-hours of fuel (or heat) for one, from a boiler."""
    taken_at_worst: float
    """The same at the tenth-percentile power; NaN where the build has no bands."""
    tank: float
    """Time for which the receiver feeds it with the compressor off [s]; NaN where there is none."""
    costs: Costs | None
    """None where the study gives no price."""

    @property
    def share(self) -> float:
        """Share of the power taken that comes out."""
        return self.power / self.drawn if self.power > 0 and self.drawn > 0 else nan

    @property
    def from_same_socket(self) -> float:
        """Share of the power drawn that the appliances need straight from the same socket.

        NaN for a boiler and a head, which have no socket.
        """
        return self.share if self.source in ("compressor", "pump") else nan


def taken_for_one(*, drawn: float, power: float) -> float:
    """Energy in for the same unit of energy out.

    Parameters
    ----------
    drawn : float
        Power that the supply takes [W].
    power : float
        Power at the terminals [W].

    Returns
    -------
    float
        Ratio [-]; NaN where no power comes out, or one of them is no number.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> taken_for_one(drawn=4000.0, power=250.0)
    16.0

    """
    return drawn / power if power > 0 and isfinite(drawn) else nan


def hourly_cost(*, power: float, price: float) -> float:
    """Cost of an hour at a power.

    Parameters
    ----------
    power : float
        Power [W].
    price : float
        Price of a kilowatt-hour [currency/kWh].

    Returns
    -------
    float
        Cost [currency/h].

    References
    ----------
    Derived here.

    Examples
    --------
    >>> hourly_cost(power=4000.0, price=0.25)
    1.0

    """
    return power * 3600 / JOULES * price


def payback_time(*, build_cost: float, gain_per_hour: float) -> float:
    """Hours of running after which a machine has paid for itself.

    Parameters
    ----------
    build_cost : float
        What it costs to make [currency].
    gain_per_hour : float
        Worth of what it gives in an hour less what it takes [currency/h].

    Returns
    -------
    float
        Time [h]; inf where it never pays, whatever it costs; else NaN where an argument is NaN.

    References
    ----------
    Simple payback, without interest: common practice, no source.

    Examples
    --------
    >>> payback_time(build_cost=900.0, gain_per_hour=0.06)
    15000.0
    >>> payback_time(build_cost=900.0, gain_per_hour=-1.0)
    inf

    """
    return inf if gain_per_hour <= 0 else build_cost / gain_per_hour


def worth_of(study: Study, values: Mapping[str, Any]) -> Worth:
    """Weigh what one build takes against what it gives.

    Parameters
    ----------
    study : Study
        Its supply says what makes the flow, and what that costs.
    values : mapping
        Results of one build [SI] by column key, each one value: `electric_power`, `supply_power`,
        and, where they are known, `electric_power_p10` and `receiver_time`.

    Returns
    -------
    Worth
        NaN in it for a build without operating point or without power.

    Notes
    -----
    The feed pump of a boiler counts as fuel, at the same price. A flow that nothing makes, as a
    head of water without a pump, costs nothing.
    """
    power, drawn = float(values["electric_power"]), float(values["supply_power"])
    poor = float(values.get("electric_power_p10", nan))
    return Worth(
        source=_source(study),
        power=power,
        drawn=drawn,
        taken_for_one=taken_for_one(drawn=drawn, power=power),
        taken_at_worst=taken_for_one(drawn=drawn, power=poor),
        tank=float(values.get("receiver_time", nan)),
        costs=_costs(study, power=power, drawn=drawn),
    )


def _source(study: Study) -> Source:
    source = source_of(study.supply)
    if source.is_compressed:
        return "compressor"
    if source.is_boiled:
        return "boiler"
    return "head" if study.supply.pump_efficiency is None else "pump"


def _costs(study: Study, *, power: float, drawn: float) -> Costs | None:
    prices = (study.supply.energy_price, study.supply.electricity_price, study.machine.build_cost)
    currency = next((price.currency for price in prices if price is not None), None)
    if currency is None:
        return None
    energy, electricity, build = (nan if price is None else price.amount for price in prices)
    if _source(study) == "head":
        energy = 0.0
    spent = hourly_cost(power=drawn, price=energy)
    given = hourly_cost(power=max(power, 0.0), price=electricity)
    return Costs(
        currency=currency,
        per_hour=spent,
        per_kwh=energy * taken_for_one(drawn=drawn, power=power),
        given_per_hour=given,
        build=build,
        payback=payback_time(build_cost=build, gain_per_hour=given - spent),
    )


def told(worth: Worth) -> list[str]:
    """Say it in sentences; none of what is not known."""
    if not worth.power > 0:
        return []
    ratio = f"{worth.taken_for_one:.3g} kWh"
    said = {
        "compressor": f"The compressor takes {ratio} for each kWh at the terminals: run from the "
        f"same socket, the appliances need 1/{worth.taken_for_one:.0f} of it.",
        "pump": f"The pump takes {ratio} for each kWh at the terminals: run from the same socket, "
        f"the appliances need 1/{worth.taken_for_one:.0f} of it.",
        "boiler": f"The boiler burns {ratio} of fuel for each kWh at the terminals.",
        "head": f"It gives {worth.share:.0%} of the power of the flow.",
    }[worth.source]
    tank = f"The full receiver alone runs it for {worth.tank / 60:.2g} min."
    sentences = [said, *([tank] if isfinite(worth.tank) else [])]
    return sentences if worth.costs is None else [*sentences, *_told_costs(worth.costs)]


def _told_costs(costs: Costs) -> list[str]:
    money = costs.currency
    sentences = []
    if costs.per_hour > 0:
        cost = f"A kWh from it costs {costs.per_kwh:.3g} {money}, an hour {costs.per_hour:.3g}"
        sentences.append(f"{cost} {money}.")
    if costs.payback == inf:
        sentences.append("It never pays back: it costs more to run than it gives.")
    elif isfinite(costs.payback):
        sentences.append(f"It has paid for itself after {counted(round(costs.payback))} h.")
    return sentences
