"""Commands that explain study files: keys, schema."""

import argparse
import json
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

# Everything heavy is imported inside the command that needs it, so that help comes at once.
# ruff: noqa: PLC0415


def add_references(commands: "Commands") -> None:
    """Add what explains study files."""
    keys = commands.add_parser(
        "keys", help="explain a key, result, material or fluid, or all of them"
    )
    keys.add_argument("word", metavar="WORD", nargs="*", help="such as gap, stainless or limits")
    keys.set_defaults(command=_keys)

    schema = commands.add_parser("schema", help="print the JSON Schema of study files for editors")
    schema.set_defaults(command=_schema)


def _keys(given: argparse.Namespace) -> int:
    from engine.study.keys import answer

    sys.stdout.write(answer(" ".join(given.word)))
    return 0


def _schema(_: argparse.Namespace) -> int:
    from engine.study.schema import study_schema

    sys.stdout.write(json.dumps(study_schema(), indent=2, ensure_ascii=False) + "\n")
    return 0
