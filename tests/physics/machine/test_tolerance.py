import numpy as np
import pytest
import skfem  # type: ignore[import-untyped]
from numpy.testing import assert_allclose
from scipy.special import log_ndtr

from engine.catalogue import process_names, process_values
from engine.physics.machine.tolerance import (
    end_disc_heat_flux,
    gap_yield,
    heat_bending,
    pressure_bending,
    rim_gap_loss,
    smallest_holdable_gap,
    unequal_gap_pressure,
)


def element_rim_deflection(ratio: float, poisson: float, *, pressure: float, curl: float) -> float:
    """Rim deflection of a plate of unit radius and rigidity clamped at `ratio`.

    Cubic Hermite elements; uniform pressure, and free curvature `curl` from heat.
    """
    basis = skfem.Basis(
        skfem.MeshLine(np.linspace(ratio, 1, 41)), skfem.ElementLineHermite(), intorder=8
    )

    @skfem.BilinearForm
    def bending(u, v, w):  # type: ignore[no-untyped-def]
        a, b = u.hess[0, 0], u.grad[0] / w.x[0]
        return ((a + poisson * b) * v.hess[0, 0] + (b + poisson * a) * v.grad[0] / w.x[0]) * w.x[0]

    @skfem.LinearForm
    def load(v, w):  # type: ignore[no-untyped-def]
        turned = (1 + poisson) * curl * (v.hess[0, 0] + v.grad[0] / w.x[0])
        return (pressure * v + turned) * w.x[0]

    clamp = basis.get_dofs(lambda x: np.isclose(x[0], ratio))
    found = skfem.solve(*skfem.condense(bending.assemble(basis), load.assemble(basis), D=clamp))
    rim = basis.get_dofs(lambda x: np.isclose(x[0], 1.0)).all("u")
    return float(found[rim][0])


CASES = [(0.1, 0.3), (0.3, 0.2), (0.5, 0.45), (0.8, 0.3)]


def unit_plate_pressure(ratio: float, poisson: float) -> float:
    return float(
        pressure_bending(
            pressure_difference=1.0,
            r_inner=ratio,
            r_outer=1.0,
            thickness=1.0,
            youngs_modulus=12 * (1 - poisson**2),
            poisson=poisson,
        )
    )


def unit_plate_heat(ratio: float, poisson: float) -> float:
    return float(
        heat_bending(
            heat_flux=1.0,
            conductivity=1.0,
            expansion=1.0,
            r_inner=ratio,
            r_outer=1.0,
            poisson=poisson,
        )
    )


@pytest.mark.parametrize(("ratio", "poisson"), CASES)
def test_pressure_bending_agrees_with_finite_elements(ratio: float, poisson: float) -> None:
    expected = element_rim_deflection(ratio, poisson, pressure=1.0, curl=0.0)
    assert_allclose(unit_plate_pressure(ratio, poisson), expected, rtol=1e-4)


@pytest.mark.parametrize(("ratio", "poisson"), CASES)
def test_heat_bending_agrees_with_finite_elements(ratio: float, poisson: float) -> None:
    expected = element_rim_deflection(ratio, poisson, pressure=0.0, curl=1.0)
    assert_allclose(unit_plate_heat(ratio, poisson), expected, rtol=1e-4)


def test_a_narrow_ring_bends_like_a_cantilever_and_a_pin_hole_like_a_plate_on_its_centre() -> None:
    # q L^4/(8 D) for a strip; (7 + 3 nu)/(64 (1 + nu)) q a^4/D for a plate held at its centre
    # (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, art. 17)
    assert_allclose(unit_plate_pressure(0.999, 0.3), 0.001**4 / 8, rtol=2e-3)
    assert_allclose(unit_plate_pressure(1e-5, 0.3), 7.9 / (64 * 1.3), rtol=1e-6)


def test_a_disc_held_at_its_centre_curls_freely_in_heat() -> None:
    # curvature 1: deflection a^2/2
    assert_allclose(unit_plate_heat(1e-5, 0.3), 0.5, rtol=1e-6)


def test_radii_out_of_order_bend_to_nan_in_that_lane_only() -> None:
    r_inner = np.array([0.03, 0.08, 0.0, np.nan])
    pressed = pressure_bending(
        pressure_difference=100.0,
        r_inner=r_inner,
        r_outer=0.075,
        thickness=1e-3,
        youngs_modulus=193e9,
        poisson=0.29,
    )
    heated = heat_bending(
        heat_flux=100.0,
        conductivity=15.0,
        expansion=17e-6,
        r_inner=r_inner,
        r_outer=0.075,
        poisson=0.29,
    )
    assert np.isfinite(pressed).tolist() == [True, False, False, False]
    assert np.isfinite(heated).tolist() == [True, False, False, False]


def test_unequal_gaps_differ_by_twice_the_change_of_dynamic_head_at_half_weight() -> None:
    # laminar gap flow: mean speed goes with the square of the gap (plane Poiseuille flow)
    head = 0.5 * 3.0 * np.array([20.0, 20.0 * 1.001**2]) ** 2
    found = unequal_gap_pressure(density=3.0, radial_speed=20.0, gap=1.0, error=0.001)
    assert_allclose(found, (head[1] - head[0]) / 2, rtol=2e-3)


