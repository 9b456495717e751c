"""The written rules of the house, as checks."""

import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import engine.physics
from engine.columns import COLUMNS, columns_of
from engine.model.evaluation import evaluate
from engine.stage_columns import OF_STAGES
from engine.study.study import Study
from tests.support.places import ROOT

BOOKKEEPING = {f"engine.physics.{name}" for name in ("arrays", "compiled", "machine_code", "parts")}
"""Plain array handling, no relation of physics."""
MODULES = [
    importlib.import_module(m.name)
    for m in pkgutil.walk_packages(engine.physics.__path__, "engine.physics.")
]
FUNCTIONS = [
    f
    for m in MODULES
    for n, f in inspect.getmembers(m, inspect.isfunction)
    if f.__module__ == m.__name__
    and not n.startswith("_")
    and not m.__name__.endswith("_kernel")  # positional, and the public functions explain them
    and m.__name__ not in BOOKKEEPING
]
TOOLS = {
    "ruff check": ["-m", "ruff", "check", "."],
    "ruff format": ["-m", "ruff", "format", "--check", "."],
    "mypy": ["-m", "mypy"],
    "import contracts": ["-c", "import importlinter.cli as c; c.lint_imports_command()"],
}
ASKS_THE_SYSTEM = re.compile(
    r"^\s*(import|from) (os|sys|signal|fcntl|msvcrt|select|resource|subprocess|socket|shutil"
    r"|tempfile|http|multiprocessing)\b",
    re.MULTILINE,
)
"""Imports of what differs from one system to another."""
LONGEST = {
    # A table of every number, a row each.
    "engine/columns.py": 500,
    "engine/physics": 450,
    "engine": 400,
    "reports": 400,
    "tests": 400,
}


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_public_physics_docstring_is_complete(function: Callable[..., object]) -> None:
    text = inspect.getdoc(function) or ""
    for section in ("Parameters", "Returns", "References"):
        assert re.search(rf"^{section}\n-+$", text, re.MULTILINE), f"no {section} section"
    parameters = text.split("Parameters\n", 1)[1].split("Returns\n")[0]
    for name in inspect.signature(function).parameters:
        entry = re.search(
            rf"^[^\n]*\b{name}\b[^\n]* : ([^\n]+)\n((?:    .*\n)+)", parameters, re.MULTILINE
        )
        assert entry, f"{name} is not described"
        is_quantity = re.match(r"Array|Lanes|float", entry[1])
        assert not is_quantity or re.search(r"\[[^\]]+\]", entry[2]), f"{name} has no unit"


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_public_physics_takes_keywords_only(function: Callable[..., object]) -> None:
    kinds = {p.kind for p in inspect.signature(function).parameters.values()}
    assert kinds <= {inspect.Parameter.KEYWORD_ONLY}


def test_every_physics_module_is_checked() -> None:
    files = {*(ROOT / "engine" / "physics").rglob("*.py")} - {ROOT / "engine/physics/__init__.py"}
    assert {Path(str(m.__file__)) for m in MODULES} == files


def test_every_test_file_is_collected() -> None:
    uncollected = [p for p in (ROOT / "tests").rglob("*.py") if not p.name.startswith("test_")]
    holds_tests = re.compile(r"^\s*def test_", re.MULTILINE)
    stray = [p for p in uncollected if holds_tests.search(p.read_text("utf-8"))]
    assert stray == []
    packages = list((ROOT / "tests").rglob("__init__.py"))
    assert packages == []  # tests are imported by path, see import-mode


def test_no_file_has_grown_beyond_its_bound() -> None:
    long = [
        (str(path.relative_to(ROOT)), n_lines)
        for folder in ("engine", "reports", "tests")
        for path in (ROOT / folder).rglob("*.py")
        if (n_lines := len(path.read_text(encoding="utf-8").splitlines())) > bound(path)
    ]
    assert long == []


def bound(path: Path) -> int:
    name = path.relative_to(ROOT).as_posix()
    return next(lines for folder, lines in LONGEST.items() if name.startswith(folder))


def test_every_result_column_is_produced_by_the_model(
    shop_air: Study, builds: Callable[..., dict[str, object]]
) -> None:
    found = evaluate(shop_air, builds())  # type: ignore[arg-type]
    results = {c.key for c in columns_of("turbine").values() if c.kind == "result"}
    assert results - set(OF_STAGES) == results & set(found)
    assert set(found) <= set(COLUMNS)
    machine = shop_air.machine.model_copy(update={"stage_count": 2})
    found = evaluate(shop_air.model_copy(update={"machine": machine}), builds())  # type: ignore[arg-type]
    assert results <= set(found)


@pytest.mark.slow
@pytest.mark.parametrize("command", TOOLS.values(), ids=TOOLS)
def test_tools_find_nothing(command: list[str]) -> None:
    assert_finds_nothing(*command)


@pytest.mark.slow
@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_modules_that_ask_the_system_fit_other_systems(platform: str, tmp_path: Path) -> None:
    """Checks them alone: with all that they import, types of numbers would take half a minute."""
    modules = [
        str(path)
        for top in ("engine", "reports")
        for path in sorted((ROOT / top).rglob("*.py"))
        if ASKS_THE_SYSTEM.search(path.read_text("utf-8"))
    ]
    options = ["--config-file=", "--follow-imports=skip", "--ignore-missing-imports"]
    place = ["--platform", platform, "--cache-dir", str(tmp_path)]
    assert_finds_nothing("-m", "mypy", *options, *place, *modules)


def assert_finds_nothing(*command: str) -> None:
    done = subprocess.run(  # noqa: S603  fixed arguments
        [sys.executable, *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
