"""How a part that is bought is asked for, and parts that no drawing shows."""

from dataclasses import dataclass

from reports.design.facts import BuildFacts

CLOSED = {
    "open": "open at both sides",
    "shield": "with steel shields at both sides (Z, ZZ or 2Z)",
    "contact": "with rubbing lips at both sides (RS or 2RS)",
}
"""What closes a bearing, as a shop asks for it."""


@dataclass(frozen=True)
class Ordered:
    """What a dealer has to know of a part."""

    size: str = ""
    """Thread and length, or main sizes, in mm."""
    standard: str = ""
    """With its number, or ''."""
    grade: str = ""
    """Strength class, hardness or material."""
    more: str = ""
    weighs: bool = True
    """Whether it is drawn in its shape, so that its volume tells its mass."""

    @property
    def text(self) -> str:
        """All of it in one line."""
        return ", ".join(filter(None, (self.size, self.standard, self.grade, self.more)))


@dataclass(frozen=True)
class Loose:
    """A part that a maker must have, and that no drawing shows."""

    name: str
    pieces: int
    ordered: Ordered
    made: bool = False
    """Whether the maker makes it."""

    @property
    def remark(self) -> str:
        """What it is."""
        return self.ordered.text


def ordered_bearing(facts: BuildFacts) -> Ordered:
    """Describe the bearings as they are bought."""
    found = facts.bearing
    sizes = " × ".join(
        f"{1e3 * each:g}" for each in (found.bore, found.outside_diameter, found.width)
    )
    closed = CLOSED[facts.word("bearing_seal")]
    return Ordered(
        f"{facts.word('bearing')} ({sizes})",
        "ISO 15",
        more=f"deep-groove ball bearing, {closed}, greased",
        weighs=False,
    )
