"""Tables as frames of pandas, in drawing units: what a notebook works with."""

from typing import TYPE_CHECKING

from engine.bands.results import evaluate_judged
from engine.columns import BY_NAME, COLUMNS, Results
from engine.study.study import Study

if TYPE_CHECKING:
    import pandas as pd


def evaluate_frame(study: Study, builds: "pd.DataFrame") -> "pd.DataFrame":
    """Results of builds, both in drawing units under the names of `engine.columns`.

    Every range of the study needs a column ('disc_diameter_mm', ...); a machine number may be given
    too and then stands in for the study's. Raises KeyError for an unknown column.
    """
    si = {}
    for name in builds.columns:
        column = BY_NAME[str(name)]
        values = builds[name].to_numpy()
        si[column.key] = values if column.is_text else column.to_si(values)
    return to_frame(evaluate_judged(study, si))


def to_frame(table: Results) -> "pd.DataFrame":
    """Table in drawing units, columns named with them."""
    import pandas as pd  # noqa: PLC0415  not before it is needed

    return pd.DataFrame(
        {
            COLUMNS[key].name: values if COLUMNS[key].is_text else COLUMNS[key].to_drawing(values)
            for key, values in table.items()
        }
    )
