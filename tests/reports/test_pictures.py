"""Pictures of the front: read back as XML and as dots, legible, the same every time."""

import io
import shutil
import struct
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from matplotlib.image import imread

from engine.cli import main
from reports.kit.svg import FAILURES
from reports.pictures import SHAPES, SIZES, SMALL, picture
from reports.pictures import Width as Wide
from reports.run.facts import Facts, RunData, facts_of
from tests.support.starter import plain_starter

MakeRun = Callable[..., RunData]
HOSTILE = "</title><script>alert(1)</script> $\\frac{1}{2}$ & 'x'"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def facts(run_data: RunData) -> Facts:
    return facts_of(run_data)


def chunks(png: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kind and content of each part of a PNG (ISO/IEC 15948, section 5.3)."""
    place = 8
    while place < len(png):
        length, kind = struct.unpack(">I4s", png[place : place + 8])
        content = png[place + 8 : place + 8 + length]
        (check,) = struct.unpack(">I", png[place + 8 + length : place + 12 + length])
        assert check == zlib.crc32(kind + content)
        yield kind, content
        place += 12 + length


def words_of(png: bytes) -> str:
    found = []
    for kind, content in chunks(png):
        if kind == b"tEXt":
            found.append(content.replace(b"\0", b": ").decode("latin-1"))
        elif kind == b"iTXt":
            key, rest = content.split(b"\0", 1)
            found.append(f"{key.decode()}: {rest[2:].split(bytes(1), 2)[2].decode()}")
    return "\n".join(found)


def test_an_svg_is_well_formed_and_says_in_words_what_it_shows(facts: Facts) -> None:
    root = ET.fromstring(picture(facts, "svg"))  # noqa: S314  # ours
    assert root.tag == f"{SVG}svg"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert description is not None
    assert title.text == facts.title
    told = description.text or ""
    assert f"{len(facts.front['design'])} designs from" in told
    assert "Pick: " in told
    assert "seed 1" in told
    assert "no certificate" in told
    named = root.attrib["aria-labelledby"].split()
    assert [title.attrib["id"], description.attrib["id"]] == named


def test_an_svg_needs_no_font_no_script_and_no_network(facts: Facts) -> None:
    text = picture(facts, "svg").decode()
    root = ET.fromstring(text)  # noqa: S314  # ours
    tags = {str(element.tag).removeprefix(SVG) for element in root.iter()}
    assert not tags & {"script", "text", "foreignObject", "image", "a", "metadata"}
    links = [
        value
        for element in root.iter()
        for name, value in element.attrib.items()
        if name.endswith("href")
    ]
    assert links
    assert all(link.startswith("#") for link in links)
    assert "@import" not in text
    assert "url(http" not in text


@pytest.mark.parametrize("width", ["page", "column"])
def test_a_png_is_as_wide_as_the_column_and_not_blank(facts: Facts, width: Wide) -> None:
    dots = imread(io.BytesIO(picture(facts, "png", width)), format="png")
    assert dots.shape[1] / 300 * 25.4 == pytest.approx(170 if width == "page" else 85, abs=0.1)
    grey = dots[..., :3].mean(axis=2)
    assert 0.02 < (grey < 0.9).mean() < 0.4
    # Something is drawn in each quarter, and nothing is cut at an edge.
    height, breadth = (side // 2 for side in grey.shape)
    quarters = (
        grey[:height, :breadth],
        grey[:height, breadth:],
        grey[height:, :breadth],
        grey[height:, breadth:],
    )
    assert all((quarter < 0.9).any() for quarter in quarters)
    edges = np.concatenate([grey[0], grey[-1], grey[:, 0], grey[:, -1]])
    assert (edges > 0.99).all()


def test_a_png_carries_its_title_and_its_words(facts: Facts) -> None:
    told = words_of(picture(facts, "png"))
    assert f"Title: {facts.title}" in told
    assert "Description: Chart of electric power against first failure over running speed" in told
    assert "Software: swirlstack picture" in told


@pytest.mark.parametrize("form", ["svg", "png"])
def test_the_same_front_gives_the_same_bytes(facts: Facts, form: str) -> None:
    assert picture(facts, form) == picture(facts, form)  # type: ignore[arg-type]


def test_ways_of_failing_have_the_marks_of_the_pages(facts: Facts) -> None:
    marks = {mark.removeprefix("open-") for mark, _ in FAILURES.values()}
    assert marks <= set(SHAPES)
    assert len({SHAPES[mark] for mark in marks - {"ring"}}) == len(marks - {"ring"})
    legend = {
        words for mode, (_, words) in FAILURES.items() if mode in facts.front["governing_mode"]
    }
    assert len(legend) > 1


def test_letters_are_large_enough_on_paper() -> None:
    # Six points is the smallest letter that journals commonly print (common practice, no source);
    # a picture is drawn at the width of its column, so that this is its size on paper.
    assert SMALL >= 6
    assert SIZES["column"][0] * 25.4 == pytest.approx(85)


def test_hostile_text_is_text_and_no_formula(make_run: MakeRun) -> None:
    facts = facts_of(make_run(title=HOSTILE, words={"governing_mode": HOSTILE}))
    root = ET.fromstring(picture(facts, "svg"))  # noqa: S314  # ours
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text == HOSTILE
    assert not list(root.iter(f"{SVG}script"))
    assert HOSTILE in words_of(picture(facts, "png"))


@pytest.mark.parametrize(
    "aims",
    [
        {"mass_flow": "minimise", "electric_power": "maximise"},
        {"electric_power": "maximise", "mass_flow": "minimise", "safety_margin": "maximise"},
    ],
)
def test_other_aims_are_drawn_too(make_run: MakeRun, aims: dict[str, str]) -> None:
    facts = facts_of(make_run(aims=aims))
    dots = imread(io.BytesIO(picture(facts, "png", "column")), format="png")
    assert (dots[..., :3].mean(axis=2) < 0.9).mean() > 0.02


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("finished")
    for name, margin in (("bench.v2", "1.2"), ("none", "90")):
        text = plain_starter("A bench to draw").replace("designs: 20000", "designs: 300")
        text = text.replace("safety_margin: {min: 1.2}", f"safety_margin: {{min: {margin}}}")
        (folder / "told.yaml").write_text(text, encoding="utf-8")
        main(["run", str(folder / "told.yaml"), "--into", str(folder / name)])
    return folder


@pytest.fixture
def here(finished: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(finished, tmp_path / "own")
    monkeypatch.chdir(tmp_path / "own")
    return tmp_path / "own"


def test_the_command_writes_both_kinds_here(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["picture", "bench.v2"]) == 0
    assert capsys.readouterr().out.split() == ["Wrote", "bench.v2.svg", "Wrote", "bench.v2.png"]
    first = [(here / f"bench.v2.{kind}").read_bytes() for kind in ("svg", "png")]
    assert first[0].startswith(b"<?xml")
    assert first[1].startswith(b"\x89PNG")
    assert main(["picture", "bench.v2"]) == 0  # over its own
    assert [(here / f"bench.v2.{kind}").read_bytes() for kind in ("svg", "png")] == first


def test_one_file_is_named_and_no_other_is_written_over(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["picture", "bench.v2", "--output", "chart.PNG", "--width", "column"]) == 0
    assert (here / "chart.PNG").exists()
    (here / "photo.png").write_bytes(b"\x89PNG of the shop")
    assert main(["picture", "bench.v2", "--output", "photo.png"]) == 2
    assert "was not made by this command" in capsys.readouterr().err
    assert (here / "photo.png").read_bytes() == b"\x89PNG of the shop"
    assert main(["picture", "bench.v2", "--output", "chart.pdf"]) == 2
    assert "expected .svg or .png" in capsys.readouterr().err


def test_a_run_without_front_ends_with_3_and_no_run_with_4(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["picture", "none"]) == 3
    assert "there is no front to draw" in capsys.readouterr().err
    assert main(["picture", "."]) == 4
    assert not list(here.glob("*.svg"))
