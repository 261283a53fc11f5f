"""Weeks of movement of one tooth through its bone, in a plane, under loads that are given.

Every step answers the load at its end, moves the walls, carries the tooth and its ligament
through the density map, and lets new bone mineralise. The ligament then has its nominal
thickness again. Loads do not depend on where the slice goes: they are those of the arch.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from gomphosis.bone.adaptation import adapted
from gomphosis.bone.coverage import moved
from gomphosis.bone.density_law import DensityLaw
from gomphosis.bone.density_map import DensityMap
from gomphosis.bone.library import lookup
from gomphosis.bone.ligament_laws import BilinearLigament
from gomphosis.bone.mineral import Books, Exponential, mineralised, travelled, turned_over
from gomphosis.bone.perforation import Opening, dated, openings, plate_profile
from gomphosis.bone.rates import RateLaw
from gomphosis.bone.slice_body import MOTIONS, SliceBody
from gomphosis.bone.slice_energy import MapAdaptation, bone_energy
from gomphosis.bone.slice_response import (
    SliceState,
    UnitResponse,
    law_state,
    linear_state,
    unit_response,
    wall_motion,
)
from gomphosis.fem.section import Array
from gomphosis.fem.sparse_solve import Factorise, scipy_factor

SIDES = (1, -1)
STOP = lookup("ligament.strain_limit.stop").number


@dataclass(frozen=True)
class BoneLife:
    """Say how bone of the map behaves.

    Parameters
    ----------
    density_law
        Modulus of a density.
    new_density
        Of bone just laid down, 0 to 1 of full cortical.
    maturing
        How it gains mineral.
    turnover
        Share of the cortical plates replaced a day; 0 for none.
    adaptation
        To strain energy; None for none.
    """

    density_law: DensityLaw
    new_density: float
    maturing: Exponential
    turnover: float = 0.0
    adaptation: MapAdaptation | None = None


@dataclass(frozen=True)
class SliceCase:
    """One tooth's slice, ready to be followed.

    Parameters
    ----------
    body
        Tooth and ligament in their own frame.
    bones
        The density map at the start, in the frame of the jaw.
    outline, root
        Closed outlines of tooth with ligament, and of the root, at the start, mm, shape (2, n).
    life
        How the bone behaves.
    law, shear_weight
        Rate law of the wall, and the factor on its shear traction.
    ligament
        Law that stiffens with strain, its first branch that of the body; None for the linear one.
    """

    body: SliceBody
    bones: DensityMap
    outline: Array
    root: Array
    life: BoneLife
    law: RateLaw
    shear_weight: float
    ligament: BilinearLigament | None = None


@dataclass(frozen=True)
class Frame:
    """State of a slice at one day, for pictures.

    Attributes
    ----------
    day
        Since the start.
    drift
        Place of the load-free tooth in the jaw, (ux, uz, ry), mm and rad.
    state
        Displacement, motion and wall traction on top of the drift, in the tooth's frame; found at
        the start of the step that ends on this day.
    bone_young
        Moduli with which it was found, at the integration points of the bony elements, MPa.
    bones
        The density map, in the jaw's frame.
    books
        Sums over all steps so far.
    """

    day: float
    drift: Array
    state: SliceState
    bone_young: Array
    bones: DensityMap
    books: Books


@dataclass(frozen=True)
class SliceTrack:
    """Record of a slice; T days.

    Attributes
    ----------
    days
        Shape (T,).
    load
        (Fx, Fz, My) about the crest, N and N·mm, shape (T, 3).
    drift, motion
        Place of the load-free tooth and elastic motion on top, shape (T, 3).
    mismatch
        Of the rigid drift with the wall's own motion, r.m.s., shape (T,).
    strain
        Equivalent strain exceeded on 1 % of the ligament's volume, shape (T,).
    books
        Sums over all steps.
    worst_residual
        Largest share of the swept area by which the books of a step missed.
    plate
        Least thickness of the plate on the +x and the -x side, mm, shape (T, 2).
    openings
        Every opening of a plate, dated.
    frames
        States at the days asked for.
    stopped
        Why the run ended before its last day, or empty.
    """

    days: Array
    load: Array
    drift: Array
    motion: Array
    mismatch: Array
    strain: Array
    books: Books
    worst_residual: float
    plate: Array
    openings: tuple[Opening, ...]
    frames: tuple[Frame, ...] = field(repr=False)
    stopped: str = ""


@dataclass(frozen=True)
class Place:
    """Where the load-free tooth stands, in which bone; outline of tooth and ligament there."""

    drift: Array
    bones: DensityMap
    outline: Array


@dataclass(frozen=True)
class Found:
    """A state, the place at which it was found, and the mismatch of the drift that follows."""

    state: SliceState
    place: Place
    mismatch: float


def follow_slice(
    case: SliceCase,
    days: Array,
    load: Array,
    *,
    rate_factor: float = 1.0,
    keep: Sequence[float] = (),
    factorise: Factorise = scipy_factor,
    progress: Callable[[float], None] | None = None,
) -> SliceTrack:
    """Follow a slice under given loads.

    Parameters
    ----------
    days, load
        Rising days from 0, and (Fx, Fz, My) at each, N and N·mm, shapes (T,) and (T, 3).
    rate_factor
        Multiplies every wall speed.
    keep
        Days whose state is wanted.

    Raises
    ------
    ValueError
        If days do not rise from 0 or the loads do not fit.
    SolveError
        If a system cannot be solved.
    BooksError
        If area or mineral do not balance.
    """
    if days[0] != 0 or np.any(np.diff(days) <= 0) or load.shape != (len(days), MOTIONS):
        raise ValueError("slice needs days rising from 0 and a load (Fx, Fz, My) at each")
    place = Place(np.zeros(MOTIONS), case.bones, case.outline)
    record = _Record(case, tuple(keep))
    state: SliceState | None = None
    for index, day in enumerate(days):
        response, state = balance(case, place, load[index], start=state, factorise=factorise)
        if case.ligament is None and state.strain > STOP:
            return record.track(days, load, _why_stopped(float(day), state.strain))
        motion = wall_motion(response, state, case.law, shear_weight=case.shear_weight)
        found = place
        if index > 0:
            length = float(day - days[index - 1])
            if case.life.adaptation is not None:
                place, books = adapt(case, place, state, case.life.adaptation, days=length)
                record.book(books)
            place, books = advance(case, place, rate_factor * length * motion.drift, length)
            record.book(books)
        record.add(float(day), place, Found(state, found, motion.mismatch))
        if progress is not None:
            progress(float(day))
    return record.track(days, load, "")


def _why_stopped(day: float, strain: float) -> str:
    return (
        f"on day {day:g} the linear ligament is strained by {100 * strain:.0f} %, beyond "
        f"{100 * STOP:.0f} %: choose the bilinear law"
    )


def balance(
    case: SliceCase,
    place: Place,
    load: Array,
    *,
    start: SliceState | None = None,
    factorise: Factorise = scipy_factor,
) -> tuple[UnitResponse, SliceState]:
    """Return unit responses at small strain, and the state under a load, at a place in the bone."""
    young = case.body.bone_moduli(place.bones, case.life.density_law, place.drift)
    body = case.body.body(young)
    response = unit_response(case.body, body, factorise=factorise)
    if case.ligament is None:
        return response, linear_state(response, load)
    state = law_state(case.body, body, load, law=case.ligament, start=start, factorise=factorise)
    return response, state


def adapt(
    case: SliceCase, place: Place, state: SliceState, adaptation: MapAdaptation, *, days: float
) -> tuple[Place, Books]:
    """Let the map's bone adapt to its strain energy for some days; beyond the mesh it stays."""
    energy = bone_energy(
        case.body,
        state,
        case.body.bone_moduli(place.bones, case.life.density_law, place.drift),
        drift=place.drift,
        raster=place.bones.raster,
        form=adaptation.form,
    )
    at_rest = adaptation.law.reference * adaptation.law.highest * place.bones.density
    known = np.where(np.isfinite(energy), energy, at_rest)
    bones, books = adapted(place.bones, known, adaptation.law, days=days)
    return replace(place, bones=bones), books


