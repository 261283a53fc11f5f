"""Published findings on speed of movement, each with what a fitted rate law says of it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from gomphosis.bone.library import Cited, lookup
from gomphosis.bone.teeth import tooth
from gomphosis.scenarios.calibration import CANINE
from gomphosis.scenarios.persons import growth_factor
from gomphosis.scenarios.rate_candidates import FORCES, Fitted, at_height, point_speed

INCISOR, PREMOLAR = 11, 15
GRAM_FORCE = 9.80665e-3  # N, ISO 80000-4
MONTH = 30.4  # days
WEEKS_12 = 84.0  # days
TIPPED_DAYS = 7 * lookup("speed.dudic_2013.duration").number
TIPPED_FORCE = lookup("speed.dudic_2013.force").number
TIPPING = "tipping-cusp"
ALIKE = "alike: within one sigma between persons, as no spread was seen"
OTHER_SPECIES = "computed on human teeth under the same forces: direction of the effect only"
INSIDE, OUTSIDE, NOT_JUDGED = "inside", "outside", "not judged"


@dataclass(frozen=True)
class Finding:
    """One published number, its spread, and how a fitted law answers it.

    Parameters
    ----------
    key
        Stable slug.
    quantity, unit
        What is compared.
    published
        The number.
    low, high
        Its spread, infinite where it has no end; None where there is none, which is not judged.
    kind
        ``calibration`` for data of the fit or of the same group, ``validation`` for the rest.
    source, status
        Of the number.
    compute
        Returns the model's number.
    note
        Where the spread comes from, and what stands between model and study.
    """

    key: str
    quantity: str
    unit: str
    published: float
    low: float | None
    high: float | None
    kind: str
    source: str
    status: str
    compute: Callable[[Fitted], float]
    note: str = ""

    def verdict(self, ours: float) -> str:
        """Return whether a model's number lies within the published spread."""
        if self.low is None or self.high is None:
            return NOT_JUDGED
        return INSIDE if self.low <= ours <= self.high else OUTSIDE


def findings() -> tuple[Finding, ...]:
    """Return the published findings in the order in which they should be read."""
    return (*_translations(), *_iwasaki(), _no_lag(), *_force_ratios(), *_tippings(), *_others())


def bracket_height(number: int) -> float:
    """Return the height of the slot's centre above the bone crest, mm."""
    return cusp_height(number) - lookup("bracket.from_incisal_edge").number


def cusp_height(number: int) -> float:
    """Return the height of incisal edge or cusp above the bone crest, mm."""
    return tooth(number).crown_length + lookup("bone.crest_below_cervix").number


def tipping(number: int, force: float) -> np.ndarray:
    """Return the wrench of a labial force in N at the bracket."""
    return at_height(bracket_height(number), force)


def centre_speed(fitted: Fitted, number: int, force: float, *, tipped: bool = False) -> float:
    """Return the speed of the centre of resistance in mm/day, translated or tipped."""
    centre = fitted.centre(number)
    wrench = tipping(number, force) if tipped else at_height(centre, force)
    return point_speed(fitted.drift(number, wrench), centre)


def tipped_movement(fitted: Fitted, height: float, growing: str = "unknown") -> float:
    """Return the movement, mm, at a height of the premolar tipped as published."""
    travel = fitted.travel(
        PREMOLAR,
        tipping(PREMOLAR, TIPPED_FORCE),
        days=TIPPED_DAYS,
        rate_factor=growth_factor(growing),
        plate=True,
    )
    return point_speed(travel, height)


def _finding(
    cited: Cited,
    key: str,
    quantity: str,
    unit: str,
    compute: Callable[[Fitted], float],
    *,
    band: tuple[float | None, float | None],
    published: float,
    kind: str = "validation",
    note: str = "",
) -> Finding:
    words = "; ".join(part for part in (note, cited.note) if part)
    low, high = band
    return Finding(
        key, quantity, unit, published, low, high, kind, cited.source, cited.status, compute, words
    )


def _alike() -> tuple[float, float]:
    """Return the band in which two speeds count as alike."""
    spread = float(np.exp(lookup("spread.sigma").number))
    return 1 / spread, spread


def _translations() -> list[Finding]:
    cited = lookup("speed.nickel_2014.speed")
    error = 2 * lookup("speed.nickel_2014.speed_error").number
    return [
        _finding(
            cited,
            f"translation-{force:.3g}-N",
            f"canine translated by {force:.3g} N",
            "um/day",
            lambda f, force=force: 1e3 * centre_speed(f, CANINE, force),
            published=speed,
            band=(speed - error, speed + error),
            kind="calibration",
            note="two standard errors",
        )
        for force, speed in zip(FORCES.tolist(), cited.numbers, strict=True)
    ]


def _iwasaki() -> list[Finding]:
    forces, speeds = lookup("speed.iwasaki_2000.force"), lookup("speed.iwasaki_2000.speed")
    # a person's factor of 3 from slowest to fastest, about the mean
    room = lookup("spread.range_7_subjects").number ** 0.5
    return [
        _finding(
            speeds,
            f"translation-{force:g}-gf",
            f"canine translated by {force:g} gf",
            "mm/month",
            lambda f, force=force: MONTH * centre_speed(f, CANINE, force * GRAM_FORCE),
            published=speed,
            band=(speed / room, speed * room),
            kind="calibration",
            note="range of 3:1 between persons; same group as the calibration",
        )
        for force, speed in zip(forces.numbers, speeds.numbers, strict=True)
    ]


