"""Fit of the saturating rate law to the published speeds of canine translation.

The published speeds are given against a nominal stress (force over a loaded area). The tool
applies the forces behind it to its own canine and fits the law to the speeds; it never compares
the nominal stress with a local one.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.optimize import least_squares

from gomphosis.bone.library import lookup
from gomphosis.bone.rates import Linear, RateLaw, Saturating
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.support import Resolution, support
from gomphosis.bone.teeth import tooth
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import support_design
from gomphosis.scenarios.schema import Ligament

CANINE = 13


@dataclass(frozen=True)
class Calibration:
    """Result of fitting v_max and S_half; one entry per published force.

    Attributes
    ----------
    law
        The fitted law.
    force
        N, shape (5,).
    local_stress
        Stimulus on the wall of the translated canine (area mean), MPa.
    published, fitted
        Speeds, mm/day.
    left_out
        Speed predicted for each force by a fit to the other four, mm/day.
    half_force
        Force of half the limiting speed, N.
    logarithmic
        Offset and slope of v = a + b ln(F/N) fitted to the same means, mm/day.
    linear
        Speeds of the best law v = C S, mm/day.
    """

    law: Saturating
    force: Array
    local_stress: Array
    published: Array
    fitted: Array
    left_out: Array
    half_force: float
    logarithmic: tuple[float, float]
    linear: Array

    @property
    def residual(self) -> Array:
        """Relative residuals fitted/published - 1."""
        return self.fitted / self.published - 1

    @property
    def left_out_error(self) -> Array:
        """Relative errors of the left-out predictions."""
        return self.left_out / self.published - 1

    @property
    def logarithmic_speed(self) -> Array:
        """Speeds of the logarithmic alternative, mm/day."""
        offset, slope = self.logarithmic
        return offset + slope * np.log(self.force)


class Translated(Protocol):
    """A tooth in translation to whose speeds a law can be fitted."""

    def speed(self, law: RateLaw, force: Array) -> Array:
        """Return the speed of the centre of resistance in mm/day at forces in N."""
        ...

    def mean_stimulus(self) -> float:
        """Return the area mean of the stimulus per newton, MPa/N."""
        ...


@dataclass(frozen=True)
class TranslatedCanine:
    """The canine of the calibration and the wrench that translates it labially by 1 N."""

    wall: SocketWall
    shear_weight: float | None
    stimulus: str = "traction"

    @property
    def unit(self) -> Array:
        """Wrench of 1 N through the centre of resistance, shape (6,)."""
        planar = self.wall.support.planar
        return np.array([1.0, 0, 0, 0, planar.centre_of_resistance, 0])

    def speed(self, law: RateLaw, force: Array) -> Array:
        """Return the speed of the centre of resistance in mm/day at forces in N."""
        model = self._model(law)
        height = self.wall.support.planar.centre_of_resistance
        drift = np.array([model.drift(f * self.unit)[0] for f in force])
        return drift[:, 0] + height * drift[:, 4]

    def mean_stimulus(self) -> float:
        """Return the area mean of the stimulus per newton, MPa/N."""
        load = self._model(Linear(1.0)).load(self.unit)
        return float(load.share @ load.size(self.stimulus))

    def _model(self, law: RateLaw) -> Remodelling:
        return Remodelling(self.wall, law, self.shear_weight, self.stimulus)


def calibrate(
    ligament: Ligament,
    *,
    shear_weight: float | None = None,
    stimulus: str = "traction",
    resolution: Resolution | None = None,
) -> Calibration:
    """Fit the saturating law for a ligament to the published mean speeds.

    Source: the data set ``speed.nickel_2014`` of the library; calibration, not validation.
    """
    size = resolution or Resolution()
    anatomy = tooth(CANINE)
    embedded = anatomy.root_length - lookup("bone.crest_below_cervix").number
    design = support_design(anatomy, embedded, ligament)
    wall = SocketWall(support(design, size), size.sectors)
    canine = TranslatedCanine(wall, shear_weight, stimulus)
    force = np.array(lookup("speed.nickel_2014.force").value, dtype=float)
    published = np.array(lookup("speed.nickel_2014.speed").value, dtype=float) * 1e-3
    law = fit(canine, force, published)
    keep = ~np.eye(len(force), dtype=bool)
    left_out = [canine.speed(fit(canine, force[k], published[k]), force[~k])[0] for k in keep]
    slope, offset = np.polyfit(np.log(force), published, 1)
    per_newton = canine.speed(Linear(1.0), np.array([1.0]))[0] * force
    constant = (per_newton @ published) / (per_newton @ per_newton)
    per_force = canine.mean_stimulus()
    return Calibration(
        law=law,
        force=force,
        local_stress=per_force * force,
        published=published,
        fitted=canine.speed(law, force),
        left_out=np.array(left_out),
        half_force=law.half_stress / per_force,
        logarithmic=(float(offset), float(slope)),
        linear=constant * per_newton,
    )


def fit(canine: Translated, force: Array, published: Array) -> Saturating:
    """Fit v_max and S_half by least squares of log speeds.

    Relative residuals, because people differ by a factor (the log-normal one of the bands).
    """

    def misfit(logs: Array) -> Array:
        return np.log(canine.speed(Saturating(*np.exp(logs)), force) / published)

    guess = np.log([published.max(), canine.mean_stimulus() * force.min()])
    found = least_squares(misfit, guess, xtol=1e-12, ftol=1e-12, gtol=1e-12)
    return Saturating(*(float(value) for value in np.exp(found.x)))
