"""Rings that whirl on their spokes, all alike: whether the pack bends on its web."""

import numpy as np
import pytest
import scipy.sparse.linalg
import skfem  # type: ignore[import-untyped]
from skfem.helpers import ddot, dot, sym_grad, trace  # type: ignore[import-untyped]

from engine.catalogue import materials
from tests.support import web_tables
from tests.support.web_stress import FilletedWeb, peak_stress
from tests.support.webbed_plane import Web, mesh_of

POISSON = 0.3


def whirl(web: Web) -> float:
    """Lowest frequency in which the ring moves across its held hub [sqrt(E / density) / r_o]."""
    sector = mesh_of(web, web_tables.fineness(web.spokes), spoke=True, hub=False)
    points, triangles = [], []
    for n in range(web.spokes):
        a = 2 * np.pi * n / web.spokes
        points.append(np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) @ sector.p)
        triangles.append(sector.t + n * sector.p.shape[1])
    every = np.hstack(points)
    _, first, place = np.unique(
        np.round(every.T, 8), axis=0, return_index=True, return_inverse=True
    )
    mesh = skfem.MeshTri(every[:, first], place.ravel()[np.hstack(triangles)])
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementTriP2()), intorder=4)
    shear, lame = 1 / (2 * (1 + POISSON)), POISSON / (1 - POISSON**2)

    @skfem.BilinearForm
    def stiffness(u, v, _):  # type: ignore[no-untyped-def]
        e, d = sym_grad(u), sym_grad(v)
        return lame * trace(e) * trace(d) + 2 * shear * ddot(e, d)

    mass = skfem.BilinearForm(lambda u, v, _: dot(u, v)).assemble(basis).tocsc()
    held = np.hypot(*basis.doflocs) < web.hub * (1 + 1e-6)
    free = np.flatnonzero(~held)
    stiff = stiffness.assemble(basis).tocsc()[free][:, free]
    squares, shapes = scipy.sparse.linalg.eigsh(stiff, k=6, M=mass[free][:, free], sigma=0)
    rim = np.abs(np.hypot(*mesh.p) - 1) < 1e-6
    for square, shape in zip(squares, shapes.T, strict=True):
        u = np.zeros(basis.N)
        u[free] = shape
        moved = u[basis.nodal_dofs][:, rim]
        if np.hypot(*moved.mean(axis=1)) > 0.6 * np.sqrt(np.square(moved).sum(axis=0).mean()):
            return float(np.sqrt(square))
    msg = "no mode moves the ring across"
    raise AssertionError(msg)


@pytest.mark.parametrize(("spokes", "bore"), [(3, 0.3), (3, 0.84), (12, 0.84)])
def test_every_disc_yields_before_its_ring_whirls_on_the_narrowest_spokes(
    spokes: int, bore: float
) -> None:
    width = float(web_tables.widths(spokes)[0]) * bore
    hub = float(web_tables.hubs(width / bore, spokes)[0]) * bore
    at_whirl = whirl(Web(bore, spokes, width, hub, 0.6 * hub))
    peak = peak_stress(FilletedWeb(bore, spokes, width, hub, 0.6 * hub, width / 6), holds=("free",))
    stress = peak.hub_free * ((3 + POISSON) + (1 - POISSON) * bore**2) / 4
    for material in materials().values():
        at_yield = np.sqrt(material.yield_strength[0] / material.youngs_modulus[0] / stress)
        assert at_whirl > 1.3 * at_yield
