"""Kinds of generators from shared/generators.toml, each a data sheet in the words of a study."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from pydantic import TypeAdapter

from engine.catalogue import read_table
from engine.study.machine import Machine, stated

ABOUT = ("title", "source")
"""What a row says besides machine numbers."""


@cache
def generators() -> Mapping[str, Mapping[str, str]]:
    """Every kind by key: its title, its source, and machine numbers as a study writes them."""
    return read_table("generators")


@cache
def generator_values(name: str | None) -> Mapping[str, float | int]:
    """Machine numbers [SI] of a kind, by key; none for no kind. Raises KeyError for an unknown."""
    if name is None:
        return MappingProxyType({})
    fields = Machine.model_fields
    values = {
        key: TypeAdapter(stated(fields[key].rebuild_annotation())).validate_python(text)
        for key, text in generators()[name].items()
        if key not in ABOUT
    }
    return MappingProxyType(values)
