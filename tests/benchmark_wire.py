"""Measure wires by hand: python tests/benchmark_wire.py [--repeat N] [--robust N].

One update of many fibres; a wire in slots out of line at random that move by 30 um a day; and, on
request, how many random arches find an equilibrium. Numbers belong to the machine, so none is kept
here and no test is timed.
"""

import argparse
import statistics
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gomphosis.bone.library import lookup
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.section import Array
from gomphosis.fem.section_response import FibrewiseSection
from gomphosis.scenarios.alloys import NAMED_SETS, Alloy, library_alloy, section_law
from gomphosis.scenarios.appliance import WireLoads
from gomphosis.scenarios.arch import StraightLine
from gomphosis.scenarios.ligation import Ligation
from gomphosis.scenarios.slot_walls import SlotSize
from gomphosis.scenarios.slots import Bracket
from gomphosis.scenarios.slotted_wire import ArchWire
from gomphosis.scenarios.wire import WireSection
from gomphosis.scenarios.wire_shape import Bend, WireError, WireShape

INCH = 25.4
SLOTS, SPACING = 14, 8.0  # mm, centre to centre
WIDTH = 3.0  # mm of a slot along the wire
DAY, DAYS = 0.03, 25  # mm, and number of days
COLUMNS = ("median", "least", "most")


def measure(name: str, task: Callable[[], object], repeat: int) -> None:
    """Run a task once unmeasured and then N times; print its times in milliseconds."""
    task()
    spent = []
    for _ in range(repeat):
        begin = time.perf_counter()
        task()
        spent.append(1000 * (time.perf_counter() - begin))
    figures = (statistics.median(spent), min(spent), max(spent))
    print(f"{name:<60}" + "".join(f"{figure:9.2f}" for figure in figures))


def wire_law(section: WireSection, alloy: Alloy) -> FibrewiseSection:
    """Return the law of a wire at mouth temperature."""
    law = section_law(section, alloy, temperature=37.0)
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


@dataclass(frozen=True)
class Row:
    """Slots in a row, out of line at random.

    Parameters
    ----------
    count
        Number of slots.
    shift, turn
        Largest malposition either way, mm and rad.
    number
        Of the random numbers.
    friction
        Coulomb's coefficient.
    spare
        Wire beyond what is usual at either end, mm: long rows out of line draw in more than that.
    """

    count: int
    shift: float
    turn: float
    number: int
    friction: float = 0.0
    spare: float = 0.0

    def loads(self) -> WireLoads:
        """Return the loads of a round superelastic wire in these slots, not tied in yet."""
        rng = np.random.default_rng(self.number)
        largest = np.array([self.shift, 0.0, self.shift, self.turn, self.turn, self.turn])
        brackets = [
            Bracket(SPACING * k, np.zeros(3), largest * rng.uniform(-1, 1, 6))
            for k in range(self.count)
        ]
        section = WireSection(0.014 * INCH, 0.014 * INCH, round=True)
        size = SlotSize(lookup("slot.height_022").number, lookup("slot.depth_022").number, WIDTH)
        wire = ArchWire(
            wire_law(section, NAMED_SETS["b"]),
            section,
            WireShape(StraightLine(), self._ends()),
            sizes=self.count * (size,),
            ties=self.count * (Ligation(),),
            friction=self.friction,
        )
        return WireLoads(brackets, wire)

    def _ends(self) -> tuple[Bend, ...]:
        """Return bends by nothing, beyond which the wire goes on as far as beyond a last slot."""
        if self.spare == 0.0:
            return ()
        off = 0.5 * WIDTH + self.spare
        return tuple(Bend(at, np.zeros(3)) for at in (-off, SPACING * (self.count - 1) + off))


