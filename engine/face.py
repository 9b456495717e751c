"""Choose which bladeless multi-disc turbine to build, from a notebook or a script.

    import swirlstack as sw

    study = sw.load_study("studies/lane-workshop.yaml")
    point = sw.point(study, ["disc_count=12", "gap=0.3mm", ...])  # one build from texts
    results = sw.evaluate(study, builds)                          # a table of your own builds
    outcome = sw.run("studies/lane-workshop.yaml")                # a whole search
    front = sw.read_frame(outcome.folder)                         # its best builds
    growth = sw.read_history(outcome.folder)                      # and how the front grew
    air = sw.gas("air")                                           # as the model takes it

Tables are pandas data frames with units in the column names. The names listed here are meant to
stay; everything else may move. An installation holds this file as `swirlstack.py`.
"""

import sys
from pathlib import Path
from types import ModuleType


def _load_our_packages() -> None:
    """Load the packages `engine` and `reports` of swirlstack, and no others with these names.

    Python looks beside the running script first, and would take a file `engine.py` from there.
    """
    # Beside this file. An editable installation holds this file alone, and a path to the packages.
    places = (Path(__file__).parent, *map(Path, sys.path))
    ours = (each.resolve() for each in places if (each / "engine" / "face.py").is_file())
    root = next(ours, None)
    if root is None:
        msg = "the packages of swirlstack are not where they were installed; install it again"
        raise ImportError(msg)
    for name in ("engine", "reports"):
        loaded = sys.modules.get(name)
        if loaded is not None and not _is_in(root, loaded):
            place = getattr(loaded, "__file__", None) or "elsewhere"
            msg = f"a module called {name} is loaded already, from {place}, and hides the one of"
            msg += " swirlstack; import swirlstack first, or give that file another name"
            raise ImportError(msg)
    sys.path.insert(0, str(root))
    try:
        import engine  # noqa: F401, PLC0415
        import reports  # noqa: F401, PLC0415
    finally:
        sys.path.remove(str(root))


def _is_in(root: Path, package: ModuleType) -> bool:
    return root in (Path(each).resolve().parent for each in getattr(package, "__path__", ()))


_load_our_packages()

from engine import __version__
from engine.errors import StudyError, SwirlstackError
from engine.fluids.by_name import gas
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
    "gas",
    "load_study",
    "point",
    "preview",
    "read_frame",
    "read_history",
    "run",
]
