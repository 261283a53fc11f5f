"""A wire in the slots of n brackets: from poses of the teeth to the force system on each.

Slots have play in all three orders, edges that the wire touches, and friction
(`scenarios.slotted_wire`). The wire itself is nonlinear: large rotations, laws of its alloy with
their history, which stays with its material and goes on from commit to commit.

A tooth's rotations are added as they are in its pose; the slot is turned by their sum as one
finite rotation. Force systems are in the frames of the aligned teeth.
"""

from collections.abc import Sequence

import numpy as np
from scipy.linalg import block_diag

from gomphosis.bone.loads import LoadResponse, Loads
from gomphosis.bone.states import State, check_names
from gomphosis.bone.yielding import Yielding
from gomphosis.fem.chain import FREEDOMS
from gomphosis.fem.rod_line import centre_line
from gomphosis.fem.section import Array
from gomphosis.fem.slot_coupling import Given, rest
from gomphosis.fem.slot_edges import SlotFrames
from gomphosis.fem.slot_system import Trial
from gomphosis.scenarios.slots import Bracket, Slots
from gomphosis.scenarios.slotted_wire import ArchWire, SlottedWire
from gomphosis.scenarios.tying import Work, drawn_in, tied_again
from gomphosis.scenarios.wire_shape import WireError
from gomphosis.scenarios.wire_state import NAMES, restored, solid, state_of

CLOSE = 0.5  # mm of free wire between two slots
FEWEST, MOST = 4, 16  # elements between neighbouring slots
# change of the largest force and moment by half as many elements: of a method of second order
# three times the error that is left
ACCURACY = 0.03
UNSEEN = 1e-6  # N and N·mm
OWN = ("days", "per_span", "committed")  # arrays of a wire's state beside those of `wire_state`


