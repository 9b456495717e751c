"""Pages and charts made from a finished run."""

from reports.facts import RunData, marked
from reports.page import write_report

__all__ = ["RunData", "marked", "write_report"]
