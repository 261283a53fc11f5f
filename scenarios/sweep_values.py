"""Values that one input of a scenario takes, evenly spaced between two ends, in one unit."""

import re
from fractions import Fraction

from gomphosis.scenarios import messages
from gomphosis.scenarios.files import ScenarioError
from gomphosis.scenarios.refusal import Refused, shown
from gomphosis.scenarios.sweep_keys import NAME, SweepKey
from gomphosis.scenarios.units import NUMBER, quantity

FEWEST, MOST = 2, 200  # values (engineering choice)


def refused(problem: str, accepted: str) -> ScenarioError:
    """Return the refusal of a sweep, as one line."""
    return ScenarioError(messages.line(NAME, problem, accepted))


def swept_values(key: SweepKey, ends: tuple[str, str], points: int) -> tuple[str, list[float]]:
    """Return the unit and the evenly spaced values.

    Parameters
    ----------
    ends
        First and last value as texts.
    points
        How many values, 2 to 200.

    Raises
    ------
    ScenarioError
        If an end is no quantity of the key's kind (or no number), both are the same, or the
        values are too few or too many.
    """
    if not FEWEST <= points <= MOST:
        wrong = "small" if points < FEWEST else "large"
        raise refused(f"number of values = {points} is too {wrong}", f"{FEWEST} to {MOST}")
    (first, unit), (last, other) = (_end(key, text) for text in ends)
    if unit != other and key.kind is not None:
        unit = key.kind.inside
        first, last = (Fraction(quantity(text, key.kind)) for text in ends)
    if first == last:
        raise refused(f"{key.name} ends where it begins, at {shown(ends[0])}", "another last one")
    step = (last - first) / (points - 1)
    return unit, [float(first + k * step) for k in range(points)]


def _end(key: SweepKey, text: str) -> tuple[Fraction, str]:
    """Return number and unit of the first or last value, as written."""
    plain = text.strip().replace("−", "-")
    if key.kind is None:
        if re.fullmatch(NUMBER, plain) is None:
            raise refused(f"{key.name} = {shown(text)} is not a number", "a number without a unit")
        return Fraction(plain), ""
    try:
        quantity(text, key.kind)
    except Refused as found:
        raise refused(f"{key.name} = {shown(text)} {found.problem}", found.accepted) from None
    number = re.match(NUMBER, plain)
    if number is None:
        raise RuntimeError(f"{text} passed as a quantity, which begins with a number")
    return Fraction(number.group()), plain[number.end() :].strip()


def value_text(value: float, unit: str) -> str:
    """Return a value as a scenario file has it."""
    return f"{value!r}".removesuffix(".0") + (f" {unit}" if unit else "")
