"""Tables as pandas data frames in drawing units, for notebooks."""

from typing import TYPE_CHECKING

from engine.bands.results import evaluate_judged
from engine.columns import BY_NAME, COLUMNS, Results
from engine.study.study import Study

if TYPE_CHECKING:
    import pandas as pd


def evaluate_frame(study: Study, builds: "pd.DataFrame") -> "pd.DataFrame":
    """Evaluate a table of builds; give their results. Both are in drawing units.

    Columns are named with their units. Every range of the study needs a column ('gap_mm',
    'disc_diameter_mm', ...); a column with a machine number replaces that of the study. Raises
    KeyError for an unknown column.
    """
    si = {}
    for name in builds.columns:
        column = BY_NAME[str(name)]
        values = builds[name].to_numpy()
        si[column.key] = values if column.is_text else column.to_si(values)
    return to_frame(evaluate_judged(study, si))


def to_frame(table: Results) -> "pd.DataFrame":
    """Table in drawing units, with the units in the column names."""
    import pandas as pd  # noqa: PLC0415  not before it is needed

    return pd.DataFrame(
        {
            COLUMNS[key].name: values if COLUMNS[key].is_text else COLUMNS[key].to_drawing(values)
            for key, values in table.items()
        }
    )
