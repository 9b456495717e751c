"""Tables of generators and appliances for shared/study-file.md: a head, and rows of cells."""

from engine.study.generators import ABOUT, generators
from engine.study.loads import appliances


def generator_rows() -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Give a row for each kind, its numbers in the words of a study."""
    keys = [key for key in next(iter(generators().values())) if key not in ABOUT]
    rows: list[tuple[str, ...]] = [
        (f"`{name}`", row["title"], *(row[key] for key in keys), row["source"])
        for name, row in generators().items()
    ]
    return ("generator", "what it is", *(f"`{key}`" for key in keys), "source"), rows


def appliance_rows() -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Give a row for each appliance."""
    rows: list[tuple[str, ...]] = [
        (f"`{key}`", row.title, f"{row.running:g} W", f"{row.starting:g}", f"`{row.behaves}`",
         f"{row.lowest:.0%} to {row.highest:.0%}", row.source)
        for key, row in appliances().items()
    ]  # fmt: skip
    head = (
        "appliance", "what it is", "running", "starting over running", "behaves as", "voltage",
        "source",
    )  # fmt: skip
    return head, rows
