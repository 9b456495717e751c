"""The flow in the plane of the discs from the command line; the flow itself is invented here."""

import json
from pathlib import Path
from typing import Any

import pytest

from engine.cli import main
from engine.physics.plane.answer import PlaneFlow, Progress
from tests.support import invented
from tests.support.places import STUDIES

BUILD = ["disc_count=8", "disc_diameter=90mm", "gap=0.5mm", "inlet_angle=6deg"]
BUILD += ["exhaust_bore=42mm", "speed=27000rpm", "nozzle_width=0.5mm", "nozzle_count=2"]
BUILD += ["rim_clearance=0.5mm", "disc_thickness=0.5mm", "spokes=3"]
BUILD += ["process=laser-cut"]
LANE = str(STUDIES / "lane-workshop.yaml")


def _few(*more: str) -> str:
    """The bundled study with few designs, and no look at what tolerances leave."""
    text = Path(LANE).read_text("utf-8").replace(", polish, firm]", ", polish]")
    return text.replace("  designs: 30000", "\n".join(["  designs: 3000", *more]))


def flow_of(_study: Any, build: Any, tell: Any) -> PlaneFlow:
    tell(Progress(0.25, 0.1, 0.02))
    return invented.plane({key: build[key].item() for key in ("disc_diameter", "exhaust_bore")})


def test_point_sets_the_plane_beside_the_model(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("engine.run.point.plane_of_build", flow_of)
    assert main(["point", LANE, *BUILD, "--plane"]) == 0
    told = capsys.readouterr()
    assert "25%" in told.err
    assert "25%" not in told.out
    lines = {line.split("│")[1].strip(): line for line in told.out.splitlines() if "│" in line}
    assert "-" not in lines["Electric power"].split()
    assert main(["point", LANE, *BUILD, "--plane", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    plane = answer["plane"]
    assert plane["settled"] is True
    omega = 27000 * 3.14159265358979 / 30
    # The plane gives 100 mN m on discs and edges; the spokes' share is the model's on both sides.
    assert plane["rotor_power_W"] == pytest.approx(0.1 * omega + answer["web_power_W"])
    torque = 100 + 1e3 * answer["web_power_W"] / omega
    assert plane["rotor_torque_mN_m"] == pytest.approx(torque)
    assert f"{torque:.1f} mN m" in lines["Rotor torque"]
    assert main(["point", LANE, *BUILD, "--json"]) == 0
    assert "plane" not in json.loads(capsys.readouterr().out)


def test_run_follows_its_marked_builds_and_goes_on_after_a_kill(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    text = _few("  closer: plane")
    Path("a.yaml").write_text(text, encoding="utf-8")
    asked: list[float] = []

    def killed_at_first(study: Any, build: Any, tell: Any) -> PlaneFlow:
        asked.append(build["speed"].item())
        if len(asked) == 1:
            raise KeyboardInterrupt
        return flow_of(study, build, tell)

    monkeypatch.setattr("engine.run.planes.plane_of_build", killed_at_first)
    assert main(["run", "a.yaml"]) == 130
    assert not Path("runs/a/report.html").exists()
    # The same command goes on, with the flow that was cut off.
    assert main(["run", "a.yaml"]) == 0
    assert asked[1] == asked[0]
    followed = len(asked) - 1
    kept = {path.name: path.read_bytes() for path in Path("runs/a/planes").iterdir()}
    assert len(kept) == followed
    page = Path("runs/a/report.html").read_text("utf-8")
    assert "In the plane of the discs" in page
    assert page.count("speed around the rim, from one nozzle to the next") == followed
    # What is there already is not worked out again.
    assert main(["run", "a.yaml"]) == 0
    assert len(asked) == 1 + followed
    assert {path.name: path.read_bytes() for path in Path("runs/a/planes").iterdir()} == kept
    capsys.readouterr()


def test_run_that_does_not_ask_has_no_plane(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: Any) -> PlaneFlow:
        raise AssertionError

    monkeypatch.setattr("engine.run.planes.plane_of_build", none)
    monkeypatch.chdir(tmp_path)
    text = _few()
    Path("a.yaml").write_text(text, encoding="utf-8")
    assert main(["run", "a.yaml"]) == 0
    assert not Path("runs/a/planes").exists()
    capsys.readouterr()
