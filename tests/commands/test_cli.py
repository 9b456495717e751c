"""Each command as a user gives it, and the code it ends with."""

import ast
import gc
import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from engine.cli import main
from engine.columns import BY_NAME, COLUMNS
from engine.errors import INTERRUPTED
from engine.model.evaluation import evaluate
from engine.model.limits import violations, with_standing
from engine.run.folder import read_frame, read_front
from engine.study.reader import parse_overrides, read_study
from tests.support.places import ROOT
from tests.support.starter import plain_starter
from tests.support.waiting import PATIENCE, wait_until

BUILD = [
    "disc_count=10",
    "disc_diameter=100mm",
    "gap=0.3mm",
    "inlet_angle=10deg",
    "exhaust_bore=40mm",
    "speed=12000rpm",
]


def study_with(tmp_path: Path, *changes: tuple[str, str], name: str = "bench.yaml") -> Path:
    text = plain_starter("A bench for trying commands")
    for old, new in (("designs: 20000", "designs: 300"), *changes):
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return study_with(tmp_path)


def test_new_writes_a_study_that_check_accepts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new", "Hayloft turbine"]) == 0
    assert main(["check", "Hayloft turbine.yaml"]) == 0
    told = capsys.readouterr().out
    assert "Hayloft turbine" in told
    assert "Inside every limit" in told
    assert gc.isenabled()  # a check leaves the process as it was
    assert main(["new", "Hayloft turbine"]) == 2
    assert "already exists" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["../outside", "/etc/outside", "a/../../outside"])
def test_new_writes_into_the_current_folder_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    assert main(["new", name]) == 0
    assert [path.parent for path in tmp_path.rglob("*.yaml")] == [here]


def test_point_prints_every_loss_and_they_add_up(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["point", str(study), *BUILD, "--json"]) == 0
    row = json.loads(capsys.readouterr().out)
    assert set(row) - {"missed_limits", "impossible"} <= set(BY_NAME)
    losses = sum(v for k, v in row.items() if k.startswith("loss_") and "balance" not in k)
    whole = row["isentropic_power_W"]
    assert losses + row["electric_power_W"] == pytest.approx(whole, rel=1e-9)
    assert main(["point", str(study), *BUILD]) == 0
    told = capsys.readouterr().out
    wave = "forced by nozzles: 1"
    for words in ("From supply to terminals", "Gap friction loss", "Electric power", "burst", wave):
        assert words in told


