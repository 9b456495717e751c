"""What is said of a lost load with its trip: each case in its own words."""

import math

import pytest

from reports.kit.quantities import THIN, bare
from reports.run.trip_wording import (
    allowed_text,
    fatigue_text,
    moments,
    peak_text,
    survives_with_trip,
    swing_text,
    wear_notes,
)

SPEED = 2000 * math.pi / 3  # 20,000 rpm
LOST: dict[str, float | str] = {
    "speed": SPEED,
    "trip_factor": 1.15,
    "safety_margin": 1.3,
    "peak_ratio": 1.2,
    "trip_time": 0.8,
    "peak_time": 1.0,
    "shutoff_time_allowed": 0.4,
    "hose_allowed": 0.5e-3,
    "trip_delay": 0.05,
    "valve_closing": 0.1,
    "valve_volume": 0.2e-3,
}


def plain(text: str) -> str:
    return text.replace(THIN, " ")


def test_runs_trips_peaks_and_fails_have_speed_and_time() -> None:
    rows = [(row.name.split(",")[0], row.ratio, plain(row.time), row.bad) for row in moments(LOST)]
    assert rows == [
        ("Runs", 1.0, "0 ms", False),
        ("Trips", 1.15, "800 ms", False),
        ("Peaks", 1.2, "1 000 ms", False),
        ("Fails", 1.3, "1 200 ms", False),
    ]
    assert [row.speed / SPEED for row in moments(LOST)] == pytest.approx([1, 1.15, 1.2, 1.3])
    assert moments({"speed": SPEED}) == ()
    weak = {row.name: row.bad for row in moments(LOST | {"safety_margin": 1.1})}
    assert (weak["Trips"], weak["Peaks"]) == (True, True)


def test_a_peak_above_the_first_failure_is_said_at_once() -> None:
    assert plain(peak_text(LOST)).endswith("the peak is 1.200 times, after 1.00 s.")
    assert "a valve that begins to shut after 50 ms and takes 100 ms" in plain(peak_text(LOST))
    assert survives_with_trip(LOST)
    worse = LOST | {"safety_margin": 1.18}
    assert "something fails first. Do not build it like this." in peak_text(worse)
    assert not survives_with_trip(worse)
    late = LOST | {"peak_time": math.inf, "peak_ratio": 1.1}
    assert "it runs away to 1.10 times, below the trip" in peak_text(late)
    assert peak_text({"speed": SPEED}) == ""


def test_what_valve_and_hose_are_allowed_is_said_in_every_case() -> None:
    assert "in 400 ms" in plain(allowed_text(LOST))
    assert "the hose may hold at most 0.500 l" in plain(allowed_text(LOST))
    assert "at most nothing" in allowed_text(LOST | {"hose_allowed": 0.0})
    assert "must take less." in allowed_text(LOST | {"hose_allowed": math.nan})
    assert "no failing speed" in allowed_text(LOST | {"shutoff_time_allowed": math.inf})
    assert "before the trip acts" in allowed_text(LOST | {"shutoff_time_allowed": 0.0})
    assert allowed_text({}) == ""


def test_what_bearings_suffer_from_has_words() -> None:
    good: dict[str, float | str] = {
        "bearing_temperature": 330.0,
        "grease_running": 30e-6,
        "least_load_ratio": 1.3,
        "bearing_preload": 20.0,
        "bearing_life": 1e8,
    }
    assert wear_notes(good) == []
    (warm,) = wear_notes(good | {"bearing_temperature": 383.15})
    assert "runs at some 110 °C by estimate" in plain(warm)
    (cold,) = wear_notes(good | {"grease_running": 500e-6})
    assert "its grease is stiff, 500 mm²/s when running" in plain(cold)
    (light,) = wear_notes(good | {"least_load_ratio": 0.8})
    assert "bears 80.0 % of the least load" in plain(light)
    assert "some 25 N" in plain(light)
    (light,) = wear_notes(good | {"least_load_ratio": 0.8, "bearing_preload": 0.0})
    assert "Take a stronger spring or" in plain(light)
    (short,) = wear_notes(good | {"bearing_life": 1000 * 3600.0})
    assert "fails within 1 000 h by its rating (ISO 281)" in plain(short)


def test_swing_wear_and_fatigue_have_words() -> None:
    assert "of one swing a second 5.3 % is left" in plain(swing_text({"speed_time_constant": 3.0}))
    assert swing_text({}) == ""
    assert wear_notes(LOST) == []
    thrust: dict[str, float | str] = {"axial_thrust": 400.0, "axial_load_ratio": 0.31}
    (note,) = wear_notes(thrust)
    assert "with up to 400 N" in plain(note)
    assert note.endswith("take a larger one.")
    warm: dict[str, float | str] = {
        "disc_temperature": 373.15,
        "creep_temperature": 368.15,
        "material": "polycarbonate",
    }
    (note,) = wear_notes(warm)
    assert "polycarbonate creeps above 95.0 °C" in plain(note)
    assert plain(bare("fatigue_cycles", 3e5)) == "≈ 100 000"
    assert plain(bare("fatigue_cycles", 1e7)) == "≥ 10 000 000"
    assert "≈ 100 000, an order of magnitude only" in plain(fatigue_text({"fatigue_cycles": 3e5}))
    assert "No estimate of fatigue" in fatigue_text({})
