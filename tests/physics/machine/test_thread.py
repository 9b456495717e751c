"""Threads and their nuts against printed tables."""

import re

import numpy as np
import pytest

from engine.catalogue import bearings
from engine.physics.machine.thread import (
    PLAY,
    THREADS,
    least_thread,
    nut_clearance,
    nut_inside,
    widest_thread,
)
from tests.support.places import ROOT

# Basic minor diameters D1 of internal threads, ISO 724, from memory [mm].
INSIDE = {
    1.6: 1.221, 2.0: 1.567, 2.5: 2.013, 3.0: 2.459, 4.0: 3.242, 5.0: 4.134, 6.0: 4.917, 8.0: 6.647,
    10.0: 8.376, 12.0: 10.106, 14.0: 11.835, 16.0: 13.835, 18.0: 15.294, 20.0: 17.294,
    22.0: 19.294, 24.0: 20.752, 27.0: 23.752, 30.0: 26.211, 36.0: 31.670, 42.0: 37.129,
    48.0: 42.587, 64.0: 57.505,
}  # fmt: skip
FINE = {15.0: 13.917, 17.0: 15.917, 25.0: 23.376}
"""M15 x 1, M17 x 1, M25 x 1.5."""


def test_the_inside_of_a_nut_is_that_of_the_table() -> None:
    pitches = dict(THREADS)
    for size, inside in (INSIDE | FINE).items():
        found = 1e3 * nut_inside(thread=1e-3 * size, pitch=1e-3 * pitches[size])
        assert found == pytest.approx(inside, abs=5.1e-4), size


def test_a_shaft_carries_the_widest_thread_that_is_no_wider_than_itself() -> None:
    shafts = np.array([0.8, 7.9, 8.0, 9.9, 10.0, 15.5, 100.0]) * 1e-3
    thread, pitch = widest_thread(diameter=shafts)
    np.testing.assert_allclose(thread * 1e3, [0.8, 6, 8, 8, 10, 15, 64])
    np.testing.assert_allclose(pitch * 1e3, [0.25, 1, 1.25, 1.25, 1.5, 1, 6])


def test_the_least_thread_passes_and_the_next_smaller_does_not() -> None:
    sizes = [1e-3 * size for size, _ in THREADS]
    for bearing in bearings().values():
        least = least_thread(seat=bearing.bore)
        assert nut_clearance(shaft=least, seat=bearing.bore) >= PLAY
        below = [size for size in sizes if size < least - 1e-9]
        assert (nut_clearance(shaft=np.array(below), seat=bearing.bore) < PLAY).all()
    assert np.isnan(least_thread(seat=60e-3))


def test_the_reference_of_study_files_lists_the_least_shaft_of_each_bore() -> None:
    text = (ROOT / "shared" / "study-file.md").read_text(encoding="utf-8")
    listed = re.search(r"by a thread:\s+at least ([^:]+?)\.\n", text)
    assert listed
    pairs = re.findall(r"([\d.]+)(?: mm)? over (\d+)(?: or (\d+))?", listed[1].replace("\n", " "))
    least = {float(bore): float(shaft) for shaft, *bores in pairs for bore in bores if bore}
    bores = {round(1e3 * row.bore, 6) for row in bearings().values() if row.bore > 1e-3}
    assert set(least) == bores
    for bore, shaft in least.items():
        assert 1e3 * least_thread(seat=1e-3 * bore) == pytest.approx(shaft)
