"""Answers from shared/study-file.md, the reference of study files and bench logs.

Only the document is read, not the models from which its tables are written (a test compares the
two), so that an answer comes at once.
"""

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from textwrap import wrap

from engine.errors import Problem, StudyError
from engine.files import shared_file

DOCUMENT = "study-file.md"
WIDTH = 80
"""Columns of the terminal that every answer fits."""
LONGEST_WORD = 60
_LINK = re.compile(r"\[([^\]]+)\]\(#[^)]*\)")


@dataclass(frozen=True)
class Part:
    """A heading and what follows up to the next one of its level, by lines from 0."""

    title: str
    level: int
    start: int
    end: int


@dataclass(frozen=True)
class Row:
    """A row of a table."""

    part: str
    """Heading above it."""
    line: int
    name: str
    is_named: bool
    """Whether its name is a word to ask for; else it is a link to another part."""
    cells: Mapping[str, str]
    """Its other cells by the head of the column, without the empty ones."""


@dataclass(frozen=True)
class Reference:
    """The document, cut into parts and rows of tables."""

    lines: Sequence[str]

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """Every heading with its part."""
        heads = [
            (len(match[1]), match[2], n)
            for n, line in enumerate(self.lines)
            if (match := re.fullmatch(r"(#+) (.+)", line))
        ]
        ends = (
            next((n for level, _, n in heads if n > start and level <= own), len(self.lines))
            for own, _, start in heads
        )
        return tuple(
            Part(title, level, start, end)
            for (level, title, start), end in zip(heads, ends, strict=True)
        )

    @cached_property
    def rows(self) -> Mapping[int, Row]:
        """Every row of every table by its line."""
        rows: dict[int, Row] = {}
        titles = {part.start: part.title for part in self.parts}
        title, head = "", None
        for n, line in enumerate(self.lines):
            title = titles.get(n, title)
            if not line.startswith("|"):
                head = None
            elif head is None:
                head = _cells(line)
            elif not line.startswith("|---"):
                first, *others = _cells(line)
                told = {key: _plain(cell) for key, cell in zip(head[1:], others, strict=True)}
                cells = {key: cell for key, cell in told.items() if cell}
                rows[n] = Row(title, n, _plain(first), first.startswith("`"), cells)
        return rows

    @property
    def names(self) -> list[str]:
        """Every word to ask for, each once."""
        rows = (row.name for row in self.rows.values() if row.is_named)
        return list(dict.fromkeys((*rows, *(part.title for part in self.parts[1:]))))


@cache
def read_reference() -> Reference:
    """Read the document as it came with the package."""
    return Reference(shared_file(DOCUMENT).read_text(encoding="utf-8").splitlines())


def answer(word: str) -> str:
    """Tell what the reference holds under a word, all of it for no word; lines fit a terminal.

    Rows and parts of just this name come first; where there are none, parts with a word in their
    heading that begins so, and else rows. Raises StudyError for a word that is not known.
    """
    reference, wanted = read_reference(), _normal(word)
    if not wanted:
        return _text(_shown(reference, 0, len(reference.lines)))
    named = [row for row in reference.rows.values() if row.is_named]
    rows = [row for row in named if _normal(row.name) == wanted]
    parts = [part for part in reference.parts[1:] if _normal(part.title) == wanted]
    if not rows and not parts:
        parts = [part for part in reference.parts[1:] if _holds(part.title, wanted)]
        parts = [part for part in parts if not any(_within(part.start, it) for it in parts)]
    if not rows and not parts:
        rows = [row for row in named if _holds(row.name, wanted)]
    if not rows and not parts:
        raise StudyError([_unknown(word, reference.names)])
    rows = [row for row in rows if not any(_within(row.line, part) for part in parts)]
    told = [line for row in rows for line in (*_card(row), "")]
    told += [line for part in parts for line in _shown(reference, part.start, part.end)]
    seen = {row.name for row in rows} | {part.title for part in parts}
    seen |= {row.name for row in named if any(_within(row.line, part) for part in parts)}
    others = [name for name in reference.names if name not in seen and _holds(name, wanted)]
    return _text([*told, "", *_wrapped(f"See also: {', '.join(others)}")] if others else told)


def _normal(word: str) -> str:
    return re.sub(r"[-_\s]+", " ", word).strip().casefold()


def _holds(name: str, wanted: str) -> bool:
    """Whether a word of a name begins with what is wanted."""
    return f" {wanted}" in f" {_normal(name)}"


def _within(line: int, part: Part) -> bool:
    return part.start < line < part.end


def _unknown(word: str, names: Iterable[str]) -> Problem:
    by_normal = {_normal(name): name for name in names}
    near = difflib.get_close_matches(_normal(word), by_normal)
    remedy = "`swirlstack keys` without a word prints the whole reference"
    if near:
        remedy = f"perhaps you meant {' or '.join(by_normal[each] for each in near)}"
    found = f"{word[:LONGEST_WORD]!r} is not in the reference"
    return Problem(file="command line", found=found, remedy=remedy)


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def _plain(cell: str) -> str:
    """Leave out what marks code and links."""
    return _LINK.sub(r"\1", cell).replace("`", "")


def _card(row: Row) -> Iterator[str]:
    """Tell all of one row, a line for each column."""
    yield f"{row.name} ({row.part})"
    room = max(map(len, row.cells), default=0)
    for head, cell in row.cells.items():
        yield from _wrapped(cell, f"  {head:{room}}  ")


def _shown(reference: Reference, start: int, end: int) -> Iterator[str]:
    """Print lines as they are, with each row of a table as a short paragraph."""
    for n in range(start, end):
        line = reference.lines[n]
        if row := reference.rows.get(n):
            (main, *others) = row.cells.items()
            said = "; ".join((main[1], *(f"{head}: {cell}" for head, cell in others)))
            yield row.name
            yield from _wrapped(said, "    ")
        elif not line.startswith(("|", "<!--")):
            yield _LINK.sub(r"\1", line)


def _wrapped(text: str, before: str = "") -> list[str]:
    """Break a text into lines, but no value from its unit."""
    kept = re.sub(r"(?<=\d) (?=\S)", "\u00a0", text)
    lines = wrap(
        kept,
        WIDTH,
        initial_indent=before,
        subsequent_indent=" " * len(before),
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]


def _text(lines: Iterable[str]) -> str:
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip("\n") + "\n"
