"""The list that goes to a cutting service with the DXF files, as CSV."""

import csv
import io
from collections.abc import Sequence

from reports.design.casing import Housing
from reports.design.plate import Plate, as_cut, cut_length, pierces

COLUMNS = (
    "file",
    "material",
    "thickness_mm",
    "pieces",
    "cut_length_mm",
    "pierces",
    "smallest_feature_mm",
    "smallest_feature_over_thickness",
    "remark",
)
"""Cut length and pierces are those of one piece."""


def order_of(plates: Sequence[Plate], casing: Housing | None = None) -> str:
    """Write what a cutting service asks for, a line a part."""
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(COLUMNS)
    for plate in plates:
        cut = as_cut(plate.part, casing)
        table.writerow(
            [
                f"{plate.file}.dxf",
                plate.material,
                f"{plate.thickness:.3f}",
                plate.pieces,
                f"{cut_length(cut):.0f}",
                pierces(cut),
                f"{plate.finest:.2f}",
                f"{plate.finest / plate.thickness:.1f}",
                plate.remark,
            ]
        )
    return stream.getvalue()
