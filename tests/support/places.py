"""Where things lie in a checkout."""

from pathlib import Path

ROOT = Path(__file__).parents[2]
STUDIES = ROOT / "studies"
PUBLISHED = ROOT / "tests" / "published"
SUPPORT = ROOT / "tests" / "support"
PICTURE = ROOT / "shared" / "report.png"
"""The picture at the top of README."""
