"""Columns sent between processes come back as they were."""

import numpy as np
import pytest

from engine.run import words
from engine.run.folded import folded, unfolded


@pytest.mark.parametrize("n_rows", [0, 1, 5])
def test_columns_come_back_as_they_were(n_rows: int) -> None:
    place = np.arange(n_rows)
    columns = {
        "speed": place * 1.5,
        "material": np.full(n_rows, "steel"),
        "gap": np.full(n_rows, 3e-4),
        "lost": np.full(n_rows, np.nan),
        "partly": np.where(place % 2, np.nan, 1.0),
        "note": np.where(place % 2, "", "warm"),
        "fits": place > 2,
    }
    back = unfolded(folded(columns))
    assert list(back) == list(columns)
    for key, values in columns.items():
        np.testing.assert_array_equal(back[key], values, err_msg=key)
        assert back[key].dtype == values.dtype


def test_what_repeats_is_sent_once() -> None:
    sent = folded({"speed": np.arange(9.0), "gap": np.full(9, 3e-4)})
    assert sent.numbers.shape == (1, 9)
    assert sent.same["gap"].tolist() == [3e-4]


def test_words_with_the_same_number_are_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(words, "FACTOR", np.uint64(0))
    found, where = words.coded(np.array(["warm", "", "warm", "cold"]))
    assert found.tolist() == ["warm", "", "cold"]
    assert where.tolist() == [0, 1, 0, 2]
