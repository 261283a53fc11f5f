"""Equilibrium of a rod whose nodes are held in moving frames, and its stiffness seen from them.

A grip holds some components of a node, in its own axes: displacement across or along, rotation
about. What it does not hold is free of force. Newton's iteration takes full steps; where it fails,
the way of the grips from the last state is gone in halves.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

from gomphosis.fem.chain import FREEDOMS, SingularChainError
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, RodPlace, RodResponse, RodState
from gomphosis.fem.rod_element import skew
from gomphosis.fem.section import Array, Index
from gomphosis.fem.ways import followed, part_way

ARM = 10.0  # mm; makes moments comparable to forces
FORCE = 1e-8  # N; a wire's stretching makes 1e-9 N of the round-off of its coordinates
ROUND_OFF = 4 * float(np.finfo(float).eps)
GAP = 1e-10  # mm, and rad times ARM
ITERATIONS = 30
MEMORY, LEAST_SHARE = 2, 1 / 32  # line search: against the worst of the last two, down to this
WILD = 2.0  # rad in one iteration: lost
WEIGHT = np.array([1.0, 1.0, 1.0, 1 / ARM, 1 / ARM, 1 / ARM])
PER_GAP = 10.0  # N/mm; what a gap counts for beside forces
ABOUT = 3  # component of rotation about the grip's first axis


@dataclass(frozen=True)
class Grips:
    """Frames that hold nodes.

    Parameters
    ----------
    nodes
        Indices of the held nodes, increasing, shape (k,).
    place, triads
        Frames: origin in mm, shape (k, 3), and axes as columns, shape (k, 3, 3). The node's
        triad is held to these axes.
    held
        Displacement along and rotation about the frame's axes, shape (k, 6). Of a rotation held
        about the second and third axis only, the node turns freely about its own tangent.
    """

    nodes: Index
    place: Array
    triads: Array
    held: npt.NDArray[np.bool_]

    def at(self, place: Array, triads: Array) -> "Grips":
        """Return the same grips elsewhere."""
        return Grips(self.nodes, place, triads, self.held)

    def gap(self, place: RodPlace) -> Array:
        """Return the motion that held components still lack, in the frames' axes, (k, 6)."""
        node = place.triads[self.nodes]
        lack = np.empty((len(self.nodes), FREEDOMS))
        lack[:, :3] = self.place - place.nodes[self.nodes]
        lack[:, 3:] = _least_turn(node, self.triads)
        fixed = self.held[:, ABOUT]
        if fixed.any():
            missing = self.triads[fixed] @ np.swapaxes(node[fixed], 1, 2)
            lack[fixed, 3:] = Rotation.from_matrix(missing).as_rotvec()
        turned = np.einsum("nji,ncj->nci", self.triads, lack.reshape(-1, 2, 3))
        return np.where(self.held, turned.reshape(-1, FREEDOMS), 0.0)

    def basis(self, count: int) -> Array:
        """Return every node's axes for six freedoms, shape (count, 6, 6)."""
        basis = np.broadcast_to(np.eye(FREEDOMS), (count, FREEDOMS, FREEDOMS)).copy()
        basis[self.nodes, :3, :3] = self.triads
        basis[self.nodes, 3:, 3:] = self.triads
        return basis

    def mask(self, count: int) -> npt.NDArray[np.bool_]:
        """Return what is held of all nodes, shape (count, 6)."""
        mask = np.zeros((count, FREEDOMS), dtype=bool)
        mask[self.nodes] = self.held
        return mask


def _least_turn(node: Array, frame: Array) -> Array:
    """Return the smallest rotation that brings tangents onto the frames' first axes, (k, 3)."""
    axis = np.einsum("nij,nj->ni", skew(node[:, :, 0]), frame[:, :, 0])
    sine = np.sqrt(np.einsum("ni,ni->n", axis, axis))
    angle = np.arctan2(sine, np.einsum("ni,ni->n", node[:, :, 0], frame[:, :, 0]))
    return axis * np.divide(angle, sine, out=np.ones_like(sine), where=sine > 0)[:, None]


@dataclass(frozen=True)
class Equilibrium:
    """A rod in its grips.

    Attributes
    ----------
    state
        Place and history after this step.
    response
        Internal forces there.
    grips
        What holds it.
    load
        Forces given on the nodes, N and N·mm, shape (n, 6).
    """

    state: RodState
    response: RodResponse
    grips: Grips
    load: Array

    @property
    def reaction(self) -> Array:
        """Forces of the grips on their nodes, in space, N and N·mm, shape (k, 6)."""
        return (self.response.force - self.load)[self.grips.nodes]

    def by_grips(self) -> tuple[Array, Array]:
        """Return how nodes and reactions follow the grips' motions.

        Returns
        -------
        motion
            Of all nodes per displacement and spin (in space) of every grip, shape (n, 6, 6 k).
        reaction
            Change of the reactions, in space, per the same, shape (k, 6, 6 k).
        """
        place, grips = self.state.place, self.grips
        count, many = len(place.nodes), len(grips.nodes)
        basis, mask = grips.basis(count), grips.mask(count)
        back = np.swapaxes(basis, 1, 2)
        rigid = np.zeros((count, FREEDOMS, FREEDOMS * many))
        load = np.zeros_like(rigid)
        lever = skew(place.nodes[grips.nodes] - grips.place)
        pull = self.reaction
        for k, node in enumerate(grips.nodes):
            column = slice(FREEDOMS * k, FREEDOMS * (k + 1))
            rigid[node, :, column] = np.eye(FREEDOMS)
            rigid[node, :3, column][:, 3:] = -lever[k]
            # free components stay free of force as the axes turn with the grip
            load[node, :3, column][:, 3:] = -skew(pull[k, :3])
            load[node, 3:, column][:, 3:] = -skew(pull[k, 3:])
        chain = self.response.stiffness
        start = np.where(mask[:, :, None], back @ rigid, 0.0)
        left = back @ (load - chain @ (basis @ start))
        motion = basis @ (start + chain.turned(basis).factored(mask).solve(left))
        return motion, (chain @ motion)[grips.nodes]


