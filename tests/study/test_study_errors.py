"""One table of broken studies: what is told, at which line and key, and how to mend it."""

from pathlib import Path

import pytest

from engine.errors import Problem, StudyError
from engine.study.reader import parse_study, read_study
from engine.study.yaml_text import LONGEST

GOOD = """\
title: A shop by the canal
supply:
  pressure: 6 bar gauge
  temperature: 20 degC
  available_flow: 600 l/min
machine:
  nozzle_count: 4
  material: stainless-304
ranges:
  disc_count: {min: 4, max: 40}
  disc_diameter: {min: 80 mm, max: 200 mm, step: 5 mm}
  gap:
    min: 0.2 mm
    max: 0.6 mm
    step: 0.1 mm
  inlet_angle: {min: 6 deg, max: 25 deg}
  exhaust_bore: {min: 20 mm, max: 90 mm}
  speed: 18000 rpm
  nozzle_width: {choices: [0.6 mm, 0.8 mm]}
limits:
  stress_margin: {min: 1.5}
  rim_pressure: {max: 5 bar gauge}
aims:
  electric_power: maximise
  safety_margin: maximise
search:
  designs: 2000
"""

# What is changed in GOOD, and the only problem that comes of it: line, key, found, remedy.
EDITS: dict[str, tuple[str, str, int, str, str, str]] = {
    # Units
    "missing unit": (
        "max: 0.6 mm", "max: 0.6", 14, "ranges.gap.max", "'0.6' has no unit", "as in 0.3 mm",
    ),
    "missing unit among choices": (
        "[0.6 mm, 0.8 mm]", "[0.6 mm, 0.8]", 19, "ranges.nozzle_width.choices",
        "'0.8' has no unit", "as in 0.3 mm",
    ),
    "missing unit of a fixed value": (
        "18000 rpm", "18000", 18, "ranges.speed", "'18000' has no unit", "as in 18000 rpm",
    ),
    "wrong dimension": (
        "20 degC", "20 bar", 4, "supply.temperature", "'20 bar' is a pressure", "20 degC",
    ),
    "frequency for a rotation": (
        "18000 rpm", "300 Hz", 18, "ranges.speed", "'300 Hz' is a frequency", "18000 rpm",
    ),
    "unknown unit": (
        "80 mm", "80 mn", 11, "ranges.disc_diameter.min", "has an unknown unit", "0.3 mm",
    ),
    "decimal comma": (
        "min: 0.2 mm", "min: 0,2 mm", 13, "ranges.gap.min", "has a comma", "a decimal point",
    ),
    "gauge or absolute missing": (
        "6 bar gauge", "6 bar", 3, "supply.pressure",
        "'6 bar' does not say gauge or absolute", "end it with gauge",
    ),
    "gauge or absolute missing in a limit": (
        "5 bar gauge", "5 bar", 22, "limits.rim_pressure.max",
        "does not say gauge or absolute", "end it with gauge",
    ),
    "atmosphere in gauge": (
        "temperature: 20 degC", "temperature: 20 degC\n  atmosphere: 1 bar gauge", 5,
        "supply.atmosphere", "'1 bar gauge' is gauge", "1.013 bar absolute",
    ),
    "not a number": (
        "designs: 2000", "designs: .nan", 27, "search.designs", "is not a finite number", "as in 4",
    ),
    "infinite": (
        "200 mm", ".inf mm", 11, "ranges.disc_diameter.max", "is not a finite number", "0.3 mm",
    ),
    "half a design": (
        "designs: 2000", "designs: 2000.5", 27, "search.designs", "is not whole", "as in 4",
    ),
    # Bounds of single values
    "negative gap": (
        "min: 0.2 mm", "min: -0.2 mm", 13, "ranges.gap.min",
        "'-0.2 mm' is out of bounds; expected a length above 0 mm", "above 0 mm",
    ),
    "no nozzle": (
        "nozzle_count: 4", "nozzle_count: 0", 7, "machine.nozzle_count",
        "'0' is out of bounds", "a whole number from 1",
    ),
    "nozzles blowing outward": (
        "25 deg", "95 deg", 16, "ranges.inlet_angle.max", "'95 deg' is out of bounds",
        "below 90 deg",
    ),
    "colder than the air data": (
        "20 degC", "-80 degC", 4, "supply.temperature", "'-80 degC' is out of bounds",
        "from -43.15 °C up to 426.85 °C",
    ),
    "atmosphere of another planet": (
        "temperature: 20 degC", "temperature: 20 degC\n  atmosphere: 90 bar absolute", 5,
        "supply.atmosphere", "is out of bounds", "up to 1.2 bar absolute",
    ),
    "supply below its outlet": (
        "6 bar gauge", "0.8 bar absolute", 3, "supply.pressure", "0.8 bar absolute drives no flow",
        "raise the pressure",
    ),
    # Ranges
    "min above max": (
        "max: 0.6 mm", "max: 0.1 mm", 14, "ranges.gap.max", "0.1 mm is below min 0.2 mm",
        "swap them or widen the range",
    ),
    "empty range": (
        "disc_count: {min: 4, max: 40}", "disc_count: {}", 10, "ranges.disc_count",
        "an empty range", "{choices: [...]} or one value",
    ),
    "range of nothing": (
        "disc_count: {min: 4, max: 40}", "disc_count:", 10, "ranges.disc_count", "no value", "4",
    ),
    "no choices": (
        "[0.6 mm, 0.8 mm]", "[]", 19, "ranges.nozzle_width.choices", "no choices", "one value",
    ),
    "choices without brackets": (
        "[0.6 mm, 0.8 mm]", "0.6 mm", 19, "ranges.nozzle_width.choices", "no list", "in brackets",
    ),
    "bare list": (
        "{choices: [0.6 mm, 0.8 mm]}", "[0.6 mm, 0.8 mm]", 19, "ranges.nozzle_width", "a list",
        "{choices: [...]}",
    ),
    "a choice twice": (
        "[0.6 mm, 0.8 mm]", "[0.6 mm, 600 um]", 19, "ranges.nozzle_width.choices",
        "a value is given twice", "keep it once",
    ),
    "choices beside a span": (
        "{choices: [0.6 mm, 0.8 mm]}", "{choices: [0.6 mm], min: 0.5 mm}", 19,
        "ranges.nozzle_width.min", "min together with choices", "keep the choices or the span",
    ),
    "half a span": (
        "{min: 4, max: 40}", "{min: 4}", 10, "ranges.disc_count", "max is missing", "add max",
    ),
    "step of zero": (
        "step: 0.1 mm", "step: 0 mm", 15, "ranges.gap.step", "'0 mm'", "above zero",
    ),
    "step wider than the range": (
        "step: 0.1 mm", "step: 1 mm", 15, "ranges.gap.step",
        "1 mm is wider than the range from 0.2 mm to 0.6 mm", "narrow the step",
    ),
    "step without end": (
        "step: 0.1 mm", "step: 1e-9 mm", 15, "ranges.gap.step", "more than 100000 steps",
        "leave it out",
    ),
    "span of words": (
        "nozzle_width: {choices: [0.6 mm, 0.8 mm]}",
        "process: {min: laser-cut, max: turned}", 19, "ranges.process.min", "a span of words",
        "list the words",
    ),
    "stated twice": (
        "nozzle_width:", "nozzle_count: {min: 2, max: 6}\n  nozzle_width:", 19,
        "ranges.nozzle_count", "is given under machine too", "under ranges or under machine",
    ),
    "bore wider than every disc": (
        "{min: 20 mm, max: 90 mm}", "{min: 250 mm, max: 300 mm}", 17, "ranges.exhaust_bore",
        "no build is possible", "the largest disc, 200 mm",
    ),
    "bore inside the shaft": (
        "{min: 20 mm, max: 90 mm}", "8 mm", 17, "ranges.exhaust_bore", "no build is possible",
        "the smallest shaft, 12 mm",
    ),
    # Keys and names
    "unknown key": (
        "nozzle_count: 4", "colour: red", 7, "machine.colour", "unknown key", "take it out",
    ),
    "misspelled key": (
        "nozzle_count: 4", "nozle_count: 4", 7, "machine.nozle_count", "unknown key",
        "perhaps you meant nozzle_count",
    ),
    "misspelled section": (
        "ranges:", "range:", 9, "range", "unknown key", "perhaps you meant ranges",
    ),
    "misspelled key of a range": (
        "step: 0.1 mm", "stp: 0.1 mm", 15, "ranges.gap.stp", "unknown key", "meant step",
    ),
    "misspelled required key": (
        "pressure: 6 bar gauge", "presure: 6 bar gauge", 3, "supply.presure", "unknown key",
        "perhaps you meant pressure",
    ),
    "key of another section": (
        "nozzle_count: 4", "nozzle_count: 4\n  seed: 7", 8, "machine.seed",
        "is not a key of this section", "put it under search",
    ),
    "section pushed inward": (
        "search:\n  designs: 2000", "  search: {designs: 2000}", 26, "aims.search",
        "is a section of its own", "at the margin",
    ),
    "unknown material": (
        "stainless-304", "stainles-304", 8, "machine.material", "'stainles-304' is unknown",
        "perhaps you meant stainless-304",
    ),
    "unknown word": (
        "pressure: 6", "fluid: ayr\n  pressure: 6", 3, "supply.fluid", "'ayr'",
        "perhaps you meant air",
    ),
    "limit on an unknown result": (
        "stress_margin:", "stres_margin:", 21, "limits.stres_margin", "unknown key",
        "perhaps you meant stress_margin",
    ),
    "limit on a variable": (
        "stress_margin: {min: 1.5}", "speed: {max: 9000 rpm}", 21, "limits.speed",
        "is not a result with a number", "bound it under ranges",
    ),
    "limit on words": (
        "stress_margin: {min: 1.5}", "governing_mode: {min: 1}", 21, "limits.governing_mode",
        "is not a result with a number", "one of the results",
    ),
    "limit without a bound": (
        "stress_margin: {min: 1.5}", "stress_margin: {}", 21, "limits.stress_margin", "no bound",
        "{min: ...}",
    ),
    "limit without min or max": (
        "stress_margin: {min: 1.5}", "stress_margin: 1.5", 21, "limits.stress_margin", "'1.5'",
        "write {min: 1.5}",
    ),
    "limit of another dimension": (
        "stress_margin: {min: 1.5}", "shaft_power: {min: 30 mm}", 21, "limits.shaft_power.min",
        "'30 mm' is a length", "250 W",
    ),
    "limit that nothing meets": (
        "{min: 1.5}", "{min: 1.5, max: 1.2}", 21, "limits.stress_margin.max",
        "1.2 is below min 1.5", "swap them",
    ),
    "aim at an unknown result": (
        "safety_margin: maximise", "safty_margin: maximise", 25, "aims.safty_margin",
        "unknown key", "perhaps you meant safety_margin",
    ),
    "aim at words": (
        "safety_margin: maximise", "governing_mode: maximise", 25, "aims.governing_mode",
        "is not a result with a number", "one of the results",
    ),
    "aim in another spelling": (
        "safety_margin: maximise", "safety_margin: maximize", 25, "aims.safety_margin",
        "'maximize'", "perhaps you meant maximise",
    ),
    "a single aim": (
        "  safety_margin: maximise\n", "", 23, "aims", "1 aims", "two or three",
    ),
    # Sections and required keys
    "required key missing": (
        "  temperature: 20 degC\n", "", 2, "supply.temperature", "is missing",
        "add temperature: 20 degC under supply",
    ),
    "required range missing": (
        "  speed: 18000 rpm\n", "", 9, "ranges.speed", "is missing", "add speed under ranges",
    ),
    "title missing": (
        "title: A shop by the canal\n", "", 1, "title", "is missing", "add title:",
    ),
    "title empty": ("A shop by the canal", "' '", 1, "title", "an empty title", "one line"),
    "title left out": ("A shop by the canal", "", 1, "title", "is empty", "add title:"),
    "title too long": (
        "A shop by the canal", "canal " * 50, 1, "title", "'canal canal", "1 to 120 characters",
    ),
    "title of many lines": (
        "A shop by the canal", '"a\\nb"', 1, "title", "'a\\nb'", "one line",
    ),
    "title that cannot be shown": (
        "A shop by the canal", '"a\\ud800b"', 1, "title", "cannot be shown", "plain text",
    ),
    "section that is a word": (
        "limits:\n  stress_margin: {min: 1.5}\n  rim_pressure: {max: 5 bar gauge}", "limits: none",
        20, "limits", "no section", "indent them",
    ),
    "section where a value belongs": (
        "material: stainless-304", "material: {name: brass}", 8, "machine.material",
        "no single text", "on one line",
    ),
    "key twice": (
        "nozzle_count: 4", "nozzle_count: 4\n  nozzle_count: 5", 8, "machine.nozzle_count",
        "is given twice, first on line 7", "keep one",
    ),
    "key that is a list": (
        "nozzle_count: 4", "? [a, b]\n  : 4", 7, "machine",
        "a key that is not a word", "key: value",
    ),
    # What YAML can do and a study may not
    "merge key": ("nozzle_count: 4", "<<: {seed: 3}", 7, "machine.<<", "unknown key", "take it"),
    "alias": (
        "min: 0.2 mm\n    max: 0.6 mm", "min: &a 0.2 mm\n    max: *a", 13, "",
        "anchors and aliases", "write the values out",
    ),
    "tag that would build an object": (
        "nozzle_count: 4", "nozzle_count: !!python/object/apply:os.system [ls]", 7, "",
        "tags (!) are not read", "quote the text",
    ),
    "tag of nobody": (
        "nozzle_count: 4", "nozzle_count: !mine 4", 7, "", "tags (!) are not read", "plain values",
    ),
    "nested without end": (
        "nozzle_count: 4", "nozzle_count: " + "[" * 50_000, 7, "", "is nested more than 12 deep",
        "sections, keys and values",
    ),
    "second document": ("search:", "---\nsearch:", 26, "", "a second document", "drop the ---"),
    "tab": ("  nozzle_count", "\tnozzle_count", 7, "", "cannot start any token", "not with tabs"),
    "colon in the title": (
        "A shop by the canal", "Canal: a shop", 1, "", "mapping values", "in quotes",
    ),
    "open bracket": ("{min: 1.5}", "{min: 1.5", 22, "", "is not YAML here", "indentation"),
    "NUL": ("canal", "ca\x00nal", 1, "", "character 0x00 is not allowed", "check"),
}  # fmt: skip

BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{new}: &{new} [{', '.join([f'*{old}'] * 9)}]\n"
    for old, new in zip("abcdefgh", "bcdefghi", strict=True)
)

# Whole files: bytes, line, found, remedy.
FILES: dict[str, tuple[bytes, int | None, str, str]] = {
    "empty": (b"", None, "is empty", "swirlstack new NAME"),
    "only comments": (b"# later\n", None, "is empty", "swirlstack new NAME"),
    "a list": (b"- title\n- supply\n", 1, "has no sections", "swirlstack new NAME"),
    "no YAML": (b"\n{]", 2, "is not YAML here", "colons and quotes"),
    "prose": (b"Dear tool, find me a turbine.", 1, "has no sections", "swirlstack new NAME"),
    "bomb of aliases": (BOMB.encode(), 1, "anchors and aliases", "write the values out"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00", 1, "byte 0x89 is not UTF-8", "save it as UTF-8"),
    "UTF-16": ("title: x\n".encode("utf-16"), 1, "byte 0xff is not UTF-8", "save it as UTF-8"),
    "Latin-1": (b"title: a\nsupply: 20 \xb0C\n", 2, "byte 0xb0 is not UTF-8", "save it as UTF-8"),
    "too long": (b"#" * (LONGEST + 1), None, "is too long", "at most 256 kB"),
}


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(StudyError) as caught:
        parse_study(text, "night.yaml")
    assert caught.value.exit_code == 2
    return caught.value.problems


def test_the_unbroken_study_is_read() -> None:
    assert parse_study(GOOD, "night.yaml").search.designs == 2000


@pytest.mark.parametrize("row", EDITS.values(), ids=EDITS)
def test_one_mistake_gives_one_message(row: tuple[str, str, int, str, str, str]) -> None:
    old, new, line, key, found, remedy = row
    assert GOOD.count(old) == 1
    problems = problems_of(GOOD.replace(old, new))
    assert len(problems) == 1, [str(problem) for problem in problems]
    (problem,) = problems
    assert (problem.file, problem.line, problem.key) == ("night.yaml", line, key)
    told = str(problem)
    assert told.startswith(f"night.yaml:{line}: {key}{': ' if key else ''}")
    assert found in told
    assert remedy in told
    assert "\n" not in told
    assert len(told) < 400


@pytest.mark.parametrize(("raw", "line", "found", "remedy"), FILES.values(), ids=FILES)
def test_a_file_that_holds_no_study_says_so(
    raw: bytes, line: int | None, found: str, remedy: str, tmp_path: Path
) -> None:
    path = tmp_path / "night.yaml"
    path.write_bytes(raw)
    with pytest.raises(StudyError) as caught:
        read_study(path)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line) == (str(path), line)
    assert found in problem.found
    assert remedy in str(problem)


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file() -> None:
    text = GOOD
    for old, new in (
        ("6 bar gauge", "6 bar"),
        ("20 degC", "20"),
        ("nozzle_count", "nozle_count"),
        ("stainless-304", "steel"),
        ("max: 0.6 mm", "max: 0.1 mm"),
        ("25 deg", "25 mm"),
        ("stress_margin", "stres_margin"),
        ("safety_margin: maximise", "safety_margin: more"),
        ("designs: 2000", "designs: many"),
    ):
        text = text.replace(old, new)
    problems = problems_of(text)
    assert [problem.line for problem in problems] == [3, 4, 7, 8, 14, 16, 21, 25, 27]


def test_a_message_reads_as_one_sentence() -> None:
    told = str(problems_of(GOOD.replace("max: 0.6 mm", "max: 0.1 mm"))[0])
    assert told == (
        "night.yaml:14: ranges.gap.max: 0.1 mm is below min 0.2 mm; swap them or widen the range"
    )
