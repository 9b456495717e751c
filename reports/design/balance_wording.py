"""What the build sheet says of balance. Plain text."""

from reports.design.facts import BuildFacts
from reports.kit.quantities import THIN, bare, number, quantity


def balance(facts: BuildFacts) -> tuple[str, ...]:
    """Say how good the balance must be and how to reach it."""
    allowed, raw = facts.number("permissible_unbalance"), facts.number("raw_unbalance")
    grade = bare("balance_grade", facts.number("balance_grade"))
    rim = facts.number("disc_diameter") / 2
    tip, ground = facts.number("exhaust_bore") / 2, f"tips of their {facts.web.clamp_arms}"
    taken = f"the {facts.web.clamp_arms} of the end clamps"
    if facts.bolts is not None:
        tip, ground, taken = rim, "rims of both", "the rims of the end clamps"
    return (
        (
            f"ISO 21940-11 grade G{THIN}{grade} at {quantity('speed', facts.number('speed'))} "
            f"allows {quantity('permissible_unbalance', allowed)} for the whole rotor, as much as "
            f"{_milligrams(allowed / rim)} at the rim. Trim in two planes, the end clamps, to half "
            f"of it each: {_milligrams(allowed / 2 / tip)} at "
            f"the {ground}."
        ),
        (
            f"As assembled expect about {quantity('raw_unbalance', raw)}, "
            f"{number(raw / allowed, 2)} times that, from taper and centring of the discs (root "
            "mean square over many stacks)."
        ),
        (
            f"Coarse: turn single discs by {spoke_step(facts)} against the others and keep what "
            f"improves it. Fine: grind {taken}. Never grind "
            "or drill the ring of a disc."
        ),
        (
            "Balance with shaft, nut and coupling half as they will run. Mark the position of "
            "every part, and check again each time it has been taken apart."
        ),
        _fit_note(facts),
        ("Stop at the permissible value. A balancing bench must show a tenth of it to prove it."),
    )


def _fit_note(facts: BuildFacts) -> str:
    """Say what balance is left once the stack has been taken apart."""
    left, wanted = facts.number("assembly_grade"), facts.number("balance_grade")
    start = "The stack sits on its shaft with the fit H7/h6 and may settle by half its clearance"
    reached = f"G{THIN}{bare('assembly_grade', left)}"
    if left <= wanted:
        return f"{start}: put together again, it still keeps {reached}."
    return (
        f"{start}: put together again, no more than {reached} is sure. So balance it clamped as "
        "it will run, and do so again each time; or centre the stack finer, on a shaft ground to "
        "its reamed hole."
    )


def spoke_step(facts: BuildFacts) -> str:
    """Angle between two spokes."""
    return f"{number(360 / facts.web.spokes, trim=True)}°"


def _milligrams(mass: float) -> str:
    return f"{number(1e6 * mass)}{THIN}mg"
