"""The order in which tests run.

The slowest ten on two cores, with nothing compiled before, and why each takes its time, in seconds
of processor time: the type check of the whole house (30); the example of `gap.profiles` and the
first two tests in `tests/bands`, which compile the resolved flow, the averaged match and the
resolved match (36, 24, 18); one cluster that loses a worker, all workers and its scheduler, the
runs of four processes (16); a shock tube, which compiles the flow in the plane (11); kills at
random instants (9) and the killed workers in `tests/run` (8 each), which start Python again and
again; runs with workers from each kind of installation in `tests/test_face.py` (6 each); the
watched folders in `tests/reports`, which run and write pages in processes of their own (6 each).
"""

import pytest

COMPILING = ("engine/", "bands/", "physics/", "model/", "bench/", "study/test_riddles")
WITHOUT = (
    "test_house.py::test_tools",
    "test_house.py::test_modules",
    "search/test_published_problems",
    "physics/machine/test_web",
    "physics/machine/test_vibration",
    "study/",
    "test_units.py",
    "run/test_workers.py::test_workers",
    "run/test_workers.py::test_a_build",
    "run/test_runner",
    "run/test_soak",
)
LATER = ("run/test_cluster", "commands/", "run/", "test_", "search/", "fluids/", "reports/", "")
"""Beginnings of names, in the order in which they run; the longest that fits counts. What compiles
the model; what needs no model, from `study/` on what reads fluids only; what finds all compiled."""
PLACES = {
    start: (group, place)
    for group, starts in enumerate((COMPILING, WITHOUT, LATER))
    for place, start in enumerate(starts)
}


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Let one worker begin with what compiles the model, the next with what does without.

    Each begins with its share of the list, in equal parts. In their order by name they would all
    compile the same functions at the same time, a sixth of all the work.
    """
    items.sort(key=lambda item: place_of(item.nodeid.removeprefix("tests/")))
    groups = [place_of(item.nodeid.removeprefix("tests/"))[0] for item in items]
    first, last = groups.count(0), groups.count(0) + groups.count(1)
    without = items[first:last]
    found = [*items[:first], *items[last:]]
    workers = getattr(config, "workerinput", {}).get("workercount", 2)
    place = len(items) // workers
    items[:] = [*found[:place], *without, *found[place:]]


def place_of(name: str) -> tuple[int, int]:
    """Group of a test, and its place in it."""
    return PLACES[max((start for start in PLACES if name.startswith(start)), key=len)]
