"""Build sheet and bench plan of a build whose generator and loads are known."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.bench.generator_test import fit_generator_test
from engine.bench.log import read_log
from engine.errors import StudyError
from engine.model.evaluation import evaluate
from engine.model.socket import at_socket
from engine.study.loads import Loads
from engine.study.study import Study
from reports.design.facts import BuildData
from reports.design.plan import write_plan
from reports.design.sheet import write_sheet
from reports.kit.quantities import THIN
from reports.run.socket_wording import rows_of
from tests.model.test_settle import LAMPS, SHEET
from tests.reports.test_in_time import in_time


@pytest.fixture(scope="module")
def wired_data(sheet_data: BuildData, shop_air: Study) -> BuildData:
    machine = shop_air.machine.model_copy(update=SHEET)
    loads: Any = {**LAMPS, "appliances": {**LAMPS["appliances"], "<b>kiln</b>": {
        "running": "20 W", "behaves": "heater",
    }}}  # fmt: skip
    study = shop_air.model_copy(
        update={"machine": machine, "loads": Loads.model_validate(loads)}
    )  # fmt: skip
    front = dict(sheet_data.front)
    build = {key: np.asarray(front[key]) for key in study.searched()}
    settled = evaluate(study.unjudged(), build)
    whole = {**front, **{key: settled[key] for key in settled if key in SHEET}}
    return replace(
        sheet_data, study=study, front=whole, socket=at_socket(study, settled, 0)
    )  # fmt: skip


def test_the_sheet_has_a_row_for_each_set_of_loads(wired_data: BuildData) -> None:
    page = str(write_sheet(wired_data)["sheet.html"])
    part = page[page.index('<h2 id="socket"') :]
    part = part[: part.index("</section>")]
    values = {key: column[0] for key, column in wired_data.front.items()}
    rows = rows_of(values, wired_data.socket)
    assert part.count("<tr") == 1 + len(rows)
    for row in rows:
        assert f">{row.speed}<" in part
    assert "&lt;b&gt;kiln&lt;/b&gt;" in part
    assert "<b>kiln</b>" not in page


def test_the_sheet_shows_the_events_of_the_study(wired_data: BuildData) -> None:
    assert wired_data.socket is not None
    socket = replace(wired_data.socket, in_time=in_time())
    page = str(write_sheet(replace(wired_data, socket=socket))["sheet.html"])
    part = page[page.index('<h2 id="in-time"') :]
    part = part[: part.index("</section>")]
    assert part.count("<figure>") == 4
    assert "on: laptop" in part
    assert part.count("<tr") == 1 + 5


def test_a_sheet_without_loads_has_no_such_section(sheet_data: BuildData) -> None:
    page = str(write_sheet(sheet_data)["sheet.html"])
    assert 'id="socket"' not in page
    assert 'id="in-time"' not in page


def test_the_plan_has_a_log_of_the_generator_that_is_read_when_filled_in(
    wired_data: BuildData, sheet_data: BuildData, tmp_path: Path
) -> None:
    files = write_plan(wired_data)
    assert "Generator by itself" in files["plan.html"]
    text = files["generator-test.csv"]
    path = tmp_path / "generator-test.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match="usable rows"):
        read_log(path, wired_data.study)
    head, table = text.rsplit("---\n", 1)
    names, *rows = table.splitlines()
    assert names == "load,speed,voltage,current"
    assert len(rows) == 12
    amps = {"none": 0.0, "half": 4.0, "full": 8.0, "as a motor": -0.4}
    filled = []
    for row in rows:
        load, speed, *_ = row.replace(THIN, "").split(",")
        current = amps[load]
        drop = 1.6 if current >= 0 else 0.0
        ohms = 0.45 * (1 + 3.93e-3 * 60) + 3 / np.pi * 1.2e-4 * float(speed) * 2 * np.pi / 60
        filled.append(f"{load},{speed},{float(speed) / 500 - drop - ohms * current:.4f},{current}")
    path.write_text(head + "---\n" + "\n".join([names, *filled]) + "\n", encoding="utf-8")
    found = fit_generator_test(wired_data.study, read_log(path, wired_data.study))
    assert abs(found.fit.values["generator_kv"] / SHEET["generator_kv"] - 1) < 0.01
    assert "generator-test.csv" not in write_plan(sheet_data)
