"""What a fluid is called and what it can do to people. Plain text."""

from engine.fluids.by_name import LIQUIDS, STEAM, is_vapour
from reports.kit.quantities import begun

_GAS = (
    "Compressed {} kills without warning. Fit a relief valve, and vent everything before a hand "
    "goes near."
)


def dangers(fluid: str) -> tuple[str, ...]:
    """List what can kill, for every design."""
    return (
        (
            "A rotor that lets go throws its pieces through sheet metal and people. Run it only "
            "inside a containment made for that, with an overspeed trip, and start and stop it "
            "from elsewhere."
        ),
        *_dangers_of_fluid(fluid),
        (
            "Mains voltage kills. Anything wired to a building or an appliance is work for a "
            "licensed electrician."
        ),
    )


def _dangers_of_fluid(fluid: str) -> tuple[str, ...]:
    if fluid in LIQUIDS:
        return (
            (
                f"{begun(fluid)} under pressure cuts, and can force its way under the skin; a full "
                "pipe hammers when a valve shuts. Fit a relief valve, and release the pressure "
                "before a hand goes near."
            ),
        )
    if not is_vapour(fluid):
        return (_GAS.format(fluid),)
    if fluid == STEAM:
        return (
            _GAS.format("gas"),
            (
                "Steam scalds and boilers explode: boiler and piping belong to licensed boiler "
                "practice. Drain the lines before steam is let in; water in them hits like a "
                "hammer."
            ),
        )
    return (
        _GAS.format("gas"),
        (
            f"{fluid} may burn, explode in air, poison, or displace the air in a room, unseen and "
            "without smell; hot surfaces may turn it into something worse. Read its safety data "
            "sheet first. Keep it in a leak-tight circuit, with a gas detector, ventilation and no "
            "source of sparks nearby; filling and repair are work for people licensed for such "
            "circuits."
        ),
    )
