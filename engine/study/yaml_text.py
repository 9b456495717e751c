"""YAML text to plain texts with their lines.

The only home of yaml. Every scalar stays text, so that no number, date or yes is guessed; what
could build objects or grow without bound (tags, anchors, aliases, depth, size) is refused.
"""

import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeAlias

import yaml

from engine.errors import Problem, StudyError

LONGEST = 256 * 1024
"""Bytes that a study file may have."""
NULL = "tag:yaml.org,2002:null"
"""What YAML calls a value that is left out, written as nothing, ~ or null."""
DEEPEST = 12
"""Levels a study file may be nested."""

Keys: TypeAlias = tuple[str | int, ...]
Texts: TypeAlias = "str | list[Texts] | dict[str, Texts]"

_DIRECTIONS = ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI")
"""Characters that change the direction of other text, by their class in Unicode."""
_START = "start from the file that `swirlstack new NAME` writes"


@dataclass(frozen=True)
class StudyText:
    """What a study file holds."""

    texts: dict[str, Texts]
    """Sections by name; one without any content is left out."""
    lines: Mapping[Keys, int]
    """Line of every key and list item, from 1; the file itself is ()."""
    problems: tuple[Problem, ...]
    """What is wrong in a file whose rest can be read."""


def read_text(path: Path) -> str:
    """Text of a study file; raises StudyError where it cannot be read."""
    file = str(path)
    try:
        if path.exists() and not path.is_file():
            found = "is a folder" if path.is_dir() else "is not an ordinary file"
            raise _refusal(file, None, found, "a study file", "name the file itself")
        with path.open("rb") as stream:
            raw = stream.read(LONGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        found = f"cannot be read: {reason.lower()}"
        raise _refusal(file, None, found, "", "check the path and its permissions") from error
    if len(raw) > LONGEST:
        raise _refusal(file, None, "is too long", f"at most {LONGEST // 1024} kB", _START)
    return _decode(raw, file)


def _decode(raw: bytes, file: str) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"byte {raw[error.start]:#04x} is not UTF-8"
        remedy = "save it as UTF-8 text, not as a document"
        raise _refusal(file, line, found, "text in UTF-8", remedy) from error


@lru_cache(maxsize=2)  # a study is read for the fit that it may name, and then for itself
def read_lines(text: str, file: str) -> StudyText:
    """Texts and lines of a study; raises StudyError where the text has no safe structure."""
    try:
        problems = list(_unsafe(text, file))
        if problems:
            raise StudyError(problems)
        root = yaml.compose(text, Loader=yaml.SafeLoader)
    except yaml.YAMLError as error:
        raise StudyError([_no_yaml(error, text, file)]) from error
    if root is None:
        raise _refusal(file, None, "is empty", "a study", _START)
    if not isinstance(root, yaml.MappingNode):
        line = _line(root.start_mark)
        raise _refusal(file, line, "has no sections", "title, supply, ranges and so on", _START)
    walk = _Walk(file)
    texts = walk.section(root, ())
    filled = {key: value for key, value in texts.items() if value != ""}
    return StudyText(filled, walk.lines | {(): 1}, tuple(walk.problems))


def with_value(text: str, keys: Keys, value: str) -> str:
    """Text with another value at these keys; the text is one that can be read."""
    node: Any = yaml.compose(text, Loader=yaml.SafeLoader)
    for key in keys:
        node = next(below for name, below in node.value if name.value == key)
    return text[: node.start_mark.index] + value + text[node.end_mark.index :]


def written(texts: Mapping[str, Texts], heading: str) -> str:
    """Write the texts of a study as a file, below a heading of comments."""
    body = yaml.safe_dump(
        dict(texts), sort_keys=False, allow_unicode=True, default_flow_style=None, width=96
    )
    return "".join(f"# {line}\n" for line in heading.splitlines()) + f"\n{body}"


def _refusal(file: str, line: int | None, found: str, expected: str, remedy: str) -> StudyError:
    return StudyError(
        [Problem(file=file, line=line, found=found, expected=expected, remedy=remedy)]
    )


def _no_yaml(error: yaml.YAMLError, text: str, file: str) -> Problem:
    line, found = 1, "is not YAML"
    if isinstance(error, yaml.MarkedYAMLError):
        line = _line(error.problem_mark or error.context_mark)
        found = f"is not YAML here: {error.problem or error.context}"
    elif isinstance(error, yaml.reader.ReaderError):
        line = text.count("\n", 0, error.position) + 1
        found = f"character {ord(text[error.position]):#04x} is not allowed"
    remedy = "check indentation, colons and quotes on this line and the one before"
    if "\\t" in found:
        remedy = "indent with spaces, not with tabs"
    elif "mapping values" in found:
        remedy = "put a text that holds a colon in quotes"
    return Problem(file=file, line=line, found=found, remedy=remedy)


def _unsafe(text: str, file: str) -> Iterator[Problem]:
    """Find what no study needs, each kind once; stops where nesting is too deep."""
    reported, depth, documents = set(), 0, 0
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        depth += isinstance(event, yaml.CollectionStartEvent)
        depth -= isinstance(event, yaml.CollectionEndEvent)
        documents += isinstance(event, yaml.DocumentStartEvent)
        slip = _slip(event, depth, documents)
        if slip and slip not in reported:
            reported.add(slip)
            found, remedy = slip
            yield Problem(file=file, line=_line(event.start_mark), found=found, remedy=remedy)
        if depth > DEEPEST:
            return


def _slip(event: yaml.Event, depth: int, documents: int) -> tuple[str, str] | None:
    if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
        return "anchors and aliases (& and *) are not read", "write the values out, or quote them"
    if getattr(event, "tag", None) is not None:
        return "tags (!) are not read", "write plain values, or quote the text"
    if depth > DEEPEST:
        return f"is nested more than {DEEPEST} deep", "a study has sections, keys and values"
    if isinstance(event, yaml.DocumentStartEvent) and documents > 1:
        return "a second document begins", "keep one study a file and drop the ---"
    return None


def _line(mark: Any) -> int:
    return mark.line + 1 if mark else 1


class _Walk:
    """Turns nodes into texts and remembers their lines."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.lines: dict[Keys, int] = {}
        self.problems: list[Problem] = []

    def texts(self, node: yaml.Node, keys: Keys) -> Texts:
        if isinstance(node, yaml.MappingNode):
            return self.section(node, keys)
        if isinstance(node, yaml.SequenceNode):
            for place, item in enumerate(node.value):
                self.lines[*keys, place] = _line(item.start_mark)
            return [self.texts(item, (*keys, place)) for place, item in enumerate(node.value)]
        is_null = node.tag == NULL  # written out, as programs that write YAML do
        return self.plain(node, keys) if isinstance(node, yaml.ScalarNode) and not is_null else ""

    def section(self, node: yaml.MappingNode, keys: Keys) -> dict[str, Texts]:
        texts: dict[str, Texts] = {}
        for key_node, value_node in node.value:
            line = _line(key_node.start_mark)
            if not isinstance(key_node, yaml.ScalarNode):
                self.report(line, keys, "a key that is not a word", "write key: value")
                continue
            key = self.plain(key_node, keys)
            here = (*keys, key)
            if here in self.lines:
                found = f"is given twice, first on line {self.lines[here]}"
                self.report(line, here, found, "keep one of the two")
                continue
            self.lines[here] = line
            texts[key] = self.texts(value_node, here)
        return texts

    def plain(self, node: yaml.ScalarNode, keys: Keys) -> str:
        text: str = node.value
        if not all(map(can_be_shown, text)):
            line = _line(node.start_mark)
            self.report(line, keys, "a character that cannot be shown", "write plain text")
            return "?"
        return text

    def report(self, line: int, keys: Keys, found: str, remedy: str) -> None:
        self.problems.append(
            Problem(file=self.file, line=line, key=dotted(keys), found=found, remedy=remedy)
        )


def can_be_shown(sign: str) -> bool:
    """Whether a character is text, and none that controls how other text is shown.

    Controls of direction could make a page show a number that the file does not hold.
    """
    if unicodedata.bidirectional(sign) in _DIRECTIONS or sign in "\u200e\u200f\u061c":
        return False
    return sign in "\n\t" or unicodedata.category(sign) not in ("Cc", "Cs")


def dotted(keys: Keys) -> str:
    """Path of a key as messages show it."""
    return ".".join(key for key in keys if isinstance(key, str))
