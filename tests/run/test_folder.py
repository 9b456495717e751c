import errno
import json
import os
import re
import shutil
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from engine import files
from engine.columns import BY_NAME, COLUMNS, Results
from engine.errors import DamagedError, RunFolderError, StorageError
from engine.run import folder
from engine.run.folder import Part, claimed, run_name
from engine.run.parquet import stored
from engine.run.state import Provenance, RunState
from engine.study.reader import study_text_hash

RPM = 2 * np.pi / 60
ABOUT = Provenance("Bench", "a" * 64, 1, 1)


def results(n_designs: int = 3, first: int = 1) -> Results:
    return {
        "design": np.arange(first, first + n_designs) * 1.0,
        "disc_count": np.full(n_designs, 14.0),
        "gap": np.linspace(0.1e-3, 0.3e-3, n_designs),
        "speed": np.full(n_designs, 12_500 * RPM),
        "material": np.full(n_designs, "stainless-304"),
        "exhaust_temperature": np.full(n_designs, 280.0),
        "electric_power": np.where(np.arange(n_designs) == 1, np.nan, 80.0 / 3),
        "wave_nodal_diameters": np.where(np.arange(n_designs) == 1, np.nan, 2.0),
        "status": np.where(np.arange(n_designs) == 1, "no flow", "matched"),
    }


def make(path: Path, parts: int = 2) -> Path:
    with claimed(path, "title: Bench\n", ABOUT) as held:
        for number in range(parts):
            held.write_part(Part(results(first=1 + 3 * number), {"generation": number}, {}))
        held.write_table(folder.FRONT, results())
    return path


def part(path: Path, number: int = 0) -> Path:
    return path / "designs" / f"part-{number:06d}.parquet"


def claim(path: Path, about: Provenance = ABOUT) -> list[Part]:
    with claimed(path, "title: Bench\n", about) as held:
        return [held.part(number) for number in range(held.n_parts)]


def test_a_file_carries_drawing_units_types_and_what_each_column_means(tmp_path: Path) -> None:
    table = pq.read_table(part(make(tmp_path / "run")))
    assert table.column_names[:3] == ["disc_count", "gap_mm", "speed_rpm"]
    assert table["gap_mm"].to_pylist() == [0.1, 0.2, 0.3]
    assert table["speed_rpm"].to_pylist() == [12_500.0] * 3
    assert table["exhaust_temperature_degC"].to_pylist() == [6.85] * 3
    types = {name: str(table.schema.field(name).type) for name in table.column_names}
    assert types["disc_count"] == "int64"
    assert types["gap_mm"] == "double"
    assert types["material"] == "dictionary<values=string, indices=int32, ordered=0>"
    assert table["wave_nodal_diameters"].to_pylist() == [2, None, 2]
    for name in table.column_names:
        notes = {k.decode(): v.decode() for k, v in table.schema.field(name).metadata.items()}
        column = BY_NAME[name]
        assert notes["unit"] == column.unit.symbol
        assert notes["description"] == column.meaning
        assert notes["label"] == column.label
    about = {k.decode(): v.decode() for k, v in table.schema.metadata.items()}
    assert about["study_hash"] == "a" * 64
    assert about["title"] == "Bench"
    assert (about["seed"], about["model_version"]) == ("1", "1")
    assert set(json.loads(about["versions"])) >= {
        "swirlstack",
        "python",
        "numpy",
        "optuna",
        "pyarrow",
        "SALib",
    }


def test_every_column_can_be_stored_and_read_back(tmp_path: Path) -> None:
    generator = np.random.default_rng(0)
    given = {
        key: np.array(["x", "yé", ""])
        if column.is_text
        else column.to_si(generator.integers(1, 9, 3).astype(float))
        for key, column in COLUMNS.items()
    }
    with claimed(tmp_path / "run", "", ABOUT) as held:
        held.write_part(Part(given, {}, {}))
    read = folder.read_designs(tmp_path / "run")
    assert list(read) == list(COLUMNS)
    for key, values in given.items():
        if COLUMNS[key].is_text:
            assert read[key].tolist() == values.tolist()
        else:
            np.testing.assert_allclose(read[key], values, rtol=1e-11)


