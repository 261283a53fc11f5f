"""Slices of an incisor that several files test; invented numbers but for the ligament's."""

from functools import cache

import numpy as np
import pytest

from gomphosis.bone.coverage import Raster
from gomphosis.bone.density_law import DensityLaw
from gomphosis.bone.jaw_section import JawSection, PlateThickness, jaw_map
from gomphosis.bone.mineral import Exponential
from gomphosis.bone.rates import Saturating
from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.slice_body import SliceBody, SliceTissue
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_crown import CrownOutline
from gomphosis.bone.slice_geometry import root_outline, socket_outline
from gomphosis.bone.slice_mesh import SliceDesign, slice_mesh
from gomphosis.bone.slice_response import unit_response
from gomphosis.bone.slice_root import RootOutline
from gomphosis.bone.slice_run import BoneLife, SliceCase
from gomphosis.bone.support import Elastic

ROOT = RootProfile(3.24, 12.0, 0.35)
LAYER = ThicknessProfile(0.22, 0.16, 0.22)
SMALL = SliceCounts(along=12, base=4, ligament=2, bone=3, crown=5)


@cache
def _body(
    *,
    poisson: float = 0.3,
    soft_height: float = 0.0,
    plane: str = "labiolingual",
    side_walls: bool = True,
    counts: SliceCounts = SMALL,
) -> SliceBody:
    crown = CrownOutline((0.0, 3.0, 11.0), (ROOT.radius, 3.4, 1.2), 7.0)
    outline = RootOutline.of_profile(ROOT)
    design = SliceDesign(outline, LAYER, crown, plane, bone_width=4.0, soft_height=soft_height)
    tissue = SliceTissue(Elastic(0.05, poisson), Elastic(2e4, 0.3))
    return SliceBody(design, slice_mesh(design, counts), tissue, side_walls)


@cache
def _response(young: float = 2000.0, **words):
    body = _body(**words)
    return unit_response(body, body.body(np.full(body.bony_places.shape[1], young)))


def _case(plate: float = 0.5, spacing: float = 0.15, **words) -> SliceCase:
    body = _body(soft_height=1.5, **words)
    outline = socket_outline(body.mesh, above=15.0)
    raster = Raster((-11.0, -20.0), (round(22 / spacing), round(36 / spacing)), spacing)
    section = JawSection(PlateThickness(*3 * (plate,)), PlateThickness(1.2, 3.5, 6.5), 1.5, 0.3)
    return SliceCase(
        body=body,
        bones=jaw_map(raster, outline, section),
        outline=outline,
        root=root_outline(body.mesh),
        life=BoneLife(
            DensityLaw.cited("carter_hayes", full=13800.0, soft=0.05), 0.1, Exponential(18.0)
        ),
        law=Saturating(0.06, 0.0014),
        shear_weight=3.5,  # M/G at nu 0.3
    )


@pytest.fixture(scope="session")
def incisor_body():
    """Return a function that builds the slice's body; without soft tissue unless asked."""
    return _body


@pytest.fixture(scope="session")
def incisor_response():
    """Return a function that solves the body in bone of one modulus, MPa."""
    return _response


@pytest.fixture(scope="session")
def incisor_case():
    """Return a function that builds a case behind a labial plate of a thickness in mm."""
    return _case
