"""Text of a bench log: its YAML head, and the rows of its table cut into cells."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from engine import units
from engine.errors import Problem, StudyError, WrongValueError, suggestion
from engine.study.yaml_text import Keys, StudyText, dotted, read_lines

LARGEST = 32 * 1024 * 1024
"""Largest size of a log [bytes]."""
LONGEST_HEAD = 64 * 1024
"""Most characters of its head."""
LONGEST_LINE = 10_000
"""Most characters of a line of its table."""
SECTIONS: Mapping[str, str] = {
    "title": "name of the log; the file's own name where it gives none",
    "decimal": "sign before the decimals: '.' (the usual one) or ','",
    "separator": "what parts the cells: comma, semicolon or tab; found by itself where not given",
    "test": "which test it is: locked, loaded, coast-down, trip or generator; a column {quantity: "
    "test} names it row by row; where none is named, time and speed alone are a coast-down",
    "trip_speed": "speed at which the trip was set to act, for a trip test",
    "build": "the build on the bench: a value for each range of the study but speed, and for any "
    "machine number that differs",
    "conditions": "what no column gives, the same in every row; else the study's supply holds",
    "columns": "what each column is, by its name in the table: ignore, or the keys below",
}
"""Keys of the head, with what each holds."""
SEPARATORS: Mapping[str, str] = {"comma": ",", "semicolon": ";", "tab": "\t"}
HEAD_KEYS: Mapping[str, str] = {
    "quantity": "what the column holds",
    "unit": "unit of its cells, with gauge or absolute for a pressure",
    "uncertainty": "standard uncertainty: a share of the reading, or a value with its unit",
    "lever": "arm of a force that stands for a torque",
}
"""Keys of a column in the head, with what each holds."""
FORM = "--- on the first line, then build: and columns:, then --- and the table"
HINT = "`swirlstack plan-test RUN DESIGN` writes one to fill in"


@dataclass(frozen=True)
class Head:
    """What the YAML head says about a column."""

    quantity: str
    unit: str
    uncertainty: str
    lever: str = ""
    """Lever arm of a force that is logged instead of a torque."""


@dataclass(frozen=True)
class LogText:
    """A log cut into its parts."""

    file: str
    title: str
    decimal: str
    sections: StudyText
    heads: Mapping[str, Head]
    names: tuple[str, ...]
    """Names of the table's columns, in their order."""
    rows: Sequence[tuple[int, Sequence[str]]]
    """Line number and cells."""
    problems: tuple[Problem, ...]

    @property
    def lines(self) -> Mapping[Keys, int]:
        """Line number of every key of the head."""
        return self.sections.lines

    def section(self, name: str) -> Mapping[str, str]:
        """Keys and texts of a section; empty where there is none."""
        found = self.sections.texts.get(name)
        pairs = found.items() if isinstance(found, dict) else ()
        return {key: value for key, value in pairs if isinstance(value, str)}

    def problem(self, keys: Keys, error: WrongValueError) -> Problem:
        """Make the problem of a wrong value in the head, with its line."""
        line = next(
            self.lines[keys[:n]] for n in range(len(keys), -1, -1) if keys[:n] in self.lines
        )
        return Problem(
            file=self.file,
            line=line,
            key=dotted(keys),
            found=error.found,
            expected=error.expected,
            remedy=error.remedy,
        )


def read_log_text(path: Path) -> LogText:
    """Head and rows of a log; raises StudyError where the text cannot be divided into them."""
    file = str(path)
    lines = _content(path).splitlines()
    if not lines or lines[0].strip() != "---":
        raise _refusal(file, 1, "does not begin with a head", FORM, HINT)
    ends = [place for place, line in enumerate(lines) if place and line.strip() == "---"]
    if not ends:
        raise _refusal(file, 1, "its head has no end", FORM, "end it with a line of ---")
    if sum(map(len, lines[: ends[0]])) > LONGEST_HEAD:
        found, expected = "its head is too long", f"at most {LONGEST_HEAD // 1024} kB"
        raise _refusal(file, 1, found, expected, "keep build, conditions and columns in it")
    # A blank first line keeps the line numbers right.
    head = read_lines("\n".join(["", *lines[1 : ends[0]]]), file)
    problems = [*head.problems, *_wrong_keys(head, file)]
    heads, wrong = _heads(head, file)
    table = [(n + 1, line) for n, line in enumerate(lines) if n > ends[0] and line.strip()]
    if not table:
        raise _refusal(
            file, len(lines), "has a head but no table", "", "put the rows below the head"
        )
    for number, line in table:
        if len(line) > LONGEST_LINE:
            found = f"a line of {len(line)} characters"
            expected = f"at most {LONGEST_LINE}"
            raise _refusal(file, number, found, expected, "write each reading in a line of its own")
    separator = _separator(head, table[0][1], file)
    names, rows, torn = _cut(table, separator, file)
    decimal = str(head.texts.get("decimal", "."))
    return LogText(
        file=file,
        title=str(head.texts.get("title", path.stem)),
        decimal=decimal,
        sections=head,
        heads=heads,
        names=names,
        rows=rows,
        problems=(*problems, *wrong, *torn, *_commas(rows, decimal, separator, file)),
    )


