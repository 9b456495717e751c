"""`swirlstack build` as a user gives it, and what it leaves in the run folder."""

import json
import shutil
from pathlib import Path

import pytest

from engine.cli import main
from engine.columns import COLUMNS
from engine.errors import StorageError
from engine.run.chosen import row_named
from engine.run.folder import read_front, read_state, write_build
from engine.run.launch import run_study
from engine.run.pick import picks_of
from engine.run.read import study_of_run
from engine.run.seals import sealed_text
from tests.support.starter import plain_starter

FLAT = (
    *("disc", "spacer", "end-clamp", "nozzle-plate", "supply-ring", "side-ring"),
    *("supply-plate", "end-plate", "free-end-plate", "drive-end-plate"),
    "generator-plate",
)
TURNED = ("shaft", "collar", "sleeve", "free-end-carrier", "drive-end-carrier", "distance-tube")
WHOLE = (
    *("general-arrangement", "view-from-the-drive", "parts-list", "parts-list-2"),
    *("exploded-view", "exploded-view-2", "nozzle"),
)
LISTS = ("order", "turned", "bought", "parts")
FILES = sorted(
    ["sheet.html", "drawings.pdf", "machine.step"]
    + [f"{name}.csv" for name in LISTS]
    + [f"{part}.{end}" for part in FLAT for end in ("dxf", "svg")]
    + [f"{part}.{end}" for part in TURNED for end in ("step", "svg")]
    + [f"{sheet}.svg" for sheet in WHOLE]
)


def run_of(folder: Path, *changes: tuple[str, str]) -> Path:
    text = plain_starter("A bench for trying commands")
    for old, new in (("designs: 20000", "designs: 300"), *changes):
        assert old in text
        text = text.replace(old, new)
    study = folder / "bench.yaml"
    study.write_text(text, encoding="utf-8")
    main(["run", str(study), "--into", str(folder / "bench")])
    return folder / "bench"


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run_of(tmp_path_factory.mktemp("finished"))


@pytest.fixture
def run(finished: Path, tmp_path: Path) -> Path:
    shutil.copytree(finished.parent, tmp_path / "own")
    return tmp_path / "own" / "bench"


def most(run: Path) -> int:
    front = read_front(run)
    picks = picks_of(study_of_run(run)[0], front)
    assert picks is not None
    return int(front["design"][picks.rows["most"]])


