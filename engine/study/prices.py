"""Prices of a study: an amount with a currency, for a machine or for a kilowatt-hour."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from pydantic import BeforeValidator, Field, InstanceOf

from engine import units
from engine.errors import WrongValueError
from engine.study.values import Fault, Section

LARGEST = 1e9
_MONEY = re.compile(
    r"(?P<amount>[0-9]+(?:\.[0-9]+)?) *(?P<currency>[^\W\d_]{1,10}|[$€£¥₹₩₺₴₦])"
    r"(?P<per> *(?:/|per) *kWh)?"
)


@dataclass(frozen=True)
class Money:
    """An amount of a currency."""

    amount: float
    """In the currency; of a price of energy for each kilowatt-hour."""
    currency: str
    per: str = ""
    """'kWh' for a price of energy."""

    def __str__(self) -> str:
        """Write it as a study file does."""
        return f"{self.amount:.12g} {self.currency}{'/' if self.per else ''}{self.per}"


@dataclass(frozen=True)
class Price:
    """Reads an amount with its currency, any word or sign; of energy per kilowatt-hour."""

    per: str = ""
    may_be_free: bool = False

    def __call__(self, value: object) -> Money:
        """Amount and currency of the text."""
        if isinstance(value, Money):
            return value
        match = _MONEY.fullmatch(str(value).strip())
        found = units.shorten(str(value))
        if match is None or bool(match["per"]) != bool(self.per):
            remedy = "write the number with a decimal point, then the currency"
            raise WrongValueError(found + " is no price", self.expectation, remedy)
        amount = float(match["amount"])
        if amount > LARGEST or (amount == 0 and not self.may_be_free):
            least = "from 0" if self.may_be_free else "above 0"
            raise WrongValueError(found + " is out of bounds", f"{least} up to {LARGEST:.0f}")
        return Money(amount, match["currency"], self.per)

    @property
    def expectation(self) -> str:
        """Phrase saying what the value is, with an example."""
        example = f"0.25 EUR/{self.per}" if self.per else "900 EUR"
        return f"an amount with any currency such as {example}"


Cost = Annotated[InstanceOf[Money], BeforeValidator(Price())]
PriceOfEnergy = Annotated[InstanceOf[Money], BeforeValidator(Price("kWh"))]
PriceOrNothing = Annotated[InstanceOf[Money], BeforeValidator(Price("kWh", may_be_free=True))]


class Bought(Section):
    """What a supply costs, and what its electricity is worth."""

    energy_price: (
        Annotated[InstanceOf[Money], BeforeValidator(Price("kWh", may_be_free=True))] | None
    ) = Field(
        None,
        description="price of a kilowatt-hour that the supply takes: electricity of a compressor "
        "or pump, fuel of a boiler; 0 where it is there anyway",
        examples=["0.25 EUR/kWh"],
    )
    electricity_price: PriceOfEnergy | None = Field(
        None,
        description="price of a kilowatt-hour of the electricity that the machine's own replaces",
        examples=["0.25 EUR/kWh"],
    )


def other_currencies(prices: dict[tuple[str, str], Money | None]) -> Iterator[Fault]:
    """Find prices, by section and key, that are not in the currency of the first."""
    given = {keys: price for keys, price in prices.items() if price is not None}
    if not given:
        return
    (section, key), first = next(iter(given.items()))
    for keys, price in given.items():
        if price.currency != first.currency:
            found = f"is in {price.currency}, and {section}.{key} in {first.currency}"
            yield keys, WrongValueError(found, remedy="give all prices in one currency")
