"""Commands that go on from a run, to the bench and back."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from engine.commands.studies import briefly

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

# Everything heavy is imported inside the command that needs it, so that help comes at once.
# ruff: noqa: PLC0415


def add_runs(commands: "Commands") -> None:
    """Add what goes on from a run, to the bench and back."""
    build = commands.add_parser("build", help="write the build sheet of a design of a run")
    _add_design(build)
    build.add_argument(
        "--dxf", metavar="VERSION", choices=("R12", "R2010"), default="R2010", help="R12 or R2010"
    )
    build.add_argument(
        "--paper", metavar="SIZE", choices=("A4", "A3"), default="A4", help="drawings: A4 or A3"
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


@briefly()
def _build(given: argparse.Namespace) -> int:
    from engine.console import show_sheet, terminal
    from engine.run.folder import write_build
    from engine.run.read import study_of_run
    from reports.design.make import sheet_of_run

    design, files = sheet_of_run(given.run, given.design, dxf=given.dxf, paper=given.paper)
    folder = write_build(given.run, design, files)
    show_sheet(terminal(), folder, list(files), study_of_run(given.run)[0])
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
    from engine.run.read import study_of_run
    from reports.design.make import plan_of_run

    design, files = plan_of_run(given.run, given.design)
    folder = write_plan(given.run, design, files)
    show_sheet(terminal(), folder, list(files), study_of_run(given.run)[0])
    return 0