def _no_lag() -> Finding:
    cited = lookup("speed.nickel_2014.linear_share")
    heaviest = float(FORCES.max())
    return _finding(
        cited,
        "translation-no-lag",
        f"wall that stops in translation by {heaviest:g} N",
        "1",
        lambda f: f.stopped(CANINE, at_height(f.centre(CANINE), heaviest)),
        published=0.0,
        band=(0.0, 1 - cited.number),
        kind="calibration",
        note="no lag phase in 96 % of teeth; limits of overload were set by this",
    )


def _force_ratios() -> list[Finding]:
    """Return speeds of translation under a heavy force over those under a light one."""
    review, dogs = lookup("force_and_rate.theodorou_similar"), lookup("force_and_rate.pilon_forces")
    same, rise = (lookup(f"force_and_rate.van_leeuwen_{k}") for k in ("same", "rise"))
    rats = lookup("force_and_rate.rat_forces")
    light, _, heavy = (g * GRAM_FORCE for g in dogs.numbers)
    rat = [c / 100 for c in rats.numbers]
    faster = (1.0, np.inf)
    other = f"{ALIKE}; {OTHER_SPECIES}"
    rows = (
        ("reviewed-250-over-50-cN", review, INCISOR, (2.5, 0.5), _alike(), ALIKE),
        ("dogs-200-over-50-gf", dogs, PREMOLAR, (heavy, light), _alike(), other),
        ("dogs-300-over-10-cN", same, PREMOLAR, (3.0, 0.1), _alike(), other),
        ("dogs-600-over-10-cN", rise, PREMOLAR, (6.0, 0.1), faster, f"faster; {OTHER_SPECIES}"),
        ("rats-25-over-10-cN", rats, INCISOR, rat[1::-1], faster, f"faster; {OTHER_SPECIES}"),
        ("rats-100-over-50-cN", rats, INCISOR, rat[:1:-1], _alike(), other),
    )
    return [
        _finding(
            cited,
            key,
            "translation by {:.3g} N over that by {:.3g} N".format(*forces),
            "1",
            partial(_speed_ratio, number=number, forces=forces),
            published=1.0,
            band=band,
            note=note,
        )
        for key, cited, number, forces, band, note in rows
    ]


def _speed_ratio(fitted: Fitted, *, number: int, forces: Sequence[float]) -> float:
    heavy, light = (centre_speed(fitted, number, force) for force in forces)
    return heavy / light


def _tippings() -> list[Finding]:
    whole = lookup("speed.dudic_2013.movement")
    cusp, slot = cusp_height(PREMOLAR), bracket_height(PREMOLAR)
    words = "premolar tipped by 1 N, 8 weeks, at the "
    place = "where on the crown was not seen"
    rows = (
        (TIPPING, whole, cusp, "unknown", words + "cusp", f"range; {place}"),
        ("tipping-bracket", whole, slot, "unknown", words + "bracket", f"range; {place}"),
        (
            "tipping-under-16",
            lookup("speed.dudic_2013.movement_under_16"),
            cusp,
            "yes",
            words + "cusp, growing",
            place,
        ),
        (
            "tipping-from-16",
            lookup("speed.dudic_2013.movement_from_16"),
            cusp,
            "no",
            words + "cusp, grown",
            place,
        ),
    )
    return [
        _finding(
            cited,
            key,
            quantity,
            "mm",
            partial(tipped_movement, height=height, growing=growing),
            published=cited.number,
            band=(cited.low, cited.high),
            note=note,
        )
        for key, cited, height, growing, quantity, note in rows
    ]


def _others() -> list[Finding]:
    rat = lookup("force_and_rate.rat_forces")
    ren, force = (lookup(f"force_and_rate.{k}") for k in ("ren_2004", "ren_2004_force"))
    return [
        _finding(
            rat,
            "rats-centre",
            "centre of resistance, tipping over translation at 1 N",
            "1",
            _centre_ratio,
            published=1.0,
            band=_alike(),
            note=f"equal; {ALIKE}; {OTHER_SPECIES}",
        ),
        *_heavy_and_light(),
        _finding(
            ren,
            "largest-speed",
            f"canine translated by {force.number:g} cN",
            "mm/week",
            lambda f: 7 * centre_speed(f, CANINE, force.number / 100),
            published=ren.number,
            band=(None, None),
        ),
    ]


def _heavy_and_light() -> list[Finding]:
    cited = lookup("force_and_rate.yee_forces")
    start = 7 * lookup("force_and_rate.yee_start").number
    light, heavy = (grams * GRAM_FORCE for grams in cited.numbers)
    rows = (
        ("heavy-light-4-weeks", "4 weeks", start, _alike(), f"{ALIKE}; taken as tipping here"),
        ("heavy-light-12-weeks", "12 weeks", WEEKS_12, (1.0, np.inf), "taken as tipping here"),
    )
    return [
        _finding(
            cited,
            key,
            f"canine's cusp tipped by 300 gf over that by 50 gf, {words}",
            "1",
            partial(_tipped_ratio, forces=(heavy, light), days=days),
            published=1.0,
            band=band,
            note=note,
        )
        for key, words, days, band, note in rows
    ]


def _tipped_ratio(fitted: Fitted, *, forces: Sequence[float], days: float) -> float:
    height = cusp_height(CANINE)
    heavy, light = (
        point_speed(fitted.travel(CANINE, tipping(CANINE, force), days=days), height)
        for force in forces
    )
    return heavy / light


def _centre_ratio(fitted: Fitted) -> float:
    tipped = centre_speed(fitted, INCISOR, 1.0, tipped=True)
    return tipped / centre_speed(fitted, INCISOR, 1.0)
