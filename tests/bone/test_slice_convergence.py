"""The default slice mesh against one of twice the counts (verification).

The support's stiffness: the crown is moved as a rigid body, the outer line of the bone is held,
root, ligament and bone are elastic. The side foundation is added by quadrature.

The depth |x| vanishes on the axis, so across it u_x may jump at a cost that falls only like the
logarithm of the element size. Near incompressibility uses this under the apex: at nu 0.49 the
plane part of the axial stiffness still sinks by 0.3 to 0.6 % at each halving.
"""

import numpy as np
import pytest
from scipy.sparse.linalg import splu

from gomphosis.bone.root import RootProfile, ThicknessProfile, offset_surface
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_crown import CrownOutline
from gomphosis.bone.slice_mesh import SliceDesign, slice_mesh
from gomphosis.bone.slice_root import RootOutline
from gomphosis.bone.teeth import tooth
from gomphosis.fem.harmonic import constrained_modulus
from gomphosis.fem.plane import plane_elements
from gomphosis.fem.plane_points import plane_points
from gomphosis.fem.sparse_pattern import sparse_pattern

YOUNG = {"crown": 2e4, "root": 2e4, "ligament": 0.05, "bone": 2e3}
LAYER = ThicknessProfile(0.22, 0.16, 0.22)


def foundation(root, poisson):
    """Return the side foundation's stiffness to the three motions, about the crest."""
    at = np.linspace(0, 1, 4001)
    r, z = offset_surface(root, LAYER, at, fraction=0.5)
    ds = np.hypot(*np.gradient(np.stack([r, z]), axis=1))
    slope = np.gradient(r) / np.gradient(z)
    gap = LAYER.at(-root.surface(at)[0][1] / root.length)
    normal = constrained_modulus(YOUNG["ligament"], poisson) / gap
    shear = YOUNG["ligament"] / (2 * (1 + poisson)) / gap
    sine2 = slope**2 / (1 + slope**2)
    lateral = np.pi * r * shear * ds
    axial = np.pi * r * (normal * sine2 + shear * (1 - sine2)) * ds
    first, second = (lateral * z).sum(), (lateral * z**2).sum()
    return np.array([[lateral.sum(), first, 0], [first, second, 0], [0, 0, axial.sum()]])


def stiffness(number, exponent, counts, poisson=0.3):
    """Return lateral, coupling, rocking and axial stiffness and the height of the centre."""
    anatomy = tooth(number)
    root = RootProfile(anatomy.cervical_radius, anatomy.root_length - 1.5, exponent)
    crown = CrownOutline((0.0, 10.0), (root.radius, root.radius), 5.0)
    mesh = slice_mesh(
        SliceDesign(RootOutline.of_profile(root), LAYER, crown, soft_height=0.0),
        counts,
    )
    points = plane_points(mesh.nodes, mesh.elements)
    depth = np.pi / 2 * np.abs(points.place[:, :, 0])
    young, ratio = np.zeros(len(mesh.elements)), np.full(len(mesh.elements), 0.3)
    for name, members in mesh.regions.items():
        young[members] = YOUNG[name]
    ratio[mesh.regions["ligament"]] = poisson
    for name in ("crown", "root"):
        z = np.clip(points.place[mesh.regions[name], :, 1], -root.length * (1 - 1e-9), 0)
        depth[mesh.regions[name]] = np.pi / 2 * root.radius * (1 + z / root.length) ** root.exponent
    elements = plane_elements(points, depth)
    matrices = elements.stiffness(young, ratio)
    x, z = mesh.nodes
    zero, one = np.zeros_like(x), np.ones_like(x)
    modes = np.stack([np.stack(m, 1).ravel() for m in ((one, zero), (z, -x), (zero, one))], 1)
    rigid = np.unique(mesh.elements[mesh.regions["crown"]])
    held = np.unique(np.concatenate([mesh.lines["outer"], rigid]))
    free = np.setdiff1d(np.arange(2 * len(x)), (2 * held[:, None] + [0, 1]).ravel())
    moved = np.zeros_like(modes)
    tied = (2 * rigid[:, None] + [0, 1]).ravel()
    moved[tied] = modes[tied]
    pattern = sparse_pattern(elements.size, [elements.dofs], free=free)

    def force(u):
        local = np.einsum("eij,ejm->eim", matrices, u[elements.dofs])
        total = np.zeros_like(u)
        np.add.at(total, elements.dofs, local)
        return total

    moved[free] = -splu(pattern.assembled(matrices)).solve(force(moved)[free])
    k = moved.T @ force(moved) + foundation(root, poisson)
    return {
        "lateral": k[0, 0],
        "coupling": k[0, 1],
        "rocking": k[1, 1],
        "axial": k[2, 2],
        "centre of resistance": k[0, 1] / k[0, 0],
    }


@pytest.mark.parametrize(("number", "exponent"), [(11, 0.38), (33, 0.5), (31, 0.2)])
@pytest.mark.parametrize("poisson", [0.3, 0.49])
def test_doubling_the_default_mesh_changes_the_support_by_less_than_one_percent(
    number, exponent, poisson
):
    default = SliceCounts()
    coarse = stiffness(number, exponent, default, poisson)
    fine = stiffness(number, exponent, default.scaled(2.0), poisson)
    for name, value in fine.items():
        np.testing.assert_allclose(coarse[name], value, rtol=1e-2, err_msg=name)
