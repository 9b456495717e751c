"""Digests by which a file of a run shows that it is as the run wrote it."""

import hashlib
import json
import re
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

DIGEST = "digest"
"""Key of the digest of run.json, and of the notes of a Parquet file."""
_HEAD = b"sha256 of this file with zeros here: "
BLANK = (_HEAD + b"0" * 64).decode()
"""Note that a file is written with, until `sealed` puts the digest in its place."""
_SEAL = re.compile(re.escape(_HEAD) + b"([0-9a-f]{64})")
KNOWN = 4096
"""Files whose digest is remembered while they do not change."""
_WRITTEN: set[tuple[Path, int, int, int]] = set()
"""Files that this process has written."""


def sealed(content: bytes) -> bytes:
    """Put the digest of a file into the note `BLANK` that it holds."""
    place = content.rindex(BLANK.encode()) + len(_HEAD)
    whole = memoryview(content)
    return b"".join([whole[:place], _digest(content), whole[place + 64 :]])


def is_sealed(path: Path) -> bool:
    """Whether a file is as it was sealed; raises OSError where it cannot be read."""
    state = _state(path)
    return state in _WRITTEN or _is_sealed(*state)


def trust(path: Path) -> None:
    """Take a sealed file that this process has just written for whole, until it changes."""
    _WRITTEN.add(_state(path))


def _state(path: Path) -> tuple[Path, int, int, int]:
    """Give what changes when a file does."""
    known = path.stat()
    return path, known.st_ino, known.st_size, known.st_mtime_ns


@lru_cache(maxsize=KNOWN)
def _is_sealed(path: Path, *_: int) -> bool:
    content = path.read_bytes()
    found = list(_SEAL.finditer(content))
    if not found:
        return False
    start, end = found[-1].span(1)
    return _digest(content[:start] + b"0" * 64 + content[end:]) == content[start:end]


def sealed_text(entries: Mapping[str, Any]) -> str:
    """Text of run.json: the entries and their digest."""
    plain = {key: value for key, value in entries.items() if key != DIGEST}
    whole = plain | {DIGEST: _of_entries(plain)}
    return json.dumps(whole, indent=2, ensure_ascii=False) + "\n"


def unsealed(text: str) -> dict[str, Any]:
    """Entries of run.json; raises ValueError where they are not as they were written."""
    try:
        entries = json.loads(text)
    except RecursionError as error:
        raise ValueError(text[:20]) from error
    if not isinstance(entries, dict) or entries.pop(DIGEST, None) != _of_entries(entries):
        raise ValueError(text[:20])
    return entries


def _of_entries(entries: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(entries, sort_keys=True).encode()).hexdigest()


def _digest(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest().encode()