class WireLoads:
    """Load teeth by a wire; its history is updated at every commit.

    Parameters
    ----------
    brackets
        In order along the wire, from either end, at least two.
    wire
        The wire as tied in.
    before, work
        The same wire before a visit, and what is done to it then; None for a new wire.

    Raises
    ------
    ValueError
        For fewer than two brackets, not one for each slot, or brackets that leave less than
        0.5 mm of wire between them.
    """

    def __init__(
        self,
        brackets: Sequence[Bracket],
        wire: ArchWire,
        *,
        before: "WireLoads | None" = None,
        work: Work | None = None,
    ) -> None:
        if len(brackets) < 2:
            raise ValueError(f"a wire needs at least 2 brackets, got {len(brackets)}")
        if len(brackets) != len(wire.sizes):
            raise ValueError(f"a wire for {len(wire.sizes)} slots got {len(brackets)} brackets")
        self.brackets = tuple(brackets)
        self.wire = wire
        self.discretisation = (0, np.nan)
        self._slots = Slots(brackets, wire.shape)
        self._check_order(self._slots.aligned)
        self._before, self._work = before, work
        self._day = self._tied_on = 0.0
        self._held: SlottedWire | None = None
        self._trial: tuple[bytes, Trial] | None = None
        self._committed: Array | None = None
        self._lines: dict[bytes, Array] = {}

    def at_day(self, day: float) -> None:
        """Let trials from here on be at a day: ties fade."""
        self._day = day
        self._trial = None

    def engage(self, poses: Array) -> None:
        """Tie the wire in at poses, new or again after a visit; choose a new one's elements.

        It is meshed ever finer until half as many elements change no force or moment by more
        than 3 % of the largest; ``discretisation`` keeps the number between neighbouring slots
        and that change. Slots stand on nodes as yet; where they slide off them errors are larger,
        so the finer mesh is kept.

        Raises
        ------
        WireError
            If two brackets are too close, or the wire does not go into a slot.
        NotConvergedError
            If the wire finds no equilibrium.
        """
        self._trial = None
        self._tied_on = self._day
        self._check_order(self._slots.along(poses))
        if self._before is not None and self._work is not None:
            held = self._before.held
            self.discretisation = self._before.discretisation
            self._held = solid(tied_again(held, self.wire, self._slots, poses, work=self._work))
            return
        fine = drawn_in(self.wire, self._slots, poses, per_span=FEWEST)
        change = np.inf
        while change > ACCURACY and fine.per_span < MOST:
            coarse = fine
            fine = drawn_in(self.wire, self._slots, poses, per_span=2 * coarse.per_span)
            change = _change(coarse.load, fine.load)
        self.discretisation = (fine.per_span, change)
        self._held = solid(fine)

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return force systems about the crest points and their derivative by the poses.

        Raises
        ------
        NotConvergedError
            If the wire finds no equilibrium there.
        """
        trial = self._at(poses)
        to_crest, follow = self._slots.to_crest, self._slots.follow(poses)
        slope = trial.by_slots()
        derivative = np.einsum("nij,njml,mlk->nimk", to_crest, slope, follow, optimize=True)
        size = FREEDOMS * len(self.brackets)
        wrenches = np.einsum("nij,nj->ni", to_crest, trial.on_slots)
        return LoadResponse(wrenches, derivative.reshape(size, size))

    def meet(self, yielding: Yielding, guess: Array, others: Sequence[Loads]) -> Array:
        """Return the poses at which teeth come to rest under the wire and other loads.

        Wire, contacts and teeth are one system of equations (`fem.slot_coupling`).

        Raises
        ------
        NotConvergedError
            If they do not come to rest.
        """
        current = self._current()
        teeth = _Teeth(self._slots, yielding, others)
        begin = guess if self._committed is None else self._committed
        found = rest(current.aged(self._age), current.state, teeth, begin)
        self._trial = (_key(found.poses), found.trial)
        return found.poses

    def commit(self, poses: Array) -> None:
        """Keep the wire's history and what its contacts remember.

        Raises
        ------
        WireError
            If two brackets came too close, or a slot has slid onto a bend or off the wire.
        """
        self._check_order(self._slots.along(poses))
        self._held = solid(self._current().kept(self._at(poses)))
        self._trial = None
        self._committed = np.ascontiguousarray(poses)
        self._lines[_key(poses)] = centre_line(self._held.what.rod.shape, self._held.place)

    def rollback(self) -> None:
        """Forget the trials since the last commit."""
        self._trial = None

    def state(self) -> State:
        """Return the wire's history, what its contacts remember, and when it was tied."""
        if self._held is None or self._committed is None:
            raise RuntimeError("a wire has no state before it is tied in and committed once")
        per_span, change = self.discretisation
        own = (
            np.array([self._day, self._tied_on, change]),
            np.array([per_span]),
            self._committed,
        )
        return {**state_of(self._held), **dict(zip(OWN, own, strict=True))}

    def restore(self, state: State) -> None:
        """Go on from a state.

        Raises
        ------
        StateError
            If it is not the state of such a wire.
        """
        check_names(state, (*NAMES, *OWN))
        days, per_span, poses = (state[name] for name in OWN)
        first = self._first
        mesh = first.wire.shape.mesh(
            first._slots.aligned, per_span=int(per_span[0]), width=first.wire.width
        )
        own = {name: state[name] for name in NAMES}
        self._held = restored(own, self.wire, self._slots, per_span=int(per_span[0]), mesh=mesh)
        self._day, self._tied_on, change = map(float, days)
        self.discretisation = (int(per_span[0]), change)
        self._committed, self._trial = poses, None

    def record(self) -> State:
        """Return the centre line at the last commit."""
        if self._committed is None:
            raise RuntimeError("a wire has no centre line to keep before it is committed")
        return {"line": self.centre_line(self._committed)}

    def recall(self, poses: Array, record: State) -> None:
        """Take back the centre line at poses it was committed at."""
        check_names(record, ("line",))
        self._lines[_key(poses)] = record["line"]

    def centre_line(self, poses: Array) -> Array:
        """Return the wire in the arch frame, mm, shape (m, 3), at poses it was once committed at.

        Raises
        ------
        KeyError
            If it never was.
        """
        return self._lines[_key(poses)]

    def balance(self, poses: Array, wrenches: Array) -> Array:
        """Return net force and moment about the arch's origin over all brackets, shape (6,).

        Parameters
        ----------
        wrenches
            About the crests, tooth frames, N and N·mm, at these poses, shape (n, 6).
        """
        place = self._slots.at(poses).place
        load = np.linalg.solve(self._slots.to_crest, wrenches[:, :, None])[:, :, 0]
        moments = load[:, 3:] + np.cross(place, load[:, :3])
        return np.concatenate([load[:, :3].sum(axis=0), moments.sum(axis=0)])

    @property
    def held(self) -> SlottedWire:
        """The wire as it was last committed."""
        return self._current()

    def trial(self, poses: Array) -> Trial:
        """Return the wire and its contacts at poses."""
        return self._at(poses)

    @property
    def _first(self) -> "WireLoads":
        """The wire as it was tied in new, before all visits: the mesh is its."""
        return self if self._before is None else self._before._first

    def _check_order(self, station: Array) -> None:
        gaps = np.sign(self._slots.aligned[-1] - self._slots.aligned[0]) * np.diff(station)
        sizes = self.wire.sizes
        for index, gap in enumerate(gaps):
            free = gap - 0.5 * (sizes[index].width + sizes[index + 1].width)
            if free <= CLOSE:
                raise WireError(
                    f"two brackets leave {free:.4g} mm of wire between them, less than {CLOSE} mm"
                )

    def _current(self) -> SlottedWire:
        if self._held is None:
            self.engage(np.zeros((len(self.brackets), FREEDOMS)))
        if self._held is None:
            raise RuntimeError("a wire that was tied in must be there")
        return self._held

    @property
    def _age(self) -> float:
        return self._day - self._tied_on

    def _at(self, poses: Array) -> Trial:
        """Return the wire at poses, kept until it is asked for at others."""
        key = _key(poses)
        if self._trial is None or self._trial[0] != key:
            guess = self._trial[1].unknowns if self._trial is not None else None
            frames = self._slots.at(poses)
            self._trial = (key, self._current().trial(frames, day=self._age, guess=guess))
        return self._trial[1]


