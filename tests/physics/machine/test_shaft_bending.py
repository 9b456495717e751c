"""Critical speeds of stepped shafts against closed forms, a textbook and a general library."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.linalg import eigh

from engine.physics.machine.shaft_bending import shear_stiffness, whirl_speed
from engine.physics.machine.shaft_kernel import MOST_NODES
from tests.support.jeffcott import SHAFT_SHARE, jeffcott

STEEL, DENSITY, RIGID = 205e9, 7850.0, 1e12
INCH, POUND_MASS = 25.4e-3, 0.45359237


def line(
    lengths: Any, diameters: Any, *, supports: dict[int, float], discs: Any = (), **changes: Any
) -> dict[str, NDArray[np.float64]]:
    """Arguments of one shaft: `discs` are (node, mass, Id, Ip), `supports` stiffness by node."""
    place = np.concatenate([[0.0], np.cumsum(lengths)])[:, None]
    width = np.asarray(diameters, dtype=float)[:, None]
    nodes: dict[str, NDArray[np.float64]] = {
        key: np.zeros_like(place) for key in ("point_mass", "point_tilt", "support")
    }
    for node, mass, diametral, polar in discs:
        nodes["point_mass"][node] += mass
        nodes["point_tilt"][node] += diametral - polar
    for node, stiffness in supports.items():
        nodes["support"][node] = stiffness
    shear = shear_stiffness(youngs_modulus=STEEL, poisson=0.3, diameter=width)
    return {
        "place": place,
        "bending_stiffness": STEEL * np.pi / 64 * width**4,
        "shear_stiffness": np.asarray(shear),
        "mass": DENSITY * np.pi / 4 * width**2,
        "polar_inertia": DENSITY * np.pi / 32 * width**4,
        **nodes,
        **changes,
    }


def slender(n: int, length: float, diameter: float, **more: Any) -> dict[str, Any]:
    """A uniform shaft on rigid bearings that neither shears nor resists tilt: Euler's beam."""
    thin = {"shear_stiffness": np.full((n, 1), np.inf), "polar_inertia": np.zeros((n, 1))}
    ends = {0: RIGID, n: RIGID}
    return line(np.full(n, length / n), np.full(n, diameter), supports=ends, **thin | more)


def test_a_uniform_beam_has_the_speed_of_the_closed_form() -> None:
    # Euler: pi^2 sqrt(E I / (rho A)) / L^2, simply supported
    exact = np.pi**2 / 0.3**2 * np.sqrt(STEEL / DENSITY) * 0.01 / 4
    assert_allclose(whirl_speed(**slender(12, 0.3, 0.01)), exact, rtol=1e-5)


def test_a_thick_beam_has_the_speed_of_timoshenkos() -> None:
    # Timoshenko's beam on two bearings, w = W sin(pi x/L), tilt = T cos(pi x/L), rotary inertia
    # rho I less the gyroscopic 2 rho I of forward whirl; the 2 x 2 determinant worked here
    length, diameter = 0.1, 0.03
    inertia, area = np.pi / 64 * diameter**4, np.pi / 4 * diameter**2
    shear = float(shear_stiffness(youngs_modulus=STEEL, poisson=0.3, diameter=diameter))
    wave, tilt = np.pi / length, -DENSITY * inertia
    bend = STEEL * inertia * wave**2 + shear
    roots = np.roots(
        [
            DENSITY * area * tilt,
            -(shear * wave**2 * tilt + DENSITY * area * bend),
            shear * wave**2 * (bend - shear),
        ]
    )
    n = 14
    ends = {0: RIGID, n: RIGID}
    found = whirl_speed(**line(np.full(n, length / n), np.full(n, diameter), supports=ends))
    assert_allclose(found, np.sqrt(roots[roots > 0]), rtol=5e-4)


@pytest.mark.parametrize("stack_mass", [0.0, 0.2, 1.5])
def test_a_uniform_shaft_with_its_stack_in_the_middle_has_the_closed_form(
    stack_mass: float,
) -> None:
    found = whirl_speed(**slender(10, 0.15, 0.01, discs=[(5, stack_mass, 0.0, 0.0)]))
    closed = jeffcott(
        span=0.15, diameter=0.01, youngs_modulus=STEEL, density=DENSITY, load=stack_mass
    )
    # Rayleigh's quotient of the closed form lies above, by 1 % without a stack
    assert_allclose(found, closed, rtol=0.01 if stack_mass == 0 else 1e-3)
    assert found < closed


