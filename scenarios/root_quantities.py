"""One number of a root's preview: three runs, threshold, source, and a plain sentence."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from gomphosis.bone.library import STATUSES
from gomphosis.scenarios.persons import QUANTILES
from gomphosis.scenarios.plates import GIVEN

MODEL = "this run of the model"
BAND = tuple(f"p{round(100 * q)}" for q in QUANTILES)
"""Names of the three whole runs: slow, median and fast persons."""


@dataclass(frozen=True)
class Origin:
    """Say what a finding is held against, and what it stands on.

    Parameters
    ----------
    threshold
        One number, or the two ends of a range; empty where none is published or given.
    source, status
        Of the threshold, or of the input that the value stands on.
    extrapolated
        Whether that was measured on other teeth.
    threshold_unit
        Of the threshold; empty if it is that of the values.

    Raises
    ------
    ValueError
        If the source is empty or the status unknown.
    """

    threshold: tuple[float, ...] = ()
    source: str = MODEL
    status: str = "derived here"
    extrapolated: bool = False
    threshold_unit: str = ""

    def __post_init__(self) -> None:
        if not self.source or self.status not in (*STATUSES, GIVEN):
            raise ValueError(f"source {self.source!r} or status {self.status!r} is not known")


@dataclass(frozen=True)
class Quantity:
    """State one finding about a root.

    Parameters
    ----------
    key
        Stable slug.
    name
        In words.
    unit
        Of the values, and of a threshold that has none of its own; ``"1"`` if dimensionless.
    values
        In the slow, the median and the fast whole run; None where there is none.
    sentence
        What the model shows, in plain words.
    origin
        Threshold, source and status.
    words
        The same three findings in words, for those that are a kind; else empty.
    week
        At whose end the values hold; None for a value of the whole run.

    Raises
    ------
    ValueError
        If there are not three values, or a text is empty.
    """

    key: str
    name: str
    unit: str
    values: tuple[float | None, ...]
    sentence: str
    origin: Origin = Origin()
    words: tuple[str, ...] = ()
    week: float | None = None

    def __post_init__(self) -> None:
        if len(self.values) != len(BAND) or len(self.words) not in (0, len(BAND)):
            raise ValueError(f"{self.key}: needs a value of each of the runs {BAND}")
        if not (self.key and self.name and self.unit and self.sentence):
            raise ValueError(f"{self.key}: a text is missing")

    @property
    def median(self) -> float | None:
        """Value of the median run."""
        return self.values[1]

    def document(self) -> dict[str, Any]:
        """Return the quantity as plain data."""
        words = {"words": dict(zip(BAND, self.words, strict=True))} if self.words else {}
        return {
            "name": self.name,
            "unit": self.unit,
            **dict(zip(BAND, self.values, strict=True)),
            **words,
            **asdict(self.origin),
            "threshold": list(self.origin.threshold) or None,
            "sentence": self.sentence,
        }


def band_text(values: Sequence[float | None], unit: str, *, digits: int = 2) -> str:
    """Return the median with its band, such as ``0.31 mm (0.19 to 0.44)``.

    Examples
    --------
    >>> band_text((0.1, 0.2, 0.4), "mm")
    '0.20 mm (0.10 to 0.40)'
    """
    slow, median, fast = (number_text(value, digits) for value in values)
    named = "" if unit == "1" else f" {unit}"
    if slow == median == fast:
        return f"{median}{named}"
    return f"{median}{named} ({slow} to {fast})"


def number_text(value: float | None, digits: int = 2) -> str:
    """Return a number with a sign where it is negative, or a dash for none."""
    if value is None:
        return "—"
    text = f"{value:.{digits}f}"
    return text.lstrip("-") if float(text) == 0 else text.replace("-", "−")
