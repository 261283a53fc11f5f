"""Books of a wire that is slid through slots against friction: work in, elastic energy, heat.

Five slots out of line slide along a steel wire, forth and back, in small steps; every sum takes
the mean of a step's ends. Friction takes up what slips, and what its own elastic slide hides.
"""

from dataclasses import dataclass, replace
from functools import cache, partial

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.fem.section import Array
from gomphosis.fem.slot_contact import SLIDE, Contact
from gomphosis.fem.slot_system import SlottedState, Trial
from gomphosis.scenarios.checks.check import AGREES, SHOWN, Check, Outcome
from gomphosis.scenarios.checks.slot_rig import (
    ABOUT_LABIAL,
    ALONG,
    INCH,
    at,
    rectangle,
    row,
    slot,
)
from gomphosis.scenarios.slotted_wire import SlottedWire

SECTION = rectangle(18, 25, 0.05)
PLACES = (-19.0, -9.0, 0.0, 8.0, 17.0)  # mm
SPREAD = np.array([0.1, 0.0, 0.2, 0.05, 0.15, 0.05])  # mm and rad
WAY = np.array([0.10, -0.06, 0.08, -0.10, 0.05])  # mm of each slot
TIPPED = np.array([0.0, 0.02, 0.0, -0.02, 0.0])  # rad of each slot on the way
STEPS = 20  # of each of the two ways
FRICTION = 0.2
SLIPS = 1e-8  # mm in a step; less is what the iteration leaves


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [_friction_work(), _books(), *_elastic_slide()]


@dataclass
class Books:
    """What went in and where it went, N·mm.

    Attributes
    ----------
    work, stored, heat, hidden
        Done by the slots; elastic in the wire; of slip; of the elastic slide of friction.
    gained
        Largest work that friction did at a pair that slipped, which must not be above 0.
    load
        On the slots in the end, N and N·mm, shape (n, 6).
    """

    work: float = 0.0
    stored: float = 0.0
    heat: float = 0.0
    hidden: float = 0.0
    gained: float = -np.inf
    load: Array | None = None


def stored(trial: Trial) -> float:
    """Return the elastic energy of the wire, N·mm."""
    rod, response = trial.what.rod, trial.response
    # both Gauss points of an element stand for half of it
    weight = np.repeat(0.5 * rod.shape.lengths, 2)
    return float(weight @ rod.section.stored(response.strain, response.history))


def _book(books: Books, before: SlottedState, last: Trial, trial: Trial) -> None:
    """Add a step."""
    turned = trial.frames.triads @ np.swapaxes(last.frames.triads, 1, 2)
    motion = np.concatenate(
        [trial.frames.place - last.frames.place, Rotation.from_matrix(turned).as_rotvec()], axis=1
    )
    books.work -= 0.5 * float(np.sum((last.on_slots + trial.on_slots) * motion))
    contact = trial.contact
    pairs = contact.near[contact.rubs]
    limit = trial.what.contact.friction[pairs]
    then = limit * before.touches.push[pairs] * before.touches.share[:, pairs]
    now = contact.drag[:, contact.rubs]
    along = contact.touches.station[pairs] - before.touches.station[pairs]
    ways = np.stack([along, -contact.gone.way])
    slip = np.reshape(contact.rubbed.slip, ways.shape)
    drag = 0.5 * (now + then) * np.stack([_surface(contact), np.ones_like(along)])
    books.heat += float(np.sum(drag * slip))
    books.hidden += float(np.sum(drag * (ways - slip)))
    worst = (-now * slip)[np.abs(slip) > SLIPS].max(initial=-np.inf)
    books.gained = max(books.gained, float(worst))


def _surface(contact: Contact) -> Array:
    """Return the length of a bent wire's surface per length of its centre line, where it rubs."""
    view = contact.view
    return (view.speed + view.off * view.bent[:, 1] / view.speed)[contact.rubs]


@cache
def slid(elastic: float = SLIDE) -> Books:
    """Return the books after the slots have gone their way forth and back.

    Parameters
    ----------
    elastic
        Sliding within which friction builds up, mm.
    """
    wire, poses = _bent(elastic)
    last, books = at(wire, poses), Books()
    start = stored(last)
    ways = np.linspace(0.0, 1.0, STEPS + 1)[1:]
    for share in (*ways, *ways[::-1] - 1.0 / STEPS):
        moved = poses.copy()
        moved[:, ALONG] += share * WAY
        moved[:, ABOUT_LABIAL] += share * TIPPED
        trial = at(wire, moved)
        _book(books, wire.state, last, trial)
        wire, last = wire.kept(trial), trial
    return replace(books, stored=stored(last) - start, load=last.on_slots)


def _bent(elastic: float) -> tuple[SlottedWire, Array]:
    """Return a wire drawn into slots out of line at random, always alike, and their poses."""
    wire = row(SECTION, 5 * [slot(22 * INCH)], PLACES, friction=FRICTION, per_span=4)
    contact = replace(wire.what.contact, elastic=elastic)
    rubless = replace(contact, friction=np.zeros_like(contact.friction))
    poses = SPREAD * np.random.default_rng(3).uniform(-1, 1, size=(5, 6))
    free = replace(wire, what=replace(wire.what, contact=rubless))
    return replace(free.kept(at(free, poses)), what=replace(wire.what, contact=contact)), poses


def _friction_work() -> Check:
    return Check(
        name="slot-friction-work",
        quantity="largest work of friction at a contact that slips in a step, which must not be "
        f"above 0; {2 * STEPS} steps of five slots",
        unit="N·mm",
        kind="verification",
        source="friction acts against sliding",
        status="closed form",
        tolerance=1e-12,
        measure="absolute",
        compute=lambda: Outcome(max(0.0, slid().gained), 0.0),
    )


def _books() -> Check:
    def compute() -> Outcome:
        books = slid()
        return Outcome(books.work, books.stored + books.heat + books.hidden)

    return Check(
        name="slot-friction-books",
        quantity="work of slots that slide along a wire; theirs: change of its elastic energy, "
        "heat, and energy of friction's elastic slide",
        unit="N·mm",
        kind="verification",
        source="conservation of energy",
        status="closed form",
        # what comes into touch or leaves it within a step is booked by the mean of its ends
        tolerance=0.01,
        compute=compute,
    )


def slide_error() -> Array:
    """Return what half the elastic slide changes in forces and moments, over the largest, (2,)."""
    usual, half = (slid(elastic).load for elastic in (SLIDE, 0.5 * SLIDE))
    if usual is None or half is None:
        raise RuntimeError("slots that slid must have loads")
    change, scale = (
        np.abs(part).reshape(-1, 2, 3).max(axis=(0, 2)) for part in (half - usual, usual)
    )
    return change / scale


def _elastic_slide() -> list[Check]:
    return [
        Check(
            name=f"slot-friction-elastic-slide-{word}",
            quantity=f"largest change of a {word} over the largest {word}, by half the elastic "
            "slide of friction",
            unit="1",
            kind="verification",
            source="friction that builds up at once",
            status="closed form",
            tolerance=0.01 if word == "force" else np.inf,
            expected=AGREES if word == "force" else SHOWN,
            measure="absolute",
            compute=partial(_slide_outcome, index),
            slow=True,
            note="friction across the wire is not yet fully taken up: slots slide along it",
        )
        for index, word in enumerate(("force", "moment"))
    ]


def _slide_outcome(index: int) -> Outcome:
    return Outcome(float(slide_error()[index]), 0.0)
