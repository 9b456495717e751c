"""The flow in the plane of the discs: kept in the run folder, and on the page."""

import base64
import io
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.image import imread

from engine.errors import StudyError
from engine.model.plane import plane_powers
from engine.physics.plane.answer import PlaneField, PlaneFlow, Progress
from engine.run import planes
from engine.run.planes import plane_of_design, stored_plane
from engine.study.reader import parse_study
from engine.study.study import Study
from reports.run.charts import plane
from reports.run.facts import RunData, facts_of, shown
from reports.run.page import write_report
from tests.support import invented

USUAL = {
    "web_power": 10.0,
    "loss_windage": 5.0,
    "loss_bearing": 4.0,
    "loss_seal": 0.0,
    "drive_efficiency": 1.0,
    "drive_ratio": 1.0,
    "generator_power": 250.0,
    "generator_speed": 2094.0,
    "generator_efficiency": 0.8,
    "generator_iron_share": 0.4,
}


def followed(data: RunData, **changes: Any) -> RunData:
    """The same run with its marked designs followed in the plane."""
    n = len(data.front["speed"])
    front = {**{key: np.full(n, value) for key, value in USUAL.items()}, **data.front}
    return replace(
        data,
        front=front,
        planes={
            role: replace(
                invented.plane(
                    {key: float(front[key][row]) for key in ("disc_diameter", "exhaust_bore")}
                ),
                **changes,
            )
            for role, row in shown(data.study, front).items()
        },
    )


def test_page_shows_the_field_and_the_power_of_each_build_shown(run_data: RunData) -> None:
    data = followed(run_data)
    page = write_report(data)
    facts = facts_of(data)
    charts = plane.plane_charts(facts.candidates)
    assert set(charts) == {c.roles[0] for c in facts.candidates}
    for candidate in facts.candidates:
        assert charts[candidate.roles[0]].svg() in page
        assert candidate.plane is not None
        field = candidate.plane.field
        bore = float(candidate.values["exhaust_bore"]) / 2
        # A path begins at the casing and gets to the bore.
        for _, radius in plane._paths(field, candidate.plane.mouth_arc / field.faces[-1]):
            assert radius[0] > float(candidate.values["disc_diameter"]) / 2
            assert radius[-1] == pytest.approx(bore, rel=1e-3)
    assert "In the plane of the discs" in page
    assert "In the plane of the discs" not in write_report(run_data)


def test_flow_that_does_not_rest_is_said_and_not_drawn(run_data: RunData) -> None:
    page = write_report(followed(run_data, settled=False))
    assert "did not come to rest" in page
    assert "data:image/png" not in page


def test_the_picture_of_the_field_is_read_back_as_drawn() -> None:
    faces, sides = np.linspace(0.02, 0.05, 4), np.linspace(0, np.pi, 3)
    speed = np.array([[0.0, 0.0], [0.0, 0.0], [100.0, 50.0]])  # fast at the casing, on the left
    png = base64.b64decode(plane._as_picture(speed, sides, faces, fastest=100.0))
    seen = 255 * imread(io.BytesIO(png), format="png")[..., :3]
    assert seen.shape == (plane.ROWS, 4, 3)
    assert seen[0, 0].round().tolist() == list(plane.SHADES[2])
    assert seen[0, -1].round().tolist() == list(plane.SHADES[1])
    assert seen[-1, 0].round().tolist() == list(plane.SHADES[0])


def test_many_columns_are_thinned_without_changing_their_mean(run_data: RunData) -> None:
    flow = facts_of(followed(run_data)).pick.plane
    assert flow is not None
    speed = np.hypot(flow.field.radial_speed, flow.field.swirl)
    n = 3 * plane.MOST_COLUMNS
    fine = np.repeat(speed, n // speed.shape[1], axis=1)
    thin, sides = plane._thinned(fine, np.linspace(0, np.pi, n + 1))
    assert (thin.shape[1], len(sides)) == (plane.MOST_COLUMNS, plane.MOST_COLUMNS + 1)
    np.testing.assert_allclose(thin.mean(axis=1), speed.mean(axis=1), rtol=5e-3)


def test_powers_take_the_losses_of_the_model_off() -> None:
    flow = invented.plane({"disc_diameter": 0.09, "exhaust_bore": 0.042})
    values = {**USUAL, "speed": 2000.0}
    for key in values:  # each of them is read, and nothing else
        with pytest.raises(KeyError, match=key):
            plane_powers({k: value for k, value in values.items() if k != key}, flow)
    found = plane_powers(values, flow)
    assert found["rotor_power"] == pytest.approx(210.0)
    assert 0 < found["electric_power"] < 201.0
    unsettled = plane_powers(values, replace(flow, settled=False))
    assert np.isnan(unsettled["rotor_power"])


def test_flow_is_kept_and_not_worked_out_again(
    tmp_path: Path, shop_air: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    flow = invented.plane({"disc_diameter": 0.09, "exhaust_bore": 0.042})
    asked: list[int] = []

    def work(*_: object) -> PlaneFlow:
        asked.append(1)
        return flow

    monkeypatch.setattr(planes, "plane_of_build", work)
    table = {
        key: np.array([value])
        for key, value in {**shop_air.fixed(), **dict.fromkeys(shop_air.searched(), 1.0)}.items()
    } | {"design": np.array([7])}

    def tell(now: Progress) -> None:
        raise AssertionError(now)

    assert stored_plane(tmp_path, 7) is None
    for _ in range(2):
        found = plane_of_design(tmp_path, shop_air, table, 0, tell)
        assert found is not None
        for f in fields(PlaneFlow):
            if f.name != "field":
                assert getattr(found, f.name) == getattr(flow, f.name)
        for f in fields(PlaneField):
            np.testing.assert_array_equal(getattr(found.field, f.name), getattr(flow.field, f.name))
    assert len(asked) == 1
    # A torn file is made again.
    place = tmp_path / "planes" / "7.npz"
    place.write_bytes(place.read_bytes()[:100])
    assert stored_plane(tmp_path, 7) is None
    assert plane_of_design(tmp_path, shop_air, table, 0, tell) is not None
    assert len(asked) == 2


def test_study_asks_for_the_plane_by_one_key() -> None:
    text = Path("studies/lane-workshop.yaml").read_text("utf-8")
    asking = text.replace("\nsearch:\n", "\nsearch:\n  closer: plane\n")
    assert parse_study(text, "a.yaml").search.closer == "resolved"
    assert parse_study(asking, "a.yaml").search.closer == "plane"
    with pytest.raises(StudyError, match=r"a\.yaml:\d+: search\.closer"):
        parse_study(asking.replace("closer: plane", "closer: plain"), "a.yaml")
