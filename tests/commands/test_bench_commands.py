"""`swirlstack plan-test` and `swirlstack fit` as a user gives them, from plan to fitted study."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from engine.cli import main
from engine.columns import COLUMNS
from engine.model.locked_rotor import evaluate_locked
from engine.run.folder import read_frame, read_front
from engine.run.frames import evaluate_frame
from engine.study.fit_file import read_fit
from engine.study.reader import read_study
from tests.support.browser import Page, opened, unfit
from tests.support.starter import plain_starter

CLOGGED = 0.85
"""Discharge of the nozzles on the bench; the study says 0.95."""
POORER = 0.72
"""Efficiency of the generator on the bench; the study says 0.8."""


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a study, its run and the bench plan of its candidate A."""
    folder = tmp_path_factory.mktemp("planned")
    text = plain_starter("A <b>bench</b> to fit").replace("designs: 20000", "designs: 300")
    (folder / "bench.yaml").write_text(text, encoding="utf-8")
    assert main(["run", str(folder / "bench.yaml"), "--into", str(folder / "run")]) == 0
    assert main(["plan-test", str(folder / "run"), "A"]) == 0
    return folder


@pytest.fixture
def bench(planned: Path, tmp_path: Path) -> Path:
    shutil.copytree(planned, tmp_path / "bench")
    return tmp_path / "bench"


def plan_of(bench: Path) -> Path:
    (plan,) = (bench / "run").glob("plan-*")
    return plan


def fill_in(bench: Path, noise: float = 0.0) -> Path:
    """Fill in the log of the plan with what a generator of poorer efficiency makes of it.

    The speeds written down are off by `noise`, as a share.
    """
    rng = np.random.default_rng(2)
    log = plan_of(bench) / "loaded-run.csv"
    head, _, table = log.read_text("utf-8").rpartition("---\n")
    names, *rows = table.splitlines()
    study = read_study(bench / "bench.yaml")
    front = read_frame(bench / "run").set_index("design")
    build = front.loc[int(plan_of(bench).name.removeprefix("plan-"))]
    searched = [COLUMNS[key].name for key in study.searched()]
    builds = pd.DataFrame([build[searched]] * len(rows)).infer_objects()
    loads, speeds = zip(*(row.split(",")[:2] for row in rows), strict=True)
    builds["speed_rpm"] = [float(speed) for speed in speeds]
    # Throttled until the load holds the speed: nearly in proportion.
    builds["supply_pressure_bar"] = [1.01325 + 0.06 * float(load.rstrip(" %")) for load in loads]
    lines = []
    for place, (_, read) in enumerate(
        evaluate_frame(study, builds.assign(generator_efficiency=POORER)).iterrows()
    ):
        cells = {
            "speed": read["speed_rpm"] * (1 + noise * rng.standard_normal()),
            "shaft_torque": read["shaft_torque_mN_m"],
            "voltage": 24 + place / 10,
            "current": read["electric_power_W"] / (24 + place / 10),
            "mass_flow": read["mass_flow_g_s"],
            "supply_pressure": read["supply_pressure_bar"] - 1.01325,
            "supply_temperature": 20 + place / 1e3,
            "rim_pressure": read["rim_pressure_bar"] - 1.01325,
            "exhaust_temperature": read["exhaust_temperature_degC"],
            "outlet_angle": read["outlet_angle_deg"],
            "outlet_rise": read["outlet_rise_mbar"],
        }
        numbers = [f"{cells[name]:.6g}" for name in names.split(",")[1:]]
        lines.append(",".join([loads[place], *numbers]))
    log.write_text("\n".join([f"{head}---", names, *lines, ""]), encoding="utf-8")
    return log


def test_a_plan_leaves_a_page_and_a_log_for_each_test_in_round_numbers(planned: Path) -> None:
    plan = plan_of(planned)
    assert {path.name for path in plan.iterdir()} == {
        "plan.html",
        "trip-test.csv",
        "tap-test.csv",
        "rotor-locked.csv",
        "loaded-run.csv",
        "coast-down.csv",
        "coast-down-no-seals.csv",
        "casing-friction.csv",
    }
    head = (plan / "loaded-run.csv").read_text("utf-8")
    for number in re.findall(r"^  \w+: ([\d.]+)", head, re.MULTILINE):
        assert len(number) <= 8, number


