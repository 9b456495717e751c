"""Tables on disk: found by everything that defines them, and replaced where damaged."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from engine import cache
from engine.cache import Arrays, cached
from engine.fluids.by_name import vapour_supply

NAME = {"fluid": "cider", "pressure": 5e5}


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path / "swirlstack"


@pytest.fixture
def made() -> tuple[Callable[[], Arrays], list[int]]:
    calls: list[int] = []

    def make() -> Arrays:
        calls.append(1)
        return {"numbers": np.arange(6.0).reshape(2, 3) / 7, "more": np.array([np.nan])}

    return make, calls


def test_a_table_is_made_once_and_read_back_bit_for_bit(
    place: Path, made: tuple[Callable[[], Arrays], list[int]]
) -> None:
    make, calls = made
    first, second = cached(NAME, make), cached(NAME, make)
    assert len(calls) == 1
    for key in first:
        assert_array_equal(first[key], second[key])
    assert [path.suffix for path in place.iterdir()] == [".npz"]


@pytest.mark.parametrize("changed", [{"pressure": 6e5}, {"fluid": "perry"}, {"more": 1}])
def test_another_name_is_another_table(
    place: Path, made: tuple[Callable[[], Arrays], list[int]], changed: dict[str, object]
) -> None:
    make, calls = made
    cached(NAME, make)
    cached({**NAME, **changed}, make)
    assert len(calls) == 2


def test_another_coolprop_makes_its_own_tables(
    place: Path,
    made: tuple[Callable[[], Arrays], list[int]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    make, calls = made
    cached(NAME, make)
    monkeypatch.setattr(cache, "version", lambda package: f"another {package}")
    cached(NAME, make)
    assert len(calls) == 2


@pytest.mark.parametrize("damage", ["cut", "empty", "other", "flipped", "folder"])
def test_a_damaged_table_is_made_again_without_a_message(
    place: Path, made: tuple[Callable[[], Arrays], list[int]], damage: str
) -> None:
    make, calls = made
    cached(NAME, make)
    [path] = place.iterdir()
    content = bytearray(path.read_bytes())
    if damage == "folder":
        path.unlink()
        path.mkdir()
    elif damage == "other":
        np.savez(path, unrelated=np.zeros(3))
    else:
        content[len(content) // 2] ^= 0xFF
        path.write_bytes(bytes({"cut": content[:-40], "empty": b"", "flipped": content}[damage]))
    again = cached(NAME, make)
    assert_array_equal(again["numbers"], make()["numbers"])
    assert len(calls) == 3
    if damage != "folder":
        cached(NAME, make)
        assert len(calls) == 3


def test_tables_are_made_each_time_where_nothing_can_be_kept(
    tmp_path: Path,
    made: tuple[Callable[[], Arrays], list[int]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    occupied = tmp_path / "a-file"
    occupied.write_text("no folder", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(occupied))
    make, calls = made
    cached(NAME, make)
    cached(NAME, make)
    assert len(calls) == 2


def test_a_vapour_is_read_back_as_it_was_made(place: Path) -> None:
    def supplied() -> Arrays:
        vapour_supply.cache_clear()
        supply = vapour_supply("steam", pressure=4e5, back_pressure=1e5, quality=0.95)
        table = supply.fluid.table
        return {"h": np.array([supply.enthalpy]), "dry": table.dry, "along": table.along}

    first, second = supplied(), supplied()
    assert len(list(place.iterdir())) == 1
    for key in first:
        assert_array_equal(first[key], second[key])
    vapour_supply.cache_clear()
