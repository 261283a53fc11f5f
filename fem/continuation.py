"""Follow a rod's equilibrium under a growing load past its limit points, by arc length."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from gomphosis.fem.chain import SingularChainError
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, RodPlace, RodState
from gomphosis.fem.rod_equilibrium import ARM, FORCE, WILD, Grips
from gomphosis.fem.section import Array

ITERATIONS, EASY = 12, 4  # Newton's most, and those at which the stride stays as it is
SHRUNK = 2.0**-12  # of the first stride: lost


@dataclass(frozen=True)
class LoadPoint:
    """A point of the path: what part of the load acts, and the rod in equilibrium with it."""

    factor: float
    state: RodState


def load_path(
    rod: Rod, state: RodState, grips: Grips, *, load: Array, stride: float
) -> Iterator[LoadPoint]:
    """Yield points along the path of equilibria under a dead load, without end.

    Each step goes a length along the path, measured by displacements and by rotations times
    10 mm; Newton's iteration then stays in the plane normal to the path's direction. The stride
    adapts to how easily it converges. At a limit point the load falls again while the path goes on.

    Parameters
    ----------
    state
        In equilibrium without the load.
    load
        Whole load on the nodes, N and N·mm, shape (n, 6).
    stride
        First and longest step along the path, mm.

    Raises
    ------
    NotConvergedError
        If a step 4096 times smaller than the first fails.
    """
    scale = np.tile([1.0, 1.0, 1.0, ARM, ARM, ARM], (len(load), 1))
    follower = _Follower(rod, grips, load, scale)
    factor, step = 0.0, stride
    direction: Array | None = None
    while True:
        try:
            point, direction, count = follower.advance(state, factor, direction, step)
        except NotConvergedError:
            step *= 0.5
            if step < SHRUNK * stride:
                raise
            continue
        state, factor = point.state, point.factor
        step = min(stride, step * (EASY / max(count, 1)) ** 0.5)
        yield point


@dataclass(frozen=True)
class _Follower:
    rod: Rod
    grips: Grips
    load: Array
    scale: Array

    def advance(
        self, state: RodState, factor: float, before: Array | None, step: float
    ) -> tuple[LoadPoint, Array, int]:
        """Return the next point, the path's direction there and the iterations it took."""
        rise = self._at(state.place, state.history, factor).rise
        direction = rise / float(np.linalg.norm(self.scale * rise))
        weight = self.scale**2 * direction
        if before is not None and np.sum(weight * before) < 0:
            direction, weight = -direction, -weight
        factor += step * float(np.sum(weight * direction) / np.sum(weight * rise))
        place = state.place.moved(step * direction)
        history = []
        for count in range(ITERATIONS):
            trial = self._at(place, state.history, factor)
            history.append(trial.worst)
            if trial.worst <= FORCE:
                return LoadPoint(factor, RodState(place, trial.history)), direction, count
            change = -float(np.sum(weight * trial.fall) / np.sum(weight * trial.rise))
            motion = trial.fall + change * trial.rise
            if not np.all(np.abs(motion[:, 3:]) < WILD):
                break
            place, factor = place.moved(motion), factor + change
        raise NotConvergedError(history, FORCE)

    def _at(self, place: RodPlace, history: Array, factor: float) -> "_Trial":
        count = len(self.load)
        basis, mask = self.grips.basis(count), self.grips.mask(count)
        back = np.swapaxes(basis, 1, 2)
        response = self.rod.respond(place, history)
        sides = np.stack([self.load, factor * self.load - response.force], axis=2)
        try:
            factored = response.stiffness.turned(basis).factored(mask)
            motion = basis @ factored.solve(back @ sides)
        except SingularChainError as error:
            raise NotConvergedError([], FORCE) from error
        worst = float(np.abs(np.where(mask, 0.0, (back @ sides)[:, :, 1])).max())
        return _Trial(motion[:, :, 0], motion[:, :, 1], worst, response.history)


class _Trial(NamedTuple):
    """Motions that the load and what is out of balance bring about; the latter; the history."""

    rise: Array
    fall: Array
    worst: float
    history: Array
