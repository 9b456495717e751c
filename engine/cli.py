"""The command `swirlstack`: arguments in, exit code out."""

import argparse
import json
import signal
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from engine import __version__
from engine.errors import NothingFeasibleError, Problem, StudyError, SwirlstackError

if TYPE_CHECKING:
    from rich.console import Console

INTERRUPTED = 130

# Everything heavy is imported inside the command that needs it, so that help comes at once.
# ruff: noqa: PLC0415


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the only place where errors become messages and exit codes."""
    given = _parser().parse_args(arguments)
    from rich.console import Console

    errors = Console(stderr=True, soft_wrap=True, highlight=False)
    command: Callable[[argparse.Namespace, Console], int] = given.command
    try:
        return command(given, Console(highlight=False))
    except SwirlstackError as error:
        errors.print(str(error), markup=False)
        return error.exit_code
    except KeyboardInterrupt:
        errors.print("Interrupted; what was evaluated is kept. The same command continues.")
        return INTERRUPTED
    except BrokenPipeError:
        return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="swirlstack", description="Choose which bladeless multi-disc turbine to build."
    )
    parser.add_argument("--version", action="version", version=f"swirlstack {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    new = commands.add_parser("new", help="write a commented study that runs as it stands")
    new.add_argument("name", metavar="NAME", help="title; the file is named after it")
    new.set_defaults(command=_new)

    check = commands.add_parser("check", help="check a study and sample its space before a run")
    check.add_argument("study", metavar="STUDY", type=Path)
    check.set_defaults(command=_check)

    point = commands.add_parser("point", help="work through one build, with every loss and margin")
    point.add_argument("study", metavar="STUDY", type=Path)
    point.add_argument("values", metavar="KEY=VALUE", nargs="*", help="such as gap=0.3mm")
    point.add_argument("--json", action="store_true", help="print results for a machine")
    point.set_defaults(command=_point)

    run = commands.add_parser("run", help="search, and write the run folder with its report")
    run.add_argument("study", metavar="STUDY", type=Path)
    run.add_argument("--into", metavar="FOLDER", type=Path, help="instead of runs/NAME")
    run.set_defaults(command=_run)

    schema = commands.add_parser("schema", help="print the JSON Schema of study files for editors")
    schema.set_defaults(command=_schema)
    return parser


def _new(given: argparse.Namespace, console: "Console") -> int:
    from engine.studyfile import file_stem, starter_text

    text = starter_text(given.name)
    path = Path(f"{file_stem(given.name)}.yaml")
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        reason = "stands here already" if path.exists() else str(error.strerror)
        found = Problem(str(path), None, "", reason, "", "choose another name or folder")
        raise StudyError([found]) from error
    console.print(f"Wrote {path}. Next: swirlstack check {path}", markup=False)
    return 0


def _check(given: argparse.Namespace, console: "Console") -> int:
    from engine import api
    from engine.console import show_look

    study = api.load_study(given.study)
    show_look(console, study, api.look(study))
    return 0


def _point(given: argparse.Namespace, console: "Console") -> int:
    from engine import api
    from engine.console import show_point

    study = api.load_study(given.study)
    point = api.point(study, given.values)
    if given.json:
        sys.stdout.write(json.dumps(api.plain(point), indent=2, allow_nan=False) + "\n")
    else:
        show_point(console, study, point)
    return 0


def _run(given: argparse.Namespace, console: "Console") -> int:
    from engine import api
    from engine.console import progress_bar, show_outcome
    from reports import write_report

    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with progress_bar(console) as progress:
        run = api.run(given.study, given.into, progress=progress)
    report = run.write("report.html", write_report(api.run_data(run)))
    show_outcome(console, run, report)
    if not run.feasible:
        raise NothingFeasibleError(run.prevented_by)
    return 0


def _schema(given: argparse.Namespace, console: "Console") -> int:  # noqa: ARG001
    from engine.studyfile import schema

    sys.stdout.write(json.dumps(schema(), indent=2, ensure_ascii=False) + "\n")
    return 0
