"""The reference of study files and bench logs, and what `swirlstack keys` answers from it."""

import tomllib
from importlib.metadata import version
from pathlib import Path
from typing import Literal

import pytest

from engine.bench.fit import COEFFICIENTS, PUMP_COEFFICIENTS
from engine.bench.log import read_log
from engine.bench.log_columns import MEANINGS, OF_KIND, QUANTITIES
from engine.bench.log_text import HEAD_KEYS, SECTIONS
from engine.catalogue import read_table
from engine.columns import columns_of
from engine.errors import StudyError
from engine.files import shared_file
from engine.fluids.by_name import fluid_names
from engine.study.keys import DOCUMENT, WIDTH, Row, answer, read_reference
from engine.study.kinds import KINDS
from engine.study.loads import Appliance
from engine.study.machine import Machine
from engine.study.reader import KNOWN_KEYS, parse_study
from engine.study.search import Search
from engine.study.supply import Supply
from engine.study.uncertainty import Uncertainty
from tests.support.benchlogs import STUDY
from tests.support.places import ROOT
from tests.support.reference import PLACE, TABLES, rewritten

TEXT = (ROOT / "shared" / DOCUMENT).read_text(encoding="utf-8")
REWRITE = "run `python -m tests.support.reference`"
IN_TABLES = {place[2]: place[3] for place in PLACE.finditer(TEXT)}


def same_fluids() -> bool:
    """Whether the fluids in the document are of the CoolProp that is installed."""
    return f"By CoolProp {version('CoolProp')}.\n" in IN_TABLES["fluids"]


def rows_of(part: str) -> dict[str, Row]:
    return {row.name: row for row in read_reference().rows.values() if row.part == part}


@pytest.mark.parametrize("name", TABLES)
def test_each_table_of_the_document_is_what_the_models_give(name: str) -> None:
    if name == "fluids" and not same_fluids():
        pytest.skip("another CoolProp is installed than the one whose fluids are listed")
    assert IN_TABLES[name] == TABLES[name](), REWRITE


def test_every_table_of_the_document_is_written_from_the_models() -> None:
    assert set(IN_TABLES) == set(TABLES)
    assert "\n|" not in PLACE.sub("", TEXT)


def test_rewriting_fills_an_emptied_document_again() -> None:
    if not same_fluids():
        pytest.skip("another CoolProp is installed than the one whose fluids are listed")
    assert rewritten(PLACE.sub(r"\1\4", TEXT)) == TEXT


@pytest.mark.parametrize("section", [name for name in KNOWN_KEYS if name])
def test_every_key_of_a_study_stands_under_its_section(section: str) -> None:
    told = rows_of("Results" if section in ("limits", "aims") else section)
    if section == "ranges":  # a machine number stands where it is at home
        told |= rows_of("machine")
    assert set(KNOWN_KEYS[section]) <= set(told)
    assert section in {part.title for part in read_reference().parts}
    for key in KNOWN_KEYS[section]:
        assert told[key].cells["meaning"]


@pytest.mark.parametrize(
    ("machine", "part"), [("turbine", "Results"), ("pump", "Results of a pump")]
)
def test_every_result_stands_with_its_unit_label_and_whether_more_is_better(
    machine: Literal["turbine", "pump"], part: str
) -> None:
    told = rows_of(part)
    results = [column for column in columns_of(machine).values() if column.kind == "result"]
    assert set(told) == {column.key for column in results}
    for column in results:
        cells = told[column.key].cells
        assert cells["meaning"] == column.meaning
        assert cells["label"] == column.label
        assert cells.get("better", "") == column.better
        if column.unit.symbol not in ("", "text", "count"):
            assert cells["unit"] == column.unit.symbol


def test_every_key_of_a_pump_stands_under_its_section() -> None:
    parts = {
        "supply": "Supply of a pump", "duty": "duty", "machine": "Machine of a pump",
        "ranges": "Ranges of a pump", "uncertainty": "Uncertainty of a pump",
        "limits": "Results of a pump", "search": "search",
    }  # fmt: skip
    for section, part in parts.items():
        told = rows_of(part)
        told |= rows_of("Machine of a pump") if section == "ranges" else {}
        assert set(KINDS["pump"].known[section]) <= set(told), section


