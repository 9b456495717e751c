"""Work through every build of the coarse lane workshop, and keep the exact front.

Two and a half million builds, by hand, where the model has changed by more than the search's
tolerance: ``python tests/speed/exact_front.py`` writes tests/published/coarse_front.csv.
"""

import csv
import sys

import numpy as np

from engine.model.evaluation import evaluate
from engine.model.limits import violations, with_standing
from engine.model.version import MODEL_VERSION
from engine.search.front import merits, nondominated
from engine.search.space import Space
from engine.study.reader import read_study
from tests.support.places import PUBLISHED

STUDY = PUBLISHED / "coarse_lane.yaml"
FRONT = PUBLISHED / "coarse_front.csv"
BATCH = 20_000


def main() -> None:
    study = read_study(STUDY)
    space = Space.of(study)
    limits = with_standing(study.all_limits)
    rows, best = np.zeros(0, dtype=np.int64), np.zeros((0, len(study.aims)))
    size = int(space.size)
    for first in range(0, size, BATCH):
        numbers = np.arange(first, min(first + BATCH, size))
        results = evaluate(study, space.builds(space.numbered(numbers)))
        merit = merits(results, study.aims)
        met = (violations(results, limits) == 0.0).all(axis=1)
        rows = np.concatenate([rows, numbers[met]])
        best = np.concatenate([best, merit[met]])
        kept = nondominated(best)
        rows, best = rows[kept], best[kept]
        sys.stdout.write(f"\r{numbers[-1] + 1:,} of {size:,}, front {len(rows)}")
        sys.stdout.flush()
    with FRONT.open("w", newline="", encoding="utf-8") as file:
        file.write(
            f"# exact front of coarse_lane.yaml, every one of {size} builds worked through\n"
        )
        file.write(f"# model version {MODEL_VERSION}; made by tests/speed/exact_front.py\n")
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["number", *study.aims])
        for number, merit in zip(rows, best, strict=True):
            table.writerow([number, *(f"{value:.9g}" for value in merit)])


if __name__ == "__main__":
    main()
