"""`import swirlstack` as users have it: from both kinds of installation, beside any file."""

import inspect
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from engine import face
from engine.run.folder import FRONT
from tests.support.places import ROOT

KEPT = "__pycache__"
STUDY = """\
title: A stack beside files of the same names
supply: {fluid: air, pressure: 5 bar gauge, temperature: 20 degC}
ranges:
  disc_count: {min: 8, max: 24}
  disc_diameter: {min: 100 mm, max: 150 mm}
  gap: {min: 0.2 mm, max: 0.5 mm}
  inlet_angle: {min: 8 deg, max: 20 deg}
  exhaust_bore: {min: 30 mm, max: 50 mm}
  speed: {min: 5000 rpm, max: 20000 rpm}
search: {designs: 64, generation: 64}
uncertainty: {samples: 16}
"""
IMPORT = """\
import sys
path = list(sys.path)
import swirlstack as sw
assert sys.path == path
import engine, reports
print(*engine.__path__, *reports.__path__)
"""
POINT = """\
study = sw.load_study("study.yaml")
values = ["disc_count=12", "disc_diameter=120mm", "gap=0.3mm", "inlet_angle=12deg"]
print(sw.point(study, [*values, "exhaust_bore=40mm", "speed=15000rpm"]).results["status"][0])
"""
# With no guard against running twice: a worker must not run the user's script.
RUN = """\
outcome = sw.run("study.yaml", sys.argv[-1], workers=2)
print(outcome.state.state, outcome.state.designs)
"""
HEAVY = ("pandas", "matplotlib", "optuna", "dask", "distributed", "SALib")
WHEEL: Mapping[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"][
    "hatch"
]["build"]["targets"]["wheel"]


def plain(site: Path) -> list[Path]:
    """Lay out what the wheel holds; give where Python is to look for modules."""
    for package in WHEEL["packages"]:
        shutil.copytree(ROOT / package, site / package, ignore=shutil.ignore_patterns(KEPT))
    lay_beside(site)
    return [site]


def editable(site: Path) -> list[Path]:
    """Lay out what an editable installation holds; the checkout is behind it on the path."""
    lay_beside(site)
    return [site, ROOT]


def lay_beside(site: Path) -> None:
    """Copy what the wheel puts elsewhere, as an editable installation does too."""
    for source, target in WHEEL["force-include"].items():
        (site / target).parent.mkdir(parents=True, exist_ok=True)
        copy = shutil.copytree if (ROOT / source).is_dir() else shutil.copyfile
        copy(ROOT / source, site / target)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Make a user's folder with a study and with files that bear the names of our packages."""
    made = tmp_path / "workshop"
    made.mkdir()
    (made / "study.yaml").write_text(STUDY, encoding="utf-8")
    for name in ("engine", "reports"):
        (made / f"{name}.py").write_text("raise SystemExit('the file of the user')\n", "utf-8")
    return made


def start(
    command: Sequence[str], folder: Path, path: Sequence[Path], given: str = os.devnull
) -> "subprocess.Popen[str]":
    """Start Python in a folder, with places to look for modules and a file as its input."""
    with Path(folder, given).open(encoding="utf-8") as text:
        return subprocess.Popen(  # noqa: S603  fixed arguments
            [sys.executable, *command],
            cwd=folder,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(map(str, path))},
            stdin=text,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )


def told(process: "subprocess.Popen[str]") -> list[str]:
    """Wait for the end; give the lines that were printed."""
    output, errors = process.communicate()
    assert process.returncode == 0, errors
    return output.splitlines()


@pytest.mark.parametrize("lay_out", [editable, plain], ids=["editable", "plain"])
def test_an_installation_runs_a_study_beside_files_of_the_same_names(
    tmp_path: Path, folder: Path, lay_out: Callable[[Path], list[Path]]
) -> None:
    path = lay_out(tmp_path / "site")
    (folder / "night.py").write_text(IMPORT + POINT + RUN, encoding="utf-8")
    places, status, ended = told(start(["night.py", "run"], folder, path))
    assert places.split() == [str(path[-1] / name) for name in ("engine", "reports")]
    assert status == "matched"
    assert ended == "done 64"
    assert (folder / "run" / FRONT).exists()


def test_a_command_and_standard_input_start_workers_as_a_script_does(
    tmp_path: Path, folder: Path
) -> None:
    path = editable(tmp_path / "site")
    (folder / "night.py").write_text(IMPORT + RUN, encoding="utf-8")
    both = (
        start(["-c", IMPORT + RUN, "by-command"], folder, path),
        start(["-", "by-input"], folder, path, "night.py"),  # as in a notebook: no file is run
    )
    for process in both:
        places, ended = told(process)
        assert places.split() == [str(ROOT / name) for name in ("engine", "reports")]
        assert ended == "done 64"


def test_importing_loads_no_library_that_only_some_calls_need(tmp_path: Path) -> None:
    code = f"import sys, swirlstack; print(*[name for name in {HEAVY} if name in sys.modules])"
    assert told(start(["-c", code], tmp_path, editable(tmp_path / "site"))) == [""]


def test_another_module_with_our_name_that_is_already_loaded_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path, theirs = list(sys.path), ModuleType("engine")
    theirs.__file__ = "/home/workshop/engine.py"
    monkeypatch.setitem(sys.modules, "engine", theirs)
    message = r"a module called engine is loaded already, from /home/workshop/engine\.py, and hides"
    with pytest.raises(ImportError, match=message):
        face._load_our_packages()
    assert sys.path == path


def test_our_packages_are_recognised_under_another_spelling_of_their_path(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr(sys, "path", ["", *sys.path])
    path = list(sys.path)
    face._load_our_packages()
    assert sys.path == path


def test_an_incomplete_installation_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(face, "__file__", str(tmp_path / "swirlstack.py"))
    monkeypatch.setattr(sys, "path", [str(tmp_path)])
    with pytest.raises(ImportError, match="are not where they were installed; install it again"):
        face._load_our_packages()


@pytest.mark.parametrize("name", sorted(set(face.__all__) - {"__version__"}))
def test_every_public_name_has_a_docstring(name: str) -> None:
    text = inspect.getdoc(getattr(face, name)) or ""
    assert re.search(r"\w", text)
    assert not text.startswith(f"{name}("), "a signature is no explanation"


def test_the_version_is_public() -> None:
    assert "__version__" in face.__all__
    assert re.fullmatch(r"\d+\.\d+\.\d+", face.__version__)
