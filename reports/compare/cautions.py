"""What makes runs hard to compare, as sentences. Plain text: nothing here knows HTML."""

from reports.compare.facts import Comparison
from reports.compare.wording import name, verdict
from reports.kit.quantities import begun, count, inline_label, within
from reports.run.wording import NO_CERTIFICATE


def warnings(comparison: Comparison) -> tuple[str, ...]:
    """List what makes these runs hard to compare, then the caution of every page."""
    sides = comparison.sides
    found = [*_of_aims(comparison), *_of_supply(comparison), *_of_duty(comparison)]
    if len({side.run.model_version for side in sides}) > 1:
        each = [f"{name(p)} by version {s.run.model_version}" for p, s in enumerate(sides)]
        found.append(
            f"Computed by different versions of the model ({', '.join(each)}): part of any "
            "difference comes from the model. Run the older studies again."
        )
    for place, side in enumerate(sides):
        if side.run.state != "done":
            found.append(
                f"{begun(name(place))} is unfinished: {count(side.run.designs)} of "
                f"{count(side.run.budget)} designs. Its front may still grow."
            )
        if not side.run.front:
            found.append(
                f"{begun(name(place))} has no design that meets every limit of its study, so "
                "it is in no chart; its own report says which limits prevent it."
            )
    if any(d.section == "limits" for d in comparison.differences):
        found.append(
            "The limits differ: a stricter study leaves out designs that another keeps. Compare "
            "at the same level in the table, not at the ends of the lines."
        )
    budgets = [side.run.designs for side in sides]
    if max(budgets) > 2 * min(budgets):
        found.append(
            f"One run has tried {count(max(budgets))} designs and another {count(min(budgets))}: "
            "the longer search may have the better front for that reason alone."
        )
    return (*found, NO_CERTIFICATE)


def _of_aims(comparison: Comparison) -> list[str]:
    if comparison.same_aims:
        return []
    labels = " and ".join(inline_label(aim.key) for aim in comparison.aims)
    return [
        (
            f"The runs have different aims. All are compared by {labels}, the first aims of run 1. "
            "A run with other aims did not search for the best of these, and may look worse than "
            "it could be."
        )
    ]


def _of_supply(comparison: Comparison) -> list[str]:
    keys = [within(d.label) for d in comparison.differences if d.section == "supply"]
    if not keys:
        return []
    if comparison.sides[0].run.study.kind == "pump":
        return [
            f"What comes in differs ({', '.join(keys)}): head, power and margin follow the fluid."
        ]
    return [
        (
            f"The supplies differ ({', '.join(keys)}): more power may only mean more supply power. "
            "Compare supply efficiency and supply power, below, before electric power."
        )
    ]


def _of_duty(comparison: Comparison) -> list[str]:
    keys = [within(d.label) for d in comparison.differences if d.section == "duty"]
    if not keys:
        return []
    return [
        (
            f"The duties differ ({', '.join(keys)}): a pump that is asked for less draws less. "
            "Compare wire to water before electric power."
        )
    ]


def summary(comparison: Comparison) -> tuple[str, ...]:
    """Sum up for the terminal: the verdict, then what makes it doubtful."""
    return (*verdict(comparison), *warnings(comparison)[:-1])
