"""Factors are those of the SI Brochure (9th edition, 2019) and of NIST SP 811 (2008)."""

import contextlib
import math
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from engine import units
from engine.columns import COLUMNS, UNITS
from engine.units import DIMENSIONS, UnitError, parse, unit_example

FACTORS = [
    # SI Brochure, section 3 (prefixes) and table 8 (non-SI units accepted): all exact.
    ("0.3 mm", "length", 0.3e-3),
    ("300 µm", "length", 300e-6),
    ("300 um", "length", 300e-6),
    ("12 deg", "angle", 12 * math.pi / 180),
    ("12°", "angle", 12 * math.pi / 180),
    ("0.2 rad", "angle", 0.2),
    ("20 degC", "temperature", 293.15),
    ("20 °C", "temperature", 293.15),
    ("-20 degC", "temperature", 253.15),
    ("293 K", "temperature", 293.0),
    ("5 K", "temperature_difference", 5.0),
    ("5 degC", "temperature_difference", 5.0),
    ("400 l/min", "volume_flow", 400e-3 / 60),
    ("6 m3/h", "volume_flow", 6 / 3600),
    ("6 m³/h", "volume_flow", 6 / 3600),
    ("6 m^3/h", "volume_flow", 6 / 3600),
    ("10 g/s", "mass_flow", 0.010),
    ("36 kg/h", "mass_flow", 0.010),
    ("250 W", "power", 250.0),
    ("0.25 kW", "power", 250.0),
    ("1 mN m", "torque", 1e-3),
    ("1 mNm", "torque", 1e-3),
    ("1 mN*m", "torque", 1e-3),
    ("1 Nm", "torque", 1.0),
    ("20 N", "force", 20.0),
    ("150 MPa", "stress", 150e6),
    ("150 N/mm2", "stress", 150e6),
    ("12 g mm", "unbalance", 12e-6),
    ("300 Hz", "frequency", 300.0),
    ("20 mm2/s", "kinematic_viscosity", 20e-6),
    ("2.5 mm/s", "balance_grade", 2.5e-3),
    ("60 kg/kWh", "specific_consumption", 60 / 3.6e6),
    ("6.5 kW/(m3/min)", "specific_power", 6.5e3 * 60),
    ("6.5 kW min/m3", "specific_power", 6.5e3 * 60),
    # A turn is 2 pi rad and a minute 60 s.
    ("18000 rpm", "angular_speed", 18000 * 2 * math.pi / 60),
    ("18000 rev/min", "angular_speed", 18000 * 2 * math.pi / 60),
    ("300 rev/s", "angular_speed", 300 * 2 * math.pi),
    ("1885 rad/s", "angular_speed", 1885.0),
    # Bar: SI Brochure, table 8 of the 8th edition, 1 bar = 1e5 Pa exactly.
    ("6 bar absolute", "pressure", 6e5),
    ("6 bar abs", "pressure", 6e5),
    ("6 bar(a)", "pressure", 6e5),
    ("6 bara", "pressure", 6e5),
    ("600 kPa absolute", "pressure", 6e5),
    ("6 bar gauge", "pressure", 6e5 + 101325),
    ("6 barg", "pressure", 6e5 + 101325),
    ("6 bar g", "pressure", 6e5 + 101325),
    ("6 bar (g)", "pressure", 6e5 + 101325),
    ("-0.2 bar gauge", "pressure", -0.2e5 + 101325),
    # Plain numbers and percentages.
    ("0.3", "ratio", 0.3),
    (0.3, "ratio", 0.3),
    ("30 %", "ratio", 0.3),
    ("30%", "ratio", 0.3),
    ("12", "count", 12),
    (12, "count", 12),
    ("1e3", "count", 1000),
    # Ways of writing a number.
    ("1e-3 m", "length", 1e-3),
    (".3 mm", "length", 0.3e-3),
    ("0.3mm", "length", 0.3e-3),
    ("  0.3   mm  ", "length", 0.3e-3),
    ("0.3\u00a0mm", "length", 0.3e-3),
    ("−20 degC", "temperature", 253.15),
    # NIST SP 811, appendix B.8: inch 2.54 E-02 (exact), stokes 1.0 E-04 (exact),
    # kilogram-force 9.806 65 (exact).
    ("1 in", "length", 25.4e-3),
    ("20 cSt", "kinematic_viscosity", 20e-6),
    ("2 kgf", "force", 2 * 9.80665),
]