@pytest.mark.parametrize(
    "table", ["materials", "processes", "bearings", "bearing-seals", "appliances"]
)
def test_every_row_of_the_shared_tables_stands_there_with_its_source(table: str) -> None:
    told = rows_of(table.replace("-", " ").capitalize())
    rows = read_table(table)
    assert list(told) == list(rows)
    for key, row in rows.items():
        assert told[key].cells["source"] == row["source"]


def test_every_fluid_stands_there() -> None:
    if not same_fluids():
        pytest.skip("another CoolProp is installed than the one whose fluids are listed")
    assert tuple(rows_of("Fluids")) == fluid_names()


def test_the_bench_log_stands_there() -> None:
    assert set(rows_of("Head of a log")) == set(SECTIONS)
    assert set(rows_of("Columns of a log")) == set(HEAD_KEYS)
    assert set(rows_of("Quantities of a log")) == set(QUANTITIES) == set(MEANINGS)
    assert set(rows_of("Quantities of a pump's log")) == set(OF_KIND["pump"])
    assert set(rows_of("Fitting a bench log")) == set(COEFFICIENTS)
    assert set(rows_of("Fitting a pump's log")) == set(PUMP_COEFFICIENTS)
    assert set(rows_of("Entries of appliances")) == set(Appliance.model_fields)


def test_the_usual_values_of_the_document_are_those_that_a_study_takes() -> None:
    text = "title: Usual values\n" + "".join(
        f"{section}:\n"
        + "".join(
            f"  {key}: {row.cells['usual value']}\n"
            for key, row in rows_of(section).items()
            if isinstance(model.model_fields[key].default, bool | int | float | str | tuple)
        )
        for section, model in (("search", Search), ("uncertainty", Uncertainty))
    )
    machine = rows_of("machine")
    text += "machine:\n" + "".join(
        f"  {key}: {machine[key].cells['usual value']}\n"
        for key, field in Machine.model_fields.items()
        if field.default is not None
    )
    supply = rows_of("supply")
    text += "supply:\n" + "".join(
        f"  {key}: {supply[key].cells['usual value']}\n"
        for key, field in Supply.model_fields.items()
        if isinstance(field.default, str | float)
    ).replace("  boiler_efficiency: 0.75\n", "")  # air has no boiler
    text += "  pressure: 6 bar gauge\n  temperature: 20 degC\n"
    text += "ranges:\n" + "".join(
        f"  {key}: {row.cells['example']}\n" for key, row in rows_of("ranges").items()
    )
    study = parse_study(text, "usual.yaml")
    assert study.search == Search()
    for key in Machine.model_fields:
        assert getattr(study.machine, key) == pytest.approx(getattr(Machine(), key)), key
    for key in Uncertainty.model_fields:
        assert getattr(study.uncertainty, key) == pytest.approx(getattr(Uncertainty(), key)), key
    assert (study.supply.fluid, study.supply.back_pressure) == ("air", 101325.0)
    assert study.supply.boiler_efficiency == float(supply["boiler_efficiency"].cells["usual value"])


def examples() -> list[str]:
    """Every block of code in the document, without its margin."""
    blocks, block = [], list[str]()
    for line in [*TEXT.splitlines(), ""]:
        if line.startswith("    "):
            block.append(line[4:])
        elif block:
            blocks.append("\n".join(block) + "\n")
            block = []
    return blocks