def test_a_shaft_without_mass_meets_the_worked_value() -> None:
    # Jeffcott, worked by hand: d 10 mm, 150 mm between bearings, E 205 GPa, 1.5 kg in the middle:
    # k = 48 E I / L^3 = 1.43117e6 N/m, 976.79 rad/s, 9327.6 rpm
    light = slender(10, 0.15, 0.01, discs=[(5, 1.5, 0.0, 0.0)], mass=np.zeros((10, 1)))
    assert_allclose(whirl_speed(**light), 976.79, atol=5.1e-3)
    closed = jeffcott(span=0.15, diameter=0.01, youngs_modulus=STEEL, density=0.0, load=1.5)
    assert_allclose(closed, 976.79, atol=5.1e-3)
    # Rayleigh: w = 3 x - 4 x^3 up to the middle, kinetic energy over that of the middle
    x = np.linspace(0, 0.5, 10_001)
    assert_allclose(SHAFT_SHARE, 2 * np.trapezoid((3 * x - 4 * x**3) ** 2, x), rtol=1e-6)


@pytest.mark.parametrize(
    ("length", "diameter", "load", "ross"),
    [
        # First bending mode by the rotordynamics library ross-rotordynamics 2.3.0 (20 Euler
        # beams, bearings of 1e10 N/m, point mass), run once outside this project [rad/s]
        (0.150, 0.010, 1.5, 962.441),
        (0.120, 0.012, 0.6, 2981.591),
    ],
)
def test_a_uniform_shaft_agrees_with_a_general_rotordynamics_library(
    length: float, diameter: float, load: float, ross: float
) -> None:
    found = whirl_speed(**slender(10, length, diameter, discs=[(5, load, 0.0, 0.0)]))
    assert_allclose(found, ross, rtol=2e-4)


def test_two_gears_on_a_shaft_have_the_critical_speed_of_the_textbook() -> None:
    # Shigley's Mechanical Engineering Design, 8th ed. 2008, example 7-5, from memory: 1 in steel
    # shaft of 31 in, 35 lbf at 7 in, 55 lbf at 20 in, E 30 Mpsi; Rayleigh 1192 rpm. Its influence
    # coefficients 2.061e-4, 2.224e-4, 3.534e-4 in/lbf give 124.67 rad/s exactly (worked here).
    lengths = np.diff([0, 3.5, 7, 11, 15, 20, 25, 31]) * INCH
    n = len(lengths)
    modulus = 30e6 * 6894.757
    gears = [(2, 35 * POUND_MASS, 0.0, 0.0), (5, 55 * POUND_MASS, 0.0, 0.0)]
    found = whirl_speed(
        **line(
            lengths,
            np.full(n, INCH),
            supports={0: RIGID, n: RIGID},
            discs=gears,
            bending_stiffness=np.full((n, 1), modulus * np.pi / 64 * INCH**4),
            shear_stiffness=np.full((n, 1), np.inf),
            mass=np.zeros((n, 1)),
            polar_inertia=np.zeros((n, 1)),
        )
    )
    assert_allclose(found, 124.67, atol=0.05)
    assert found * 60 / (2 * np.pi) < 1192.5


STEPS = [0.005, 0.0045, 0.006, 0.012, 0.012, 0.0064, 0.008, 0.006, 0.018]
WIDTHS = [0.008, 0.0108, 0.012, 0.012, 0.012, 0.012, 0.010, 0.008, 0.008]


@pytest.mark.parametrize(
    ("supports", "discs", "ross"),
    [
        # Lowest synchronous forward whirl by the rotordynamics library ross-rotordynamics 2.3.0
        # (Timoshenko beams with rotary inertia and gyroscopic moments, G = E/2.6, rigid discs,
        # springs without damping), iterated on the speed, run once outside this project [rad/s].
        ((2e7, 1e7), [(4, 0.25, 1.6e-4, 2.9e-4), (9, 0.03, 2e-6, 3e-6)], 7774.909),
        ((2e7, 1e7), [(4, 1.2, 2.2e-3, 4.2e-3), (9, 0.03, 2e-6, 3e-6)], 4119.456),
        ((1e6, 5e5), [(4, 0.25, 1.6e-4, 2.9e-4), (9, 0.1, 2e-5, 3e-5)], 1395.890),
        ((2e7, 1e7), [(4, 0.1, 5e-5, 9e-5), (9, 0.4, 1e-4, 1.8e-4)], 2660.118),
    ],
    ids=["stack and hub", "wide stack", "soft bearings", "heavy pulley"],
)
def test_a_stepped_shaft_agrees_with_a_general_rotordynamics_library(
    supports: tuple[float, float], discs: Any, ross: float
) -> None:
    ends = dict(zip((1, 7), supports, strict=True))
    found = whirl_speed(**line(STEPS, WIDTHS, supports=ends, discs=discs))
    assert_allclose(found, ross, rtol=1e-6)


