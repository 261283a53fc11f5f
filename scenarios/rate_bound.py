r"""How little a tipped tooth can move under any rate law that fits the published translations.

Drift is linear in the law: at every place the wall has the direction of its traction and the speed
R(s) of its stimulus s. The movement of a point is therefore a weighted sum over the values of R,
and so is the speed of the translated canine. Taking R piecewise linear between many stimuli, its
values are found by a linear programme: least movement of the tipped tooth, such that all five
translations come out within a number of standard errors and R nowhere falls. Nothing else is asked
of R: the answer holds for every law of the family, not for one formula.
"""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from scipy.optimize import linprog

from gomphosis.bone.library import lookup
from gomphosis.bone.rates import Linear
from gomphosis.bone.remodelling import Remodelling
from gomphosis.fem.section import Array
from gomphosis.scenarios.calibration import CANINE
from gomphosis.scenarios.rate_candidates import (
    FORCES,
    SPEEDS,
    at_height,
    point_speed,
    solved_wall,
)
from gomphosis.scenarios.schema import Ligament

KNOTS = 200
FASTEST = 1.0  # mm/day: keeps a programme bounded; far above any published speed


@dataclass(frozen=True)
class Least:
    """Least movement of one point and the law that gives it.

    Attributes
    ----------
    movement
        mm.
    stimulus, speed
        Knots of the law: MPa and mm/day.
    """

    movement: float
    stimulus: Array
    speed: Array


@dataclass(frozen=True)
class Family:
    """All laws v = R(s) of one stimulus, with R of any shape.

    Parameters
    ----------
    stimulus
        As in ``bone/stimulus.py``.
    ligament
        Elastic pair and thickness.
    """

    stimulus: str = "traction"
    ligament: Ligament = field(default_factory=Ligament)

    def least(
        self,
        number: int,
        wrench: Array,
        *,
        height: float,
        days: float,
        errors: float = 2.0,
        falling: bool = False,
    ) -> Least:
        """Return the least movement of a point of a tooth under a constant wrench.

        Parameters
        ----------
        height
            Of the point above the crest, mm.
        errors
            Standard errors by which each published speed may be missed.
        falling
            Whether R may also fall as the stimulus rises.

        Raises
        ------
        RuntimeError
            If no law at all fits the published speeds so well.
        """
        moved = days * self.weights(number, wrench, height)
        room = errors * lookup("speed.nickel_2014.speed_error").number * 1e-3
        rows = [self._translations, -self._translations]
        limits = [SPEEDS + room, room - SPEEDS]
        if not falling:
            rows.append(-np.diff(np.eye(KNOTS), axis=0))
            limits.append(np.zeros(KNOTS - 1))
        found = linprog(
            moved, A_ub=np.concatenate(rows), b_ub=np.concatenate(limits), bounds=(0, FASTEST)
        )
        if found.status != 0:
            raise RuntimeError(f"no rate law within {errors:g} standard errors: {found.message}")
        return Least(float(found.fun), self.knots, found.x)

    @cached_property
    def knots(self) -> Array:
        """Stimuli between which R is linear, MPa, shape (KNOTS,)."""
        return np.geomspace(1e-5, 0.3, KNOTS)

    @cached_property
    def _translations(self) -> Array:
        """Speed of the translated canine per value of R, shape (5, KNOTS)."""
        height = self._model(CANINE).wall.support.planar.centre_of_resistance
        return np.array([self.weights(CANINE, at_height(height, f), height) for f in FORCES])

    def weights(self, number: int, wrench: Array, height: float) -> Array:
        """Return the speed of a point per value of R at the knots, shape (KNOTS,)."""
        model = self._model(number)
        load = model.load(wrench)
        size, local = load.size(self.stimulus), load.size("traction")
        divisor = size if self.stimulus == "tooth" else local
        unit = load.w / divisor[:, None]
        drift = model.wall.drift_map.reshape(6, -1, 3)
        share = np.array([point_speed(d, height) for d in np.einsum("ipc,pc->pi", drift, unit)])
        place = np.interp(size, self.knots, np.arange(KNOTS))
        left = np.minimum(place.astype(int), KNOTS - 2)
        found = np.zeros(KNOTS)
        np.add.at(found, left, share * (1 - (place - left)))
        np.add.at(found, left + 1, share * (place - left))
        return found

    def _model(self, number: int) -> Remodelling:
        wall = solved_wall(number, self.ligament)
        return Remodelling(wall, Linear(1.0), None, self.stimulus)
