"""The bone plates beside a tooth in the labiolingual plane, and how far a root is from each.

A plate is what the run starts with, in the frame of the jaw: (x, z) of the tooth frame at the
start. It stays where it was while the root moves; only a slice follows what becomes of its bone.
Clearance is measured across the long axis, as `gomphosis.bone.perforation` does: from the root to
the inner face of the plate. Bone thinner than the dense layer is plate throughout, and its inner
face is the socket wall.
"""

from dataclasses import dataclass

import numpy as np

from gomphosis.bone.jaw_section import tooth_outline
from gomphosis.bone.library import Cited, lookup
from gomphosis.bone.outline import side_at
from gomphosis.bone.perforation import plate_profile
from gomphosis.bone.root import offset_surface
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.schema import Scenario
from gomphosis.scenarios.slice_model import PLACES, SIDE_NAMES, SliceModel, jaw_section
from gomphosis.scenarios.slice_tables import PlateTable, SliceTable

LABIOLINGUAL = "labiolingual"
GIVEN = "given by the user"
ROWS = 121  # heights at which a face is tabulated
CORNERS = 240  # of a root's outline, on either side
STUDIED = {"front": (1, 2, 3), "back": (1, 2)}
"""Upper teeth, by place in the quadrant, over whose roots the library knows the thickness."""


@dataclass(frozen=True)
class Plate:
    """One plate beside a root, as it stands at the start.

    Attributes
    ----------
    side
        ``labial`` or ``lingual``.
    sign
        +1 towards +x, -1 towards -x.
    height, inner, outer
        x of its inner face and of the jaw's outer surface at rising heights, tooth frame, mm,
        shape (n,). Below the lowest height both go straight down.
    source, status
        Of the thickness.
    extrapolated
        Whether the thickness was measured over another tooth.
    """

    side: str
    sign: int
    height: Array
    inner: Array
    outer: Array
    source: str
    status: str
    extrapolated: bool

    def clearance(self, outline: Array, motion: Array) -> Array:
        """Return the least distance from a moved outline to the inner face, mm, shape (T,).

        Parameters
        ----------
        outline
            Of the root, at the start, shape (2, n), mm.
        motion
            (x, z, turn) about the crest, mm and rad, shape (T, 3); the turn carries points above
            the crest towards +x.
        """
        return self._least(self.inner, outline, motion)

    def bone_left(self, outline: Array, motion: Array) -> Array:
        """Return the least distance from a moved outline to the outer surface, mm, shape (T,)."""
        return self._least(self.outer, outline, motion)

    def _least(self, face: Array, outline: Array, motion: Array) -> Array:
        x, z = moved_outline(outline, motion)
        gap = self.sign * (np.interp(z, self.height, face) - x)
        # above the crest there is no plate
        return np.where(z <= self.height[-1], gap, np.inf).min(axis=1)


def moved_outline(outline: Array, motion: Array) -> tuple[Array, Array]:
    """Return x and z, shape (T, n), of an outline moved rigidly by motions of shape (T, 3)."""
    along, up, turn = (column[:, None] for column in np.asarray(motion, dtype=float).T)
    x, z = outline
    return x * np.cos(turn) + z * np.sin(turn) + along, z * np.cos(turn) - x * np.sin(turn) + up


def first_day(days: Array, distance: Array) -> float | None:
    """Return the day on which a distance first falls to zero, or None; straight between records."""
    reached = np.flatnonzero(distance <= 0.0)
    if len(reached) == 0:
        return None
    k = int(reached[0])
    if k == 0:
        return float(days[0])
    before, after = distance[k - 1], distance[k]
    return float(days[k - 1] + before / (before - after) * (days[k] - days[k - 1]))


def root_outline(tooth: ToothModel) -> Array:
    """Return the embedded root's outline in a plane of the long axis, shape (2, n), mm."""
    return _both_sides(tooth, fraction=0.0)


def socket_wall(tooth: ToothModel) -> Array:
    """Return the socket wall's outline in a plane of the long axis, shape (2, n), mm."""
    return _both_sides(tooth, fraction=1.0)


