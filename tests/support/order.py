"""The order in which tests run."""

import pytest

COMPILING = ("bands", "engine", "physics", "model", "bench", "fluids", "speed", "commands", "run")
"""Folders in this order; the first one compiles what most others call."""
PLAIN = ("test_house.py::test_tools", "test_house.py::test_modules", "study/", "test_units.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let one of two workers begin with what compiles the model, the other with what does not.

    Each begins with a half of the tests. In their order by name both would compile the same
    functions at the same time, a sixth of all the work; so one finds them ready.
    """

    def place(item: pytest.Item) -> int:
        name = item.nodeid.removeprefix("tests/")
        found = [n for n, folder in enumerate(COMPILING) if name.startswith(f"{folder}/")]
        return (*found, 99 if name.startswith(PLAIN) else 100)[0]

    items.sort(key=place)