def test_a_plan_of_no_design_ends_with_2_and_names_the_marked_ones(
    bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan-test", str(bench / "run"), "Z"]) == 2
    assert "or one of A" in capsys.readouterr().err
    assert main(["plan-test", str(bench / "nowhere"), "A"]) == 4


def test_a_log_filled_in_is_never_written_over(
    bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan-test", str(bench / "run"), "A"]) == 0
    log = fill_in(bench)
    before = log.read_bytes()
    assert main(["plan-test", str(bench / "run"), "A"]) == 4
    assert "loaded-run.csv: was filled in" in capsys.readouterr().err
    assert log.read_bytes() == before


def test_a_plan_filled_in_is_fitted_and_the_study_takes_it_over(
    bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, study = fill_in(bench), bench / "bench.yaml"
    assert main(["fit", str(study), str(log)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "15 rows read, 0 left out" in told
    assert "generator_efficiency: 72" in told
    fit = bench / "loaded-run.fit.yaml"
    assert fit.exists()
    assert (bench / "loaded-run.fit.html").exists()
    text = study.read_text("utf-8")
    kept = re.sub(r"^ *generator_efficiency:.*\n", "", text, flags=re.MULTILINE)
    study.write_text(kept.replace("\nranges:", f"\n  fit: {fit.name}\nranges:"), encoding="utf-8")
    found = read_study(study).machine.generator_efficiency
    assert found == pytest.approx(POORER, abs=0.02)


def test_a_locked_rotor_is_fitted_from_the_plans_log_and_the_loaded_run_after_it(
    bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, study = plan_of(bench) / "rotor-locked.csv", bench / "bench.yaml"
    head, _, table = log.read_text("utf-8").rpartition("---\n")
    names, *rows = table.splitlines()
    read = read_held(bench, [float(row.split(",")[1]) for row in rows])
    lines = [f"{row.partition(',,')[0]},{cells}" for row, cells in zip(rows, read, strict=True)]
    log.write_text("\n".join([f"{head}---", names, *lines, ""]), encoding="utf-8")
    assert main(["fit", str(study), str(log)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "5 rows read, 0 left out" in told
    assert "5 rows at speed 0 are taken as read with the rotor locked" in told
    assert "nozzle_discharge: 0.8" in told
    fit = bench / "rotor-locked.fit.yaml"
    assert read_fit(fit).values["nozzle_discharge"] == pytest.approx(CLOGGED, abs=0.02)
    text = study.read_text("utf-8")
    text = text.replace("\nranges:", f"\n  fit: {fit.name}\nranges:")
    study.write_text(text, encoding="utf-8")
    assert main(["fit", str(study), str(fill_in(bench))]) == 0
    both = read_fit(bench / "loaded-run.fit.yaml").values
    assert {"nozzle_discharge", "generator_efficiency"} <= set(both)


def read_held(bench: Path, dials: list[float]) -> list[str]:
    """Cells of a locked rotor behind those of the plan, nozzles a little clogged."""
    study = read_study(bench / "bench.yaml")
    front = read_front(bench / "run")
    numbers = front["design"].astype(int).tolist()
    row = numbers.index(int(plan_of(bench).name.removeprefix("plan-")))
    build = {key: np.repeat(front[key][row], len(dials)) for key in study.searched()}
    found = evaluate_locked(
        study,
        build
        | {
            "nozzle_discharge": np.full(len(dials), CLOGGED),
            "supply_pressure": np.array(dials) * 1e5 + study.supply.atmosphere,
            "supply_temperature": np.full(len(dials), 293.15),
        },
    )
    table = zip(
        found["shaft_torque"] / 0.1,
        found["mass_flow"] * 1e3,
        (found["rim_pressure"] - study.supply.atmosphere) / 1e5,
        strict=True,
    )
    return [f"20,{force:.5g},{flow:.5g},{rim:.5g}" for force, flow, rim in table]


def test_an_empty_or_missing_log_ends_with_2_and_leaves_nothing(
    bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = str(bench / "bench.yaml")
    before = set(bench.iterdir())
    assert main(["fit", study, str(plan_of(bench) / "loaded-run.csv")]) == 2
    assert "0 usable rows; 15 left out" in capsys.readouterr().err
    assert main(["fit", study, str(plan_of(bench) / "coast-down.csv")]) == 2
    assert "0 usable rows; expected at least" in capsys.readouterr().err
    assert main(["fit", study, str(bench / "missing.csv")]) == 2
    assert "missing.csv" in capsys.readouterr().err
    assert set(bench.iterdir()) == before


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    yield from opened(tmp_path_factory.mktemp("profile"))


@pytest.fixture(scope="module")
def fit_page(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of a fit, from a log with three loads at each speed and noise in the speed."""
    bench = tmp_path_factory.mktemp("page") / "bench"
    shutil.copytree(planned, bench)
    assert main(["fit", str(bench / "bench.yaml"), str(fill_in(bench, noise=0.003))]) == 0
    return bench / "loaded-run.fit.html"


@pytest.mark.parametrize(("dark", "width"), [(False, 1400), (True, 390)])
def test_the_page_of_a_fit_opens_quietly_in_light_and_dark(
    page: Page, fit_page: Path, dark: bool, width: int
) -> None:
    page.open(fit_page, width=width, dark=dark)
    assert page.complaints() == []
    assert page.requests() == [fit_page.as_uri()]
    ink, paper = (
        [int(part) for part in re.findall(r"\d+", page.ask(f"getComputedStyle({asked}"))]
        for asked in (
            "document.querySelector('.drawn')).fill",
            "document.documentElement).backgroundColor",
        )
    )
    assert (sum(ink) > sum(paper)) is dark
    assert page.ask("document.querySelector('.title-block b').innerText") == "A <b>bench</b> to fit"
    assert page.ask("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert unfit(page) == []


def test_readings_at_three_loads_lie_on_the_diagonal_of_a_fit(page: Page, fit_page: Path) -> None:
    page.open(fit_page)
    title = "Electric power: reading against model"
    dots = page.ask(
        f"""[...document.querySelectorAll('figure')]
        .find(each => each.querySelector('h3').innerText === '{title}')
        .querySelectorAll('circle.full').length"""
    )
    assert dots == 15
    # No line goes through readings of different loads: all curves would be such lines.
    assert page.ask("document.querySelectorAll('figure .curve').length") == 0
    places = page.ask(
        """[...document.querySelectorAll('figure')].filter(each => each.innerText
        .includes('Electric power: reading against')).flatMap(each =>
        [...each.querySelectorAll('circle.full')].map(dot => [+dot.getAttribute('cx'),
        +dot.getAttribute('cy')]))"""
    )
    scales = page.ask(
        """(({x, y}) => [x, y].map(each => each.split(' ').slice(0, 4).map(Number)))(
        [...document.querySelectorAll('figure')].find(each => each.innerText
        .includes('Electric power: reading against')).querySelector('svg').dataset)"""
    )
    for dot in places:
        model, read = (
            low + (place - start) * (high - low) / (end - start)
            for place, (low, high, start, end) in zip(dot, scales, strict=True)
        )
        assert read == pytest.approx(model, rel=0.1)
