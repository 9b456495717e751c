"""What the plane flow of one build gives."""

from dataclasses import dataclass

from engine.physics.arrays import Lanes


@dataclass(frozen=True)
class PlaneField:
    """Field over one nozzle's share of the turn: rows from bore to casing, columns around."""

    faces: Lanes  # radii of the circles between rows, one more than rows [m]
    sides: Lanes  # angles of the radii between columns, 0 at the start of the mouth [rad]
    n_gap: int  # rows below the rim
    density: Lanes  # [kg/m3]
    radial_speed: Lanes  # outward [m/s]
    swirl: Lanes  # circumferential speed, laboratory frame [m/s]
    pressure: Lanes  # [Pa]
    mach: Lanes  # of the solver, on the whole speed [-]


@dataclass(frozen=True)
class PlaneFlow:
    """Steady flow in ring and gaps, of the whole machine."""

    rotor_torque: float  # of gaps and edges [N m]
    gap_torque: float  # [N m]
    edge_torque: float  # [N m]
    casing_torque: float  # friction on the casing [N m]
    casing_heat: float  # friction times the mean speed of the ring there [W]
    gap_heat: float  # friction of the discs on the relative speed [W]
    inflow_swirl: float  # mean swirl of what enters the gaps, by mass [m/s]
    outflow_swirl: float  # the same at the bore [m/s]
    ring_pressure: float  # mean over the ring [Pa]
    mouth_pressure: float  # mean in front of the mouths [Pa]
    mass_flow: float  # through all nozzles [kg/s]
    rotor_flow: float  # through the bore [kg/s]
    leakage_flow: float  # [kg/s]
    jet_speed: float  # at the pressure in front of the mouths [m/s]
    jet_thickness: float  # of each jet there, as high as the stack [m]
    mouth_arc: float  # of the casing, of each jet [m]
    casing_angle: float  # of the jets from the tangent of the casing [rad]
    passed_share: float  # flow that the ring carries past a nozzle, over the flow of a nozzle [-]
    outward_share: float  # flow that comes back out of the gaps, over what goes in for good [-]
    jet_mach: float  # of the solver [-]
    largest_mach: float  # of the solver, in the whole field [-]
    mass_residual: float  # what does not balance, over what enters [-]
    momentum_residual: float  # angular momentum, the same [-]
    energy_residual: float  # energy, over the kinetic energy that enters [-]
    swing: float  # of the rotor torque as the march ends, over the torque [-]
    settled: bool  # balances closed and torques at rest, those of the mean where the flow swings
    steps: int  # of the march on the grid of the answer
    exponent: float  # isentropic, of the solver's law [-]
    field: PlaneField

    @property
    def worst_residual(self) -> float:
        """Largest residual of mass and angular momentum [-]."""
        return max(abs(self.mass_residual), abs(self.momentum_residual))


@dataclass(frozen=True)
class Progress:
    """How far a march is."""

    share: float  # of the most steps that it may take, on both grids [-]
    rotor_torque: float  # so far [N m]
    residual: float  # largest of mass and angular momentum [-]