def _content(path: Path) -> str:
    file = str(path)
    if path.exists() and not path.is_file():
        found = "is a folder" if path.is_dir() else "is not an ordinary file"
        raise _refusal(file, None, found, "a bench log", "name the file itself")
    try:
        with path.open("rb") as stream:
            raw = stream.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        found = f"cannot be read: {reason.lower()}"
        raise _refusal(file, None, found, "", "check the path and its permissions") from error
    if len(raw) > LARGEST:
        raise _refusal(
            file, None, "is too long", "at most 32 MB", "keep only every tenth row, for example"
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        remedy = "save it as CSV in UTF-8"
        raise _refusal(file, line, "is not UTF-8 text", "", remedy) from error


def _refusal(file: str, line: int | None, found: str, expected: str, remedy: str) -> StudyError:
    return StudyError(
        [Problem(file=file, line=line, found=found, expected=expected, remedy=remedy)]
    )


def _wrong_keys(head: StudyText, file: str) -> Iterator[Problem]:
    for key in head.texts:
        if key not in SECTIONS:
            remedy = suggestion(key, SECTIONS)
            yield Problem(
                file=file, line=head.lines[key,], key=key, found="unknown key", remedy=remedy
            )
    for key in ("build", "columns"):
        if not isinstance(head.texts.get(key), dict):
            yield Problem(
                file=file,
                line=head.lines.get((key,), 1),
                key=key,
                found="is missing",
                expected=FORM,
                remedy=HINT,
            )
    decimal = head.texts.get("decimal", ".")
    if decimal not in (".", ","):
        found = f"{units.shorten(decimal)} is not a decimal sign"
        yield Problem(
            file=file,
            line=head.lines["decimal",],
            key="decimal",
            found=found,
            expected="'.' or ','",
            remedy="put it in quotes",
        )


def _heads(head: StudyText, file: str) -> tuple[dict[str, Head], list[Problem]]:
    heads: dict[str, Head] = {}
    problems: list[Problem] = []
    columns = head.texts.get("columns")
    for name, given in columns.items() if isinstance(columns, dict) else ():
        keys = ("columns", name)
        if given == "ignore":
            heads[name] = Head("ignore", "", "")
            continue
        if not isinstance(given, dict) or not isinstance(given.get("quantity"), str):
            found = "does not say what the column holds"
            expected = "ignore, or {quantity: speed, unit: rpm}"
            problems.append(
                Problem(
                    file=file,
                    line=head.lines[keys],
                    key=dotted(keys),
                    found=found,
                    expected=expected,
                )
            )
            continue
        for key in given.keys() - set(HEAD_KEYS):
            remedy = suggestion(key, HEAD_KEYS)
            line = head.lines[(*keys, key)]
            problems.append(
                Problem(
                    file=file,
                    line=line,
                    key=dotted((*keys, key)),
                    found="unknown key",
                    remedy=remedy,
                )
            )
        heads[name] = Head(*(str(given.get(key, "")) for key in HEAD_KEYS))
    return heads, problems


def _separator(head: StudyText, first: str, file: str) -> str:
    given = head.texts.get("separator")
    if given is None:
        return next((sign for sign in (";", "\t") if sign in first), ",")
    if given not in SEPARATORS:
        found = f"{units.shorten(given)} is not a separator"
        raise _refusal(file, head.lines["separator",], found, " or ".join(SEPARATORS), "")
    return SEPARATORS[str(given)]


def _cut(
    table: Sequence[tuple[int, str]], separator: str, file: str
) -> tuple[tuple[str, ...], list[tuple[int, Sequence[str]]], list[Problem]]:
    problems: list[Problem] = []
    rows: list[tuple[int, Sequence[str]]] = [
        (line, next(csv.reader([text], delimiter=separator), [])) for line, text in table
    ]
    top, first = rows[0]
    names = tuple(name.strip() for name in first)
    for name in dict.fromkeys(name for name in names if names.count(name) > 1):
        found = f"there are two columns {units.shorten(name)}"
        problems.append(
            Problem(file=file, line=top, found=found, remedy="give each column its own name")
        )
    for line, cells in rows[1:]:
        if len(cells) != len(names):
            found = f"{len(cells)} cells where the table has {len(names)} columns"
            remedy = "decimal commas split numbers: separate the cells with semicolons"
            if separator != "," or len(cells) < len(names):
                remedy = "leave the cell of a missing reading empty"
            problems.append(Problem(file=file, line=line, found=found, remedy=remedy))
            break
    return names, rows[1:], problems


def _commas(
    rows: Sequence[tuple[int, Sequence[str]]], decimal: str, separator: str, file: str
) -> Iterator[Problem]:
    """Find a number with another decimal sign than the log states."""
    other = "." if decimal == "," else ","
    name = {".": "a decimal point", ",": "a decimal comma"}
    if decimal == separator:
        found = "commas are both decimal sign and separator"
        yield Problem(
            file=file,
            line=1,
            key="decimal",
            found=found,
            remedy="separate the cells with semicolons",
        )
        return
    for line, cells in rows:
        for cell in cells:
            digits = cell.strip().replace(other, "", 1).lstrip("+-")
            if other in cell and digits.isdigit():
                found = f"{units.shorten(cell.strip())} has {name[other]}"
                remedy = "write all numbers in the same way"
                if decimal == ".":
                    remedy += ", or write decimal: ',' in the head if all have commas"
                yield Problem(
                    file=file,
                    line=line,
                    found=found,
                    expected=f"{name[decimal]} in every number",
                    remedy=remedy,
                )
                return
