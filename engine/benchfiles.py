"""Where fits and bench plans are written: whole or not at all, and never over a filled-in log."""

from collections.abc import Mapping
from pathlib import Path

from engine import safefile
from engine.errors import RunFolderError

PLAN = "plan-"
"""How the folder of a bench plan begins; the number of the design follows."""


def write_fit(study: Path, log: Path, text: str, page: str) -> tuple[Path, Path]:
    """Write fit file and page beside the study, where it can name them; give both paths."""
    paths = tuple(study.parent / f"{log.stem}.fit.{kind}" for kind in ("yaml", "html"))
    for path, content in zip(paths, (text, page), strict=True):
        safefile.write_whole(path, content.encode())
    return paths[0], paths[1]


def write_plan(run: Path, design: int, files: Mapping[str, str]) -> Path:
    """Write a bench plan into its run folder; raises RunFolderError over a log filled in there."""
    folder = run / f"{PLAN}{design}"
    with safefile.locked(run):
        if folder.is_symlink():
            msg = f"{folder}: is a link, which is not followed; put a folder there"
            raise RunFolderError(msg)
        safefile.make_folder(folder)
        for name, text in files.items():
            path = folder / name
            if path.suffix == ".csv" and path.exists() and path.read_bytes() != text.encode():
                msg = f"{path}: was filled in and would be lost; move it away"
                raise RunFolderError(msg)
        for name, text in files.items():
            safefile.write_whole(folder / name, text.encode())
    return folder
