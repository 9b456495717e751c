"""What the search itself costs, and how near it comes to the exact front of the coarse lane."""

import csv
import time

import numpy as np
import pytest

from engine.model.evaluation import evaluate
from engine.model.limits import violations, with_standing
from engine.search.front import hypervolume, merits
from engine.search.space import Axis, Space
from engine.search.staged import StagedSearch
from engine.study.reader import read_study
from tests.support.places import PUBLISHED

pytestmark = pytest.mark.speed


def test_time_of_the_search_per_design() -> None:
    # Costs nothing to evaluate; without steps, so that its front grows as long as it may.
    space = Space(tuple(Axis(key, high=1.0) for key in "abcdefg"), {})
    search = StagedSearch(space, aims=2, designs=1_000_000, generation=400, seed=1, patience=10**9)
    spent, block = 0.0, 1
    while True:
        start = time.perf_counter()
        index = search.ask()
        spent += time.perf_counter() - start
        if not len(index):
            break
        share = index / 2**20
        off = ((share[:, 1:] - 0.4) ** 2).sum(axis=1)
        merit = np.stack([share[:, 0] - off, 1 - share[:, 0] ** 2 - off], axis=1)
        start = time.perf_counter()
        search.tell(index, merit, np.maximum(share[:, 1] - share[:, 2] - 0.3, 0.0))
        spent += time.perf_counter() - start
        if search.told >= block * 100_000:
            front = len(search.mark.front)
            print(f"{search.told:,} told: {spent * 10:.1f} us a design, front {front}")  # noqa: T201
            spent, block = 0.0, block + 1


def test_share_of_the_exact_front_found() -> None:
    study = read_study(PUBLISHED / "coarse_lane.yaml")
    space = Space.of(study)
    with (PUBLISHED / "coarse_front.csv").open(encoding="utf-8") as file:
        rows = [
            int(row["number"]) for row in csv.DictReader(line for line in file if line[0] != "#")
        ]
    limits = with_standing(study.all_limits)
    exact = merits(evaluate(study, space.builds(space.numbered(np.array(rows)))), study.aims)
    reference = exact.min(axis=0) - 0.1 * np.ptp(exact, axis=0)
    shares = []
    for seed in range(1, 6):
        search = StagedSearch(space, aims=2, designs=20_000, generation=400, seed=seed)
        found = []
        while len(index := search.ask()):
            results = evaluate(study, space.builds(index))
            merit = merits(results, study.aims)
            violation = violations(results, limits).sum(axis=1) + ~np.isfinite(merit).all(axis=1)
            found.append(merit[violation == 0.0])
            search.tell(index, merit, violation)
        share = hypervolume(np.concatenate(found), reference) / hypervolume(exact, reference)
        shares.append(share)
        print(f"seed {seed}: {share:.5f} with {search.told:,} of {space.size:,} builds")  # noqa: T201
    print(f"median {np.median(shares):.5f}")  # noqa: T201
