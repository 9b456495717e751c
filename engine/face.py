"""Choose which bladeless multi-disc turbine to build, from a notebook or a script.

    import swirlstack as sw

    study = sw.load_study("studies/lane-workshop.yaml")
    point = sw.point(study, ["disc_count=12", "gap=0.3mm", ...])  # one build from texts
    results = sw.evaluate(study, builds)                          # a table of your own builds
    outcome = sw.run("studies/lane-workshop.yaml")                # a whole search
    front = sw.read_frame(outcome.folder)                         # what came out
    growth = sw.read_history(outcome.folder)                      # and how the front grew

Tables are frames of pandas with units in the column names. What this module lists is meant to
stay; everything else may move. An installation holds this file as `swirlstack`.
"""

import sys
from pathlib import Path


def _load_our_packages() -> None:
    """Load the packages `engine` and `reports` of swirlstack and no others of these plain names.

    Where a script lies beside a file `engine.py`, Python would find that one first.
    """
    marker = Path("engine", "face.py")
    here = Path(__file__).parent
    # Beside this file; an editable installation has them where the path leads.
    root = next(str(each) for each in (here, *map(Path, sys.path)) if (each / marker).is_file())
    for name in ("engine", "reports"):
        known = sys.modules.get(name)
        if known is not None and str(Path(root, name)) not in getattr(known, "__path__", ()):
            place = getattr(known, "__file__", None) or "elsewhere"
            msg = f"a module called {name} is loaded already, from {place}, and hides the one of"
            msg += " swirlstack; import swirlstack first, or give that file another name"
            raise ImportError(msg)
    sys.path.insert(0, root)
    try:
        import engine  # noqa: F401, PLC0415
        import reports  # noqa: F401, PLC0415
    finally:
        sys.path.remove(root)


_load_our_packages()

from engine import __version__
from engine.errors import StudyError, SwirlstackError
from engine.run.folder import read_frame
from engine.run.frames import evaluate_frame as evaluate
from engine.run.launch import run_study as run
from engine.run.point import Point
from engine.run.point import point_of as point
from engine.run.preview import Preview, preview
from engine.run.read import Growth, read_history
from engine.run.runner import Outcome
from engine.study.reader import read_study as load_study
from engine.study.study import Study

__all__ = [
    "Growth",
    "Outcome",
    "Point",
    "Preview",
    "Study",
    "StudyError",
    "SwirlstackError",
    "__version__",
    "evaluate",
    "load_study",
    "point",
    "preview",
    "read_frame",
    "read_history",
    "run",
]