def test_values_are_read_back_exactly_as_stored_gives_them(tmp_path: Path) -> None:
    values = np.random.default_rng(1).normal(size=3000) * 10.0 ** (np.arange(3000) % 19 - 9)
    given = dict.fromkeys(("gap", "speed", "electric_power"), values)
    given["exhaust_temperature"] = 273.15 + values  # down to a billionth of a degree from 0 °C
    once = stored(given)
    again = stored(once)
    with claimed(tmp_path / "run", "", ABOUT) as held:
        held.write_part(Part(given, {}, {}))
        held.write_table(folder.FRONT, once)
    read, front = folder.read_designs(tmp_path / "run"), folder.read_front(tmp_path / "run")
    for key in given:
        np.testing.assert_array_equal(once[key], again[key])
        np.testing.assert_array_equal(once[key], read[key])
        np.testing.assert_array_equal(once[key], front[key])
    designs, front_frame = (
        folder.read_frame(tmp_path / "run", name) for name in ("designs", folder.FRONT)
    )
    np.testing.assert_array_equal(designs, front_frame)
    np.testing.assert_allclose(once["gap"], values, rtol=1e-11)


@pytest.mark.parametrize("value", [0.0, -0.3e-3, np.inf, -np.inf, 1e-320, 1e300, -1e300])
def test_extreme_numbers_are_stored(value: float) -> None:
    assert stored({"gap": np.array([value])})["gap"][0] == pytest.approx(value, abs=1e-300)


def test_a_notebook_gets_a_frame_in_drawing_units(tmp_path: Path) -> None:
    frame = folder.read_frame(make(tmp_path / "run"), "designs")
    assert frame["gap_mm"].tolist() == [0.1, 0.2, 0.3] * 2
    assert frame["material"].tolist() == ["stainless-304"] * 6
    assert folder.read_frame(tmp_path / "run").shape[0] == 3


def test_only_chosen_columns_are_read(tmp_path: Path) -> None:
    read = folder.read_designs(make(tmp_path / "run"), ["speed", "status"])
    assert set(read) == {"speed", "status"}
    assert len(read["speed"]) == 6


def test_a_run_without_a_front_gives_an_empty_table(tmp_path: Path) -> None:
    assert folder.read_front(make(tmp_path / "run"), folder.CLOSEST) == {}


def test_the_state_is_read_back_complete(tmp_path: Path) -> None:
    state = RunState(state="interrupted", budget=9, designs=3, limits_met={"bore_wall": 2})
    with claimed(tmp_path / "run", "title: Bench\n", ABOUT) as held:
        held.write_state(state)
    assert folder.read_state(tmp_path / "run") == (ABOUT, state)
    assert (tmp_path / "run" / "study.yaml").read_text() == "title: Bench\n"
    with claimed(tmp_path / "run", "other text", ABOUT) as held:
        assert held.state == state
    assert (tmp_path / "run" / "study.yaml").read_text() == "title: Bench\n"


@pytest.mark.parametrize(
    ("study", "name"),
    [
        ("studies/lane-workshop.yaml", "lane-workshop"),
        ("Hof Süd 2.yml", "Hof Süd 2"),
        ("../..yaml", "study"),
        ("...", "study"),
        (".hidden.yaml", "hidden"),
        ("a:b*c|d.yaml", "a_b_c_d"),
        ("x\x00y\n.yaml", "x_y_"),
        ("x" * 300 + ".yaml", "x" * 80),
        ("trailing . .yaml", "trailing"),
        ("a\\..\\b.yaml", "a_.._b"),
    ],
)
def test_a_run_is_named_after_its_study_and_stays_inside(study: str, name: str) -> None:
    made = run_name(Path(study))
    assert made == name.strip("_") if name == "x_y_" else made == name
    assert Path("runs", made).resolve().parent == Path("runs").resolve()


