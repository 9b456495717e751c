"""What a design of a whole run costs, by part; and what a large grid costs, on the bundled lane."""

import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import wait
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.bands.results import evaluate_judged
from engine.columns import Builds, Results
from engine.model.limits import with_standing
from engine.run.folder import RunFolder
from engine.run.generations import Evaluate, Generations
from engine.run.runner import run
from engine.run.summary import Summary
from engine.run.thinned import evaluated_rows
from engine.run.workers import Workers, fewest_for
from engine.search.space import Space
from engine.search.staged import StagedSearch
from engine.search.sweep import LARGE
from engine.study.reader import parse_study, read_study
from engine.study.study import Study
from tests.support.places import STUDIES

pytestmark = pytest.mark.speed
LANE = STUDIES / "lane-workshop.yaml"
BATCHES = 200


@contextmanager
def timed(spent: dict[str, float], parts: Mapping[str, tuple[type, str]]) -> Iterator[None]:
    """Add up the processor time of some methods, of the whole process."""
    with pytest.MonkeyPatch.context() as patch:
        for name, (owner, method) in parts.items():
            patch.setattr(owner, method, _timed(getattr(owner, method), spent, name))
        yield


def _timed(work: Callable[..., Any], spent: dict[str, float], name: str) -> Callable[..., Any]:
    def measured(*given: Any, **named: Any) -> Any:
        start = time.process_time()
        try:
            return work(*given, **named)
        finally:
            spent[name] = spent.get(name, 0.0) + time.process_time() - start

    return measured


@pytest.mark.parametrize("generation", [400, 4000])
@pytest.mark.parametrize("threads", ["1", "2"])
def test_share_of_each_part_of_a_search(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, threads: str, generation: int
) -> None:
    monkeypatch.setenv("SWIRLSTACK_THREADS", threads)
    text = LANE.read_text().replace("designs: 30000", "designs: 40000")
    text = text.replace("generation: 400", f"generation: {generation}")
    text = text.replace(", polish, firm]", ", polish]")
    study, spent = parse_study(text, "lane.yaml"), dict[str, float]()
    parts = {
        "ask": (StagedSearch, "ask"),
        "tell": (StagedSearch, "tell"),
        "judge": (Summary, "add"),
        "write (beside, with two threads)": (RunFolder, "write_part"),
        "all but the front": (Generations, "advance"),
    }

    def unproved(_: Study, front: Results) -> Results:
        return front | {"resolved_difference": 0.0 * front["speed"]}

    with timed(spent, parts):
        outcome = run(
            study=study,
            study_text=text,
            path=tmp_path / "run",
            evaluate=_timed(evaluate_judged, spent, "evaluate"),
            recheck=unproved,
            model_version=1,
        )
    print(f"\n{threads} threads, generations of {generation}: {outcome.state.designs} designs")  # noqa: T201
    for name, seconds in sorted(spent.items(), key=lambda each: -each[1]):
        print(f"  {name}: {1e6 * seconds / outcome.state.designs:.1f} us a design")  # noqa: T201


def test_clock_and_work_of_two_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Print the time of a search by the clock, and the processor time of this process in it."""
    text = LANE.read_text().replace("designs: 30000", "designs: 40000")
    text = text.replace("generation: 400", "generation: 4000").replace(", firm]", "]")
    study = parse_study(text, "lane.yaml")
    some = Space.of(study).builds(Space.of(study).sample(4096, np.random.default_rng(1)))

    def measured(name: str, evaluate: Evaluate) -> None:
        evaluate(study, some)  # starts workers and compiles
        wait(evaluate._starting if isinstance(evaluate, Workers) else ())
        generations = Generations(study, evaluate, lambda: 0.0)
        clock, work = time.perf_counter(), time.process_time()
        while generations.advance():
            pass
        clock, work = time.perf_counter() - clock, time.process_time() - work
        each = 1e6 / generations.summary.designs
        print(f"{name}: {each * clock:.1f} us a design, {each * work:.1f} us of it here")  # noqa: T201

    measured("one process left alone", evaluate_judged)
    with Workers(text, 2, evaluate_judged, fewest=fewest_for(study)) as two:
        measured("two workers", two)
    monkeypatch.setenv("SWIRLSTACK_THREADS", "1")
    measured("one process held to one thread", evaluate_judged)


def test_cost_of_a_robust_design() -> None:
    study = read_study(LANE)
    robust = parse_study(
        LANE.read_text().replace("seed: 1", "seed: 1\n  robust: true"), "lane.yaml"
    )
    space = Space.of(study)
    builds = space.builds(space.sample(400, np.random.default_rng(1)))
    plain, sampled = (_seconds(each, builds) / len(builds["speed"]) for each in (study, robust))
    print(  # noqa: T201
        f"a robust design: {1e6 * sampled:.0f} us, {sampled / plain:.1f} times a plain one of "
        f"{1e6 * plain:.1f} us"
    )


def test_cost_of_a_robust_search() -> None:
    """Print what a design of a robust search costs, where only some are sampled."""
    text = LANE.read_text().replace("designs: 30000", "designs: 10000").replace(", firm]", "]")
    found, sampled = {}, 1.0
    for name, more in (("plain", ""), ("robust", "\n  robust: true")):
        study = parse_study(text.replace("seed: 1", f"seed: 1{more}"), "lane.yaml")
        generations = Generations(study, evaluate_judged, lambda: 0.0)
        generations.advance()
        first, start = generations.summary.designs, time.process_time()
        while generations.advance():
            pass
        summary = generations.summary
        found[name] = (time.process_time() - start) / (summary.designs - first)
        sampled = 1 - summary.unsampled / summary.designs
    print(  # noqa: T201
        f"a design of a robust search: {1e6 * found['robust']:.0f} us, "
        f"{found['robust'] / found['plain']:.1f} times one of a plain search; "
        f"{sampled:.0%} sampled"
    )


def test_the_whole_space_by_a_stratified_part() -> None:
    study = read_study(LANE)
    space, limits = Space.of(study), with_standing(study.all_limits, study.kind)
    # Batches as a grid has them; most hold one bore of one disc, so many are needed.
    first = np.random.default_rng(1).integers(int(space.size) - LARGE, size=BATCHES)
    batches = [space.numbered(np.arange(a, a + LARGE)) for a in first]
    none = np.zeros(LARGE, dtype=np.bool_)
    evaluated_rows(study, space, batches[0], limits, none)
    start = time.process_time()
    left = [each[evaluated_rows(study, space, each, limits, none)] for each in batches]
    number = LARGE * len(batches)
    screening = (time.process_time() - start) / number
    marched = np.concatenate(left)
    some = space.builds(marched[:: max(1, len(marched) // 8192)])
    marching = _seconds(study, some) / len(some["speed"])
    each = screening + marching * len(marched) / number
    print(  # noqa: T201
        f"{space.size:.3g} builds: {1 - len(marched) / number:.1%} ruled out at "
        f"{1e6 * screening:.2f} us, the "
        f"others marched at {1e6 * marching:.0f} us: {1e6 * each:.1f} us a build, "
        f"{each * 1e10 / 3600:.0f} core hours for 10,000 million, "
        f"{each * space.size / 86400:.0f} core days for all"
    )


def _seconds(study: Study, builds: Builds) -> float:
    evaluate_judged(study, builds)
    start = time.process_time()
    evaluate_judged(study, builds)
    return time.process_time() - start