@pytest.mark.parametrize(("text", "dimension", "si"), FACTORS)
def test_a_text_with_its_unit_is_its_si_number(
    text: str | float, dimension: str, si: float
) -> None:
    assert parse(text, dimension, atmosphere=101325.0) == pytest.approx(si, rel=1e-12)


def test_rounded_factors_agree_to_their_printed_digits() -> None:
    # NIST SP 811, appendix B.8: psi 6.894 757 E+03 Pa, cubic foot per minute 4.719 474 E-04 m3/s.
    assert parse("1 psia", "pressure") == pytest.approx(6894.757, abs=5e-4)
    assert parse("1 cfm", "volume_flow") == pytest.approx(4.719474e-4, abs=5e-11)
    # NIST SP 811, appendix B.8: (t/F + 459.67)/1.8 K.
    assert parse("68 °F", "temperature") == pytest.approx((68 + 459.67) / 1.8, rel=1e-12)


def test_free_air_has_the_density_of_the_reference_state_of_iso_1217() -> None:
    # ISO 1217 reference: 1 bar, 20 °C, dry (from memory). Density by CoolProp 8, Lemmon et al.
    # 2000: 1.18882 kg/m3; the ideal gas with R = 287.05 J/(kg K) is 0.04 % lower.
    flow = parse("600 l/min", "air_flow")
    assert flow == pytest.approx(1.18882 * 0.6 / 60, rel=1e-3)
    assert parse("10 g/s", "air_flow") == pytest.approx(0.010)


def test_gauge_counts_from_the_given_atmosphere() -> None:
    assert parse("6 bar gauge", "pressure", atmosphere=9e4) == pytest.approx(6.9e5)
    assert parse("6 bar absolute", "pressure", atmosphere=9e4) == pytest.approx(6e5)
    with pytest.raises(UnitError, match="is gauge; expected an absolute pressure"):
        parse("6 bar gauge", "pressure")


def test_a_count_is_a_whole_number() -> None:
    assert isinstance(parse("12.0", "count"), int)


WRONG = [
    ("0.3", "length", "has no unit"),
    (0.3, "length", "has no unit"),
    (3, "length", "has no unit"),
    ("12", "angle", "has no unit"),
    ("0,3 mm", "length", "has a comma in its number"),
    ("18,000 rpm", "angular_speed", "has a comma in its number"),
    ("18 000 rpm", "angular_speed", "has a break in its number"),
    ("18_000 rpm", "angular_speed", "has a break in its number"),
    ("1/64 in", "length", "is a fraction"),
    ("6 bar", "pressure", "does not say gauge or absolute"),
    ("600 kPa", "pressure", "does not say gauge or absolute"),
    ("3 kg", "length", "is a mass"),
    ("3 bar", "length", "is a pressure"),
    ("300 Hz", "angular_speed", "is a frequency"),
    ("300 rpm", "frequency", "is a rotational speed"),
    ("0.2 rad/s", "frequency", "is a rotational speed"),
    ("12 deg", "ratio", "has a unit"),
    ("12 deg/s", "speed", "is a rotational speed"),
    ("5 m/K", "length", "is another kind of quantity"),
    ("3 frobs", "length", "has an unknown unit"),
    ("3 mm; rm", "length", "has an unknown unit"),
    ("1 __import__('os')", "length", "has a break in its number"),
    ("1 m**99999999", "length", "has an unknown unit"),
    ("1 m9", "length", "has an unknown unit"),
    ("1 (((((m)))))", "length", "has an unknown unit"),
    ("thin", "length", "does not begin with a number"),
    ("mm", "length", "does not begin with a number"),
    ("", "length", "no value"),
    (None, "length", "no value"),
    (["1 mm"], "length", "a list"),
    ({"min": "1 mm"}, "length", "a section with keys"),
    (True, "ratio", "a yes or no"),
    (b"1 mm", "length", "no text"),
    ("nan mm", "length", "is not a finite number"),
    (math.nan, "ratio", "is not a finite number"),
    (".inf", "ratio", "is not a finite number"),
    ("-Infinity rpm", "angular_speed", "is not a finite number"),
    ("1e999 mm", "length", "is not a finite number"),
    ("1e308 km", "length", "is not a finite number"),
    ("1 " + "m" * 100, "length", "is too long for a value"),
    ("12.5", "count", "is not whole"),
    ("1e300", "count", "is not whole"),
    ("4 discs", "count", "has a unit or words after its number"),
]


