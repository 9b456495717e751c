"""Several studies in one night, the history of a run, and what the report says of both."""

from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

import numpy as np
import pytest

from engine.cli import main
from engine.errors import RunFolderError
from engine.run.folder import read_front, read_state
from engine.run.read import read_history, study_of_run
from engine.search.front import hypervolume, merits
from reports.kit.quantities import count
from reports.run.make import report_of_run

QUICK = "  designs: 900"
PLAIN = (", polish, firm]", ", polish]")
"""The stages of a search alone, whose growth is what the history tells."""


def write_study(path: Path, *changes: tuple[str, str]) -> None:
    main(["new", path.stem])
    text = path.read_text(encoding="utf-8")
    for old, new in (("  designs: 20000", QUICK), PLAIN, *changes):
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, int, str, str]:
    """Four studies run in one night: one wrong, one impossible, two good; what it said."""
    path = tmp_path_factory.mktemp("night")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(path)
        write_study(Path("first.yaml"))
        write_study(Path("wrong.yaml"), (QUICK, "  desings: 900"))
        write_study(Path("none.yaml"), ("safety_margin: {min: 1.2}", "safety_margin: {min: 90}"))
        write_study(Path("last.yaml"), ("seed: 1 ", "seed: 2 "))
        with redirect_stdout(StringIO()) as said, redirect_stderr(StringIO()) as told:
            code = main(["run", "first.yaml", "wrong.yaml", "none.yaml", "last.yaml"])
    return path, code, said.getvalue(), told.getvalue()


def test_a_failure_does_not_stop_the_night_and_gives_the_exit_code(
    night: tuple[Path, int, str, str],
) -> None:
    path, code, said, told = night
    assert code == 2
    assert {run.name for run in (path / "runs").iterdir()} == {"first", "none", "last"}
    for name in ("first", "last"):
        assert read_state(path / "runs" / name)[1].state == "done"
        assert (path / "runs" / name / "report.html").exists()
    assert "wrong.yaml:" in told
    summary = " ".join(said[said.index("All studies") :].split())
    for words in ("first.yaml done 900", "wrong.yaml failed: wrong.yaml:", "none.yaml nothing"):
        assert words in summary.replace("│ ", "")


def test_one_option_for_several_studies_is_refused(
    night: tuple[Path, int, str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(night[0] / "first.yaml")
    assert main(["run", path, path, "--into", "x"]) == 2
    assert "--into: is for one study" in capsys.readouterr().err


@pytest.mark.parametrize("count", ["0", "-1", "two", "9999", "1.5"])
def test_a_number_of_workers_that_is_none_is_refused(
    count: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main(["run", "x.yaml", f"--workers={count}"])
    assert "is not a number from 1 to 1024" in capsys.readouterr().err


def test_the_history_ends_at_the_front_that_is_stored(night: tuple[Path, int, str, str]) -> None:
    run = night[0] / "runs" / "first"
    history, front = read_history(str(run)), read_front(run)
    rows = history.rows
    assert rows["designs"][-1] == 900
    assert rows["front"][-1] == len(front["design"])
    assert rows["electric_power"][-1] == front["electric_power"].max()
    assert rows["safety_margin"][-1] == front["safety_margin"].max()
    reference = np.array([history.reference[key] for key in ("electric_power", "safety_margin")])
    study, _ = study_of_run(run)
    expected = hypervolume(merits(front, study.aims), reference)
    assert rows["hypervolume"][-1] == pytest.approx(expected, rel=1e-12)
    for key in ("designs", "hypervolume", "electric_power", "safety_margin", "seconds"):
        assert (np.diff(rows[key]) >= 0).all()
    assert set(rows["stage"]) <= {"screen", "evolve", "polish"}


def test_a_run_without_feasible_design_has_a_history_without_front(
    night: tuple[Path, int, str, str],
) -> None:
    run = night[0] / "runs" / "none"
    history = read_history(run)
    assert history.reference == {}
    assert (history.rows["front"] == 0).all()
    assert np.isnan(history.rows["electric_power"]).all()
    page = report_of_run(run)
    assert "How the front grew" not in page
    assert "None of the 900 builds meets every limit" in page


def test_the_report_tells_how_the_front_grew(night: tuple[Path, int, str, str]) -> None:
    page = (night[0] / "runs" / "first" / "report.html").read_text(encoding="utf-8")
    assert "How the front grew" in page
    assert 'aria-label="The front had 90 %' in page


def test_a_sampled_report_counts_every_design(
    night: tuple[Path, int, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    run = night[0] / "runs" / "first"
    counted = report_of_run(run)
    monkeypatch.setattr("reports.run.make.SAMPLE", 100)
    sampled = report_of_run(run)
    cells = counted[counted.index('<dl class="title-block">') :].split("</dl>")[0]
    assert f"{count(read_state(run)[1].designs)} builds" in cells
    assert cells in sampled


def test_the_report_of_a_run_of_another_model_is_refused(
    night: tuple[Path, int, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("reports.run.make.MODEL_VERSION", 10**6)
    with pytest.raises(RunFolderError, match=r"was made by model version .* run its study again"):
        report_of_run(night[0] / "runs" / "first")