def advance(case: SliceCase, place: Place, step: Array, days: float) -> tuple[Place, Books]:
    """Carry tooth and ligament by a drift step through the map, and let bone mature."""
    drift = place.drift + step
    outline = moved(case.outline, drift)
    life = case.life
    bones, books = travelled(place.bones, place.outline, outline, new_density=life.new_density)
    bones, gained = mineralised(bones, life.maturing, days=days)
    books = books + gained
    if life.turnover > 0:
        bones, turned = turned_over(
            bones, per_day=life.turnover, new_density=life.new_density, days=days
        )
        books = books + turned
    return Place(drift, bones, outline), books


class _Record:
    """Gathers rows of a run."""

    def __init__(self, case: SliceCase, keep: tuple[float, ...]) -> None:
        self.case = case
        self.keep = np.array(keep)
        self.drift: list[Array] = []
        self.motion: list[Array] = []
        self.mismatch: list[float] = []
        self.strain: list[float] = []
        self.plate: list[list[float]] = []
        self.frames: list[Frame] = []
        self.openings: tuple[Opening, ...] = ()
        self.books = Books()
        self.worst = 0.0

    def book(self, books: Books) -> None:
        if books.swept > 0:
            residuals = (books.area_residual, books.bone_residual, books.mineral_residual)
            self.worst = max(self.worst, max(map(abs, residuals)) / books.swept)
        self.books = self.books + books

    def add(self, day: float, place: Place, found: Found) -> None:
        self.drift.append(place.drift)
        self.motion.append(found.state.motion)
        self.mismatch.append(found.mismatch)
        self.strain.append(found.state.strain)
        root = moved(self.case.root, place.drift)
        profiles = [plate_profile(place.bones, root, side=side) for side in SIDES]
        self.plate.append([profile.thinnest[0] for profile in profiles])
        self.openings = dated(self.openings, openings(place.bones), day=day)
        if len(self.keep) and np.min(np.abs(self.keep - day)) < 1e-9:
            there = found.place
            young = self.case.body.bone_moduli(there.bones, self.case.life.density_law, there.drift)
            self.frames.append(Frame(day, place.drift, found.state, young, place.bones, self.books))

    def track(self, days: Array, load: Array, stopped: str) -> SliceTrack:
        count = len(self.drift)
        return SliceTrack(
            days=days[:count],
            load=load[:count],
            drift=np.reshape(self.drift, (count, MOTIONS)),
            motion=np.reshape(self.motion, (count, MOTIONS)),
            mismatch=np.array(self.mismatch),
            strain=np.array(self.strain),
            books=self.books,
            worst_residual=self.worst,
            plate=np.reshape(self.plate, (count, len(SIDES))),
            openings=self.openings,
            frames=tuple(self.frames),
            stopped=stopped,
        )