def settle(
    rod: Rod,
    state: RodState,
    grips: Grips,
    *,
    guess: RodPlace | None = None,
    load: Array | None = None,
) -> Equilibrium:
    """Find a rod's equilibrium in one step from a state.

    Parameters
    ----------
    state
        Whose history the step starts from.
    guess
        Where the iteration starts; default: the state's place.
    load
        Dead forces and moments on the nodes, N and N·mm, shape (n, 6).

    Raises
    ------
    NotConvergedError
        If forces do not balance to 1e-8 N within 30 iterations.
    """
    place = state.place if guess is None else guess
    given = np.zeros((len(place.nodes), FREEDOMS)) if load is None else load
    problem = _Problem(rod, state.history, grips, given)
    trial = problem.at(place)
    sizes, worst = [trial.size], [trial.worst]
    for _ in range(ITERATIONS):
        if trial.settled:
            return Equilibrium(
                RodState(trial.place, trial.response.history), trial.response, grips, given
            )
        motion = problem.step(trial, worst)
        if not np.isfinite(trial.size) or np.abs(motion[:, 3:]).max() > WILD:
            break
        # the first step carries the ties over: on the way forces rise and fall again
        trial = problem.searched(trial, motion, max(sizes[-MEMORY:]), free=len(sizes) == 1)
        sizes.append(trial.size)
        worst.append(trial.worst)
    raise NotConvergedError(worst, FORCE)


@dataclass(frozen=True)
class _Trial:
    """A trial place: response, what ties lack and what is out of balance, both in ties' axes."""

    place: RodPlace
    response: RodResponse
    lack: Array
    out: Array
    size: float
    worst: float
    settled: bool


class _Problem:
    """Newton's iteration of one step."""

    def __init__(self, rod: Rod, history: Array, grips: Grips, load: Array) -> None:
        self._rod, self._history, self._grips, self._load = rod, history, grips, load
        self._basis, self._mask = grips.basis(len(load)), grips.mask(len(load))

    def at(self, place: RodPlace) -> _Trial:
        response = self._rod.respond(place, self._history)
        lack = np.zeros_like(self._load)
        lack[self._grips.nodes] = self._grips.gap(place)
        out = np.einsum("nji,nj->ni", self._basis, response.force - self._load)
        apart, force = lack / WEIGHT, np.where(self._mask, 0.0, WEIGHT * out)
        worst = float(np.abs(force).max()), float(np.abs(apart).max())
        size = float(np.sqrt(np.sum(force**2) + np.sum((PER_GAP * apart) ** 2)))
        # what stretching makes of the coordinates' round-off counts as balance
        least = ROUND_OFF * float(np.abs(response.stiffness.diagonal[:, :3, :3]).max())
        settled = worst[0] <= max(FORCE, least * float(np.abs(place.nodes).max()))
        settled = settled and worst[1] <= GAP
        return _Trial(place, response, lack, out, size, max(worst), settled)

    def step(self, trial: _Trial, history: list[float]) -> Array:
        chain = trial.response.stiffness.turned(self._basis)
        left = -(trial.out[:, :, None] + chain @ trial.lack[:, :, None])
        try:
            step = trial.lack + chain.factored(self._mask).solve(left)[:, :, 0]
        except SingularChainError as error:
            raise NotConvergedError(history, FORCE) from error
        return np.einsum("nij,nj->ni", self._basis, step)

    def searched(self, trial: _Trial, motion: Array, bound: float, *, free: bool) -> _Trial:
        """Return the place after the motion, or a half, a quarter ... of it that is no worse."""
        share = 1.0
        while True:
            found = self.at(trial.place.moved(share * motion))
            if free or found.settled or found.size <= bound or share <= LEAST_SHARE:
                return found
            share *= 0.5


def reach(
    rod: Rod,
    state: RodState,
    path: Callable[[float], Grips],
    *,
    guess: RodPlace | None = None,
    steps: int = 1,
) -> Equilibrium:
    """Follow grips along a path from 0 to 1, in halves where a step fails.

    Parameters
    ----------
    path
        Grips at a share of the way; at 0 where the state stands.
    guess
        Where the whole step, if taken at once, starts.
    steps
        Equal steps to begin with.

    Raises
    ------
    NotConvergedError
        If a step of 1/1024 of the way fails as well.
    """
    if steps == 1:
        try:
            return settle(rod, state, path(1.0), guess=guess)
        except NotConvergedError:
            pass  # gone in halves below, which raises if that fails too
    return followed(
        lambda start, share: settle(rod, start, path(share)),
        lambda found: found.state,
        state,
        steps=steps,
    )


def between(start: Grips, end: Grips) -> Callable[[float], Grips]:
    """Return the straight way between two sets of grips on the same nodes, turns by least angle."""

    def at(share: float) -> Grips:
        ends = (start.place, start.triads), (end.place, end.triads)
        return end.at(*part_way(*ends, share))

    return at
