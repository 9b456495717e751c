"""The section that says how long and how to look."""

from typing import Annotated, Literal, TypeAlias

from pydantic import Field, ValidationInfo, field_validator

from engine.errors import WrongValueError
from engine.study.values import Frozen, read

Stage: TypeAlias = Literal["screen", "evolve", "polish", "refine", "firm"]


class Search(Frozen):
    """How long and how to look."""

    method: Literal["search", "grid", "sobol"] = Field(
        "search",
        description="search for the best, or map the space: grid takes every build of stepped "
        "ranges, sobol spreads builds evenly over any ranges",
    )
    designs: Annotated[int, read("count", least=1, most=1_000_000_000)] = Field(
        20_000, description="designs to evaluate at most; a grid takes all it has"
    )
    generation: Annotated[int, read("count", least=4, most=100_000)] = Field(
        400, description="designs evaluated together, from which the next ones are bred"
    )
    seed: Annotated[int, read("count", least=0, most=2**32 - 1)] = Field(
        1, description="start of the random numbers; the same seed gives the same answer"
    )
    flow: Literal["averaged", "resolved"] = Field(
        "averaged",
        description="gap flow averaged across the gap (fast), or resolved across it (closer, and "
        "some hundred times slower)",
    )
    closer: Literal["resolved", "plane"] = Field(
        "resolved",
        description="what follows the marked builds most closely, after the search: the flow "
        "resolved across the gap, or also that in the plane of the discs, which takes some minutes",
    )
    stages: tuple[Stage, ...] = Field(
        ("screen", "evolve", "polish"),
        description="how to look, in the order of the search: screen, evolve, polish, refine, firm",
    )
    patience: Annotated[int, read("count", least=1, most=1_000_000_000)] = Field(
        20, description="generations without growth of the front after which a stage ends"
    )
    refined: Annotated[int, read("count", least=1, most=1_000_000)] = Field(
        400, description="designs that the stage refine evaluates beyond the others"
    )
    robust: bool = Field(
        False,
        description="true: aims and limits hold at the poor end of each band, P10 or P90; takes "
        "some 8 times as long",
    )

    @field_validator("stages")
    @classmethod
    def _once_each(cls, stages: tuple[Stage, ...], info: ValidationInfo) -> tuple[Stage, ...]:
        if not stages:
            remedy = "leave the key out for the usual ones"
            raise WrongValueError(found="no stage", expected="one at least", remedy=remedy)
        if len(set(stages)) < len(stages):
            raise WrongValueError(found="a stage is given twice", remedy="keep it once")
        if "refine" in stages and info.data.get("flow") == "resolved":
            found, remedy = "refine with flow: resolved", "leave out refine, or take averaged"
            raise WrongValueError(found=found, remedy=remedy)
        return stages

    @property
    def is_firm(self) -> bool:
        """Whether the stage firm follows; a robust search judges by poor ends already."""
        return self.method == "search" and "firm" in self.stages and not self.robust
