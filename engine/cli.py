"""The command `swirlstack`: arguments in, exit code out."""

import argparse
import json
import os
import shlex
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from engine import __version__
from engine.errors import NothingFeasibleError, Problem, StudyError, SwirlstackError

INTERRUPTED = 130

# Everything heavy is imported inside the command that needs it, so that help comes at once.
# ruff: noqa: PLC0415


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the only place where errors become messages and exit codes."""
    given = _parser().parse_args(arguments)
    command: Callable[[argparse.Namespace], int] = given.command
    try:
        return command(given)
    except SwirlstackError as error:
        sys.stderr.write(f"{error}\n")
        return error.exit_code
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted; what was stored is whole, the same command goes on.\n")
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output has seen enough; say nothing more, at exit either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
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
    run.add_argument(
        "--optuna", metavar="FILE", type=Path, help="write the front as an Optuna journal too"
    )
    run.set_defaults(command=_run)

    build = commands.add_parser("build", help="write the build sheet of a design of a run")
    build.add_argument("run", metavar="RUN", type=Path, help="run folder, such as runs/NAME")
    build.add_argument(
        "design", metavar="DESIGN", help="its number in the report, or A, B, C, most, knee, safest"
    )
    build.set_defaults(command=_build)

    schema = commands.add_parser("schema", help="print the JSON Schema of study files for editors")
    schema.set_defaults(command=_schema)
    return parser


def _new(given: argparse.Namespace) -> int:
    from engine.folder import run_name
    from engine.studyfile import starter_text

    text = starter_text(given.name)
    path = Path(f"{run_name(Path(given.name))}.yaml")
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        reason = "stands here already" if path.exists() else str(error.strerror)
        found = Problem(str(path), None, "", reason, "", "choose another name or folder")
        raise StudyError([found]) from error
    sys.stdout.write(f"Wrote {path}. Next: swirlstack check {shlex.quote(str(path))}\n")
    return 0


def _check(given: argparse.Namespace) -> int:
    from engine import api
    from engine.console import show_look, terminal

    study = api.load_study(given.study)
    show_look(terminal(), study, api.look(study))
    return 0


def _point(given: argparse.Namespace) -> int:
    from engine import api
    from engine.console import show_point, terminal

    study = api.load_study(given.study)
    point = api.point(study, given.values)
    if given.json:
        sys.stdout.write(json.dumps(api.plain(point), indent=2, allow_nan=False) + "\n")
    else:
        show_point(terminal(), study, point)
    return 0


def _run(given: argparse.Namespace) -> int:
    from engine import api
    from engine.console import progress_bar, show_outcome, terminal
    from engine.folder import REPORT, write_text
    from reports import report_of_run

    console = terminal()
    if given.optuna is not None:
        api.refuse_present(given.optuna)
    with progress_bar(console, api.load_study(given.study)) as progress:
        outcome = api.run(given.study, given.into, progress)
    report = write_text(outcome.folder, REPORT, report_of_run(outcome.folder))
    show_outcome(console, outcome, report)
    if given.optuna is not None:
        api.hand_to_optuna(outcome.folder, given.optuna)
    if outcome.state.state == "interrupted":
        return INTERRUPTED
    return 0 if outcome.state.feasible else NothingFeasibleError.exit_code


def _build(given: argparse.Namespace) -> int:
    from engine.console import show_sheet, terminal
    from engine.folder import write_build
    from reports.build import sheet_of_run

    design, files = sheet_of_run(given.run, given.design)
    show_sheet(terminal(), write_build(given.run, design, files), list(files))
    return 0


def _schema(_: argparse.Namespace) -> int:
    from engine.schema import study_schema

    sys.stdout.write(json.dumps(study_schema(), indent=2, ensure_ascii=False) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
