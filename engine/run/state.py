"""What run.json says of a run: where its numbers come from, and how far it has come."""

import platform
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.metadata import version
from typing import Literal

from engine import __version__

LIBRARIES = ("numpy", "scipy", "numba", "optuna", "pyarrow", "CoolProp", "SALib")
"""Libraries whose versions are stored with a run, because its numbers depend on them."""


@dataclass(frozen=True)
class Provenance:
    """Where the numbers of a run come from."""

    title: str
    study_hash: str
    seed: int
    model_version: int
    versions: Mapping[str, str] = field(
        default_factory=lambda: {
            "swirlstack": __version__,
            "python": platform.python_version(),
            **{name: version(name) for name in LIBRARIES},
        }
    )


@dataclass(frozen=True)
class RunState:
    """How far a run has come."""

    state: Literal["running", "interrupted", "done"] = "running"
    budget: int = 0
    designs: int = 0
    beside: int = 0
    """Number of them that were tried after the search, beside its designs."""
    left_out: int = 0
    """Number of them that were counted and not stored, in a large grid."""
    unsampled: int = 0
    """Number of them that a robust search evaluated as drawn only."""
    feasible: int = 0
    front: int = 0
    statuses: Mapping[str, int] = field(default_factory=dict)
    """Number of designs by status."""
    limits_met: Mapping[str, int] = field(default_factory=dict)
    """Number of designs with an operating point that meet each limit, by key."""
    fallen: Mapping[str, str] = field(default_factory=dict)
    """Designs taken off the front after the recheck, by number, each with the reason."""
    started: str = ""
    """Date and time of the first start."""
    seconds: float = 0.0
    """Time used by all starts [s]."""

    @property
    def ended_early(self) -> bool:
        """Whether the search ended before its budget because the front stopped growing."""
        return self.state == "done" and self.front > 0 and self.searched < self.budget

    @property
    def stored(self) -> int:
        """Number of designs in the parts."""
        return self.designs - self.left_out

    @property
    def searched(self) -> int:
        """Number of designs of the search itself."""
        return self.designs - self.beside
