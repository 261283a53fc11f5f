"""Strain energy of a slice's bone in the cells of its map, and adaptation to it.

Verification: energy is half the work of the nodal forces; a uniform field is the same in every
cell; the books of a run with adaptation close.
"""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.bone.adaptation import Adaptation
from gomphosis.bone.coverage import Raster
from gomphosis.bone.density_law import DensityLaw
from gomphosis.bone.jaw_section import JawSection, PlateThickness, jaw_map
from gomphosis.bone.mineral import Exponential
from gomphosis.bone.rates import Linear
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.slice_body import SliceBody, SliceTissue
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_crown import CrownOutline
from gomphosis.bone.slice_energy import MapAdaptation, bone_energy
from gomphosis.bone.slice_geometry import root_outline, socket_outline
from gomphosis.bone.slice_mesh import SliceDesign, slice_mesh
from gomphosis.bone.slice_response import linear_state, unit_response
from gomphosis.bone.slice_root import RootOutline
from gomphosis.bone.slice_run import BoneLife, SliceCase, follow_slice
from gomphosis.bone.support import Elastic
from gomphosis.bone.teeth import tooth

LOAD = np.array([0.3, 0.0, 0.0])
YOUNG = 2000.0
RASTER = Raster((-8.0, -16.0), (80, 130), 0.2)


@pytest.fixture(scope="module")
def body() -> SliceBody:
    incisor = tooth(11)
    root = RootProfile(incisor.cervical_radius, 12.0, 0.35)
    crown = CrownOutline.of_tooth(
        incisor, "labiolingual", embedded=12.0, radius=root.radius, from_edge=4.5
    )
    design = SliceDesign(RootOutline.of_profile(root), ThicknessProfile.uniform(0.2), crown)
    mesh = slice_mesh(design, SliceCounts(along=10, base=4, bone=3, crown=5))
    return SliceBody(design, mesh, SliceTissue(Elastic(0.05, 0.3), Elastic(2e4, 0.3)))


@pytest.fixture(scope="module")
def state(body: SliceBody):
    young = np.full(body.bony_places.shape[1], YOUNG)
    return linear_state(unit_response(body, body.body(young)), LOAD)


def energy_of(body: SliceBody, state, form: str, drift=(0.0, 0.0, 0.0)) -> np.ndarray:
    young = np.full(body.bony_places.shape[1], YOUNG)
    return bone_energy(body, state, young, drift=np.array(drift), raster=RASTER, form=form)


@pytest.mark.parametrize("form", ["element", "node"])
def test_a_uniform_strain_has_one_energy_everywhere(body, state, form):
    x = body.mesh.nodes[0]
    stretched = np.stack([1e-3 * x, np.zeros_like(x)], axis=1).ravel()
    found = energy_of(body, replace(state, displacement=stretched), form)
    inside = np.isfinite(found)
    # plane strain, one strain only: U = M e^2 / 2, M = E (1 - nu) / ((1 + nu)(1 - 2 nu))
    expected = 0.5e-6 * YOUNG * 0.7 / (1.3 * 0.4)
    assert 0.2 < inside.mean() < 1
    np.testing.assert_allclose(found[inside], expected, rtol=1e-9)


def test_energy_adds_up_to_the_work_of_the_bones_nodal_forces(body, state):
    stiff = body.elements.stiffness(YOUNG, body.tissue.bone_poisson, elements=body.bony)
    local = state.displacement[body.elements.dofs[body.bony]]
    work = 0.5 * np.einsum("ei,eij,ej->", local, stiff, local)
    from gomphosis.bone import slice_energy

    young = np.full(body.bony_places.shape[1], YOUNG)
    per_point = slice_energy._energy(body, state, young)
    total = np.sum(per_point * body.elements.measure[body.bony])
    np.testing.assert_allclose(total, work, rtol=1e-9)


@pytest.mark.parametrize("form", ["element", "node"])
def test_energy_moves_with_the_tooth(body, state, form):
    cell = RASTER.spacing
    here, there = energy_of(body, state, form), energy_of(body, state, form, (3 * cell, 0.0, 0.0))
    # the four nodes of an element lie on a circle: round-off decides which way it is split
    np.testing.assert_allclose(there[3:], here[:-3], rtol=1e-4, atol=1e-15)


def test_elements_give_steps_and_nodes_a_slope(body, state):
    flat = []
    for form in ("element", "node"):
        steps = np.abs(np.diff(energy_of(body, state, form), axis=0))
        flat.append(np.mean(steps[np.isfinite(steps)] == 0))
    assert flat[0] > 0.5 > 0.1 > flat[1]


@pytest.mark.parametrize("form", ["element", "node"])
def test_a_run_with_adaptation_keeps_its_books(body, form):
    outline = socket_outline(body.mesh, above=12.0)
    plates = PlateThickness(2.0, 2.0, 2.0)
    bones = jaw_map(RASTER, outline, JawSection(plates, plates, cortex=1.0, trabecular=0.3))
    adaptation = MapAdaptation(Adaptation(0.01, 1e-9, 0.01, 1.74), form)
    life = BoneLife(DensityLaw(13800.0, 0.05, 3.0), 0.1, Exponential(18.0))
    case = SliceCase(
        body, bones, outline, root_outline(body.mesh), life, Linear(0.001), shear_weight=3.5
    )
    days, load = np.arange(4.0), np.tile(LOAD, (4, 1))
    plain = follow_slice(case, days, load)
    adapted = follow_slice(replace(case, life=replace(life, adaptation=adaptation)), days, load)
    assert plain.books.mineral_adapted == 0
    assert abs(adapted.books.mineral_adapted) > 1e-6
    assert adapted.worst_residual < 1e-6
