"""The order in which tests run."""

import pytest

COMPILING = ("engine", "physics", "model", "bands", "bench", "fluids", "speed", "commands", "run")
PLAIN = ("tests/test_house.py::test_tools", "tests/study", "tests/test_units", "reports")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let one of two workers begin with what compiles the model, the other with what does not.

    Each begins with a half of the tests. In their order by name both would compile the same
    functions at the same time, a sixth of all the work; so one finds them ready.
    """
    compiling = tuple(folder if folder == "engine" else f"tests/{folder}/" for folder in COMPILING)

    def place(item: pytest.Item) -> int:
        name = item.nodeid
        return 0 if name.startswith(compiling) else 1 if name.startswith(PLAIN) else 2

    items.sort(key=place)