def test_the_examples_of_the_document_can_be_read(tmp_path: Path) -> None:
    study = next(text for text in examples() if text.startswith("title:"))
    assert parse_study(study, "example.yaml").machine.nozzle_count == 2
    others = [text for text in examples() if text.startswith(("limits:", "aims:", "loads:"))]
    assert len(others) == 3
    bare = study.partition("limits:")[0] + "".join(others)
    read = parse_study(bare, "example.yaml")
    assert read.loads is not None
    assert [load.name for load in read.loads.listed] == ["led-lamp", "kiln fan", "bench-fan"]
    log = tmp_path / "bench.csv"
    log.write_text(next(text for text in examples() if text.startswith("---")), encoding="utf-8")
    assert read_log(log, STUDY).readings == ("shaft_torque", "rim_pressure")


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("stress_margin", ["stress_margin (Results)", "yield strength divided by the peak stress"]),
        ("machine", ["## machine", "nozzle_width\n    throat width of one nozzle", "0.3 mm"]),
        ("6001", ["6001 (Bearings)", "12 x 28 x 8", "Harris"]),
        ("stainless", ["stainless-304 (", "stainless-301-full-hard (", "stainless-17-4ph-h900 ("]),
        ("air", ["air (Fluids)", "a gas"]),
        ("R245fa", ["R245fa (Fluids)", "boiler"]),
        ("gap", ["gap (ranges)", "gap (uncertainty)", "gap_hold"]),
        ("led-lamp", ["led-lamp (Appliances)", "9 W"]),
        ("limits", ["## limits", "stress_margin: {min: 1.5}"]),
        ("bench", ["## Bench logs", "### Quantities of a log", "### Coast-down"]),
        ("laser-cut", ["laser-cut (Processes)", "ISO 9445-2"]),
        ("polish", ["### Stages: screen, evolve, polish, refine"]),
        ("speed", ["speed (ranges)", "speed (Quantities of a log)"]),
        ("appliances", ["appliances (loads)", "## Appliances", "led-lamp\n"]),
        ("quality", ["quality (supply)", "in place of temperature", "0.97"]),
        ("fit", ["fit (machine)", "See also: Fitting a bench log"]),
    ],
)
def test_a_word_gets_its_part(word: str, told: list[str]) -> None:
    found = answer(word)
    for words in told:
        assert words in found
    other = {"machine": "## ranges", "limits": "## aims", "bench": "## Materials"}
    assert other.get(word, "## A study file") not in found


def test_one_key_tells_meaning_usual_value_example_and_bounds() -> None:
    assert answer("boiler_efficiency").splitlines() == [
        "boiler_efficiency (supply)",
        "  meaning      heat given to a vapour over heat of the fuel, or of the heat",
        "               source",
        "  usual value  0.75",
        "  example      70 %",
        "  takes        a plain number or a percentage from 0.02 up to 1",
    ]


@pytest.mark.parametrize("word", ["Nozzle-Width", "nozzle width", "NOZZLE_WIDTH", " nozzle_width "])
def test_case_and_what_parts_the_words_do_not_matter(word: str) -> None:
    assert answer(word) == answer("nozzle_width")


def test_without_a_word_all_of_it_is_told() -> None:
    whole = answer("")
    for part in read_reference().parts:
        assert f"{'#' * part.level} {part.title}\n" in whole
    for name in read_reference().names:
        assert name in whole
    assert "<!--" not in whole
    assert "\n|" not in whole


def test_every_name_has_an_answer_that_fits_the_terminal() -> None:
    for name in (*read_reference().names, ""):
        lines = answer(name).splitlines()
        assert lines[0]
        assert not [line for line in lines if len(line) > WIDTH], name


@pytest.mark.parametrize(
    ("word", "remedy"),
    [
        ("stres_margin", "perhaps you meant stress_margin"),
        ("stainles-304", "perhaps you meant stainless-304"),
        ("electric_power_p10", "perhaps you meant electric_power"),
        ("ledlamp", "perhaps you meant led-lamp"),
        ("xyzzy", "`swirlstack keys` without a word prints the whole reference"),
        ("\x1b[2J", "prints the whole reference"),
        ("q" * 10_000, "prints the whole reference"),
    ],
)
def test_an_unknown_word_names_the_nearest(word: str, remedy: str) -> None:
    with pytest.raises(StudyError) as told:
        answer(word)
    message = str(told.value)
    assert message.startswith("command line: ")
    assert remedy in message
    assert message.isprintable()
    assert len(message) < 250


def test_the_document_travels_in_the_wheel() -> None:
    assert shared_file(DOCUMENT).is_file()
    built = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["hatch"]["build"]
    assert built["targets"]["wheel"]["force-include"]["shared"] == "engine/shared"
