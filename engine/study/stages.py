"""What a study says of later stages, under `stage_2:` and `stage_3:`, as keys with an ending."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from engine.errors import Problem
from engine.stage_columns import OWN, STAGES, of_stage
from engine.study.yaml_text import StudyText

WORDS = tuple(f"stage_{stage}" for stage in STAGES)
SECTIONS = ("machine", "ranges")
"""Where they may stand."""


def with_stages(read: StudyText, file_name: str) -> StudyText:
    """Move what stands under stages to keys of its section, such as `disc_count_2`."""
    texts, lines, problems = dict(read.texts), dict(read.lines), list(read.problems)

    def wrong(keys: tuple[Any, ...], found: str, expected: str, remedy: str) -> None:
        key = ".".join(map(str, keys))
        at = read.lines[keys]
        problems.append(
            Problem(file=file_name, line=at, key=key, found=found, expected=expected, remedy=remedy)
        )

    for section in SECTIONS:
        given = texts.get(section)
        if not isinstance(given, Mapping):
            continue
        flat = {
            key: value
            for key, value in given.items()
            if key not in WORDS or not isinstance(value, Mapping)
        }
        for stage, word in zip(STAGES, WORDS, strict=True):
            own = given.get(word)
            for key, value in own.items() if isinstance(own, Mapping) else ():
                at, key_there = (section, word, key), of_stage(key, stage)
                if key not in OWN:
                    remedy = f"write it under {section}, for all stages"
                    wrong(at, "is common to all stages", " or ".join(OWN), remedy)
                elif key_there in flat:
                    wrong(at, f"is given as {key_there} too", "", "keep one of them")
                else:
                    flat[key_there] = value
                    lines |= {
                        (section, key_there, *path[3:]): line
                        for path, line in read.lines.items()
                        if path[:3] == at
                    }
        texts[section] = flat
    return replace(read, texts=texts, lines=lines, problems=tuple(problems))
