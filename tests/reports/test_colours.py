"""Colours of page and charts: contrast, and eyes that tell fewer colours apart."""

import re
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from reports.kit import charts
from reports.kit.rendering import asset
from reports.run.charts import pareto

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


def _shade(colour: str, *, dark: bool) -> str:
    return charts.DARK.get(colour, colour) if dark else colour


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


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("dark", [False, True])
def test_colours_of_the_modes_differ_for_every_colour_vision(sight: str, dark: bool) -> None:
    colours = [_shade(colour, dark=dark) for colour, _ in pareto.MODES]
    paper = _shade(charts.PAPER, dark=dark)
    distance = {
        pair: float(np.linalg.norm(_lab(pair[0], SIGHT[sight]) - _lab(pair[1], SIGHT[sight])))
        for pair in combinations([*colours, paper], 2)
    }
    assert min(distance.values()) > TOLD_APART, min(distance, key=lambda pair: distance[pair])


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("dark", [False, True])
def test_larger_and_smaller_steps_differ_for_every_colour_vision(sight: str, dark: bool) -> None:
    one, other = (
        _lab(_shade(colour, dark=dark), SIGHT[sight]) for colour in (charts.BLUE, charts.SKY)
    )
    assert np.linalg.norm(one - other) > TOLD_APART


@pytest.mark.parametrize("dark", [False, True])
def test_text_of_the_page_has_contrast_on_every_background(dark: bool) -> None:
    # WCAG 2.2, success criterion 1.4.3: 4.5 for text.
    page = _page(dark=dark)
    for words, grounds in {
        "ink": ("paper", "band", "mark", "bar", "warn-paper"),
        "soft": ("paper", "band", "bar"),
        "link": ("paper",),
        "warn": ("paper", "warn-paper"),
    }.items():
        for ground in grounds:
            assert _contrast(page[words], page[ground]) >= 4.5, (words, ground)


def test_governing_modes_differ_in_colour_and_in_shape() -> None:
    assert len({colour for colour, _ in pareto.MODES}) == len(pareto.MODES)
    assert len({shape for _, shape in pareto.MODES}) == len(pareto.MODES)


@pytest.mark.parametrize("dark", [False, True])
def test_text_and_dots_of_charts_have_contrast_on_paper(dark: bool) -> None:
    # WCAG 2.2, success criteria 1.4.3 (text, 4.5) and 1.4.11 (graphics, 3); colour is not the
    # only cue for the modes, so the paler ones of the palette need 1.8 to be seen at all.
    for colour, least in (
        (charts.INK, 4.5),
        (charts.SOFT, 4.5),
        (charts.BLUE, 3.0),
        (charts.VERMILLION, 3.0),
        (charts.GREEN, 3.0),
        (charts.ORANGE, 1.8),
        (charts.PURPLE, 1.8),
        (charts.SKY, 1.8),
    ):
        shade, paper = _shade(colour, dark=dark), _shade(charts.PAPER, dark=dark)
        assert _contrast(shade, paper) >= least, colour


@pytest.mark.parametrize("dark", [False, True])
def test_page_and_charts_share_their_colours(dark: bool) -> None:
    page = _page(dark=dark)
    named = {"ink": charts.INK, "soft": charts.SOFT, "grid": charts.GRID, "paper": charts.PAPER}
    assert {name: page[name] for name in named} == {
        name: _shade(colour, dark=dark) for name, colour in named.items()
    }
