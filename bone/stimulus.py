r"""What sets the speed of a piece of wall: the stress on it, or the stress on the whole tooth.

The direction of the speed is that of w, the weighted traction of the ligament on the wall
(``bone/remodelling.py``). Its size is R(s) with s one of

- ``traction``: :math:`|w|` on the same piece of wall;
- ``pressure``: the size of the ligament's mean stress there;
- ``tooth``: one stimulus for the whole tooth, :math:`s = (\overline{|w|^q})^{1/q}` over the area,
  and speeds :math:`R(s)\,w/s`: the most loaded wall sets the pace and the rest keeps in step.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from gomphosis.bone.rates import RateLaw
from gomphosis.fem.section import Array

StimulusName = Literal["traction", "pressure", "tooth"]
STIMULI: tuple[str, ...] = get_args(StimulusName)
EXPONENT = 16.0
"""q of the whole tooth's stimulus: near the largest |w|, yet smooth (engineering choice)."""
SMALL = np.finfo(float).tiny ** 0.5


@dataclass(frozen=True)
class WallLoad:
    """Hold a wall's load and its derivative by the force system; n samples.

    Attributes
    ----------
    w, per_wrench
        Weighted traction in MPa, shape (n, 3), and per N or N·mm, shape (n, 3, 6).
    pressure, pressure_per_wrench
        Minus the mean stress in MPa, shape (n,), and per N or N·mm, shape (n, 6).
    share
        Of the wall's area, shape (n,).
    """

    w: Array
    per_wrench: Array
    pressure: Array
    pressure_per_wrench: Array
    share: Array

    def size(self, name: str) -> Array:
        """Return the stimulus s on every sample, MPa, shape (n,)."""
        if name == "pressure":
            return np.abs(self.pressure)
        local = np.sqrt(np.einsum("pi,pi->p", self.w, self.w))
        if name == "traction":
            return local
        largest = local.max()
        if largest <= SMALL:
            return np.zeros_like(local)
        mean = (self.share @ (local / largest) ** EXPONENT) ** (1 / EXPONENT)
        return np.full_like(local, largest * mean)


def velocity(law: RateLaw, name: str, load: WallLoad) -> tuple[Array, Array]:
    """Return the wall's velocity in mm/day, shape (n, 3), and its derivative, (n, 3, 6).

    Under ``pressure`` the derivative at no load at all is given as zero: it depends on the
    direction in which load comes.
    """
    stimulus, local = load.size(name), load.size("traction")
    direction = load.w / np.maximum(local, np.finfo(float).tiny)[:, None]
    along = np.einsum("pi,pij->pj", direction, load.per_wrench)
    if name == "pressure":
        mobility = law.speed(stimulus) / np.maximum(local, SMALL)
        turn = np.sign(load.pressure) * law.slope(stimulus)
        extra = turn[:, None] * load.pressure_per_wrench - mobility[:, None] * along
    else:
        mobility = over(law, stimulus)
        # d(R w/s) = (R/s) dw + (R' - R/s) (w/s) ds
        growth = law.slope(stimulus) - mobility
        if name == "tooth":
            ratio = local / np.maximum(stimulus, SMALL)
            along = ratio[:, None] * ((load.share * ratio ** (EXPONENT - 1)) @ along)
        extra = growth[:, None] * along
    change = mobility[:, None, None] * load.per_wrench + direction[:, :, None] * extra[:, None, :]
    return mobility[:, None] * load.w, change


def over(law: RateLaw, size: Array) -> Array:
    """Return R(S)/S, by its limit R'(0) where S vanishes."""
    return np.where(size > SMALL, law.speed(size) / np.maximum(size, SMALL), law.slope(size))
