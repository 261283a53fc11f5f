"""Slices of a run: any tooth opened as a plane, under the in-plane loads of the arch."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gomphosis.bone.coverage import Raster
from gomphosis.bone.density_law import DensityLaw
from gomphosis.bone.directions import to_trade
from gomphosis.bone.jaw_section import JawSection, PlateThickness, jaw_map, tooth_outline
from gomphosis.bone.library import lookup
from gomphosis.bone.ligament_laws import published_bilinear
from gomphosis.bone.loop import Track
from gomphosis.bone.mineral import Exponential
from gomphosis.bone.root import RootProfile
from gomphosis.bone.slice_body import SliceBody, SliceTissue
from gomphosis.bone.slice_crown import CrownOutline
from gomphosis.bone.slice_mesh import SliceDesign, slice_mesh
from gomphosis.bone.slice_root import RootOutline
from gomphosis.bone.slice_run import BoneLife, SliceCase
from gomphosis.bone.support import Elastic
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_tables import PlateTable, SliceTable

MARGIN = 1.0  # mm of map beyond what the tooth may reach
REACH = 6.0  # mm that a root may travel in any direction within the map
WORDS = {
    # across, along the axis, and the turn that carries points above the crest across
    "labiolingual": (1, 0, 4),
    "mesiodistal": (2, 0, 3),
}
"""Places of (x, z, about y) of a plane in a six-vector of trade words."""
SIDE_NAMES = {
    "labiolingual": ("labial", "lingual"),
    "mesiodistal": ("mesial", "distal"),
}
"""Sides at +x and at -x."""

Plane = Literal["labiolingual", "mesiodistal"]


@dataclass(frozen=True)
class SliceModel:
    """A tooth of a run, opened as a plane.

    Attributes
    ----------
    number, plane
        ISO 3950, and which plane.
    index
        Place of the tooth among those of the run.
    case
        Ready to be followed.
    """

    number: int
    plane: Plane
    index: int
    case: SliceCase


def slice_models(scenario: Scenario, teeth: Sequence[ToothModel]) -> tuple[SliceModel, ...]:
    """Build the slices that a scenario asks for, in the order of its teeth."""
    if scenario.slice is None:
        return ()
    return tuple(
        SliceModel(tooth.number, scenario.slice.plane, index, slice_case(scenario, tooth))
        for index, tooth in enumerate(teeth)
        if tooth.number in scenario.slice.teeth
    )


def slice_case(scenario: Scenario, tooth: ToothModel) -> SliceCase:
    """Build the slice of one tooth with the bone around it.

    Raises
    ------
    RuntimeError
        If the scenario has no table [slice].
    """
    table = scenario.slice
    if table is None:
        raise RuntimeError("a slice was asked for by a scenario without [slice]")
    law = published_bilinear() if table.law == "bilinear" else None
    design = tooth.support.design
    pair = design.ligament if law is None else Elastic(law.first, law.poisson)
    body = _body(scenario, tooth, table, pair)
    weight = tooth.remodelling.shear_weight
    outline = tooth_outline(design.root, design.thickness, above=tooth.edge_height + REACH)
    return SliceCase(
        body=body,
        bones=jaw_map(_raster(tooth, outline, table), outline, jaw_section(tooth, table)),
        outline=outline,
        root=root_outline(design.root),
        life=_life(table),
        law=tooth.remodelling.law,
        shear_weight=pair.constrained / pair.shear if weight is None else weight,
        ligament=law,
    )


def _body(scenario: Scenario, tooth: ToothModel, table: SliceTable, pair: Elastic) -> SliceBody:
    place = next(place for place in scenario.teeth if place.number == tooth.number)
    support = tooth.support.design
    crown = CrownOutline.of_tooth(
        tooth.anatomy,
        table.plane,
        embedded=tooth.embedded,
        radius=support.root.radius,
        from_edge=place.bracket_from_edge,
    )
    design = SliceDesign(
        RootOutline.of_profile(support.root), support.thickness, crown, table.plane
    )
    dentine = support.dentine
    if dentine is None:
        raise RuntimeError("a slice needs an elastic root")
    tissue = SliceTissue(pair, dentine, lookup("bone_layer.cortical_poisson").number)
    return SliceBody(design, slice_mesh(design), tissue)


def jaw_section(tooth: ToothModel, table: SliceTable) -> JawSection:
    """Return the bone around a tooth: given thicknesses, else those of the library."""
    defaults = default_plates(tooth.number, table.plane)
    front, back = (
        _plate(given, default)
        for given, default in zip((table.front, table.back), defaults, strict=True)
    )
    return JawSection(front, back, cortex=table.cortex, trabecular=table.trabecular)


def default_plates(number: int, plane: str) -> tuple[Array, Array]:
    """Return crest, middle and apex thickness on the +x and the -x side, mm.

    Labially the mean of a cone-beam study of upper front teeth, that of the upper central
    incisor for any other tooth; lingually, and between neighbours, a thickness from memory.
    """
    lingual = np.array([lookup(f"plate_thickness.palatal.{at}").number for at in PLACES])
    if plane == "mesiodistal":
        return lingual, lingual
    position = number % 10 if number // 10 in (1, 2) and number % 10 <= 3 else 1
    return np.array(lookup(f"plate_thickness.labial.U{position}").numbers), lingual


PLACES = ("crest", "middle", "apex")


def _plate(given: PlateTable, default: Array) -> PlateThickness:
    values = [getattr(given, at) for at in PLACES]
    filled = [
        float(known) if value is None else value
        for value, known in zip(values, default, strict=True)
    ]
    return PlateThickness(*filled)


def _raster(tooth: ToothModel, outline: Array, table: SliceTable) -> Raster:
    half = tooth.support.design.root.radius + REACH + MARGIN
    low = float(outline[1].min()) - REACH - MARGIN
    high = float(outline[1].max()) + MARGIN
    spacing = table.spacing
    shape = (int(np.ceil(2 * half / spacing)), int(np.ceil((high - low) / spacing)))
    return Raster((-0.5 * shape[0] * spacing, low), shape, spacing)


def _life(table: SliceTable) -> BoneLife:
    return BoneLife(
        DensityLaw.cited(
            "carter_hayes",
            full=lookup("bone_layer.cortical_young").number,
            soft=lookup("bone_layer.soft_young").number,
        ),
        lookup("new_bone.density").number,
        Exponential(lookup("new_bone.time_constant").number),
        lookup("turnover.cortical").number if table.turnover else 0.0,
    )


def root_outline(root: RootProfile) -> Array:
    """Return the closed outline of an embedded root, counter-clockwise, mm, shape (2, n)."""
    right = root.surface(1 - np.cos(np.linspace(0, np.pi / 2, 80)))[0]
    left = right[:, :0:-1] * np.array([[-1.0], [1.0]])
    return np.concatenate([right, left], axis=1)


def in_plane(number: int, plane: str, six: Array) -> Array:
    """Return (x, z, about y) of six-vectors of the tooth frame in a plane, shape (..., 3).

    x points to the labial or mesial side; the turn carries points above the crest towards it.
    """
    return to_trade(number, six)[..., list(WORDS[plane])]


def slice_loads(model: SliceModel, track: Track) -> tuple[Array, Array]:
    """Return days, each once, and the in-plane loads about the crest that act from then on."""
    last = np.append(np.diff(track.days) > 0, True)
    words = in_plane(model.number, model.plane, track.wrench[:, model.index])
    return track.days[last], words[last]