def test_a_marked_design_gets_its_sheet_and_the_run_goes_on(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    design = most(run)
    assert main(["build", str(run), "A", "--paper", "A3"]) == 0
    told = "".join(capsys.readouterr().out.split())
    assert f"build-{design}/sheet.html" in told
    assert "Containment" in told
    assert sorted(entry.name for entry in (run / f"build-{design}").iterdir()) == FILES
    page = (run / f"build-{design}" / "sheet.html").read_text(encoding="utf-8")
    assert f"Build sheet {design}: A bench for trying commands" in page
    # The page is for A4, the drawings' files for what was asked.
    assert page.count('width="180mm"') == len([name for name in FILES if name.endswith(".svg")])
    assert 'width="390mm"' in (run / f"build-{design}" / "shaft.svg").read_text(encoding="utf-8")
    assert read_state(run)[0].study_hash[:16] in page
    front = (run / "front.parquet").read_bytes()
    assert run_study(run.parent / "bench.yaml", run).state.state == "done"
    assert (run / "front.parquet").read_bytes() == front


def test_build_and_point_take_the_pick_and_the_builds_beside_it(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study, front = study_of_run(run)[0], read_front(run)
    picks = picks_of(study, front)
    assert picks is not None
    numbers = {role: int(front["design"][row]) for role, row in picks.rows.items()}
    assert main(["build", str(run)]) == 0
    assert f"build-{numbers['pick']}/" in "".join(capsys.readouterr().out.split())
    assert row_named(run, "Calmest", study, front) == picks.rows["calmest"]
    assert main(["point", str(run), "calmer", "--json"]) == 0
    point = json.loads(capsys.readouterr().out)
    row = picks.rows["calmer"]
    for key in ("electric_power", "safety_margin_p10", "peak_ratio"):
        found, column = point[COLUMNS[key].name], COLUMNS[key]
        assert found == pytest.approx(float(column.to_drawing(front[key][row])), rel=1e-6), key
    assert main(["point", str(run), "speed=5000rpm", "--json"]) == 0
    changed = json.loads(capsys.readouterr().out)
    assert changed["speed_rpm"] == pytest.approx(5000)
    assert changed["disc_count"] == front["disc_count"][picks.rows["pick"]]
    assert main(["point", str(run), "foo"]) == 2
    assert "calmest" in capsys.readouterr().err


def test_the_end_of_a_run_names_the_pick(run: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", str(run.parent / "bench.yaml"), "--into", str(run)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    picks = picks_of(study_of_run(run)[0], read_front(run))
    assert picks is not None
    assert ("The pick, whose metal limits hold in nine of ten: design" in told) == picks.holds
    assert f"design {int(read_front(run)['design'][picks.rows['pick']])}, " in told


@pytest.mark.parametrize("design", ["0", "999999", "Z", "", "-3", "²"])
def test_an_unknown_design_ends_with_2_and_names_those_on_the_front(
    run: Path, design: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["build", str(run), "--", design]) == 2
    told = capsys.readouterr().err
    assert "is not on the front" in told
    numbers = read_front(run)["design"].astype(int)
    assert str(numbers.max() if design == "999999" else numbers.min()) in told
    assert "most" in told
    assert not list(run.glob("build-*"))


def test_no_run_folder_ends_with_4(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["build", str(tmp_path), "A"]) == 4
    assert "is not a run folder" in capsys.readouterr().err


def test_a_run_without_front_ends_with_4_and_says_how_to_go_on(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (run / "front.parquet").unlink()
    state = json.loads((run / "run.json").read_text(encoding="utf-8"))
    (run / "run.json").write_text(sealed_text(state | {"state": "running"}), encoding="utf-8")
    assert main(["build", str(run), "A"]) == 4
    assert "has no front yet" in capsys.readouterr().err


def test_a_run_of_another_model_ends_with_4(run: Path, capsys: pytest.CaptureFixture[str]) -> None:
    state = json.loads((run / "run.json").read_text(encoding="utf-8"))
    (run / "run.json").write_text(sealed_text(state | {"model_version": 0}), encoding="utf-8")
    assert main(["build", str(run), "A"]) == 4
    assert "was made by model version 0" in capsys.readouterr().err


def test_nothing_feasible_ends_with_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run = run_of(tmp_path, ("safety_margin: {min: 1.2}", "safety_margin: {min: 90}"))
    assert main(["build", str(run), "A"]) == 3
    assert "no design of this run meets every limit" in capsys.readouterr().err


def test_a_web_that_cannot_be_cut_ends_with_2_and_names_the_shares_that_can(
    run: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("reports.design.outlines.LEAST_SPOKE", 12.0)
    assert main(["build", str(run), "A"]) == 2
    told = capsys.readouterr().err
    assert "exhaust_blockage: with 25.0" in told
    assert "no hub with 3 spokes fits" in told
    assert not list(run.glob("build-*"))


def test_a_new_sheet_replaces_the_old_one(run: Path) -> None:
    write_build(run, 7, {"sheet.html": "old", "disc.svg": "old"})
    folder = write_build(run, 7, {"sheet.html": "new", "disc.svg": "new"})
    assert [path.read_text() for path in sorted(folder.iterdir())] == ["new", "new"]
    assert not list(run.glob(".*.tmp"))


def test_a_file_put_beside_a_sheet_is_not_lost(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = run / f"build-{most(run)}"
    folder.mkdir()
    (folder / "signed.pdf").write_text("signed")
    assert main(["build", str(run), "most"]) == 4
    assert "signed.pdf: is not part of this sheet" in capsys.readouterr().err
    assert [entry.name for entry in folder.iterdir()] == ["signed.pdf"]


def test_a_sheet_that_cannot_be_written_leaves_the_old_one_whole(
    run: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_build(run, 7, {"sheet.html": "old"})

    def refuse(path: Path, target: Path) -> None:
        if path.name.endswith(".new.tmp"):
            raise OSError(28, "No space left on device")
        path.replace(target)

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(StorageError, match="could not be written"):
        write_build(run, 7, {"sheet.html": "new"})
    assert (folder / "sheet.html").read_text() == "old"
    assert not list(run.glob(".*.tmp"))


def test_a_killed_writer_of_a_sheet_stops_no_run(run: Path) -> None:
    left = run / ".build-7.new.tmp"
    left.mkdir()
    (left / "sheet.html").write_text("half")
    assert run_study(run.parent / "bench.yaml", run).state.state == "done"
    assert not left.exists()


def test_a_sheet_alone_does_not_make_a_folder_somebody_elses(run: Path) -> None:
    write_build(run, 7, {"sheet.html": "old"})
    shutil.rmtree(run / "designs")
    (run / "run.json").unlink()
    assert run_study(run.parent / "bench.yaml", run).state.state == "done"
    assert (run / "build-7" / "sheet.html").exists()
