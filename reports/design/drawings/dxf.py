"""A flat part as outlines to cut (DXF). The only home of ezdxf."""

import io
import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from ezdxf import units
from ezdxf._options import options
from ezdxf.filemanagement import new

from reports.design.outlines import Arc, Circle, Flat, Line

DXF_VERSION, DXF_VERSIONS = "R2010", ("R12", "R2010")
"""Version of the DXF that is written, and those that cutting services ask for."""
OUTSIDE, INSIDE = "OUTSIDE", "INSIDE"
"""Layers of the DXF. INSIDE is cut first, while the sheet still holds the part."""


def dxf_of(part: Flat, about: Mapping[str, str], *, version: str = DXF_VERSION) -> str:
    """Write outlines as DXF in millimetres: circles, and closed polylines with arcs.

    `version` is one of `DXF_VERSIONS`; the oldest has the older kind of polyline. The same part and
    properties give the same bytes.
    """
    with _without_date():
        return _written(part, about, version)


@contextmanager
def _without_date() -> Iterator[None]:
    """Write neither the time nor a new identity: the study's hash and the run's date tell more."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _written(part: Flat, about: Mapping[str, str], version: str) -> str:
    # The oldest version has no place for a unit.
    document = new(version, units=units.MM if version != "R12" else 0)
    for layer, colour in ((OUTSIDE, 7), (INSIDE, 1)):
        document.layers.add(layer, color=colour)
    for name, text in about.items():
        document.header.custom_vars.append(name, " ".join(text.split()))
    space = document.modelspace()
    add_chain = space.add_polyline2d if version == "R12" else space.add_lwpolyline
    for layer, edges in ((OUTSIDE, (part.outside,)), (INSIDE, part.inside)):
        for edge in edges:
            if isinstance(edge, Circle):
                space.add_circle(edge.centre, edge.radius, dxfattribs={"layer": layer})
            else:
                add_chain(
                    [(*each.start, _bulge(each)) for each in edge.edges],
                    format="xyb",
                    close=True,
                    dxfattribs={"layer": layer},
                )
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def _bulge(edge: Line | Arc) -> float:
    return math.tan(edge.sweep / 4) if isinstance(edge, Arc) else 0.0