def lanes(n: int = 60) -> dict[str, NDArray[np.float64]]:
    """Shafts of all kinds: thin, thick, wide stacks, overhung weights, soft bearings."""
    rng = np.random.default_rng(11)
    nodes = 9
    place = np.cumsum(rng.uniform(0.002, 0.02, (nodes, n)), axis=0)
    width = rng.uniform(0.005, 0.03, (nodes - 1, n))
    mass = DENSITY * np.pi / 4 * width**2
    polar = DENSITY * np.pi / 32 * width**4
    heavy, radius = 10 ** rng.uniform(-1, 2, n), rng.uniform(0.02, 0.2, n)
    mass[3:5] += heavy
    polar[3:5] += heavy * radius**2 / 2
    support, point_mass = np.zeros((nodes, n)), np.zeros((nodes, n))
    support[1], support[6] = 10 ** rng.uniform(4, 9, n), 10 ** rng.uniform(4, 9, n)
    point_mass[8] = rng.uniform(0, 0.3, n)
    return {
        "place": place,
        "bending_stiffness": STEEL * np.pi / 64 * width**4,
        "shear_stiffness": np.asarray(
            shear_stiffness(youngs_modulus=STEEL, poisson=0.3, diameter=width)
        ),
        "mass": mass,
        "polar_inertia": polar,
        "point_mass": point_mass,
        "point_tilt": np.zeros((nodes, n)),
        "support": support,
    }


def dense(lane: dict[str, NDArray[np.float64]]) -> float:
    """Lowest whirl of one lane by SciPy's dense eigenvalues; matrices by Przemieniecki (1968)."""
    n = len(lane["place"])
    stiff, inert = np.zeros((2 * n, 2 * n)), np.zeros((2 * n, 2 * n))
    for node in range(n - 1):
        size = float(lane["place"][node + 1] - lane["place"][node])
        bending = float(lane["bending_stiffness"][node])
        phi = 12 * bending / (float(lane["shear_stiffness"][node]) * size**2)
        # Shapes of displacement and tilt with shear, and Gauss points that integrate them exactly
        points, weights = np.polynomial.legendre.leggauss(5)
        here = slice(2 * node, 2 * node + 4)
        k = bending / size**3 / (1 + phi)
        half = np.array([[12, 6 * size], [6 * size, (4 + phi) * size**2]]) * k
        on = np.array([[-12, 6 * size], [-6 * size, (2 - phi) * size**2]]) * k
        flip = np.diag([1.0, -1.0])
        stiff[here, here] += np.block([[half, on], [on.T, flip @ half @ flip]])
        for point, weight in zip((points + 1) / 2, weights * size / 2, strict=True):
            x = point
            bend = np.array(
                [
                    1 - 3 * x**2 + 2 * x**3 + phi * (1 - x),
                    size * (x - 2 * x**2 + x**3 + phi / 2 * (x - x**2)),
                    3 * x**2 - 2 * x**3 + phi * x,
                    size * (-(x**2) + x**3 - phi / 2 * (x - x**2)),
                ]
            ) / (1 + phi)
            turn = np.array(
                [
                    6 / size * (-x + x**2),
                    1 - 4 * x + 3 * x**2 + phi * (1 - x),
                    6 / size * (x - x**2),
                    -2 * x + 3 * x**2 + phi * x,
                ]
            ) / (1 + phi)
            inert[here, here] += weight * float(lane["mass"][node]) * np.outer(bend, bend)
            inert[here, here] -= (
                weight / 2 * float(lane["polar_inertia"][node]) * np.outer(turn, turn)
            )
    stiff[range(0, 2 * n, 2), range(0, 2 * n, 2)] += lane["support"]
    inert[range(0, 2 * n, 2), range(0, 2 * n, 2)] += lane["point_mass"]
    return float(1 / np.sqrt(eigh(inert, stiff, eigvals_only=True)[-1]))


def test_the_lowest_whirl_is_found_on_shafts_of_all_kinds() -> None:
    given = lanes()
    found = whirl_speed(**given)
    each = [dense({key: v[:, lane] for key, v in given.items()}) for lane in range(len(found))]
    assert_allclose(found, each, rtol=1e-5)
    assert found.max() > 20 * found.min()


def test_a_lane_does_not_depend_on_the_others() -> None:
    given = lanes()
    found = whirl_speed(**given)
    given["place"][3, 7] = np.nan
    given["bending_stiffness"][2, 20] = np.nan
    again = whirl_speed(**given)
    assert np.flatnonzero(np.isnan(again)).tolist() == [7, 20]
    alone = whirl_speed(**{key: v[:, 8:9] for key, v in given.items()})
    assert_allclose(again[8], alone[0], rtol=1e-12)
    others = np.isfinite(again)
    assert_allclose(again[others], found[others], rtol=1e-12)


def test_softer_bearings_and_heavier_hubs_whirl_at_lower_speeds() -> None:
    found = [
        float(
            whirl_speed(
                **line(STEPS, WIDTHS, supports={1: k, 7: k}, discs=[(4, 0.3, 0, 0), (9, m, 0, 0)])
            )[0]
        )
        for k, m in ((1e8, 0.02), (1e7, 0.02), (1e6, 0.02), (1e6, 0.2))
    ]
    assert found == sorted(found, reverse=True)


def test_more_nodes_than_it_has_room_for_are_refused() -> None:
    n = MOST_NODES
    with pytest.raises(ValueError, match="nodes are more than"):
        whirl_speed(**slender(n, 0.3, 0.01))
