"""What comes before any number, in plain words for terminal and page."""

from collections.abc import Mapping

from engine.fluids.by_name import GLYCEROL
from engine.study.study import Study

CAUTION = (
    "Rotors burst, compressed gas and steam maim, mains kills. Containment, an overspeed trip, a "
    "relief valve, remote start, licensed practice and local codes come before any number here. "
    "A reduced-order model is no certificate."
)
PUMP_CAUTION = (
    "Couplings and discs catch hands, liquid under pressure cuts, mains beside water kills. A "
    "guard, a breaker for earth faults, a relief where the discharge can be shut, licensed "
    "practice and local codes come before any number here. A reduced-order model is no certificate."
)
PRIMING = (
    "It does not prime itself: with air inside, its head falls eight hundredfold. Flood it before "
    "the start, vent it at the top, and do not let it run dry or shut for long."
)
GENTLE_ONLY = (
    "For a laboratory loop with a blood analogue. No medical device; not for people or animals."
)
BLADED = (
    "With clean water a bladed pump has two to three times the efficiency and costs less: buy one. "
    "A disc stack is the better choice where a blade pump suffers or does harm: fluids of some 10 "
    "to 1000 mm2/s, fibres and grit that pass through wide gaps, and what must not be sheared, at "
    "small flow and middling head (specific speed 0.1 to 0.3)."
)
SLURRY = (
    "Grit and fibres: their wear, and what they add to the viscosity, are not in any number here. "
    "Fibres hang on spokes and bolts; a third of the free passage is the largest particle that "
    "passes when there are many (bridging, rule of trade, no source)."
)
BLOWER_CAUTION = (
    "Couplings and discs catch hands, a disc that bursts leaves the casing, mains kills. A guard, "
    "a screen before the eye, licensed practice and local codes come before any number here. Never "
    "for gas that burns, or air with such gas or dust in it. A reduced-order model is no "
    "certificate."
)
STEADY_DENSITY = (
    "A blower at low pressure rise: density is taken as nearly constant, up to a pressure at the "
    "discharge of 1.1 times that at the suction; beyond, a note says so."
)
BLADED_FAN = (
    "A fan or side channel blower that is bought moves clean air with two to three times the "
    "efficiency, and costs less. A disc stack is the better choice where blades suffer, clog or "
    "whine: sticky dust and fibres, small flow at some kilopascals (specific speed 0.1 to 0.3)."
)
DUST = (
    "Dust and fibres: their wear and what sticks to the discs are not in any number here. A stack "
    "that dust has made uneven is out of balance."
)
_OF_KIND: Mapping[str, tuple[str, ...]] = {
    "turbine": (CAUTION,),
    "pump": (PUMP_CAUTION, PRIMING),
    "blower": (BLOWER_CAUTION, STEADY_DENSITY),
}


def cautions_of(study: Study) -> tuple[str, ...]:
    """List the cautions for the kind of machine and the fluid of a study."""
    is_analogue = study.supply.fluid == GLYCEROL
    return (*((GENTLE_ONLY,) if is_analogue else ()), *_OF_KIND[study.works_as])
