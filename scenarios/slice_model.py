"""Slices of a run: any tooth opened as a plane, under the in-plane loads of the arch."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt

from gomphosis.bone.adaptation import Adaptation
from gomphosis.bone.coverage import Raster
from gomphosis.bone.density_law import DensityLaw
from gomphosis.bone.density_map import DensityMap
from gomphosis.bone.directions import to_trade
from gomphosis.bone.jaw_section import JawSection, PlateThickness, jaw_map, outlined_map
from gomphosis.bone.library import lookup
from gomphosis.bone.ligament_laws import published_bilinear
from gomphosis.bone.loop import Track
from gomphosis.bone.mineral import Exponential
from gomphosis.bone.slice_body import SliceBody, SliceTissue
from gomphosis.bone.slice_crown import CrownOutline
from gomphosis.bone.slice_energy import MapAdaptation
from gomphosis.bone.slice_geometry import MeasuredDesign, root_outline, socket_outline
from gomphosis.bone.slice_import import read_slice_mesh
from gomphosis.bone.slice_mesh import SliceDesign, slice_mesh
from gomphosis.bone.slice_outline import SliceOutline, read_slice_outline
from gomphosis.bone.slice_root import RootOutline
from gomphosis.bone.slice_run import BoneLife, SliceCase
from gomphosis.bone.support import Elastic
from gomphosis.fem.section import Array
from gomphosis.scenarios.files import ScenarioError
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_tables import AdaptationTable, PlateTable, SliceTable

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
    ScenarioError
        If its outline or mesh file does not fit.
    """
    table = scenario.slice
    if table is None:
        raise RuntimeError("a slice was asked for by a scenario without [slice]")
    law = published_bilinear() if table.law == "bilinear" else None
    pair = tooth.support.design.ligament if law is None else Elastic(law.first, law.poisson)
    try:
        drawn = None if table.outline is None else read_slice_outline(Path(table.outline))
        body = _body(scenario, tooth, pair, drawn)
        outline = socket_outline(body.mesh, above=tooth.edge_height + REACH)
        bones = _bones(tooth, table, outline, drawn)
    except OSError as error:
        path = table.outline or table.mesh
        raise ScenarioError(f"{path}: {(error.strerror or 'cannot be read').lower()}") from error
    except ValueError as error:
        raise ScenarioError(f"slice of tooth {tooth.number}: {error}") from error
    weight = tooth.remodelling.shear_weight
    return SliceCase(
        body=body,
        bones=bones,
        outline=outline,
        root=root_outline(body.mesh),
        life=_life(table),
        law=tooth.remodelling.law,
        shear_weight=pair.constrained / pair.shear if weight is None else weight,
        ligament=law,
    )


def _body(
    scenario: Scenario, tooth: ToothModel, pair: Elastic, drawn: SliceOutline | None
) -> SliceBody:
    table, support = scenario.slice, tooth.support.design
    if table is None or support.dentine is None:
        raise RuntimeError("a slice needs its table and an elastic root")
    tissue = SliceTissue(pair, support.dentine, lookup("bone_layer.cortical_poisson").number)
    if table.mesh is not None:
        mesh = read_slice_mesh(Path(table.mesh)).mesh
        return SliceBody(MeasuredDesign(mesh), mesh, tissue)
    root = RootOutline.of_profile(support.root) if drawn is None else drawn.surface
    place = next(place for place in scenario.teeth if place.number == tooth.number)
    crown = CrownOutline.of_tooth(
        tooth.anatomy,
        table.plane,
        # the crown stands above the crest as high as if no root were lost
        embedded=tooth.embedded + place.root_lost,
        radius=float(root.points[0, -1]),
        from_edge=place.bracket_from_edge,
    )
    design = SliceDesign(root, support.thickness, crown, table.plane)
    return SliceBody(design, slice_mesh(design), tissue)


def _bones(
    tooth: ToothModel, table: SliceTable, outline: Array, drawn: SliceOutline | None
) -> DensityMap:
    raster = _raster(outline, table)
    if drawn is None:
        return jaw_map(raster, outline, jaw_section(tooth, table))
    plates = list(drawn.plates.values())
    return outlined_map(
        raster, outline, bone=drawn.bone, plates=plates, trabecular=table.trabecular
    )


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


def _raster(outline: Array, table: SliceTable) -> Raster:
    half = float(np.abs(outline[0]).max()) + REACH + MARGIN
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
        None if table.adaptation is None else map_adaptation(table.adaptation),
    )


def map_adaptation(table: AdaptationTable) -> MapAdaptation:
    """Return the adaptation of a table, in the units of the published rule."""
    lowest, full = (lookup(f"adaptation.weinans.{name}").number for name in ("lowest", "highest"))
    law = Adaptation(
        rate=table.rate * full**2 / table.reference,
        reference=table.reference / full,
        lowest=lowest,
        highest=full,
        lazy=table.lazy,
    )
    return MapAdaptation(law, table.form)


def in_plane(number: int, plane: str, six: Array) -> Array:
    """Return (x, z, about y) of six-vectors of the tooth frame in a plane, shape (..., 3).

    x points to the labial or mesial side; the turn carries points above the crest towards it.
    """
    return to_trade(number, six)[..., list(WORDS[plane])]


def last_of_day(track: Track) -> npt.NDArray[np.bool_]:
    """Return which records are the last of their day, shape (T,), bool."""
    return np.append(np.diff(track.days) > 0, True)


def slice_loads(model: SliceModel, track: Track) -> tuple[Array, Array]:
    """Return days, each once, and the in-plane loads about the crest that act from then on."""
    last = last_of_day(track)
    words = in_plane(model.number, model.plane, track.wrench[:, model.index])
    return track.days[last], words[last]
