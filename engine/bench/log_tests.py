"""Which test each row of a log was read in, and a log of several cut into its tests."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from engine import units
from engine.bench.log_text import Head, LogText
from engine.errors import Problem, StudyError, suggestion

STEADY, COAST_DOWN, TRIP, TAP = "steady", "coast-down", "trip", "tap"
GENERATOR = "generator"
TESTS: Mapping[str, str] = {
    "locked": "rotor held still, supply on",
    "loaded": "turning steadily with a load",
    COAST_DOWN: "supply and load off, speed against time",
    TAP: "one clamped disc tapped, at rest",
    TRIP: "load off, supply on until the trip acts, speed against time",
    GENERATOR: "volts and amps of the generator at several speeds, amps below 0 as a motor",
}
"""Tests that a log may name."""
TEST = "test"
"""Key of the head, and quantity of a column, that names them."""
COUNTED = {
    COAST_DOWN: ("time", "speed"),
    TRIP: ("time", "speed", "supply_pressure"),
    GENERATOR: ("speed", "voltage", "current", "shaft_torque"),
}
"""Quantities that count in tests of their own; the other columns are not looked at."""
FEWEST_BARE = 4
"""Rows with a time and a speed alone that are taken as a coast-down, where no test is named."""


def tests_of(text: LogText) -> tuple[tuple[str, LogText, Mapping[int, str]], ...]:
    """Cut a log into its tests: kind, text with its rows alone, and what each line is named.

    Locked and loaded rows stay together as `STEADY`. A row that names no test belongs to those,
    unless the log has a time and only it and the speed are filled in.

    Raises
    ------
    StudyError
        Where a test is unknown.
    """
    named = _named(text)
    wrong = [_unknown(text, line, name) for line, name in named.items() if name not in ("", *TESTS)]
    if wrong:
        raise StudyError(wrong[:1])
    bare = _bare(text, named)
    kinds = {
        line: name if name in COUNTED else COAST_DOWN if line in bare else STEADY
        for line, name in named.items()
    }
    found = []
    for kind in (STEADY, *COUNTED):
        rows = [row for row in text.rows if kinds[row[0]] == kind]
        # A log without any row is judged as it is.
        if rows or (kind == STEADY and not text.rows):
            cut = replace(
                text, rows=rows, heads=_heads(text, kind, mixed=len(rows) < len(text.rows))
            )
            found.append((kind, cut, {line: named[line] for line, _ in rows}))
    return tuple(found)


def _named(text: LogText) -> dict[int, str]:
    """Name of the test of every row, by line; '' where none is given."""
    whole = str(text.sections.texts.get(TEST, "")).strip()
    place = next(
        (n for n, name in enumerate(text.names) if _quantity(text.heads.get(name)) == TEST), None
    )
    return {
        line: (cells[place].strip().lower() or whole) if place is not None else whole
        for line, cells in text.rows
    }


def _bare(text: LogText, named: Mapping[int, str]) -> set[int]:
    """Find rows of no named test that hold a time and a speed and nothing else."""
    held = [_quantity(text.heads.get(name)) for name in text.names]
    if "time" not in held or not set(held) - {"time", "speed", "ignore", TEST, ""}:
        return set()
    others = [n for n, key in enumerate(held) if key not in ("time", "speed", "ignore", TEST, "")]
    lines = {
        line
        for line, cells in text.rows
        if not named[line] and not any(cells[n].strip() for n in others)
    }
    return lines if len(lines) >= FEWEST_BARE else set()


def _heads(text: LogText, kind: str, *, mixed: bool) -> Mapping[str, Head]:
    """Heads of the columns that count in a test; the others are ignored."""
    if kind not in COUNTED and not mixed:
        return text.heads
    counted = COUNTED.get(kind)
    return {
        name: head
        if (head.quantity in counted if counted else head.quantity != "time")
        else Head("ignore", "", "")
        for name, head in text.heads.items()
    }


def _quantity(head: Head | None) -> str:
    return "" if head is None else head.quantity


def _unknown(text: LogText, line: int, name: str) -> Problem:
    known: Sequence[str] = tuple(TESTS)
    return Problem(
        file=text.file,
        line=text.lines.get((TEST,), line) if text.sections.texts.get(TEST) == name else line,
        key=TEST,
        found=f"{units.shorten(name)} is not a test",
        expected=f"one of {', '.join(known)}",
        remedy=suggestion(name, known),
    )