def test_a_poor_conductor_limits_its_own_heat_flux() -> None:
    gas = {
        "density": 3.0,
        "specific_heat": 1005.0,
        "rim_speed": 150.0,
        "temperature_difference": 10.0,
    }
    plastic = end_disc_heat_flux(**gas, thickness=0.1, conductivity=0.2)
    assert_allclose(plastic, 10.0 * 0.2 / 0.1, rtol=0.01)
    metal = end_disc_heat_flux(**gas, thickness=1e-3, conductivity=1e6)
    assert_allclose(metal, 0.5 * 10.0 * 0.0025 * 3.0 * 1005.0 * 75.0, rtol=1e-6)


def test_worst_gap_of_the_worked_stack_loses_spacer_tolerance_and_waviness() -> None:
    # worked by hand: spacer +-0.008 mm, the two discs' waviness 0.05 mm in all: 0.058 mm
    loss = rim_gap_loss(
        diameter=0.1, flatness=0.025e-3 / 0.1, spacer_tolerance=0.008e-3, run_out=0.0
    )
    assert_allclose(loss, 0.058e-3, rtol=1e-12)


def test_bending_closes_a_gap_whichever_way_it_goes() -> None:
    def loss(bending: float) -> float:
        return float(
            rim_gap_loss(
                diameter=0.1,
                flatness=0.1e-3,
                spacer_tolerance=8e-6,
                run_out=5e-6,
                bending=bending,
            )
        )

    assert loss(-30e-6) == loss(30e-6)
    assert_allclose(loss(30e-6) - loss(0.0), 30e-6, rtol=1e-9)


def test_gap_yield_agrees_with_random_stacks() -> None:
    rng = np.random.default_rng(11)
    discs, gap, diameter, flatness, spacer, run_out = 15, 0.2e-3, 0.15, 0.6e-3, 10e-6, 30e-6
    stacks = 40_000
    # each gap between two discs of its own, as in the formula
    lean = rng.normal(0, flatness * diameter / 3, (2, stacks, discs - 1))
    wobble = rng.normal(0, run_out / 2 / 3, (2, stacks, discs - 1))
    spacers = rng.normal(0, spacer / 3, (stacks, discs - 1))
    apart = gap + spacers + (lean + wobble).sum(axis=0) - 10e-6
    expected = np.mean(np.all(apart > gap / 2, axis=1))
    tolerances = {
        "gap": gap,
        "diameter": diameter,
        "flatness": flatness,
        "spacer_tolerance": spacer,
        "run_out": run_out,
        "bending": 10e-6,
    }
    found = float(gap_yield(disc_count=discs, **tolerances))
    assert 0.5 < found < 0.95
    assert_allclose(found, expected, atol=0.008)
    # a disc that leans into one gap opens the other, so real stacks do a little worse
    shared = rng.normal(0, flatness * diameter / 3, (stacks, discs))
    shared += rng.normal(0, run_out / 2 / 3, (stacks, discs))
    real = gap + spacers + np.diff(shared, axis=1) - 10e-6
    assert -0.01 < np.mean(np.all(real > gap / 2, axis=1)) - found < 0


def test_gap_yield_agrees_with_the_normal_distribution_of_a_library() -> None:
    # Without bending, run-out and a part to keep, `gap` is the room in standard deviations.
    room = np.linspace(-9, 40, 491)[:, None]
    discs = np.array([1, 2, 7, 40, 400])
    found = gap_yield(
        disc_count=discs, gap=room, diameter=0.0, flatness=0.0, spacer_tolerance=1.0, run_out=0.0,
        kept=0.0, sigmas=1.0,
    )  # fmt: skip
    expected = np.exp((discs - 1) * log_ndtr(room))
    assert_allclose(found, expected, rtol=1e-12, atol=1e-300)


def test_one_disc_has_no_gap_to_lose() -> None:
    found = gap_yield(
        disc_count=np.array([1, 2, 200]),
        gap=0.15e-3,
        diameter=0.15,
        flatness=0.5e-3,
        spacer_tolerance=10e-6,
        run_out=20e-6,
    )
    one, two, many = np.asarray(found)
    assert one == 1.0
    assert 1.0 > two > many > 0.0


def test_a_gap_smaller_than_the_bending_has_a_yield_of_zero() -> None:
    found = gap_yield(
        disc_count=50,
        gap=0.1e-3,
        diameter=0.15,
        flatness=0.1e-3,
        spacer_tolerance=5e-6,
        run_out=5e-6,
        bending=2e-3,
    )
    assert found == 0.0


@pytest.mark.parametrize("process", process_names())
def test_the_smallest_holdable_gap_grows_with_diameter_for_each_process(process: str) -> None:
    shop = process_values(process, 1e-3)
    diameter = np.linspace(0.06, 0.3, 9)
    tolerances = {
        "diameter": diameter,
        "flatness": shop.flatness,
        "spacer_tolerance": shop.spacer_tolerance,
        "run_out": shop.run_out,
    }
    loss = rim_gap_loss(**tolerances)
    smallest = smallest_holdable_gap(loss=loss, smallest_spacer=shop.smallest_gap)
    assert np.all(np.diff(smallest) > 0)
    assert_allclose((smallest - loss) / smallest, 0.5)
    assert np.all(gap_yield(disc_count=2, gap=smallest, **tolerances) > 0.9986)  # 3 sigma, one side


def test_no_gap_is_smaller_than_the_thinnest_spacer() -> None:
    assert smallest_holdable_gap(loss=1e-6, smallest_spacer=50e-6) == 50e-6
