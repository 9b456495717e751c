"""What is asked of one build: its numbers, what takes longer, a curve, a climb, a study around it.

Plain texts in, plain data out; the processes of `work` call it.
"""

import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NoReturn
from urllib.parse import parse_qsl

import numpy as np

from engine.bands.results import plain_limits, with_bands
from engine.columns import COLUMNS, Builds, base_key
from engine.errors import Problem, StudyError
from engine.model.evaluation import LATE_COLUMNS, evaluate
from engine.model.limits import violations, with_standing
from engine.run.chosen import as_texts
from engine.run.nudge import climbed
from engine.run.point import point_of_build
from engine.search.front import merits
from engine.search.space import Space
from engine.study.around import split, study_around
from engine.study.reader import OF_DUTY, parse_overrides, parse_study
from engine.study.study import Study
from engine.study.written import value_text
from reports.live.asked import Asked, Pairs
from reports.live.sweep import sweep_of
from reports.live.telling import climb_told, quick_told, rest_told

STUDIES = 8
"""Studies of other supplies that are kept."""
LOOKED_AT = 256
"""Random builds among which the first one is looked for."""
MOST_FIELDS = 200
"""Values that a request may have."""
MOST_KEPT = 12
"""Builds that a page keeps."""

Plain = Mapping[str, Any]


@lru_cache(maxsize=STUDIES)
def _study(text: str, file: str, supply: tuple[tuple[str, str], ...]) -> Study:
    return parse_study(text, file, dict(supply))


@dataclass(frozen=True)
class Desk:
    """Answers what is asked of builds of one study; raises StudyError for bad input."""

    asked: Asked

    def start(self, _: Pairs) -> Plain:
        """Give the first build: the one named, else the best of a few random ones."""
        if self.asked.start is not None:
            return dict(self.asked.start)
        study = _study(self.asked.text, self.asked.file, ())
        space = Space.of(study)
        builds = space.builds(space.draw(LOOKED_AT, np.random.default_rng(study.search.seed)))
        found = evaluate(study.unjudged(), builds)
        limits = with_standing(plain_limits(study), study.works_as)
        known = {key: limit for key, limit in limits.items() if key not in LATE_COLUMNS}
        past = violations(found, known).sum(axis=1)
        key, way = next(iter(study.aims.items()))
        merit = np.nan_to_num(merits(found, {base_key(key): way})[:, 0], nan=-np.inf)
        row = int(np.lexsort((-merit, past))[0])
        return as_texts(study, found, row)

    def warm(self, pairs: Pairs) -> Plain:
        """Do once all that takes long, so that its code is compiled and loaded.

        Without a build it takes the first one.
        """
        pairs = pairs or list(self.start(()).items())
        study, build, _ = self._read(pairs)
        self.bands(pairs)
        self.rest(pairs)
        for key, given in study.searched().items():
            if not COLUMNS[key].is_text and not given.is_fixed:
                sweep_of(study, build, key)
                break
        climbed(study, build, next(iter(study.aims)))
        return {}

    def build(self, pairs: Pairs) -> Plain:
        """Evaluate a build once."""
        study, build, texts = self._read(pairs)
        results = evaluate(study.unjudged(), build)
        found = quick_told(study, results, build)
        return {"texts": texts, "command": self._command(texts), **found}

    def bands(self, pairs: Pairs) -> Plain:
        """Evaluate a build once, and the bands of its power and safety margin."""
        study, build, _ = self._read(pairs)
        plain = study.unjudged()
        return quick_told(study, with_bands(plain, evaluate(plain, build)), build)

    def rest(self, pairs: Pairs) -> Plain:
        """Evaluate a build with bands, a lost load and the recheck: all that `point` tells."""
        study, build, _ = self._read(pairs)
        return rest_told(study, point_of_build(study, build), build)

    def sweep(self, pairs: Pairs) -> Plain:
        """Draw what one variable does; the first pair names it."""
        key = _first(pairs, "of")
        study, build, _ = self._read(pairs[1:])
        given = study.searched().get(key)
        if given is None or given.is_fixed or COLUMNS[key].is_text:
            _refuse(key, "is not a number that the study searches", "name one of its ranges")
        return sweep_of(study, build, key)

    def nudge(self, pairs: Pairs) -> Plain:
        """Climb to more of an aim; the first pair names it."""
        aim = _first(pairs, "to")
        study, build, _ = self._read(pairs[1:])
        if aim not in study.aims:
            _refuse(aim, "is not an aim of the study", f"name one of {', '.join(study.aims)}")
        return climb_told(climbed(study, build, aim), aim)

    def study(self, pairs: Pairs) -> Plain:
        """Write a study around builds, each the text of a query."""
        if not 1 <= len(pairs) <= MOST_KEPT:
            _refuse("kept", f"are {len(pairs)} builds", f"keep 1 to {MOST_KEPT}")
        builds = [_texts(pairs_of(query)) for _, query in pairs]
        return {"yaml": study_around(self.asked.text, self.asked.file, builds)}

    def _read(self, pairs: Pairs) -> tuple[Study, Builds, dict[str, str]]:
        """Study with the supply of a build, the build [SI], and its texts as a study has them."""
        given = _texts(pairs)
        supply, values = split(given)
        study = _study(self.asked.text, self.asked.file, tuple(sorted(supply.items())))
        found = parse_overrides(values, study)
        texts = {key: value_text(key, value) for key, value in found.items()}
        return study, {key: np.array([value]) for key, value in found.items()}, {**texts, **supply}

    def _command(self, texts: Mapping[str, str]) -> str:
        """Write the command line of a build, with what it changes of supply and duty."""
        beside, values = split(texts)
        changed = (
            f"{key}={text}" if key in OF_DUTY else f"supply_{key}={text}"
            for key, text in beside.items()
        )
        return shlex.join(["swirlstack", "point", *self.asked.words, *values, *changed])


def _texts(pairs: Pairs) -> dict[str, str]:
    texts: dict[str, str] = {}
    for key, text in pairs:
        if key in texts:
            _refuse(key, "is given twice", "keep one of the two")
        texts[key] = text.strip()
    return texts


def pairs_of(query: str) -> Pairs:
    """Values of a build out of the text of a query; raises StudyError where there are too many."""
    try:
        return parse_qsl(query, keep_blank_values=True, max_num_fields=MOST_FIELDS)
    except ValueError:
        _refuse("kept", "has more values than a build", "take the address as the page writes it")


def _first(pairs: Pairs, word: str) -> str:
    if not pairs or pairs[0][0] != word:
        _refuse(word, "is missing", f"begin with {word}=KEY")
    return pairs[0][1]


def _refuse(key: str, found: str, remedy: str) -> NoReturn:
    raise StudyError([Problem(file="command line", key=key[:60], found=found, remedy=remedy)])