def days_of(row: Row) -> float:
    """Print the first equilibrium of a row and its days; return the median day, milliseconds."""
    loads, rng = row.loads(), np.random.default_rng(row.number + 1)
    poses, spent = np.zeros((row.count, 6)), []
    begin = time.perf_counter()
    loads.engage(poses)
    first = time.perf_counter() - begin
    worst = 0.0
    for _ in range(DAYS):
        poses = poses + _motion(rng, row.count)
        begin = time.perf_counter()
        loads.evaluate(poses)
        loads.commit(poses)
        spent.append(1000 * (time.perf_counter() - begin))
        worst = max(worst, max(_left(loads, poses)))
    median, most = statistics.median(spent), float(np.percentile(spent, 95))
    number, change = loads.discretisation
    print(f"{row.count} slots: first equilibrium {first:.2f} s")
    print(f"  a day: median {median:.1f} ms, 95th percentile {most:.1f} ms")
    print(f"  {number} elements a span, {100 * change:.2f} % by half as many")
    print(f"  largest residual {worst:.1e} (N, and mm of gaps)")
    print(f"  brackets in contact: {100 * _touching(loads):.0f} %")
    return median


def _motion(rng: np.random.Generator, count: int) -> Array:
    """Return a motion of every bracket by `DAY` in a random direction, shape (count, 6)."""
    way = rng.normal(size=(count, 3))
    motion = np.zeros((count, 6))
    motion[:, :3] = DAY * way / np.linalg.norm(way, axis=1)[:, None]
    return motion


def _left(loads: WireLoads, poses: Array) -> tuple[float, float]:
    """Return what is out of balance, N, and left of gaps, mm."""
    return loads.trial(poses).worst


def _touching(loads: WireLoads) -> float:
    """Return the share of brackets that the wire touches as it was last committed."""
    held = loads.held
    pushed = held.what.contact.edges.slot[held.state.touches.push > 0]
    return len(np.unique(pushed)) / len(loads.brackets)


def robust(name: str, rows: list[Row]) -> None:
    """Print how many rows find no equilibrium in 25 days, and why."""
    reasons: Counter[str] = Counter()
    spent = []
    for row in rows:
        begin = time.perf_counter()
        try:
            _through(row)
        except (NotConvergedError, WireError) as error:
            stage = f"{type(error).__name__}: {str(error).split(':')[0][:70]}"
            reasons[stage] += 1
        spent.append(time.perf_counter() - begin)
    figures = f"median {statistics.median(spent):.1f} s, most {max(spent):.1f} s"
    print(f"{name}: {sum(reasons.values())} of {len(rows)} fail; {figures}")
    for reason, count in reasons.most_common():
        print(f"  {count} x {reason}")


def _through(row: Row) -> None:
    loads, rng = row.loads(), np.random.default_rng(row.number + 1)
    poses = np.zeros((row.count, 6))
    loads.engage(poses)
    for _ in range(DAYS):
        poses = poses + _motion(rng, row.count)
        loads.commit(poses)


def main() -> None:
    """Measure the figures one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=15, help="runs of a fibre update")
    parser.add_argument("--robust", type=int, default=0, help="random arches of each kind")
    options = parser.parse_args()
    print(f"{'milliseconds':<60}" + "".join(f"{column:>9}" for column in COLUMNS))
    for name, size, alloy in (
        ("0.014 in nickel-titanium", (0.014, 0.014), "nickel-titanium"),
        ("0.016 x 0.022 in nickel-titanium", (0.016, 0.022), "nickel-titanium"),
        ("0.018 x 0.025 in steel", (0.018, 0.025), "steel"),
    ):
        section = WireSection(size[0] * INCH, size[1] * INCH, round=size[0] == size[1])
        law = wire_law(section, library_alloy(alloy))
        measure(f"{name}: update of 14 000 fibres", fibres(law), options.repeat)
    mild, hard = (1.0, np.deg2rad(8.0)), (1.5, np.deg2rad(12.0))
    few = days_of(Row(SLOTS, *mild, number=2))
    many = days_of(Row(4 * SLOTS, *mild, number=2, spare=10.0))
    print(f"a day of four times as many slots takes {many / few:.1f} times as long")
    if options.robust:
        numbers = range(100, 100 + options.robust)
        robust("1 mm, 8 deg, no friction", [Row(SLOTS, *mild, number=n) for n in numbers])
        rubbing = [Row(SLOTS, *hard, number=n, friction=0.2) for n in numbers]
        robust("1.5 mm, 12 deg, friction 0.2", rubbing)


if __name__ == "__main__":
    main()
