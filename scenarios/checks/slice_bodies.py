"""Slices that the checks load: of the average incisor, and of roots with a closed form."""

from functools import cache

import numpy as np

from gomphosis.bone.coverage import Raster
from gomphosis.bone.density_law import DensityLaw
from gomphosis.bone.jaw_section import JawSection, PlateThickness, jaw_map
from gomphosis.bone.ligament_laws import BilinearLigament, published_bilinear
from gomphosis.bone.mineral import Exponential
from gomphosis.bone.rates import Linear, RateLaw
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.slice_body import SliceBody, SliceTissue, rigid_motions
from gomphosis.bone.slice_crown import CrownOutline
from gomphosis.bone.slice_geometry import root_outline, socket_outline
from gomphosis.bone.slice_mesh import BONE, CROWN, ROOT, SliceDesign, slice_mesh
from gomphosis.bone.slice_response import UnitResponse, unit_response
from gomphosis.bone.slice_root import RootOutline
from gomphosis.bone.slice_run import BoneLife, SliceCase
from gomphosis.bone.support import Elastic, SupportDesign
from gomphosis.fem.plane import COMPONENTS
from gomphosis.fem.plane_equilibrium import Loading, linear_equilibrium
from gomphosis.fem.section import Array, Index
from gomphosis.scenarios.checks.bodies import INCISOR, bracket_height, design

RIGID_BONE = 2e4  # MPa: bone that counts as rigid beside a ligament of SOFT
SOFT = 5e-5  # MPa: a thousandth of the default ligament, so that nothing else gives way
DENTINE = Elastic(2e4, 0.3)


def body_of(
    support: SupportDesign, *, soft_height: float = 0.0, side_walls: bool = True
) -> SliceBody:
    """Return the slice of a body of revolution: the same root, ligament and width of bone.

    Parameters
    ----------
    soft_height
        Of soft tissue beside the crown, mm; the body of revolution has none.
    side_walls
        Whether the walls beside the plane are there.
    """
    root = support.root
    height = bracket_height(INCISOR)
    crown = CrownOutline((0.0, 2 * height), (root.radius, root.radius), height)
    drawn = SliceDesign(
        RootOutline.of_profile(root),
        support.thickness,
        crown,
        bone_width=support.bone_width,
        soft_height=soft_height,
    )
    bone = 0.3 if support.bone is None else support.bone.poisson
    tissue = SliceTissue(support.ligament, support.dentine or DENTINE, bone)
    return SliceBody(drawn, slice_mesh(drawn), tissue, side_walls)


def even_bone(body: SliceBody, young: float) -> UnitResponse:
    """Return the unit responses in bone (and soft tissue) of one modulus, MPa."""
    return unit_response(body, body.body(np.full(body.bony_places.shape[1], young)))


@cache
def opened(*, young: float, poisson: float, side_walls: bool = True) -> UnitResponse:
    """Return the unit responses of the average incisor's slice in the even bone of `bodies`."""
    support = design(INCISOR, young=young, poisson=poisson)
    if support.bone is None:
        raise RuntimeError("the average incisor stands in elastic bone")
    return even_bone(body_of(support, side_walls=side_walls), support.bone.young)


@cache
def thin(exponent: float, *, slender: float, thickness: float, length: float = 12.0) -> SliceBody:
    """Return a slice in a thin even layer; radius and thickness as shares of length and radius."""
    root = RootProfile(slender * length, length, exponent)
    layer = ThicknessProfile.uniform(thickness * root.radius)
    return body_of(SupportDesign(root, layer, Elastic(SOFT, 0.3), DENTINE, None))


def held_stiffness(body: SliceBody) -> Array:
    """Return the stiffness about the crest with tooth and bone rigid, shape (3, 3)."""
    mesh = body.mesh
    modes = rigid_motions(mesh.nodes)
    whole = body.body(np.full(body.bony_places.shape[1], RIGID_BONE))

    def freedoms(*regions: str) -> Index:
        nodes = np.unique(np.concatenate([mesh.elements[mesh.regions[k]].ravel() for k in regions]))
        return (COMPONENTS * nodes[:, None] + np.arange(COMPONENTS)).ravel()

    tooth = freedoms(CROWN, ROOT)
    held = np.union1d(tooth, freedoms(BONE))
    pattern = whole.pattern(np.setdiff1d(np.arange(len(modes)), held))
    lead = np.zeros_like(modes)
    lead[tooth] = modes[tooth]
    answers = [
        linear_equilibrium(whole, pattern, Loading(0 * column, column)).answer for column in lead.T
    ]
    return lead.T @ np.stack([whole.force(answer) for answer in answers], axis=1)


@cache
def plated(
    *,
    plate: float = 0.5,
    spacing: float = 0.1,
    stiffening: bool = False,
    rate: RateLaw | None = None,
) -> SliceCase:
    """Return the average incisor behind an even labial plate, invented, with its soft tissue.

    Parameters
    ----------
    plate, spacing
        Thickness of the labial plate and cells of the map, mm.
    stiffening
        Whether the ligament follows the published bilinear law, else its first branch.
    rate
        Of the wall; linear, 20 mm/day per MPa, unless given.
    """
    law = published_bilinear()
    support = design(INCISOR, young=law.first, poisson=law.poisson)
    body = body_of(support, soft_height=1.5)
    outline = socket_outline(body.mesh, above=14.0)
    size = (round(22 / spacing), round(36 / spacing))
    raster = Raster((-11.0, -21.0), size, spacing)
    section = JawSection(PlateThickness(*3 * (plate,)), PlateThickness(1.2, 3.5, 6.5), 1.5, 0.3)
    pair = support.ligament
    return SliceCase(
        body=body,
        bones=jaw_map(raster, outline, section),
        outline=outline,
        root=root_outline(body.mesh),
        life=BoneLife(
            DensityLaw.cited("carter_hayes", full=13800.0, soft=0.05), 0.1, Exponential(18.0)
        ),
        law=rate or Linear(20.0),
        shear_weight=pair.constrained / pair.shear,
        ligament=law if stiffening else None,
    )


def one_branch(young: float, poisson: float) -> BilinearLigament:
    """Return a law of two equal branches: linear, but solved as if it were not."""
    return BilinearLigament(first=young, second=young, switch=0.075, poisson=poisson)