def test_point_prints_the_same_bytes_whatever_the_order_of_words_in_memory(study: Path) -> None:
    command = [sys.executable, "-m", "engine.cli", "point", str(study), *BUILD, "--json"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    told = [
        subprocess.run(  # noqa: S603  fixed arguments
            command, env={**environment, "PYTHONHASHSEED": seed}, capture_output=True, check=True
        ).stdout
        for seed in ("1", "2")
    ]
    assert told[0] == told[1] != b""


def test_a_build_that_cannot_exist_is_said_first_and_ends_with_2(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    build = [*BUILD[:-2], "exhaust_bore=120mm", BUILD[-1]]
    assert main(["point", str(study), *build]) == 2
    told = capsys.readouterr().out
    assert "one build, bad geometry\nThis build cannot be made:\n- the exhaust bore, 120" in told
    assert "Rotor mass" not in told
    assert main(["point", str(study), *build, "--json"]) == 2
    row = json.loads(capsys.readouterr().out)
    assert row["rotor_mass_kg"] is row["stored_energy_J"] is row["safety_margin"] is None
    assert "is not smaller than the discs, 100 mm" in row["impossible"][0]


def test_point_takes_machine_numbers_too(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["point", str(study), *BUILD, "nozzle_width=0.4mm", "--json"]) == 0
    wider = json.loads(capsys.readouterr().out)["mass_flow_g_s"]
    loaded = read_study(study)
    build = {key: np.array([value]) for key, value in parse_overrides(BUILD, loaded).items()}
    # The study's nozzles are 0.3 mm wide and choked: flow goes with width, and a little with the
    # discharge coefficient, which is computed.
    assert wider == pytest.approx(evaluate(loaded, build)["mass_flow"][0] * 1e3 * 4 / 3, rel=0.01)


def test_a_build_without_operating_point_tells_what_is_known(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["point", str(study), *BUILD[:-1], "speed=200000rpm"]) == 2
    told = capsys.readouterr().out
    assert "no flow" in told
    assert "No operating point: at this speed the stack pumps" in told
    assert "nan" not in told
    assert "From supply to terminals" not in told
    lines = {line.split("│")[1].strip(): line for line in told.splitlines() if "│" in line}
    assert "met" in lines["Bore ratio"]
    assert "unknown" in lines["Mass flow"]
    assert "missed" in lines["Safety margin"]


def test_run_fills_the_run_folder_and_every_front_design_keeps_every_limit(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["run", str(study)]) == 0
    folder = tmp_path / "runs" / "bench"
    names = {path.name for path in folder.iterdir() if not path.name.startswith(".")}
    whole = {"study.yaml", "run.json", "designs", "front.parquet", "rubbing.json"}
    assert names == whole | {"report.html", "run.log"}
    assert "300 designs" in capsys.readouterr().out
    loaded = read_study(study)
    front = read_front(folder)
    build = {key: front[key] for key in loaded.searched()}
    again = evaluate(loaded, build)
    assert (violations(again, with_standing(loaded.all_limits)) == 0).all()
    assert again["electric_power"] == pytest.approx(front["electric_power"], rel=1e-9)
    frame = read_frame(folder).iloc[0]
    columns = [COLUMNS[key] for key in build]
    typed = [
        f"{c.key}={frame[c.name]:.0f}" if c.is_count else f"{c.key}={frame[c.name]}{c.unit.symbol}"
        for c in columns
    ]
    capsys.readouterr()
    assert main(["point", str(study), *typed, "--json"]) == 0
    point = json.loads(capsys.readouterr().out)
    assert point["missed_limits"] == []
    for name in ("electric_power_W", "safety_margin", "resolved_power_W", "runaway_ratio"):
        assert point[name] == pytest.approx(frame[name], rel=1e-6), name


def test_a_wrong_study_ends_with_2_and_every_mistake(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = study_with(
        tmp_path, ("gap: {choices: [0.3 mm", "gap: {choices: [-0.3 mm"), ("seed: 1", "sead: 1")
    )
    for command in ("check", "point", "run"):
        assert main([command, str(path)]) == 2
        told = capsys.readouterr().err
        assert "ranges.gap" in told
        assert "perhaps you meant seed" in told
    assert main(["check", str(tmp_path / "missing.yaml")]) == 2
    assert "missing.yaml" in capsys.readouterr().err


def test_a_wrong_value_typed_ends_with_2(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["point", str(study), *BUILD[:-1], "speeed=12000rpm"]) == 2
    assert "perhaps you meant speed" in capsys.readouterr().err


def test_nothing_feasible_ends_with_3_and_keeps_the_closest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    path = study_with(tmp_path, ("safety_margin: {min: 1.2}", "safety_margin: {min: 90}"))
    assert main(["run", str(path)]) == 3
    assert "Nothing meets every limit" in capsys.readouterr().out
    folder = tmp_path / "runs" / "bench"
    assert (folder / "closest.parquet").exists()
    assert "safety margin" in (folder / "report.html").read_text(encoding="utf-8").lower()


def test_a_folder_of_another_study_ends_with_4(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["run", str(study), "--into", "shared"]) == 0
    other = study_with(tmp_path, ("seed: 1", "seed: 2"), name="other.yaml")
    capsys.readouterr()
    assert main(["run", str(other), "--into", "shared"]) == 4
    assert "another study" in capsys.readouterr().err


def test_an_interrupted_run_ends_with_130_and_the_same_command_goes_on(tmp_path: Path) -> None:
    path = study_with(tmp_path, ("designs: 300", "designs: 100000"))
    command = [sys.executable, "-m", "engine.cli", "run", str(path)]
    root = str(ROOT)
    run = subprocess.Popen(  # noqa: S603
        command, cwd=tmp_path, env={**os.environ, "PYTHONPATH": root}, stdout=subprocess.PIPE
    )
    folder = tmp_path / "runs" / "bench"
    wait_until((folder / "run.log").exists, run)  # begun once Ctrl-C is taken care of
    run.send_signal(signal.SIGINT)
    told = run.communicate(timeout=PATIENCE)[0].decode()
    assert run.returncode == INTERRUPTED
    assert "continues from here" in told
    assert json.loads((folder / "run.json").read_text(encoding="utf-8"))["state"] == "interrupted"
    assert (folder / "report.html").exists()


@pytest.mark.slow
def test_a_queue_interrupted_keeps_what_is_done_and_the_same_command_goes_on(
    tmp_path: Path,
) -> None:
    for name, designs in (("first", 200), ("second", 3_000), ("third", 200)):
        study_with(tmp_path, ("designs: 300", f"designs: {designs}"), name=f"{name}.yaml")
    command = [sys.executable, "-m", "engine.cli", "run", "first.yaml", "second.yaml", "third.yaml"]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    queue = subprocess.Popen(  # noqa: S603
        command, cwd=tmp_path, env=env, stdout=subprocess.PIPE, start_new_session=True
    )

    def state(name: str) -> dict[str, object]:
        file = tmp_path / "runs" / name / "run.json"
        found: dict[str, object] = json.loads(file.read_text("utf-8")) if file.exists() else {}
        return found

    wait_until((tmp_path / "runs" / "second" / "run.log").exists, queue)
    os.killpg(queue.pid, signal.SIGINT)  # as a terminal does
    told = queue.communicate(timeout=PATIENCE)[0].decode()
    assert queue.returncode == INTERRUPTED
    assert "the same command continues from here" in told
    ends = dict(re.findall(r"(first|second|third)\.yaml *│ *([a-z ]*[a-z])", told))
    assert ends == {"first": "done", "second": "interrupted", "third": "not started"}
    first = state("first")
    assert first["state"] == "done"
    stored = state("second")["designs"]
    assert 0 < int(str(stored)) < 3_000

    again = subprocess.run(  # noqa: S603
        command, cwd=tmp_path, env=env, capture_output=True, text=True, check=False
    )
    assert again.returncode == 0, again.stderr
    ends = dict(re.findall(r"(first|second|third)\.yaml *│ *([a-z ]*[a-z])", again.stdout))
    assert ends == {"first": "done", "second": "done", "third": "done"}
    assert state("first") == first
    log = (tmp_path / "runs" / "second" / "run.log").read_text("utf-8")
    assert re.search(r"continues after [\d\s]+ stored designs", log)


def test_schema_prints_a_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    schema = json.loads(capsys.readouterr().out)
    for kind, key in (("then", "eye_diameter"), ("else", "exhaust_bore")):
        assert key in schema[kind]["properties"]["ranges"]["properties"]


def test_keys_answers_from_the_reference(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["keys", "nozzle", "width"]) == 0
    assert "nozzle_width (machine)" in capsys.readouterr().out
    assert main(["keys"]) == 0
    assert "## What a mistake looks like" in capsys.readouterr().out
    assert main(["keys", "gapp"]) == 2
    assert "perhaps you meant gap" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["--help"])
    assert re.search(r"^ +keys +\w", capsys.readouterr().out, re.MULTILINE)


HEAVY = {
    "CoolProp", "SALib", "dask", "distributed", "ezdxf", "jinja2", "matplotlib", "moocore",
    "optuna", "pandas", "pint", "pyarrow", "scipy.interpolate", "scipy.optimize",
    "scipy.special", "scipy.stats",
}  # fmt: skip
"""What takes long to load."""


def imported(code: str, **env: str) -> set[str]:
    """Modules that a new process has loaded after some code."""
    root = str(ROOT)
    code = f"import sys\n{code}\nsys.stderr.write(repr(set(sys.modules)))"
    told = subprocess.run(  # noqa: S603  our own code
        [sys.executable, "-c", code], capture_output=True, text=True, check=True,
        env={**os.environ, "PYTHONPATH": root, **env},
    )  # fmt: skip
    return set(ast.literal_eval(told.stderr))


LIGHT = {"numpy", "numba", "pydantic", "rich", "scipy", "yaml"}
"""What takes some tenths of a second."""


def test_help_is_quick_because_nothing_heavy_is_imported() -> None:
    code = """
from engine.cli import main
try:
    main(["--help"])
except SystemExit:
    pass
"""
    loaded = imported(code)
    assert "engine.cli" in loaded
    assert not loaded & (HEAVY | LIGHT)


def test_keys_is_quick_because_nothing_heavy_is_imported() -> None:
    loaded = imported("from engine.cli import main\nmain(['keys', 'gap'])")
    assert "engine.study.keys" in loaded
    assert not loaded & (HEAVY | LIGHT)


def test_a_second_check_imports_nothing_that_it_does_not_need(study: Path, tmp_path: Path) -> None:
    code = f"from engine.cli import main\nmain(['check', {str(study)!r}])"
    kept = str(tmp_path / "kept")
    assert "pint" in imported(code, XDG_CACHE_HOME=kept)
    loaded = imported(code, XDG_CACHE_HOME=kept)
    assert "engine.model.evaluation" in loaded
    resolved = {
        "gap.profiles",
        "gap.resolved",
        "gap.resolved_march_kernel",
        "gap.resolved_sweep_kernel",
        "gap.resolved_whole_kernel",
        "flow.match_resolved_kernel",
    }
    mere = {"scipy.linalg", *(f"engine.physics.{name}" for name in resolved)}
    assert not loaded & (HEAVY | mere)
