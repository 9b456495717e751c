"""A grid of 24 million builds, and how soon a search comes to its exact front.

It is every 64th build of the bundled lane workshop with the disc's sheet, cut and web, the number
of nozzles and the rim clearance held: evenly along each of the other seven axes.
"""

import re
import resource
import time
from pathlib import Path

import numpy as np
import pytest

from engine.run.folder import read_designs, read_front
from engine.run.launch import run_study
from engine.search.front import hypervolume, merits
from engine.study.reader import read_study
from engine.study.study import Study
from tests.support.places import STUDIES

HELD = (
    "process: waterjet",
    "disc_thickness: 1.5 mm",
    "spokes: 6",
    "nozzle_count: 3",
    "rim_clearance: 0.3 mm",
)
COARSER = {
    "disc_count": "{min: 4, max: 40, step: 3}",
    "disc_diameter": "{min: 80 mm, max: 200 mm, step: 10 mm}",
    "inlet_angle": "{min: 6 deg, max: 24 deg, step: 2 deg}",
    "exhaust_bore": "{min: 16 mm, max: 88 mm, step: 4 mm}",
    "speed": "{min: 4000 rpm, max: 40000 rpm, step: 1500 rpm}",
}
GRID = "search:\n  method: grid\n"
SEARCH = "search:\n  designs: 30000\n  generation: 400\n  seed: {}\n"


def _text(search: str) -> str:
    text = (STUDIES / "lane-workshop.yaml").read_text()
    for line in HELD:
        text = re.sub(rf"\n  {line.split(':')[0]}: \{{choices.*", "", text)
    for key, span in COARSER.items():
        text = re.sub(rf"\n  {key}: \{{min.*", f"\n  {key}: {span}", text)
    text = text.replace("\nmachine:\n", "\nmachine:\n  " + "\n  ".join(HELD) + "\n")
    return re.sub(r"\nsearch:\n(  .*\n)*", f"\n{search}", text)


def _run(folder: Path, search: str) -> Study:
    path = folder.with_suffix(".yaml")
    path.write_text(_text(search))
    spent, start = time.process_time(), time.perf_counter()
    number = run_study(path, folder).state.designs
    spent, start = time.process_time() - spent, time.perf_counter() - start
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    stored = sum(each.stat().st_size for each in folder.rglob("*")) / 1e6
    print(  # noqa: T201
        f"{number:,} builds: {1e6 * spent / number:.2f} us of processor time each, {start:.0f} s, "
        f"at most {memory:.0f} MiB, {stored:.0f} MB on disk"
    )
    return read_study(path)


@pytest.mark.speed
def test_a_search_against_the_exact_front_of_a_large_grid(tmp_path: Path) -> None:
    study = _run(tmp_path / "grid", GRID)
    exact = merits(read_front(tmp_path / "grid"), study.aims)
    keys = (*study.aims, "feasible", "design")
    known = read_designs(tmp_path / "grid", keys)
    reference = merits(known, study.aims)[known["feasible"] > 0].min(axis=0)
    whole = hypervolume(exact, reference)
    for seed in (1, 2, 3):
        path = tmp_path / f"search {seed}"
        _run(path, SEARCH.format(seed))
        found = read_designs(path, keys)
        merit, inside = merits(found, study.aims), found["feasible"] > 0
        ends = np.arange(400, found["design"].max() + 1, 400)
        shares = [
            hypervolume(merit[inside & (found["design"] <= end)], reference) / whole for end in ends
        ]
        reached = [ends[np.array(shares) >= share][:1].tolist() for share in (0.99, 0.999, 1.0)]
        print(f"seed {seed}: {shares[-1]:.6f}; 0.99, 0.999 and all of it after {reached}")  # noqa: T201
