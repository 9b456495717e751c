"""README's promises: what it names exists, what it shows runs, and what it quotes is so.

The keys of a study and their usual values stand in shared/study-file.md and are held there.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from engine.cli import main
from engine.model.evaluation import evaluate
from engine.model.limits import MATCHED
from engine.run.point import point_of
from engine.search.space import Space
from engine.study.reader import parse_study, read_study
from tests.support.places import PICTURE, ROOT, STUDIES

README = (ROOT / "README.md").read_text(encoding="utf-8")
BUNDLED = (STUDIES / "lane-workshop.yaml").read_text(encoding="utf-8")
LONGEST = 10_000
LARGEST_PICTURE = 250_000
N_SAMPLED = 64


def block(language: str) -> str:
    """The only block of code in this language."""
    (found,) = re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    return str(found)


def code() -> list[str]:
    """What stands in back quotes or in blocks of commands."""
    blocks = re.findall(r"^```(?:sh|powershell)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    prose = re.sub(r"^```.*?^```$", "", README, flags=re.MULTILINE | re.DOTALL)
    return [*blocks, *re.findall(r"`([^`\n]+)`", prose)]


def test_readme_stays_short() -> None:
    assert len(README.encode()) <= LONGEST


def test_the_two_commands_stand_behind_their_marks() -> None:
    marked = dict(re.findall(r"^<!-- (\w+) -->\n```sh\n(.+)\n```$", README, re.MULTILINE))
    assert set(marked) == {"run", "tests"}
    assert marked["run"].endswith("swirlstack run studies/lane-workshop.yaml")
    assert "-m pytest" in marked["tests"]
    for command in marked.values():  # each from nothing, and either after the other
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install ")


def test_readme_names_every_command_and_no_other(capsys: pytest.CaptureFixture[str]) -> None:
    named = {name for text in code() for name in re.findall(r"swirlstack ([a-z][\w-]*)", text)}
    with pytest.raises(SystemExit):
        main(["--help"])
    known = set(re.findall(r"^    ([a-z][\w-]*)", capsys.readouterr().out, re.MULTILINE))
    assert len(known) > 10
    assert named == known


def test_every_file_that_readme_names_exists() -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", README)
    paths = [text for text in code() if re.fullmatch(r"(studies|shared|tests|engine)/\S+", text)]
    assert {"shared/report.png", "shared/study-file.md", "DEVELOPERS.md"} <= set(links)
    assert [path for path in [*links, *paths] if not (ROOT / path).is_file()] == []
    # And the other way round: each bundled study has its line.
    assert {f"studies/{path.name}" for path in STUDIES.glob("*.yaml")} <= set(paths)


def test_links_within_readme_lead_to_a_heading() -> None:
    heads = re.findall(r"^## (.+)$", README, re.MULTILINE)
    places = {head.lower().replace(" ", "-") for head in heads}
    assert set(re.findall(r"\]\(#([^)]+)\)", README)) <= places


def test_the_picture_is_one_and_small() -> None:
    content = PICTURE.read_bytes()
    assert content.startswith(b"\x89PNG\r\n\x1a\n")
    assert content.endswith(b"IEND\xaeB`\x82")
    assert len(content) < LARGEST_PICTURE


def test_the_study_of_readme_holds_builds_that_meet_every_limit() -> None:
    study = parse_study(block("yaml"), "README.md")
    space = Space.of(study)
    found = evaluate(study, space.builds(space.draw(N_SAMPLED, np.random.default_rng(1))))
    assert (found["status"] == MATCHED).mean() > 0.5
    chosen = "disc_count=4 disc_diameter=95mm gap=0.4mm inlet_angle=6deg exhaust_bore=26mm"
    point = point_of(study, [*chosen.split(), "speed=13500rpm", "nozzle_width=0.3mm"])
    assert point.results["status"][0] == MATCHED
    assert point.results["electric_power"][0] > 10
    assert point.missed == ()


def test_the_wrong_key_of_readme_gets_the_message_it_shows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (message,) = re.findall(r"`my\.yaml:(\d+: [^`]+)`", README)
    wrong, right = re.findall(r"ranges\.(\w+): .* meant (\w+)", message)[0]
    path = tmp_path / "my.yaml"
    path.write_text(block("yaml").replace(right, wrong), encoding="utf-8")
    assert main(["check", str(path)]) == 2
    assert capsys.readouterr().err == f"{path}:{message}\n"


def test_the_plate_is_read_as_readme_works_it_out() -> None:
    plate = (
        r'"([\d.]+) kW, (\d+) l/min" swept.* say (\d+) l/min; .* is [\d.]+ / ([\d.]+) = (\d+\.\d+)'
    )
    power, swept, given, same, specific = map(float, re.findall(plate, README)[0])
    assert 0.60 <= given / swept <= 0.75
    assert same == given / 1000
    assert specific == pytest.approx(power / same, abs=0.05)
    ((duty, lasting),) = re.findall(r"duty cycle of (\d+) % leaves (\d+) l/min", README)
    assert float(lasting) == pytest.approx(given * float(duty) / 100, abs=5)
    assert f"available_flow: {lasting} l/min" in block("yaml")
    assert f"specific_power: {specific} kW/(m3/min)" in block("yaml")


def test_the_answer_that_readme_quotes_is_that_of_the_bundled_study() -> None:
    study = read_study(STUDIES / "lane-workshop.yaml")
    texts = re.findall(r"\w+=[\w.]+(?=[ \"])", block("python"))
    point = point_of(study, texts)
    ((power, drawn),) = re.findall(r"study: (\d+) W, .* draws ([\d.]+) kW", README)
    assert point.results["electric_power"][0] == pytest.approx(float(power), abs=0.5)
    assert point.results["supply_power"][0] == pytest.approx(float(drawn) * 1000, abs=50)
    (chance,) = re.findall(r"all limits in (\d+) of 100", README)
    assert point.results["chance_all"][0] == pytest.approx(float(chance) / 100, abs=0.02)


def test_the_python_example_runs(tmp_path: Path) -> None:
    few = BUNDLED.replace("designs: 30000", "designs: 3000").replace(", polish, firm]", ", polish]")
    assert few != BUNDLED
    (tmp_path / "studies").mkdir()
    (tmp_path / "studies" / "lane-workshop.yaml").write_text(few, encoding="utf-8")
    # As where swirlstack is installed: its one file beside the packages.
    (tmp_path / "swirlstack.py").write_bytes((ROOT / "engine" / "face.py").read_bytes())
    script = tmp_path / "example.py"
    script.write_text(block("python"), encoding="utf-8")
    done = subprocess.run(  # noqa: S603  fixed arguments
        [sys.executable, str(script)],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    feasible, power = map(float, done.stdout.split())
    assert 0 < feasible < 1
    assert power == pytest.approx(334.05, abs=0.1)
    assert (tmp_path / "runs" / "lane-workshop" / "front.parquet").is_file()
