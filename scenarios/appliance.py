"""A wire in the slots of n brackets: from poses of the teeth to the force system on each.

Slots are rigid ties without play or friction (`scenarios.tied_wire`): torque, tip and rotation are
overestimated where a wire has play. The wire itself is nonlinear: large rotations, laws of its
alloy with their history, which goes on from commit to commit.

A tooth's rotations are added as they are in its pose; the slot is turned by their sum as one
finite rotation. Force systems are in the frames of the aligned teeth.
"""

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from scipy.spatial.transform import Rotation

from gomphosis.bone.loads import LoadResponse
from gomphosis.fem.chain import FREEDOMS
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod_equilibrium import Grips
from gomphosis.fem.rod_line import centre_line
from gomphosis.fem.section import Array
from gomphosis.scenarios.tied_wire import ArchWire, Bracket, Slots, TiedWire, laid
from gomphosis.scenarios.wire_shape import WireError

CLOSE = 0.5  # mm
PASSES, SETTLED = 30, 1e-6  # in which slots find their places along a wire, and to how many mm
LOOSE = 0.01  # mm, on the way into the slots
LEAST_SHARE = 1 / 32  # of a slip at once
FEWEST, MOST = 4, 16  # elements between neighbouring slots
STRIDE, SWING = 0.5, 0.2  # mm and rad of a tie in the first step of drawing a wire in
FAR = 0.2  # mm that a slot may slide in one step of it
ACCURACY = 0.01  # of the largest force and moment, by twice as many elements