def test_a_second_claim_is_refused_until_the_first_ends(tmp_path: Path) -> None:
    in_use = pytest.raises(RunFolderError, match="run: is in use by another process; wait")
    with claimed(tmp_path / "run", "", ABOUT), in_use:
        claim(tmp_path / "run")
    assert claim(tmp_path / "run") == []


def test_the_folder_of_another_study_is_refused(tmp_path: Path) -> None:
    make(tmp_path / "run")
    other = Provenance("Other", "b" * 64, 1, 1)
    with pytest.raises(RunFolderError, match=r"belongs to another study, 'Bench'.*rename"):
        claim(tmp_path / "run", other)


def test_the_folder_of_another_model_version_is_refused(tmp_path: Path) -> None:
    make(tmp_path / "run")
    newer = Provenance("Bench", "a" * 64, 1, 2)
    with pytest.raises(RunFolderError, match="by model version 1, but this is version 2"):
        claim(tmp_path / "run", newer)


def test_a_folder_not_made_by_a_run_is_refused_and_left_unchanged(tmp_path: Path) -> None:
    (tmp_path / "letters.txt").write_text("dear")
    with pytest.raises(
        RunFolderError, match=r"is not a run folder: it contains letters\.txt; choose"
    ):
        claim(tmp_path)
    assert [entry.name for entry in tmp_path.iterdir()] == ["letters.txt"]


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "run").write_text("no folder")
    with pytest.raises(RunFolderError, match="run: is a file where the run folder should be"):
        claim(tmp_path / "run")


def test_an_unknown_file_among_the_parts_is_named(tmp_path: Path) -> None:
    make(tmp_path / "run")
    shutil.copy(part(tmp_path / "run"), tmp_path / "run" / "designs" / "zz.parquet")
    with pytest.raises(RunFolderError, match=r"zz\.parquet: is not part of this run; move it to"):
        claim(tmp_path / "run")


def test_a_missing_part_is_named(tmp_path: Path) -> None:
    part(make(tmp_path / "run", parts=3), 1).unlink()
    with pytest.raises(DamagedError, match=r"part-000001\.parquet: cannot be read \(no such"):
        claim(tmp_path / "run")


@pytest.mark.parametrize("how", ["cut", "flipped", "empty"])
def test_a_damaged_part_is_named(tmp_path: Path, how: str) -> None:
    path = part(make(tmp_path / "run"), 1)
    content = bytearray(path.read_bytes())
    if how == "flipped":
        content[200] ^= 0xFF
    path.write_bytes(content[: {"cut": -40, "flipped": None, "empty": 0}[how]])
    message = r"part-000001\.parquet: cannot be read \(.*\); give the command"
    with pytest.raises(DamagedError, match=message):
        claim(tmp_path / "run")
    with pytest.raises(RunFolderError, match=message):
        folder.read_designs(tmp_path / "run")


def test_a_part_of_another_run_is_named(tmp_path: Path) -> None:
    make(tmp_path / "run")
    with claimed(tmp_path / "other", "", Provenance("Other", "b" * 64, 1, 1)) as held:
        held.write_part(Part(results(), {}, {}))
    shutil.copy(part(tmp_path / "other"), part(tmp_path / "run", 1))
    with pytest.raises(RunFolderError, match=r"part-000001\.parquet: belongs to another run"):
        claim(tmp_path / "run")


STATES = ["", "{", "[]", '{"title": "x"}', "\x00", None]


@pytest.mark.parametrize("content", STATES)
def test_a_damaged_or_missing_state_is_made_again_from_the_parts_of_the_same_study(
    tmp_path: Path, content: str | None
) -> None:
    path = make(tmp_path / "run") / "run.json"
    path.unlink() if content is None else path.write_text(content)
    with pytest.raises(
        RunFolderError, match=r"run\.json(: is damaged or was changed; give| is missing)"
    ):
        folder.read_designs(tmp_path / "run")
    same = Provenance("Bench", study_text_hash("title: Bench\n"), 1, 1)
    with pytest.raises(RunFolderError, match=r"part-000000\.parquet: belongs to another run"):
        claim(tmp_path / "run", same)


