"""What DEVELOPERS.md and the packages say of the code is true of the code."""

import ast
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.support.places import ROOT

MOST_BYTES = 9000
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
CODE = {
    path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8")
    for folder in ("engine", "reports", "tests")
    for path in sorted((ROOT / folder).rglob("*.py"))
    if path != Path(__file__)
}
PACKAGES = {name: text for name, text in CODE.items() if name.endswith("/__init__.py")}
WRITTEN = PACKAGES | {
    "DEVELOPERS.md": TEXT,
    "engine/model/version.py": CODE["engine/model/version.py"],
}
"""Texts that tell of the code, by file."""
_READ = [*CODE, *(CODE[name] for name in CODE.keys() - PACKAGES.keys())]
_READ.append((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
KNOWN = set(re.findall(r"\w+", " ".join(_READ)))
"""Every word of the code, and what its modules and folders are called."""
NAMES = re.compile(r"[A-Za-z_][\w.]*")


def quoted(text: str) -> list[str]:
    """What stands between backticks, without the fences of blocks."""
    return [" ".join(each.split()) for each in re.findall(r"`([^`]+)`", text.replace("```", ""))]


def test_developers_md_is_short_enough_to_be_read() -> None:
    assert len(TEXT.encode()) <= MOST_BYTES


@pytest.mark.parametrize("text", WRITTEN.values(), ids=WRITTEN)
def test_every_file_that_is_named_exists(text: str) -> None:
    told = " ".join(quoted(text)) if text == TEXT else text
    named = re.findall(r"\b(?:engine|reports|tests|shared|studies)/[\w/.-]*\w", told)
    named += [
        name.replace(".", "/") for name in re.findall(r"\b(?:engine|reports)(?:\.\w+)+", told)
    ]
    gone = [name for name in named if not (ROOT / name).exists() and f"{name}.py" not in CODE]
    assert gone == []


@pytest.mark.parametrize("text", WRITTEN.values(), ids=WRITTEN)
def test_every_name_that_is_quoted_stands_in_the_code(text: str) -> None:
    names = [name for name in quoted(text) if NAMES.fullmatch(name)]
    assert [name for name in names if not set(name.split(".")) <= KNOWN] == []


def test_every_function_stands_in_the_file_beside_which_it_is_named() -> None:
    path = r"((?:engine|reports|tests)/[\w/]+\.py)"
    pairs = re.findall(rf"`([\w.]+)` (?:in |\()`{path}`", TEXT)
    assert len(pairs) >= 25
    for name, file in pairs:
        own = name.split(".")[-1]
        assert re.search(rf"^ *(def|class) {own}\b|^{own}\b.* = ", CODE[file], re.MULTILINE), name


def test_the_picture_shows_the_layers_of_the_contract() -> None:
    contracts = {each["id"]: each for each in PROJECT["tool"]["importlinter"]["contracts"]}
    picture = TEXT.split("```")[1].strip().splitlines()
    shown = [re.split(r" {2,}", line)[0] for line in picture]
    assert shown == contracts["flow"]["layers"]
    for name in ("physics", "pages"):
        assert " > ".join(contracts[name]["layers"]) in TEXT


def test_every_library_has_its_reason() -> None:
    project = PROJECT["project"]
    needed = [*project["dependencies"]]
    for extra in project["optional-dependencies"].values():
        needed += extra
    names = {re.split(r"[\[>=]", each)[0] for each in needed} - {project["name"]}
    table = TEXT.split("## Libraries\n", 1)[1]
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \|$", table, re.MULTILINE)[1:]
    told = [name for row, _ in rows for name in row.split(", ")]
    assert sorted(told, key=str.lower) == sorted(names, key=str.lower)
    assert all(len(reason.split()) > 1 for _, reason in rows)


@pytest.mark.parametrize("text", PACKAGES.values(), ids=PACKAGES)
def test_a_package_says_what_it_answers_and_imports_nothing(text: str) -> None:
    tree = ast.parse(text)
    first = (ast.get_docstring(tree) or "").partition("\n")[0]
    assert first.endswith(".")
    for node in tree.body[1:]:
        assert isinstance(node, ast.Assign), "a check would load it"
