"""The order in which tests run.

The slowest ten on two cores, with nothing compiled before, and why each takes its time: the type
check of the whole house (35 s of processor time); the first tests in `tests/bands` and the example
of `gap.profiles`, which compile the averaged and the resolved flow (25 s each, 10 more for the
resolved match); the queue of studies and the watched run in `tests/commands`, real processes that
load, run and write pages (20 s each); killed workers, lost clusters and kills at random instants in
`tests/run`, which start Python again and again (10 s each); the trials of 200 coast-downs in
`tests/bench`, as many as the claimed intervals need (8 s each); runs with workers from each kind of
installation in `tests/test_face.py` (10 s).
"""

import pytest

FOLDERS = (
    ("bands/", "engine/", "physics/", "model/", "bench/"),
    ("study/", "test_house.py::test_tools", "test_house.py::test_modules", "test_units.py"),
    ("fluids/", "speed/", "run/", "commands/"),
    ("search/", "test_", "reports/"),
)
"""What compiles the model, what does without, what finds it compiled, and the rest."""
PLACES = [start for group in FOLDERS for start in group]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let one worker begin with what compiles the model, the others with what does without.

    Each begins with its share of the list. In their order by name they would all compile the same
    functions at the same time, a sixth of all the work.
    """

    def place(item: pytest.Item) -> int:
        name = item.nodeid.removeprefix("tests/")
        return next((n for n, start in enumerate(PLACES) if name.startswith(start)), len(PLACES))

    items.sort(key=place)
