import os
from pathlib import Path

import numpy as np
import pytest

from engine.errors import StudyError
from engine.study.reader import parse_study, read_study
from tests.support.places import STUDIES

GOOD = (STUDIES / "lane-workshop.yaml").read_text(encoding="utf-8")


def test_paths_that_cannot_be_read_say_why(tmp_path: Path) -> None:
    (tmp_path / "loop.yaml").symlink_to("loop.yaml")
    os.mkfifo(tmp_path / "pipe.yaml")
    for name, found in {
        "nowhere.yaml": "no such file",
        ".": "is a folder",
        "loop.yaml": "symbolic links",
        "pipe.yaml": "is not an ordinary file",
        "a\0b.yaml": "cannot be read",
    }.items():
        with pytest.raises(StudyError, match=found) as caught:
            read_study(tmp_path / name)
        assert caught.value.problems[0].line is None


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads every file")
def test_a_file_without_permission_says_so(tmp_path: Path) -> None:
    path = tmp_path / "night.yaml"
    path.write_text(GOOD, encoding="utf-8")
    path.chmod(0)
    with pytest.raises(StudyError, match="permission denied"):
        read_study(path)


def test_no_damage_to_a_study_gives_anything_but_problems() -> None:
    draw = np.random.default_rng(2)
    signs = list("{}[]:,-#&*!|>'\"%@`?\t\n\x00\ud800 0aé\u2028")
    damaged = 0
    for _ in range(400):
        text = list(GOOD)
        for _ in range(draw.integers(1, 5)):
            place = draw.integers(len(text))
            text[place : place + draw.integers(4)] = draw.choice(signs)
        try:
            parse_study("".join(text), "night.yaml")
        except StudyError as error:
            damaged += len(error.problems) > 0
    assert damaged > 200


@pytest.mark.parametrize("word", ["null", "~", "Null"])
def test_a_value_written_as_null_counts_as_left_out(word: str) -> None:
    assert "    laptop:\n" in GOOD
    given = GOOD.replace("    laptop:\n", f"    laptop: {word}\n")
    assert parse_study(given, "night.yaml") == parse_study(GOOD, "night.yaml")


def test_null_in_quotes_is_a_word() -> None:
    given = GOOD.replace("title: Lane-side", 'title: "null"\n# Lane-side')
    assert parse_study(given, "night.yaml").title == "null"
