"""Rate laws put beside each other, each fitted to the same published speeds of translation."""

from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.bone.loads import ConstantLoads
from gomphosis.bone.loop import Period, simulate
from gomphosis.bone.overload import Lag
from gomphosis.bone.rates import Linear, RateLaw, Saturating
from gomphosis.bone.remodelling import Remodelling
from gomphosis.bone.stimulus import WallLoad
from gomphosis.bone.support import SupportDesign, motion_at, support
from gomphosis.bone.teeth import tooth
from gomphosis.bone.wall import SocketWall
from gomphosis.fem.section import Array
from gomphosis.scenarios.calibration import CANINE, fit
from gomphosis.scenarios.model import support_design
from gomphosis.scenarios.schema import Ligament

STEP = 7.0  # day: under a constant wrench any step is exact, and ends of a delay are met within it
DEFAULT, STIFF = "traction", "stiff"

FORCES = np.array(lookup("speed.nickel_2014.force").numbers)
SPEEDS = np.array(lookup("speed.nickel_2014.speed").numbers) * 1e-3  # mm/day


@dataclass(frozen=True)
class Candidate:
    """One way from stress to speed of the wall, before it is fitted.

    Parameters
    ----------
    name
        Short, for tables.
    words
        What it assumes beyond the default.
    added
        Numbers it needs beyond the two of the default.
    ligament
        Elastic pair and thickness.
    stimulus
        As in ``bone/stimulus.py``.
    lag
        Whether overloaded wall stops for the published lag. Its limit is the least that leaves
        the published translations without a lag, as they were found.
    standstill
        Whether the whole tooth stands still for the published lag where its stimulus as a whole
        exceeds that of all those translations.
    overload_for_good
        Whether wall that is loaded more than any in those translations stands still for good.
    new_bone_speed
        Speed that stretched wall cannot exceed, mm/day.
    plate_factor
        On all speeds of a tooth that is moved through a cortical plate.
    """

    name: str
    words: str
    added: int
    ligament: Ligament = field(default_factory=Ligament)
    stimulus: str = "traction"
    lag: bool = False
    standstill: bool = False
    overload_for_good: bool = False
    new_bone_speed: float = np.inf
    plate_factor: float = 1.0


@dataclass(frozen=True)
class Fitted:
    """A candidate with the law that fits the five published speeds best."""

    candidate: Candidate

    @cached_property
    def law(self) -> Saturating:
        """The fitted law."""
        return fit(self, FORCES, SPEEDS)

    def speed(self, law: RateLaw, force: Array) -> Array:
        """Return the speed in mm/day of the canine's centre of resistance, translated."""
        height = self.centre(CANINE)
        found = [self._drift(CANINE, at_height(height, f), law) for f in force]
        return np.array([point_speed(drift, height) for drift in found])

    def mean_stimulus(self) -> float:
        """Return the area mean of the stimulus per newton on the translated canine, MPa/N."""
        load = self._model(CANINE, Linear(1.0)).load(at_height(self.centre(CANINE), 1.0))
        return float(load.share @ load.size(self.candidate.stimulus))

    def centre(self, number: int) -> float:
        """Return the height of a tooth's centre of resistance above the crest, mm."""
        return self._wall(number).support.planar.centre_of_resistance

    def drift(self, number: int, wrench: Array) -> Array:
        """Return the drift of a tooth at the first moment, per day, shape (6,)."""
        return self._drift(number, wrench, self.law)

    def travel(
        self,
        number: int,
        wrench: Array,
        *,
        days: float,
        rate_factor: float = 1.0,
        plate: bool = False,
    ) -> Array:
        """Return the drift of a tooth under a constant wrench after some days, shape (6,).

        Parameters
        ----------
        rate_factor
            Multiplies every speed of the wall.
        plate
            Whether it moves through a cortical plate.
        """
        factor = rate_factor * (self.candidate.plate_factor if plate else 1.0)
        if not self.candidate.lag:
            waits = self.candidate.standstill and self.stopped(number, wrench) > 0
            moving = max(days - self.lag.delay, 0.0) if waits else days
            return factor * moving * self.drift(number, wrench)
        model = self._model(number, self.law, self.lag)
        periods = [Period(0.0, ConstantLoads(wrench[None]))]
        track = simulate([model], periods, days=days, step=STEP, rate_factor=factor)
        return track.drift[-1, 0]

    def stopped(self, number: int, wrench: Array) -> float:
        """Return the share of a tooth's wall that a wrench brings to a standstill."""
        load = self._model(number, self.law).load(wrench)
        if self.candidate.lag:
            return float(load.share @ (load.pressure > self.lag.pressure))
        if self.candidate.standstill:
            # one value for the whole tooth
            return float(load.size("tooth")[0] > self._heaviest.size("tooth")[0] * (1 + 1e-9))
        if self.candidate.overload_for_good:
            return float(load.share @ (load.size("traction") > self._largest))
        return 0.0

    @cached_property
    def lag(self) -> Lag:
        """The published delay at the least limit without a lag in the published translations."""
        least = float(self._heaviest.pressure.max()) * (1 + 1e-9)
        return Lag(least, lookup("lag.iwasaki").number)

    @cached_property
    def _heaviest(self) -> WallLoad:
        wrench = at_height(self.centre(CANINE), float(FORCES.max()))
        return self._model(CANINE, Linear(1.0)).load(wrench)

    @cached_property
    def _largest(self) -> float:
        wall = self._wall(CANINE)
        return float(wall.peak(self._heaviest.size("traction").reshape(wall.area.shape)))

    def _wall(self, number: int) -> SocketWall:
        return solved_wall(number, self.candidate.ligament)

    def _model(self, number: int, law: RateLaw, lag: Lag | None = None) -> Remodelling:
        return Remodelling(self._wall(number), law, None, self.candidate.stimulus, lag)

    def _drift(self, number: int, wrench: Array, law: RateLaw) -> Array:
        model = self._model(number, law)
        return model.drift(wrench, self._moving(model, wrench))[0]

    def _moving(self, model: Remodelling, wrench: Array) -> Array | None:
        """Return the share of its speed that each sample keeps; None for all of it."""
        if self.candidate.overload_for_good:
            return np.where(model.load(wrench).size("traction") <= self._largest, 1.0, 0.0)
        if not np.isfinite(self.candidate.new_bone_speed):
            return None
        velocity = model.wall_velocity(wrench)
        inward = -np.einsum("nsc,nc->ns", velocity[..., :2], model.wall.support.wall.normal)
        cap = self.candidate.new_bone_speed
        return np.where(inward > cap, cap / np.maximum(inward, cap), 1.0).ravel()


