"""What is bought for a pump and stands on no drawing."""

from collections.abc import Iterable

from reports.design.facts import BuildFacts
from reports.design.ordered import Loose, Ordered
from reports.design.pump.wording import is_blower
from reports.design.sheet_quantities import of
from reports.kit.quantities import THIN, quantity

SEALS = 2
"""Shaft seals: one before each bearing."""


def pump_loose(facts: BuildFacts) -> Iterable[Loose]:
    """List seals, motor and what guards."""
    flows = "the gas" if is_blower(facts) else "the fluid"
    drag = f"drag of both at most {of(facts, 'shaft_seal_torque')}"
    seal = Ordered(
        f"on ⌀{facts.laid('sleeve_diameter'):.4g}{THIN}mm",
        more=f"lip or face seal for {flows}, one before each bearing, {drag}",
    )
    yield Loose("shaft seal", SEALS, seal)
    ratio = facts.number("drive_ratio")
    motor = (
        f"{of(facts, 'motor_power')} at {of(facts, 'motor_speed')}, turned at "
        f"{quantity('speed', facts.number('speed') / ratio)}, loaded to {of(facts, 'motor_load')}, "
        f"may turn at {quantity('speed', facts.number('motor_limit_speed') / ratio)}"
    )
    yield Loose("motor", 1, Ordered(more=motor))
    if is_blower(facts):
        yield Loose("screen", 1, Ordered(more="before the eye, its holes 6 mm at most"))
        return
    yield Loose("earth-fault breaker", 1, Ordered(more="for the motor, as your code asks"))
    shut = Ordered(more="a valve, where the discharge can be shut")
    yield Loose("relief or bypass", 1, shut)
    yield Loose("vent and drain", 1, Ordered(more="a vent at the top, a drain at the bottom"))
