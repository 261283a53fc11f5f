"""Measure wires by hand: python tests/benchmark_wire.py [--repeat N].

One update of many fibres, and equilibria of a wire in fourteen rigid ties that move by 30 um from
one to the next, each from the last one's place. Prints median, smallest and largest in
milliseconds; numbers belong to the machine, so none is kept here and no test is timed.
"""

import argparse
import statistics
import time
from collections.abc import Callable

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.fem.section_response import FibrewiseSection
from gomphosis.scenarios.alloys import library_alloy, section_law
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.tied_wire import ArchWire, Bracket
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import WireShape

INCH = 25.4
SLOTS, SPACING = 14, 8.0  # mm, centre to centre
OUT_OF_LINE = np.array([0.5, 0.0, 0.5, 0.07, 0.07, 0.07])  # mm and rad, largest either way
DAY = 0.03  # mm, and rad times 10 mm


def measure(name: str, task: Callable[[], object], repeat: int) -> None:
    """Run a task once unmeasured and then N times; print its times."""
    task()
    spent = []
    for _ in range(repeat):
        begin = time.perf_counter()
        task()
        spent.append(1000 * (time.perf_counter() - begin))
    median = statistics.median(spent)
    print(f"{name:<64} {median:8.2f} {min(spent):8.2f} {max(spent):8.2f}")


def wire_law(height: float, width: float | None, alloy: str) -> FibrewiseSection:
    """Return the law of a wire of the library at mouth temperature, sizes in inches."""
    section = WireSection(height * INCH, (width or height) * INCH, round=width is None)
    law = section_law(section, library_alloy(alloy), temperature=37.0)
    if not isinstance(law, FibrewiseSection):
        raise TypeError("the library's alloys have fibres")
    return law


def fibres(law: FibrewiseSection, count: int = 14_000) -> Callable[[], object]:
    """Return a task: one update of some fibres, bent and twisted onto the plateau."""
    sections = -(-count // law.section.fibres)
    rng = np.random.default_rng(1)
    strain = rng.normal(size=(sections, 4)) * [1e-4, 0.08, 0.08, 0.05]
    state = law.respond(0.9 * strain, law.start(sections)).state
    return lambda: law.respond(strain, state)


class Row:
    """A wire in slots out of line at random, always alike, that move a little at every call."""

    def __init__(self, law: FibrewiseSection, *, rectangular: bool) -> None:
        self._rng = np.random.default_rng(2)
        brackets = [
            Bracket(SPACING * k, np.zeros(3), OUT_OF_LINE * self._rng.uniform(-1, 1, 6))
            for k in range(SLOTS)
        ]
        self.loads = WireLoads(brackets, ArchWire(law, WireShape(StraightLine()), rectangular))
        self.poses = np.zeros((SLOTS, 6))
        self.loads.commit(self.poses)

    @property
    def words(self) -> str:
        """How finely the wire is meshed."""
        count, change = self.loads.discretisation
        return f"{count} elements a span, {100 * change:.2f} % by doubling"

    def next(self) -> Array:
        """Return the force systems after the slots have moved."""
        step = DAY * self._rng.uniform(-1, 1, self.poses.shape) * [1, 0, 1, 0.1, 0.1, 0.1]
        self.poses = self.poses + step
        return self.loads.evaluate(self.poses).wrenches


def main() -> None:
    """Measure the figures one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=15)
    repeat = parser.parse_args().repeat
    print(f"{'milliseconds':<64} {'median':>8} {'least':>8} {'most':>8}")
    for name, size, alloy in (
        ("0.014 in nickel-titanium", (0.014, None), "nickel-titanium"),
        ("0.016 x 0.022 in nickel-titanium", (0.016, 0.022), "nickel-titanium"),
        ("0.018 x 0.025 in steel", (0.018, 0.025), "steel"),
    ):
        law = wire_law(*size, alloy)
        measure(f"{name}: update of 14 000 fibres", fibres(law), repeat)
        row = Row(law, rectangular=size[1] is not None)
        measure(f"{name}: 14 ties, {row.words}", row.next, repeat)


if __name__ == "__main__":
    main()