@pytest.mark.parametrize("content", STATES)
def test_a_damaged_or_missing_state_of_another_study_is_named(
    tmp_path: Path, content: str | None
) -> None:
    path = make(tmp_path / "run") / "run.json"
    path.unlink() if content is None else path.write_text(content)
    (tmp_path / "run" / "study.yaml").write_text("title: Other")
    with pytest.raises(
        RunFolderError, match=r"run\.json(: is damaged or was changed; give| is missing)"
    ):
        claim(tmp_path / "run", Provenance("Other", "b" * 64, 1, 1))


def test_an_even_sample_of_a_long_run_is_read(tmp_path: Path) -> None:
    path = make(tmp_path / "run", parts=5)
    assert folder.read_designs(path, ["design"], most=5)["design"].tolist() == [1, 4, 7, 10, 13]
    assert folder.read_designs(path, ["design"], most=4)["design"].tolist() == [1, 5, 9, 13]
    assert len(folder.read_designs(str(path), ["design"], most=15)["design"]) == 15


def test_a_run_killed_right_after_its_start_is_continued(tmp_path: Path) -> None:
    (tmp_path / "run" / "designs").mkdir(parents=True)
    (tmp_path / "run" / "study.yaml").write_text("title: Be")
    (tmp_path / "run" / ".run.json.tmp").write_text("{")
    claim(tmp_path / "run")
    assert (tmp_path / "run" / "study.yaml").read_text() == "title: Bench\n"
    assert not (tmp_path / "run" / ".run.json.tmp").exists()


def test_a_partial_temporary_file_is_deleted(tmp_path: Path) -> None:
    make(tmp_path / "run")
    torn = tmp_path / "run" / "designs" / ".part-000002.parquet.tmp"
    torn.write_bytes(part(tmp_path / "run").read_bytes()[:100])
    assert len(claim(tmp_path / "run")) == 2
    assert not torn.exists()


@pytest.mark.parametrize("what", ["designs", "study.yaml", "designs/part-000001.parquet", ""])
def test_links_are_refused(tmp_path: Path, what: str) -> None:
    make(tmp_path / "run")
    place, kept = tmp_path / "run" / what, tmp_path / "kept"
    (tmp_path / "run" / what).rename(kept)
    place.parent.mkdir(exist_ok=True)
    place.symlink_to(kept)
    with pytest.raises(RunFolderError, match=re.escape(f"{place}: is a link")):
        claim(tmp_path / "run")


def test_a_link_in_place_of_a_temporary_file_is_not_followed(tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("precious")
    (tmp_path / ".front.txt.tmp").symlink_to(victim)
    files.write_whole(tmp_path / "front.txt", b"new")
    assert victim.read_text() == "precious"
    assert (tmp_path / "front.txt").read_text() == "new"


def test_a_hard_link_in_place_of_a_file_is_replaced_not_written(tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("precious")
    for name in ("front.txt", ".front.txt.tmp"):
        (tmp_path / name).hardlink_to(victim)
    files.write_whole(tmp_path / "front.txt", b"new")
    assert victim.read_text() == "precious"
    assert (tmp_path / "front.txt").read_text() == "new"


@pytest.mark.parametrize("step", ["open", "fsync", "replace"])
def test_a_full_disk_leaves_the_old_file_and_no_partial_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    path = tmp_path / "front.parquet"
    path.write_bytes(b"old")

    def fail(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path if step == "replace" else os, step, fail)
    message = r"front\.parquet: could not be written \(no space left on device\); free some space"
    with pytest.raises(StorageError, match=message):
        files.write_whole(path, b"new")
    monkeypatch.undo()
    assert [entry.name for entry in tmp_path.iterdir()] == ["front.parquet"]
    assert path.read_bytes() == b"old"


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match=r"run: could not be written \(not a directory\)"):
        claim(tmp_path / "file" / "run")


def test_a_page_is_written_complete(tmp_path: Path) -> None:
    make(tmp_path / "run")
    path = folder.write_text(tmp_path / "run", folder.REPORT, "<p>µ</p>")
    assert path.read_bytes() == "<p>µ</p>".encode()
