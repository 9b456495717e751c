"""What the command that tries a build was given; light, for processes that load the rest later."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

Pairs: TypeAlias = Sequence[tuple[str, str]]
"""Texts of a request, by key."""


@dataclass(frozen=True)
class Asked:
    """What the command was given."""

    text: str
    """The study."""
    file: str
    """Where it was read, for messages."""
    words: tuple[str, ...]
    """What follows `swirlstack point` to name it."""
    start: Mapping[str, str] | None = None
    """The first build, by key; None where it is to be looked for."""
