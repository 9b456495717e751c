"""The command `swirlstack`: arguments in, exit code out."""

import argparse
import atexit
import gc
import json
import os
import shlex
import sys
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from engine import __version__
from engine.errors import NothingFeasibleError, Problem, StudyError, SwirlstackError

if TYPE_CHECKING:
    from engine.physics.plane.answer import Progress as PlaneProgress
    from engine.run.runner import Outcome

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

INTERRUPTED = 130
MOST_WORKERS = 1024

# Everything heavy is imported inside the command that needs it, so that help comes at once.
# ruff: noqa: PLC0415


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the only place where errors become messages and exit codes."""
    given = _parser().parse_args(arguments)
    atexit.register(gc.freeze)  # else Python searches all that was loaded for garbage at exit
    command: Callable[[argparse.Namespace], int] = given.command
    try:
        return command(given)
    except SwirlstackError as error:
        sys.stderr.write(f"{error}\n")
        return error.exit_code
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted. Everything stored is safe; the same command continues.\n")
        return INTERRUPTED
    except BrokenPipeError:
        # Whatever read the output has closed it; write nothing more, at exit either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="swirlstack", description="Choose which bladeless multi-disc turbine to build."
    )
    parser.add_argument("--version", action="version", version=f"swirlstack {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    _add_studies(commands)
    _add_runs(commands)
    _add_references(commands)
    return parser


def _add_studies(commands: "Commands") -> None:
    """Add what begins with a study file."""
    new = commands.add_parser("new", help="write a commented study, ready to run")
    new.add_argument("name", metavar="NAME", help="title; the file is named after it")
    new.set_defaults(command=_new)

    check = commands.add_parser("check", help="check a study, and sample its space before a run")
    check.add_argument("study", metavar="STUDY", type=Path)
    check.set_defaults(command=_check)

    point = commands.add_parser("point", help="evaluate one build, with every loss and margin")
    point.add_argument("study", metavar="STUDY", type=Path, help="or RUN, and a DESIGN of it")
    point.add_argument("values", metavar="KEY=VALUE", nargs="*", help="such as gap=0.3mm")
    point.add_argument("--json", action="store_true", help="print results for a machine")
    point.add_argument(
        "--plane",
        action="store_true",
        help="follow its flow in the plane of the discs too; takes some minutes",
    )
    point.set_defaults(command=_point)

    run = commands.add_parser("run", help="search, and write the run folder with its report")
    run.add_argument(
        "studies", metavar="STUDY", nargs="+", type=Path, help="several are run one after the other"
    )
    run.add_argument("--into", metavar="FOLDER", type=Path, help="instead of runs/NAME")
    run.add_argument(
        "--optuna", metavar="FILE", type=Path, help="also write the front as an Optuna journal"
    )
    means = run.add_mutually_exclusive_group()
    means.add_argument(
        "--workers", metavar="N", type=_count, default=1, help="processes on this machine; usual: 1"
    )
    means.add_argument(
        "--cluster", metavar="ADDRESS", default="", help="Dask scheduler, such as tcp://host:8786"
    )
    run.set_defaults(command=_run)


def _add_runs(commands: "Commands") -> None:
    """Add what goes on from a run, to the bench and back."""
    build = commands.add_parser("build", help="write the build sheet of a design of a run")
    _add_design(build)
    build.add_argument(
        "--dxf", metavar="VERSION", choices=("R12", "R2010"), default="R2010", help="R12 or R2010"
    )
    build.set_defaults(command=_build)

    compare = commands.add_parser("compare", help="compare the fronts of several runs on one page")
    compare.add_argument("runs", metavar="RUN", nargs="+", type=Path, help="run folders, 2 to 8")
    compare.add_argument(
        "--output", metavar="FILE", type=Path, default=Path("compare.html"), help="the page"
    )
    compare.set_defaults(command=_compare)

    watch = commands.add_parser("watch", help="show a run in the browser, also while it runs")
    watch.add_argument("run", metavar="RUN", type=Path, help="run folder, such as runs/NAME")
    watch.add_argument(
        "--port", type=int, default=0, help="on this machine; a free one if not given"
    )
    watch.set_defaults(command=_watch)

    picture = commands.add_parser("picture", help="draw the front of a run as SVG and PNG")
    picture.add_argument("run", metavar="RUN", type=Path, help="run folder, such as runs/NAME")
    picture.add_argument(
        "--output", metavar="FILE", type=Path, help="one file, .svg or .png; else NAME.svg and .png"
    )
    picture.add_argument(
        "--width", choices=("page", "column"), default="page", help="170 mm, or 85 mm"
    )
    picture.set_defaults(command=_picture)

    fit = commands.add_parser(
        "fit", help="fit coefficients to a bench log, a coast-down or a tap test"
    )
    fit.add_argument("study", metavar="STUDY", type=Path)
    fit.add_argument(
        "logs", metavar="BENCH.csv", type=Path, nargs="+", help="one log or several, in any order"
    )
    fit.add_argument("--replace", action="store_true", help="write over an earlier fit")
    fit.set_defaults(command=_fit)

    plan = commands.add_parser("plan-test", help="write the bench plan of a design of a run")
    _add_design(plan)
    plan.set_defaults(command=_plan)


def _add_design(command: argparse.ArgumentParser) -> None:
    names = "number in the report; pick (usual), calmer, calmest, A, B, C, most, knee, safest"
    command.add_argument("run", metavar="RUN", type=Path, help="run folder, such as runs/NAME")
    command.add_argument("design", metavar="DESIGN", nargs="?", default="pick", help=names)


def _add_references(commands: "Commands") -> None:
    """Add what explains study files."""
    keys = commands.add_parser(
        "keys", help="explain a key, result, material or fluid, or all of them"
    )
    keys.add_argument("word", metavar="WORD", nargs="*", help="such as gap, stainless or limits")
    keys.set_defaults(command=_keys)

    schema = commands.add_parser("schema", help="print the JSON Schema of study files for editors")
    schema.set_defaults(command=_schema)


def _new(given: argparse.Namespace) -> int:
    from engine.run.folder import run_name
    from engine.study.reader import starter_text

    text = starter_text(given.name)
    path = Path(f"{run_name(Path(given.name))}.yaml")
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        reason = "already exists" if path.exists() else str(error.strerror)
        found = Problem(file=str(path), found=reason, remedy="choose another name or folder")
        raise StudyError([found]) from error
    sys.stdout.write(f"Wrote {path}. Next: swirlstack check {shlex.quote(str(path))}\n")
    return 0


@contextmanager
def _briefly() -> Iterator[None]:
    """Collect no garbage meanwhile: loading libraries leaves little of it among many objects.

    What was loaded is not searched afterwards either; it is needed until the end.
    """
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


@_briefly()
def _check(given: argparse.Namespace) -> int:
    from engine.console import show_preview, show_sentences, terminal
    from engine.run.preview import preview
    from engine.study.oddities import oddities
    from engine.study.reader import read_study

    study = read_study(given.study)
    found, console = oddities(given.study, study), terminal()
    show_preview(console, study, preview(study))
    if found:
        show_sentences(console, ["Odd, but taken:", *map(str, found)])
    return 0


@_briefly()
def _point(given: argparse.Namespace) -> int:
    from engine.console import show_point, terminal
    from engine.run.point import point_of
    from engine.study.reader import read_study

    if given.study.is_dir():
        from engine.run.chosen import values_of_design

        study, given.values = values_of_design(given.study, given.values)
    else:
        study = read_study(given.study)
    point = point_of(study, given.values, _plane_progress if given.plane else None)
    if given.plane:
        sys.stderr.write("\n")
    if given.json:
        sys.stdout.write(json.dumps(point.as_plain(), indent=2, allow_nan=False) + "\n")
    else:
        show_point(terminal(), study, point)
    return StudyError.exit_code if point.impossible else 0


def _plane_progress(now: "PlaneProgress") -> None:
    """Say on standard error how far the flow in the plane of the discs is."""
    sys.stderr.write(
        f"\rIn the plane of the discs: {now.share:.0%} of the most steps, torque "
        f"{now.rotor_torque * 1e3:.2f} mN m, out of balance by {now.residual:.2%} "
    )
    sys.stderr.flush()


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= MOST_WORKERS:
        msg = f"{text!r} is not a number from 1 to {MOST_WORKERS}"
        raise argparse.ArgumentTypeError(msg)
    return int(text)


def _run(given: argparse.Namespace) -> int:
    from engine.files import refuse_present

    if len(given.studies) > 1:
        return _run_all(given)
    if given.optuna is not None:
        refuse_present(given.optuna)
    return _run_one(given, given.studies[0])[0]


def _run_one(given: argparse.Namespace, path: Path) -> "tuple[int, Outcome]":
    from engine.console import progress_bar, show_outcome, terminal
    from engine.run.folder import REPORT, write_text
    from engine.run.launch import run_study
    from engine.run.read import hand_to_optuna
    from engine.study.reader import read_study
    from reports.run.make import follow_shown, report_of_run

    console = terminal()
    with progress_bar(console, read_study(path)) as progress:
        outcome = run_study(
            path, given.into, progress, workers=given.workers, cluster=given.cluster
        )
    if follow_shown(outcome.folder, _plane_progress):
        sys.stderr.write("\n")
    report = write_text(outcome.folder, REPORT, report_of_run(outcome.folder))
    show_outcome(console, outcome, report)
    if given.optuna is not None:
        hand_to_optuna(outcome.folder, given.optuna)
    if outcome.state.state == "interrupted":
        return INTERRUPTED, outcome
    return 0 if outcome.state.feasible else NothingFeasibleError.exit_code, outcome


def _run_all(given: argparse.Namespace) -> int:
    """Run studies one after the other; the exit code is that of the first that did not succeed."""
    from engine.console import show_queue, terminal

    if given.into is not None or given.optuna is not None:
        remedy = "leave it out, or run the studies one by one"
        option = "--into" if given.into is not None else "--optuna"
        raise StudyError(
            [Problem(file="command line", key=option, found="is for one study", remedy=remedy)]
        )
    ended: list[tuple[Path, int, Outcome | str]] = []
    for path in given.studies:
        try:
            code, outcome = _run_one(given, path)
            ended.append((path, code, outcome))
        except SwirlstackError as error:
            sys.stderr.write(f"{error}\n")
            ended.append((path, error.exit_code, str(error)))
        except Exception as error:
            # An error in one study does not stop the others.
            sys.stderr.write(traceback.format_exc())
            ended.append((path, 1, f"{type(error).__name__}: {error}"))
        if ended[-1][1] == INTERRUPTED:
            break
    show_queue(terminal(), ended, given.studies[len(ended) :])
    return next((code for _, code, _ in ended if code), 0)


def _build(given: argparse.Namespace) -> int:
    from engine.console import show_sheet, terminal
    from engine.run.folder import write_build
    from reports.design.make import sheet_of_run

    design, files = sheet_of_run(given.run, given.design, dxf=given.dxf)
    show_sheet(terminal(), write_build(given.run, design, files), list(files))
    return 0


def _compare(given: argparse.Namespace) -> int:
    from engine.console import show_sentences, terminal
    from reports.compare.make import comparison_of_runs
    from reports.compare.page import MARK
    from reports.kit.outfile import write_own

    page, sentences = comparison_of_runs(given.runs)
    write_own(given.output, page.encode(), MARK)
    show_sentences(terminal(), [*sentences, f"Read {given.output}"])
    return 0


def _watch(given: argparse.Namespace) -> int:
    from engine.console import show_sentences, terminal
    from reports.watch import watched

    console = terminal()
    with watched(given.run, given.port) as (address, serve):
        show_sentences(
            console, [f"Open {address} in a browser. Ctrl-C ends this; the run goes on."]
        )
        try:
            serve()
        except KeyboardInterrupt:
            show_sentences(console, ["Stopped watching."])
    return 0


def _picture(given: argparse.Namespace) -> int:
    from engine.console import show_sentences, terminal
    from reports.pictures import write_pictures

    written = write_pictures(given.run, given.output, given.width)
    show_sentences(terminal(), [f"Wrote {path}" for path in written])
    return 0


def _fit(given: argparse.Namespace) -> int:
    from engine.bench.files import refuse_written, write_fit
    from engine.console import show_sentences, terminal
    from reports.fit.make import fit_of_logs

    console = terminal()
    refuse_written(given.study, given.logs, may_replace=given.replace)
    found = fit_of_logs(given.study, given.logs, lambda line: show_sentences(console, [line]))
    refuse_written(given.study, [given.logs[0], *found.pages], may_replace=given.replace)
    fit, *pages = write_fit(given.study, given.logs, found.text, found.pages)
    show_sentences(console, [f"Wrote {fit}, and {', '.join(map(str, pages))} to look at"])
    return 0


def _plan(given: argparse.Namespace) -> int:
    from engine.bench.files import write_plan
    from engine.console import show_sheet, terminal
    from reports.design.make import plan_of_run

    design, files = plan_of_run(given.run, given.design)
    show_sheet(terminal(), write_plan(given.run, design, files), list(files))
    return 0


def _keys(given: argparse.Namespace) -> int:
    from engine.study.keys import answer

    sys.stdout.write(answer(" ".join(given.word)))
    return 0


def _schema(_: argparse.Namespace) -> int:
    from engine.study.schema import study_schema

    sys.stdout.write(json.dumps(study_schema(), indent=2, ensure_ascii=False) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