def _both_sides(tooth: ToothModel, *, fraction: float) -> Array:
    design = tooth.support.design
    # cosine spacing resolves the rounded apex, and where a tilted outline passes the crest
    s = 0.5 * (1 - np.cos(np.linspace(0, np.pi, CORNERS)))
    right = offset_surface(design.root, design.thickness, s, fraction=fraction)
    return np.concatenate([right, right[:, :0:-1] * np.array([[-1.0], [1.0]])], axis=1)


def plates_of(
    scenario: Scenario, tooth: ToothModel, opened: SliceModel | None = None
) -> tuple[Plate, ...]:
    """Return the plates of a tooth that are known, labial first; none if they are not given.

    They are those of the tooth's labiolingual slice, if it has one; else, over upper front teeth,
    those of the library.

    Parameters
    ----------
    opened
        The slice of this tooth, in any plane.
    """
    table = scenario.slice
    if table is not None and opened is not None and opened.plane == LABIOLINGUAL:
        if table.outline is not None or table.mesh is not None:
            return measured_plates(opened, table, tooth)
        return _drawn(tooth, table, sides=("front", "back"))
    sides = tuple(side for side in ("front", "back") if _studied(tooth.number, side))
    return _drawn(tooth, SliceTable.model_validate({"teeth": [tooth.number]}), sides=sides)


def _studied(number: int, side: str) -> bool:
    return number // 10 in (1, 2) and number % 10 in STUDIED[side]


def _drawn(tooth: ToothModel, table: SliceTable, *, sides: tuple[str, ...]) -> tuple[Plate, ...]:
    """Return plates from thicknesses of a table, or of the library where it gives none."""
    section = jaw_section(tooth, table)
    design = tooth.support.design
    socket = tooth_outline(design.root, design.thickness, above=1.0)
    height = np.linspace(float(socket[1].min()), 0.0, ROWS)
    found = []
    for name, sign, side in zip(SIDE_NAMES[LABIOLINGUAL], (1, -1), ("front", "back"), strict=True):
        if side not in sides:
            continue
        source, status, extrapolated = _origin(tooth.number, getattr(table, side), side)
        inner, outer = (
            surface(socket, height, sign)
            for surface in (section.inner_surface, section.outer_surface)
        )
        found.append(Plate(name, sign, height, inner, outer, source, status, extrapolated))
    return tuple(found)


def _origin(number: int, given: PlateTable, side: str) -> tuple[str, str, bool]:
    """Return source and status of a side's thickness, and whether it is another tooth's."""
    count = sum(getattr(given, place) is not None for place in PLACES)
    if count == len(PLACES):
        return f"scenario, slice.{side}", GIVEN, False
    cited = _library_plate(number, side)
    source = cited.source if count == 0 else f"scenario, slice.{side}; the rest: {cited.source}"
    return source, cited.status, not _studied(number, side)


def _library_plate(number: int, side: str) -> Cited:
    if side == "back":
        return lookup("plate_thickness.palatal.middle")
    return lookup(f"plate_thickness.labial.U{number % 10 if _studied(number, side) else 1}")


def measured_plates(opened: SliceModel, table: SliceTable, tooth: ToothModel) -> tuple[Plate, ...]:
    """Return plates as the density map at the start has them, to two thirds of a cell.

    An outline or a mesh of the user's has a root of its own, which the body of revolution of the
    run is not; what is measured here is where the faces of its plates are.
    """
    case = opened.case
    found = []
    for name, sign, side in zip(SIDE_NAMES[LABIOLINGUAL], (1, -1), ("front", "back"), strict=True):
        profile = plate_profile(case.bones, case.root, side=sign)
        known = np.isfinite(profile.clearance)
        if not known.any():
            continue
        height = profile.height[known]
        inner = side_at(case.root, height, sign) + sign * profile.clearance[known]
        wall = side_at(case.outline, height, sign)
        origin = ("scenario, slice.outline", GIVEN, False)
        if table.outline is None:
            origin = _origin(tooth.number, getattr(table, side), side)
        outer = wall + sign * profile.bone[known]
        found.append(Plate(name, sign, height, inner, outer, *origin))
    return tuple(found)
