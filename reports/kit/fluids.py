"""What a fluid is called and what it can do to people. Plain text."""

from engine.fluids.by_name import LIQUIDS, STEAM, is_vapour
from reports.kit.quantities import begun

_GAS = (
    "Compressed {} kills without warning. Fit a relief valve, and vent everything before a hand "
    "goes near."
)


def dangers(fluid: str) -> tuple[str, ...]:
    """List what can kill, whatever the build."""
    return (
        (
            "A rotor that lets go throws its pieces through sheet metal and people. Run it only "
            "inside a containment made for that, with an overspeed trip, and start and stop it "
            "from elsewhere."
        ),
        *_dangers_of_fluid(fluid),
        (
            "Mains voltage kills. Whatever is wired to a building or an appliance is work for a "
            "licensed electrician."
        ),
    )


def _dangers_of_fluid(fluid: str) -> tuple[str, ...]:
    if fluid in LIQUIDS:
        return (
            (
                f"{begun(fluid)} under pressure strikes, cuts and gets under the skin, and a pipe "
                "full of it hammers when a valve shuts. Fit a relief valve, and let the pressure "
                "off before a hand goes near."
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
            f"{fluid} may burn, explode in air, poison, or take the air out of a room unseen and "
            "without a smell; hot surfaces may turn it into something worse. Read its safety data "
            "sheet first. Keep it in a tight circuit, with a detector and moving air and nothing "
            "that sparks beside it; filling and repair belong to people licensed for such circuits."
        ),
    )
