"""Numbers as pages write them."""

import math

import pytest

from reports.kit.quantities import THIN, bare, number, percent, quantity, setting


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (1e-12, "0"),
        (9.996, "10.0"),
        (0.0123456, "0.0123"),
        (-2.5, "−2.50"),
        (999.6, "1 000"),
        (1234567.0, "1 230 000"),
        (math.inf, "–"),
    ],
)
def test_numbers_show_three_digits_and_thin_spaces(value: float, text: str) -> None:
    assert number(value).replace(THIN, " ") == text


@pytest.mark.parametrize(
    ("share", "text"), [(0.0, "0 %"), (1.0, "100 %"), (0.0001, "<0.1 %"), (math.nan, "–")]
)
def test_shares_never_round_to_none_or_all(share: float, text: str) -> None:
    assert percent(share).replace(THIN, " ") == text


def test_chosen_numbers_keep_four_digits_and_no_closing_zeros() -> None:
    assert quantity("disc_diameter", 0.1524).replace(THIN, " ") == "152.4 mm"
    assert setting("mass_flow", 0.03).replace(THIN, " ") == "30 g/s"
    assert quantity("mass_flow", math.nan) == "–"
    assert (bare("survives_load_loss", 1.0), bare("survives_load_loss", 0.0)) == ("yes", "no")
    assert (quantity("disc_count", 24.0), quantity("material", "brass")) == ("24", "brass")
