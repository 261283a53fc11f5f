"""Words and numbers as pictures print them."""

import numpy as np

from gomphosis.bone.directions import arch_side
from gomphosis.bone.teeth import Tooth
from gomphosis.scenarios.elastic_tables import Elastic
from gomphosis.scenarios.schema import Scenario, Wire
from gomphosis.scenarios.units import FORCE, quantity

INCH = 25.4  # mm, exact
DAYS_A_WEEK = 7.0
INVENTED = "INVENTED DATA"  # mark of made-up data


def weeks_text(days: float) -> str:
    """Return a time in weeks, to a tenth."""
    return f"{round(days / DAYS_A_WEEK, 1):g}"


def gram_force(newton: float) -> float:
    """Return a force of so many N in gf."""
    return newton / quantity("1 gf", FORCE)


def force_text(newton: float) -> str:
    """Return a force in N with gf beside it."""
    return f"{newton:.2f} N ({gram_force(newton):.0f} gf)"


def sense_text(values: np.ndarray, senses: tuple[str, str], *, digits: int = 2) -> str:
    """Return the last size of a curve with the word of its positive or negative sense.

    A size that rounds to zero has no sense of its own: it takes that of the curve's largest.
    """
    size = f"{abs(values[-1]):.{digits}f}"
    deciding = values[np.abs(values).argmax()] if float(size) == 0 else values[-1]
    return f"{senses[0 if deciding >= 0 else 1]} {size}"


def signed(value: float, *, digits: int = 2) -> str:
    """Return a number with its sign; one that rounds to zero has none."""
    text = f"{value:+.{digits}f}"
    return text[1:] if float(text) == 0 else text.replace("-", "−")


def wire_text(wire: Wire) -> str:
    """Return a wire's size and alloy."""
    section = wire.section
    sizes = [section.height] if section.width is None else [section.height, section.width]
    return f"{' × '.join(f'{size / INCH:.3f}' for size in sizes)} in {wire.alloy}"


def pull_text(elastic: Elastic) -> str:
    """Return what pulls, and between which teeth."""
    return f"{elastic.kind.replace('-', ' ')} {'–'.join(map(str, elastic.teeth))}"


def side_words(tooth: Tooth) -> tuple[str, str]:
    """Return what the outer and the inner side of a tooth are called."""
    return ("labial" if tooth.anterior else "buccal", "palatal" if tooth.upper else "lingual")


def wall_words(tooth: Tooth) -> tuple[str, str, str, str]:
    """Return the sides of a socket in the order of the angle from labial towards +y."""
    outer, inner = side_words(tooth)
    proximal = ("mesial", "distal") if arch_side(tooth.number) > 0 else ("distal", "mesial")
    return outer, proximal[0], inner, proximal[1]


def direction_text(components: np.ndarray, tooth: Tooth) -> str:
    """Return the directions of a force in trade words, the larger part first.

    Parameters
    ----------
    components
        Extrusion, labial, mesial, shape (3,); parts below a fifth of the largest are left out.
    """
    outer, inner = side_words(tooth)
    names = (("extrusive", "intrusive"), (outer, inner), ("mesial", "distal"))
    size = np.abs(components)
    order = [i for i in np.argsort(-size, kind="stable") if size[i] > 0.2 * size.max() > 0]
    return " and ".join(names[i][0 if components[i] > 0 else 1] for i in order)


def invented_text(scenario: Scenario) -> str:
    """Return the mark of made-up data, or nothing."""
    return INVENTED if scenario.invented else ""


def visits(scenario: Scenario) -> list[tuple[float, str]]:
    """Return the day and label of every wire; empty where forces are prescribed."""
    return [(float(wire.tied_in or 0.0), wire_text(wire)) for wire in scenario.wires]
