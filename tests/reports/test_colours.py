"""Colours of page and charts: contrast, and eyes that tell fewer colours apart."""

import re
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from reports.kit.rendering import asset

# Machado, Oliveira and Fernandes 2009, "A physiologically-based model for simulation of color
# vision deficiency", IEEE Trans. Vis. Comput. Graph. 15, severity 1.0; for linear RGB. From memory.
SIGHT = {
    "full": np.eye(3),
    "without long cones": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "without middle cones": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "without short cones": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
TOLD_APART = 10.0
"""Distance in CIE L*a*b* (1976); 2.3 is just seen side by side (Mahy et al. 1994)."""
# IEC 61966-2-1: linear sRGB to XYZ, and its white.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def _linear(colour: str) -> NDArray[np.float64]:
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def _contrast(one: str, other: str) -> float:
    """Ratio of WCAG 2.2."""
    low, high = sorted(float(TO_XYZ[1] @ _linear(colour)) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def _lab(colour: str, sight: NDArray[np.float64]) -> NDArray[np.float64]:
    seen = np.clip(sight @ _linear(colour), 0, 1)
    share = TO_XYZ @ seen / TO_XYZ.sum(axis=1)
    x, y, z = np.where(share > 0.008856, np.cbrt(share), 7.787 * share + 16 / 116)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def _page(*, dark: bool) -> dict[str, str]:
    light, night = re.findall(r":root \{(.*?)\}", asset("page.css"), flags=re.DOTALL)[:2]
    return dict(re.findall(r"--([\w-]+): (#\w{6});", night if dark else light))


def test_the_ratio_of_black_on_white_is_that_of_the_standard() -> None:
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2, definition
    # WebAIM's much quoted edge: the lightest grey that passes 4.5 on white (from memory).
    assert _contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_red_and_green_look_alike_without_middle_cones() -> None:
    red, green = "#c04040", "#6e7d1f"
    full, less = (
        float(np.linalg.norm(_lab(red, SIGHT[eye]) - _lab(green, SIGHT[eye])))
        for eye in ("full", "without middle cones")
    )
    assert less < 0.5 * full


MEANINGS = ("air", "metal", "runs", "fails")


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("dark", [False, True])
def test_red_stands_apart_from_the_other_meanings_for_every_colour_vision(
    sight: str, dark: bool
) -> None:
    page = _page(dark=dark)
    looks = {name: _lab(page[name], SIGHT[sight]) for name in ("paper", "ink", *MEANINGS)}
    distance = {
        (one, other): float(np.linalg.norm(looks[one] - looks[other]))
        for one, other in combinations(looks, 2)
        if "fails" in (one, other) or "paper" in (one, other)
    }
    assert min(distance.values()) > TOLD_APART, min(distance, key=lambda pair: distance[pair])


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("dark", [False, True])
def test_parts_of_a_bar_differ_for_every_colour_vision(sight: str, dark: bool) -> None:
    page = _page(dark=dark)
    fills = [_lab(page[name], SIGHT[sight]) for name in ("runs", "metal-fill", "air-fill")]
    assert min(np.linalg.norm(a - b) for a, b in combinations(fills, 2)) > TOLD_APART


@pytest.mark.parametrize("dark", [False, True])
def test_text_of_the_page_has_contrast_on_every_background(dark: bool) -> None:
    # WCAG 2.2, success criterion 1.4.3: 4.5 for text; marks would need 3 (1.4.11).
    page = _page(dark=dark)
    for words, grounds in {
        "ink": ("paper", "band", "mark"),
        "soft": ("paper", "band"),
        "link": ("paper",),
        "fails": ("paper", "band"),
        **dict.fromkeys(("air", "metal", "runs"), ("paper",)),
        "on-runs": ("runs",),
        "on-fill": ("air-fill", "metal-fill"),
    }.items():
        for ground in grounds:
            assert _contrast(page[words], page[ground]) >= 4.5, (words, ground)


@pytest.mark.parametrize("dark", [False, True])
def test_faint_marks_can_be_seen(dark: bool) -> None:
    page = _page(dark=dark)
    assert _contrast(page["faint"], page["paper"]) >= 3.0
    assert _contrast(page["soft"], page["air-fill"]) >= 1.5  # the edge of a bar
