"""Commands that begin with a study file: new, check, point, try, run."""

import argparse
import gc
import json
import shlex
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from engine.errors import INTERRUPTED, NothingFeasibleError, Problem, StudyError, SwirlstackError

if TYPE_CHECKING:
    from engine.physics.plane.answer import Progress as PlaneProgress
    from engine.run.runner import Outcome

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

MOST_WORKERS = 1024

# Everything heavy is imported inside the command that needs it, so that help comes at once.
# ruff: noqa: PLC0415


def add_studies(commands: "Commands") -> None:
    """Add what begins with a study file."""
    new = commands.add_parser("new", help="write a commented study, ready to run")
    new.add_argument("name", metavar="NAME", help="title; the file is named after it")
    new.set_defaults(command=_new)

    check = commands.add_parser("check", help="check a study, and sample its space before a run")
    check.add_argument("study", metavar="STUDY", type=Path)
    check.set_defaults(command=_check)

    point = commands.add_parser(
        "point",
        help="evaluate one build, with every loss and margin",
        epilog="Exit code 2 where it cannot be made or has no operating point, so that a script "
        "gets no build without numbers; 0 else, also where it misses limits.",
    )
    point.add_argument("study", metavar="STUDY", type=Path, help="or RUN, and a DESIGN of it")
    point.add_argument(
        "values",
        metavar="KEY=VALUE",
        nargs="*",
        help="such as gap=0.3mm or 'supply_pressure=4 bar gauge'",
    )
    point.add_argument("--json", action="store_true", help="print results for a machine")
    point.add_argument(
        "--plane",
        action="store_true",
        help="follow its flow in the plane of the discs too; takes some minutes",
    )
    point.set_defaults(command=_point)

    sizes = commands.add_parser("sizes", help="search a ladder of sizes, and chart how it scales")
    sizes.add_argument("study", metavar="STUDY", type=Path)
    ends = sizes.add_mutually_exclusive_group(required=True)
    ends.add_argument("--flow", metavar="LOW..HIGH", help="such as 300..10000l/min")
    ends.add_argument("--diameter", metavar="LOW..HIGH", help="of the discs, such as 80..250mm")
    sizes.add_argument(
        "--rungs", metavar="N", type=_rungs, default=6, help="sizes, from 2 to 12; usual: 6"
    )
    sizes.add_argument(
        "--output", metavar="FILE", type=Path, default=Path("sizes.html"), help="the page"
    )
    sizes.set_defaults(command=_sizes)

    live = commands.add_parser("try", help="turn the knobs of a build in the browser")
    live.add_argument("study", metavar="STUDY", type=Path, help="or RUN, and a DESIGN of it")
    live.add_argument(
        "design", metavar="DESIGN", nargs="?", help="first build of a run; usual: pick"
    )
    live.add_argument(
        "--port", type=int, default=0, help="on this machine; a free one if not given"
    )
    live.set_defaults(command=_try)

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
        "--workers",
        metavar="N",
        type=_count,
        default=1,
        help="processes on this machine, where each gets work enough; usual: 1",
    )
    means.add_argument(
        "--cluster", metavar="ADDRESS", default="", help="Dask scheduler, such as tcp://host:8786"
    )
    run.set_defaults(command=_run)


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
def briefly() -> Iterator[None]:
    """Collect no garbage meanwhile: loading libraries leaves little of it among many objects.

    What was loaded is not searched afterwards either; it is needed until the end.
    """
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


@briefly()
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


@briefly()
def _point(given: argparse.Namespace) -> int:
    """Show one build; as wrong as a wrong study where it has no numbers to go on with."""
    from engine.console import show_point, terminal
    from engine.model.limits import MATCHED
    from engine.run.point import point_of
    from engine.study.reader import read_study, split_supply

    supply, given.values = split_supply(given.values)
    if given.study.is_dir():
        from engine.run.chosen import values_of_design

        study, given.values = values_of_design(given.study, given.values, supply)
    else:
        study = read_study(given.study, supply)
    point = point_of(study, given.values, _plane_progress if given.plane else None)
    if given.plane:
        sys.stderr.write("\n")
    if given.json:
        sys.stdout.write(json.dumps(point.as_plain(), indent=2, allow_nan=False) + "\n")
    else:
        show_point(terminal(), study, point)
    is_running = point.results["status"][0] == MATCHED
    return StudyError.exit_code if point.impossible or not is_running else 0


def _try(given: argparse.Namespace) -> int:
    with briefly():
        from engine.console import show_sentences, terminal
        from reports.live.serve import tried

    console = terminal()
    with tried(given.study, given.design, given.port) as (address, serve):
        show_sentences(console, [f"Open {address} in a browser. Ctrl-C ends this."])
        try:
            serve()
        except KeyboardInterrupt:
            show_sentences(console, ["Stopped."])
    return 0


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


def _rungs(text: str) -> int:
    number = _count(text)
    if not 2 <= number <= 12:
        msg = f"{number} sizes; take 2 to 12"
        raise argparse.ArgumentTypeError(msg)
    return number


def _sizes(given: argparse.Namespace) -> int:
    from time import monotonic

    from engine.console import show_cautions, show_sentences, terminal
    from engine.run.sizes import (
        climb,
        flow_dimension,
        ladder_of,
        of_diameter,
        refuse_unscalable,
        scaled,
    )
    from engine.study.reader import read_study
    from reports.kit.outfile import write_own
    from reports.sizes import MARK, rung_text, write_sizes

    study, began = read_study(given.study), monotonic()
    refuse_unscalable(study, str(given.study))
    if given.flow is not None:
        flows = ladder_of(given.flow, given.rungs, flow_dimension(study))
        studies = [scaled(study, flow / (study.supply.available_flow or flow)) for flow in flows]
    else:
        wanted = ladder_of(given.diameter, given.rungs, "length")
        studies = [of_diameter(study, diameter) for diameter in wanted]
    console = terminal()
    rungs = climb(studies, lambda rung: show_sentences(console, [rung_text(study, rung)]))
    write_own(given.output, write_sizes(study, rungs, monotonic() - began).encode(), MARK)
    show_sentences(console, [f"Read {given.output}"])
    show_cautions(console, study)
    return 0


def _run(given: argparse.Namespace) -> int:
    from engine.files import refuse_present
    from engine.run.heap import share_heap

    share_heap()
    if len(given.studies) > 1:
        return _run_all(given)
    if given.optuna is not None:
        refuse_present(given.optuna)
    return _run_one(given, given.studies[0])[0]


def _run_one(given: argparse.Namespace, path: Path) -> "tuple[int, Outcome]":
    from engine.console import progress_bar, show_outcome, show_sentences, terminal
    from engine.run.ahead import compiled_ahead
    from engine.run.folder import REPORT, write_text
    from engine.run.launch import run_study
    from engine.run.read import hand_to_optuna
    from engine.study.reader import read_study

    console = terminal()
    first = "First run here: the model is compiled, which takes half a minute or more."
    with (
        compiled_ahead(lambda: show_sentences(console, [first])) as closer_is_ready,
        progress_bar(console, read_study(path)) as progress,
    ):
        outcome = run_study(
            path,
            given.into,
            progress,
            workers=given.workers,
            cluster=given.cluster,
            closer_is_ready=closer_is_ready,
        )
    # Loaded only now, so that workers start sooner.
    from reports.run.make import follow_shown, report_of_run

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