@pytest.mark.parametrize(("value", "dimension", "found"), WRONG)
def test_a_wrong_value_is_named_with_its_remedy(value: object, dimension: str, found: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(value, dimension)
    assert found in caught.value.found
    assert caught.value.expected.startswith(DIMENSIONS[dimension].phrase)
    assert caught.value.remedy
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_every_example_can_be_read(dimension: str) -> None:
    assert math.isfinite(parse(unit_example(dimension), dimension, atmosphere=101325.0))


def test_every_drawing_unit_has_the_factor_that_its_text_has() -> None:
    for unit in UNITS.values():
        if unit.symbol in ("", "text", "count"):
            continue
        text = f"3 {unit.symbol}" + (" absolute" if unit.dimension == "pressure" else "")
        si = 3 * unit.si_factor + unit.si_offset
        assert parse(text, unit.dimension) == pytest.approx(si, rel=1e-12), unit.symbol


def test_every_number_of_the_column_table_has_a_known_dimension() -> None:
    assert {c.unit.dimension for c in COLUMNS.values() if not c.is_text} <= DIMENSIONS.keys()


def test_no_text_breaks_the_reader() -> None:
    words = "m mm kg g dB Np degC gauge bar inf e nan rpm pi count in if None lambda delta_degC"
    parts = [*words.split(), *"123.,^/*()-%_²\x00\ud800 ", "**"]
    draw = np.random.default_rng(1)
    for _ in range(2000):
        text = "1 " + "".join(draw.choice(parts, size=draw.integers(1, 9)))
        for dimension in ("length", "pressure", "power", "temperature", "ratio"):
            with contextlib.suppress(UnitError):
                assert math.isfinite(parse(text, dimension, atmosphere=101325.0)), text


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    for forgotten in (units._read_unit, units._kind_of):
        forgotten.cache_clear()
    yield tmp_path / "swirlstack"
    for forgotten in (units._read_unit, units._kind_of):
        forgotten.cache_clear()


def test_a_unit_is_read_by_pint_once_and_then_from_disk(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = ["80.1 mm", "14.7 psi absolute", "68 degF", "18000 rpm", "600 l/min"]
    kinds = ["length", "pressure", "temperature", "angular_speed", "air_flow"]
    first = [parse(text, kind) for text, kind in zip(asked, kinds, strict=True)]
    for forgotten in (units._read_unit, units._kind_of):
        forgotten.cache_clear()

    def silent() -> None:
        raise AssertionError

    monkeypatch.setattr(units, "_registry", silent)
    assert [parse(text, kind) for text, kind in zip(asked, kinds, strict=True)] == first
    n_kept = len(list(place.iterdir()))
    with pytest.raises(AssertionError):
        parse("3 furlong", "length")
    assert len(list(place.iterdir())) == n_kept


def test_a_unit_that_is_not_a_factor_of_an_si_unit_is_refused() -> None:
    for text in ("30 dBm", "3 degC/s"):
        with pytest.raises(UnitError, match=r"an unknown unit|another kind"):
            parse(text, "power")


def test_importing_the_study_does_not_load_pint() -> None:
    code = "import sys, engine.study.study; sys.exit('pint' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], check=False)  # noqa: S603  our own code
    assert ran.returncode == 0