class WireLoads:
    """Load teeth by a wire; its history and its places in the slots are updated at every commit.

    Parameters
    ----------
    brackets
        In order along the wire, from either end, at least two.
    wire
        The wire as tied in.

    Raises
    ------
    ValueError
        For fewer than two brackets, or brackets closer than 0.5 mm.
    """

    def __init__(self, brackets: Sequence[Bracket], wire: ArchWire) -> None:
        if len(brackets) < 2:
            raise ValueError(f"a wire needs at least 2 brackets, got {len(brackets)}")
        self.brackets = tuple(brackets)
        self.wire = wire
        self.discretisation = (0, np.nan)
        self._slots = Slots(brackets, wire.shape)
        _check_order(self._slots.aligned, self._slots.aligned)
        self._tied: TiedWire | None = None
        self._trial: tuple[bytes, TiedWire, LoadResponse] | None = None
        self._lines: dict[bytes, Array] = {}

    def at_day(self, day: float) -> None:
        """Take the trials from here on to be at this day; forget those of another."""
        self._day = day
        self._trial = None

    def engage(self, poses: Array) -> None:
        """Tie the wire in at poses, new from the drawer; choose its number of elements.

        It is meshed ever finer until twice as many elements change no force or moment by more
        than 1 % of the largest; ``discretisation`` keeps the number between neighbouring slots
        and that change.

        Raises
        ------
        WireError
            If two brackets are closer than 0.5 mm.
        NotConvergedError
            If the wire finds no equilibrium.
        """
        self._trial = None
        _check_order(self._slots.along(poses), self._slots.aligned)
        coarse = self._engaged(poses, FEWEST)
        while True:
            fine = self._engaged(poses, 2 * coarse.per_span)
            change = _change(coarse.on_slots()[0], fine.on_slots()[0])
            if change <= ACCURACY or fine.per_span >= MOST:
                break
            coarse = fine
        self.discretisation = (coarse.per_span, change)
        self._tied = coarse

    def evaluate(self, poses: Array) -> LoadResponse:
        """Return force systems about the crest points and their derivative by the poses.

        Raises
        ------
        NotConvergedError
            If the wire finds no equilibrium there.
        """
        return self._at(poses)[1]

    def commit(self, poses: Array) -> None:
        """Keep the wire's history, and move every slot along it by how far it has slid.

        Raises
        ------
        WireError
            If two brackets came closer than 0.5 mm, or a slot meets a bend of the wire.
        NotConvergedError
            If the slots do not find their places along the wire.
        """
        tied = self._tied = self._settled(self._at(poses)[0])
        self._trial = None
        self._lines[_key(poses)] = centre_line(tied.rod.shape, tied.place)

    def rollback(self) -> None:
        """Forget the trials since the last commit."""
        self._trial = None

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
        place = self._slots.at(poses)[0]
        load = np.linalg.solve(self._slots.to_crest, wrenches[:, :, None])[:, :, 0]
        moments = load[:, 3:] + np.cross(place, load[:, :3])
        return np.concatenate([load[:, :3].sum(axis=0), moments.sum(axis=0)])

    @property
    def station(self) -> Array:
        """Places of the slots along the plain line since the last commit, mm, shape (n,)."""
        return self._current().station

    def _current(self) -> TiedWire:
        if self._tied is None:
            self.engage(np.zeros((len(self.brackets), FREEDOMS)))
        if self._tied is None:
            raise RuntimeError("a wire that was tied in must be there")
        return self._tied

    def _at(self, poses: Array) -> tuple[TiedWire, LoadResponse]:
        """Return the wire and its loads at poses, kept until others are asked for."""
        key = _key(poses)
        if self._trial is None or self._trial[0] != key:
            guess = self._trial[1].place if self._trial is not None else None
            current = self._current()
            tied = current.moved(current.way(self._slots.at(poses)), guess)
            self._trial = (key, tied, self._response(tied, poses))
        return self._trial[1], self._trial[2]

    def _response(self, tied: TiedWire, poses: Array) -> LoadResponse:
        load, slope = tied.on_slots()
        to_crest, follow = self._slots.to_crest, self._slots.follow(poses)
        derivative = np.einsum("nij,njml,mlk->nimk", to_crest, slope, follow, optimize=True)
        size = FREEDOMS * len(self.brackets)
        wrenches = np.einsum("nij,nj->ni", to_crest, load)
        return LoadResponse(wrenches, derivative.reshape(size, size))

    def _engaged(self, poses: Array, per_span: int) -> TiedWire:
        """Return the wire drawn into its slots from where it lies along them."""
        tied = laid(self.wire, self._slots, poses, per_span=per_span)
        way = tied.way(self._slots.at(poses))
        start, end = way(0.0), way(1.0)
        turn = Rotation.from_matrix(end.triads @ np.swapaxes(start.triads, 1, 2)).magnitude()
        far = np.linalg.norm(end.place - start.place, axis=1)
        length = min(1.0, 1.0 / max(far.max() / STRIDE, turn.max() / SWING, 1.0))
        done, least = 0.0, LEAST_SHARE * length
        while done < 1.0:
            share = min(1.0, done + length)
            try:
                # ties that stand as yet where the last step left them
                trial = tied.moved(partial(_between, way, done, share))
                if np.abs(trial.slip()).max() > FAR and length > least:
                    raise NotConvergedError([float(np.abs(trial.slip()).max())], FAR)
                tied = self._settled(trial, SETTLED if share == 1.0 else LOOSE)
            except NotConvergedError:
                length *= 0.5
                if length < least:
                    raise
                continue
            done, length = share, 1.5 * length
        return tied

    def _settled(self, tied: TiedWire, bound: float = SETTLED) -> TiedWire:
        """Move the slots along the wire until none slips, in parts where all is too much."""
        history, share = [], 1.0
        while len(history) < PASSES:
            slip = tied.slip()
            if np.abs(slip).max() < bound:
                return tied
            _check_order(tied.station + share * slip, self._slots.aligned)
            try:
                tied = tied.slid(share * slip)
            except NotConvergedError:
                share *= 0.5
                if share < LEAST_SHARE:
                    raise
                continue
            history.append(float(np.abs(slip).max()))
            share = min(1.0, 2 * share)
        raise NotConvergedError(history, bound)


def _key(poses: Array) -> bytes:
    return (poses + 0.0).tobytes()  # minus zero is zero


def _between(way: Callable[[float], Grips], start: float, end: float, share: float) -> Grips:
    return way((1.0 - share) * start + share * end)


def _check_order(station: Array, aligned: Array) -> None:
    if np.any(np.sign(aligned[-1] - aligned[0]) * np.diff(station) <= CLOSE):
        raise WireError(f"two brackets came closer than {CLOSE} mm along the wire")


def _change(coarse: Array, fine: Array) -> float:
    """Return the largest change of a force or moment relative to the largest of its kind."""
    found = 0.0
    for part in (slice(0, 3), slice(3, 6)):
        scale = float(np.abs(fine[:, part]).max())
        if scale > SETTLED:
            found = max(found, float(np.abs(fine - coarse)[:, part].max()) / scale)
    return found
