"""Solids of a STEP file as a CAD kernel that is not ours reads them: Open CASCADE."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from reports.design.items import Part
from reports.design.step import step_of


def solids(text: str, folder: Path) -> list[Any]:
    """Solids of a STEP file as Open CASCADE reads them."""
    control = pytest.importorskip("OCP.STEPControl", reason="no wheel of the kernel here")
    explorer = pytest.importorskip("OCP.TopExp")
    kinds = pytest.importorskip("OCP.TopAbs")
    path = folder / "machine.step"
    path.write_text(text, encoding="ascii")
    reader = control.STEPControl_Reader()
    reader.ReadFile(str(path))
    reader.TransferRoots()
    found, each = [], explorer.TopExp_Explorer(reader.OneShape(), kinds.TopAbs_SOLID)
    while each.More():
        found.append(each.Current())
        each.Next()
    return found


def volume(solid: Any, within: float = 1e-12) -> float:
    properties = pytest.importorskip("OCP.GProp").GProp_GProps()
    pytest.importorskip("OCP.BRepGProp").BRepGProp.VolumeProperties_s(solid, properties, within)
    return float(properties.Mass())


def is_valid(solid: Any) -> bool:
    return bool(pytest.importorskip("OCP.BRepCheck").BRepCheck_Analyzer(solid).IsValid())


def box_of(solid: Any) -> Any:
    box = pytest.importorskip("OCP.Bnd").Bnd_Box()
    pytest.importorskip("OCP.BRepBndLib").BRepBndLib.AddOptimal_s(solid, box, False, False)
    return box


def levels(solid: Any) -> tuple[float, float]:
    """Lowest and highest place along the shaft."""
    box = box_of(solid)
    return float(box.CornerMin().Z()), float(box.CornerMax().Z())


def check_assembly(parts: Sequence[Part], folder: Path) -> None:
    """Each piece is a valid solid of its volume, and none is where another is."""
    bodies = solids(step_of(parts, "machine"), folder)
    pieces = [part for part in parts for _ in range(part.pieces)]
    assert len(bodies) == len(pieces)
    assert all(map(is_valid, bodies))
    np.testing.assert_allclose([*map(volume, bodies)], [p.volume for p in pieces], rtol=1e-9)
    found, compared = overlapping(bodies, [piece.name for piece in pieces])
    assert found == []
    assert compared > len(parts)


def overlapping(bodies: Sequence[Any], names: Sequence[str]) -> tuple[list[str], int]:
    """Pairs of parts of which one is where another is, and how many neighbours were compared.

    One pair of each two names is enough.
    """
    common = pytest.importorskip("OCP.BRepAlgoAPI").BRepAlgoAPI_Common
    boxes, seen, found = [box_of(body) for body in bodies], set[tuple[str, str]](), list[str]()
    for one, body in enumerate(bodies):
        for other in range(one):
            pair = (names[one], names[other])
            if pair in seen or boxes[one].IsOut(boxes[other]):
                continue
            seen.add(pair)
            shared = common(body, bodies[other]).Shape()
            if not shared.IsNull() and volume(shared, 1e-3) > 1e-6:
                found.append(" in ".join(pair))
    return found, len(seen)