class _Teeth:
    """Yielding teeth as the bodies that carry the slots of a wire."""

    def __init__(self, slots: Slots, yielding: Yielding, others: Sequence[Loads]) -> None:
        self._slots, self._yielding, self._others = slots, yielding, others

    def frames(self, poses: Array) -> SlotFrames:
        return self._slots.at(poses)

    def follow(self, poses: Array) -> Array:
        return self._slots.follow(poses)

    def given(self, poses: Array, loads: Array) -> Given:
        to_crest = self._slots.to_crest
        wrenches = np.einsum("nij,nj->ni", to_crest, loads)
        size = poses.size
        by_poses = np.zeros((size, size))
        for load in self._others:
            response = load.evaluate(poses)
            wrenches = wrenches + response.wrenches
            by_poses = by_poses + response.derivative
        aim, slope = self._yielding.poses(wrenches)
        by_loads = np.asarray(block_diag(*(slope @ to_crest)), dtype=float)
        own = np.asarray(block_diag(*slope), dtype=float)
        return Given(aim, by_loads, own @ by_poses)


def _key(poses: Array) -> bytes:
    return (poses + 0.0).tobytes()  # minus zero is zero


def _change(coarse: Array, fine: Array) -> float:
    """Return the largest change of a force or moment relative to the largest of its kind."""
    found = 0.0
    for part in (slice(0, 3), slice(3, 6)):
        scale = float(np.abs(fine[:, part]).max())
        if scale > UNSEEN:
            found = max(found, float(np.abs(fine - coarse)[:, part].max()) / scale)
    return found
