"""The command `swirlstack`: arguments in, exit code out."""

import argparse
import atexit
import gc
import os
import sys
from collections.abc import Callable, Sequence

from engine import __version__
from engine.commands.references import add_references
from engine.commands.runs import add_runs
from engine.commands.studies import add_studies
from engine.errors import INTERRUPTED, SwirlstackError


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
    add_studies(commands)
    add_runs(commands)
    add_references(commands)
    return parser


if __name__ == "__main__":
    sys.exit(main())