def at_height(height: float, force: float) -> Array:
    """Return the wrench about the crest of a labial force in N at a height in mm."""
    return motion_at(np.array([0.0, 0.0, height])).T @ np.array([force, 0, 0, 0, 0, 0])


def point_speed(drift: Array, height: float) -> float:
    """Return the labial part of a motion at a height above the crest in mm."""
    return float(drift[0] + height * drift[4])


def solved_wall(number: int, ligament: Ligament) -> SocketWall:
    """Return the wall of an average tooth in a ligament."""
    anatomy = tooth(number)
    embedded = anatomy.root_length - lookup("bone.crest_below_cervix").number
    return _solved(support_design(anatomy, embedded, ligament))


@lru_cache(maxsize=32)
def _solved(design: SupportDesign) -> SocketWall:
    return SocketWall(support(design))


def candidates() -> tuple[Candidate, ...]:
    """Return the laws that are compared, the default first."""
    return (
        Candidate(DEFAULT, "speed from the push on the same piece of wall: the default", 0),
        *_other_stimuli(),
        *_other_walls(),
        *_other_ligaments(),
        _plate(),
    )


def _other_stimuli() -> list[Candidate]:
    days = f"for {lookup('lag.iwasaki').number:g} days"
    words = f"overloaded wall stops {days}"
    pace = "the most loaded wall sets the pace of the whole tooth"
    return [
        Candidate("pressure", "speed from the ligament's mean stress", 0, stimulus="pressure"),
        Candidate("tooth", pace, 1, stimulus="tooth"),
        Candidate("lag", words, 2, lag=True),
        Candidate(
            "standstill",
            f"{pace}; an overloaded tooth stands still {days}",
            3,
            stimulus="tooth",
            standstill=True,
        ),
        Candidate("tooth, lag", f"{pace}; {words}", 3, stimulus="tooth", lag=True),
    ]


def _other_walls() -> list[Candidate]:
    half = 0.5 * float(SPEEDS.max())
    beyond = "wall loaded beyond all published translations stops for good"
    behind = f"stretched wall follows at {1e3 * half:.3g} um/day at most, half the fastest mean"
    return [
        Candidate("overload", beyond, 1, overload_for_good=True),
        Candidate("new bone", behind, 1, new_bone_speed=half),
    ]


def _other_ligaments() -> list[Candidate]:
    plain, stiff = Ligament(), lookup("ligament.tanne.young")
    pair = {"young": stiff.number, "poisson": lookup("ligament.tanne.poisson").number}
    names = ("thickness_crest", "thickness_middle", "thickness_apex")
    thick = {name: 2 * getattr(plain, name) for name in names}
    words = f"ligament of {pair['young']:g} MPa, nu {pair['poisson']:g} ({stiff.status})"
    return [
        Candidate(STIFF, words, 0, ligament=plain.model_copy(update=pair)),
        Candidate("thick", "ligament twice as thick", 0, ligament=plain.model_copy(update=thick)),
    ]


def _plate() -> Candidate:
    density = lookup("bone_layer.trabecular_density").number
    words = (
        f"a plate slows a tooth as cortical bone is denser than trabecular, by {density:.2f}: "
        "a guess, no speed in either bone is published"
    )
    return Candidate("plate", words, 1, plate_factor=density)
