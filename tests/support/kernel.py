"""Solids of a STEP file as a CAD kernel that is not ours reads them: Open CASCADE."""

from pathlib import Path
from typing import Any

import pytest


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
