"""Marked designs of a run, followed in the plane of their discs and kept in the run folder."""

import io
import zipfile
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np

from engine.columns import Results
from engine.files import locked, make_folder, write_whole
from engine.model.evaluation import builds_of
from engine.model.plane import plane_of_build
from engine.model.version import MODEL_VERSION
from engine.physics.plane.answer import PlaneField, PlaneFlow, Progress
from engine.run.folder import PLANES
from engine.study.study import Study

_VERSION, _FIELD = "model_version", "field."


def plane_of_design(
    folder: Path, study: Study, table: Results, row: int, tell: Callable[[Progress], None]
) -> PlaneFlow | None:
    """Follow one design of a table in the plane, unless its flow is in the folder already.

    None without an operating point. Raises StorageError where it cannot be stored.
    """
    design = int(table["design"][row])
    if (known := stored_plane(folder, design)) is not None:
        return known
    build = {key: values[row : row + 1] for key, values in builds_of(study, table).items()}
    flow = plane_of_build(study, build, tell)
    if flow is not None:
        with locked(folder):
            make_folder(folder / PLANES)
            write_whole(_place(folder, design), _packed(flow))
    return flow


def stored_plane(folder: Path, design: int) -> PlaneFlow | None:
    """Read what `plane_of_design` stored; None where it is missing, torn or of another version."""
    try:
        content = _place(folder, design).read_bytes()
        with np.load(io.BytesIO(content), allow_pickle=False) as kept:
            read: dict[str, Any] = {name: kept[name] for name in kept.files}
        if read.pop(_VERSION) != MODEL_VERSION:
            return None
        inner = {name: read.pop(_FIELD + name) for name in (f.name for f in fields(PlaneField))}
        inner["n_gap"] = int(inner["n_gap"])
        numbers = {name: value.item() for name, value in read.items()}
        return PlaneFlow(**numbers, field=PlaneField(**inner))
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile):
        return None


def _place(folder: Path, design: int) -> Path:
    return folder / PLANES / f"{design}.npz"


def _packed(flow: PlaneFlow) -> bytes:
    numbers: dict[str, Any] = {
        f.name: getattr(flow, f.name) for f in fields(PlaneFlow) if f.name != "field"
    }
    inner = {_FIELD + f.name: getattr(flow.field, f.name) for f in fields(PlaneField)}
    kept: dict[str, Any] = {_VERSION: MODEL_VERSION, **numbers, **inner}
    content = io.BytesIO()
    np.savez_compressed(content, **kept)
    return content.getvalue()
