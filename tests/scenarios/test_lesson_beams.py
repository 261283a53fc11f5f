"""The lesson of two brackets against the theory of beams.

Verification: a beam clamped in two brackets without width (slope-deflection, derived here; the
ratios agree with Burstone CJ, Koenig HA, AJODO 1988;93:59-67), and the same beam in slots of some
width and play, on teeth that the ligament lets give. What the first leaves out the second explains.
"""

from dataclasses import dataclass

import numpy as np
import pytest

from gomphosis.bone.directions import to_trade
from gomphosis.bone.rates import Linear
from gomphosis.bone.support import motion_at
from gomphosis.scenarios.files import find_scenario, scenario_from
from gomphosis.scenarios.model import ToothModel, tooth_models
from gomphosis.scenarios.wire_preview import wire_preview

HALF_WAY, THIRD, STEP = range(3)
KINK = np.deg2rad(12.0)


@dataclass(frozen=True)
class Beam:
    """A bent beam that rests on the two edges of each of two slots.

    `kinks` are turns and `steps` are displacements of the unloaded beam at its only inner node,
    as seen by one who walks towards rising places.
    """

    stiffness: float
    places: tuple[float, float]
    width: float
    gap: float
    give: tuple[np.ndarray, np.ndarray]
    at: float
    kink: float = 0.0
    step: float = 0.0

    def wrenches(self) -> np.ndarray:
        """Vertical force and moment on each tooth about its slot's centre, shape (2, 2)."""
        half = 0.5 * self.width
        offset = np.array([-half, half, -half, half])
        edges = np.repeat(self.places, 2) + offset
        nodes = np.array([edges[0], edges[1], self.at, edges[2], edges[3]])
        energy = np.zeros((14, 14))
        pull = np.zeros(14)
        jump = np.array([self.step, self.kink])
        for k in range(4):
            dofs = np.arange(2 * k, 2 * k + 4)
            part = _element(self.stiffness, nodes[k + 1] - nodes[k])
            energy[np.ix_(dofs, dofs)] += part
            if k == 2:  # its first end is displaced by the jump before it is loaded
                pull[dofs] -= part[:, :2] @ jump
        for k in range(2):
            energy[10 + 2 * k : 12 + 2 * k, 10 + 2 * k : 12 + 2 * k] = np.linalg.inv(self.give[k])
        tied = np.zeros((4, 14))
        for k, node in enumerate((0, 1, 3, 4)):
            tied[k, 2 * node] = 1.0
            tied[k, 10 + 2 * (k // 2)] = -1.0
            tied[k, 11 + 2 * (k // 2)] = -offset[k]
        push = np.zeros(4)
        for _ in range(5):
            whole = np.block([[energy, tied.T], [tied, np.zeros((4, 4))]])
            # a wall that is pushed up lies half the gap above the middle of the slot
            walls = 0.5 * self.gap * np.sign(push)
            push = np.linalg.solve(whole, np.concatenate([pull, walls]))[14:]
        pairs = push.reshape(2, 2)
        return np.stack([pairs.sum(axis=1), pairs @ offset[:2]], axis=1)


def _element(stiffness: float, span: float) -> np.ndarray:
    """Stiffness of a slender beam: displacement and slope of its two ends."""
    s = span
    rows = [[12, 6 * s, -12, 6 * s], [6 * s, 4 * s**2, -6 * s, 2 * s**2]]
    rows += [[-12, -6 * s, 12, -6 * s], [6 * s, 2 * s**2, -6 * s, 4 * s**2]]
    return stiffness / s**3 * np.array(rows)


def vertical_give(tooth: ToothModel) -> np.ndarray:
    """Compliance of a tooth at its slot, for vertical force and moment in the plane of the arch."""
    motion = motion_at(tooth.slot)
    return (motion @ tooth.support.compliance @ motion.T)[np.ix_([2, 3], [2, 3])]


@pytest.fixture(scope="module")
def scenario():
    return find_scenario("lesson-two-brackets")


def at_tie_in(scenario):
    """Tip moments at both slots and vertical forces there, by wire."""
    loads = wire_preview(scenario)["loads"].values()
    systems = [[t["force_system_at_bracket"] for t in load["teeth"].values()] for load in loads]
    return [
        (a["tip_moment_Nmm"], b["tip_moment_Nmm"], a["extrusion_N"], b["extrusion_N"])
        for a, b in systems
    ]


@pytest.fixture(scope="module")
def tied(scenario):
    return at_tie_in(scenario)


@pytest.fixture(scope="module")
def smooth(scenario):
    """The same wires without friction."""
    document = scenario.document()
    for wire in document["wire"]:
        wire["friction"] = 0.0
    return at_tie_in(scenario_from(document, "test"))


@pytest.fixture(scope="module")
def rigidity(scenario):
    wire = scenario.wires[0]
    return wire.cross_section.second_order_inertia * wire.alloy_constants.young


def test_theory_of_beams_is_that_of_the_textbook():
    """Rigid teeth, slots of no width: M_A = (2 EI t/L)(2 - 3 a/L), M_B = (2 EI t/L)(1 - 3 a/L)."""
    still = (np.eye(2) * 1e-12, np.eye(2) * 1e-12)
    for share in (0.2, 1 / 3, 0.5):
        beam = Beam(100.0, (0.0, 20.0), 1e-4, 0.0, still, 20.0 * share, kink=0.1)
        # of the brackets on the beam
        near, far = -beam.wrenches()[:, 1]
        unit = 2 * 100.0 * 0.1 / 20.0
        np.testing.assert_allclose(near, unit * (2 - 3 * share), rtol=1e-3)
        np.testing.assert_allclose(far, unit * (1 - 3 * share), rtol=0, atol=1e-3 * unit)
    beam = Beam(100.0, (0.0, 20.0), 1e-4, 0.0, still, 10.0, step=0.5)
    np.testing.assert_allclose(np.abs(beam.wrenches()[:, 1]), 6 * 100 * 0.5 / 400, rtol=1e-3)
    np.testing.assert_allclose(np.abs(beam.wrenches()[:, 0]), 12 * 100 * 0.5 / 8000, rtol=1e-3)


def test_ratios_of_moments_are_near_those_of_the_textbook(tied, rigidity, scenario):
    """Same teeth in trade words: opposite senses have the same sign on both sides of the mouth.

    The tolerances are what the next test accounts for: give of the ligament, width and play; and
    friction, which holds the wire where it was tied in.
    """
    unit = 2 * rigidity * KINK / 23.5
    near, far, up, _ = tied[HALF_WAY]
    np.testing.assert_allclose([near, far], 0.5 * unit, rtol=0.02)
    assert abs(up) < 0.01 * near / 23.5 * 2
    near, far, up, _ = tied[THIRD]
    np.testing.assert_allclose(near, unit, rtol=0.05)
    assert abs(far / near) < 0.03
    np.testing.assert_allclose(abs(up), unit / 23.5, rtol=0.08)
    near, far, up, _ = tied[STEP]
    step = 6 * rigidity / 23.5**2
    np.testing.assert_allclose([near, -far], step, rtol=0.10)
    np.testing.assert_allclose(abs(up), 2 * step / 23.5, rtol=0.10)


@pytest.mark.slow
@pytest.mark.parametrize("wire", [HALF_WAY, THIRD, STEP])
def test_what_the_textbook_leaves_out_explains_the_rest(smooth, rigidity, scenario, wire):
    """Without friction, within 0.6 % of the largest moment: the bend is not infinitely small."""
    teeth = tooth_models(scenario, Linear(1.0))
    low, high = sorted(teeth, key=lambda tooth: tooth.place)
    beam = Beam(
        rigidity,
        (low.place, high.place),
        scenario.slot.width,
        scenario.slot.height - scenario.wires[0].cross_section.height,
        (vertical_give(low), vertical_give(high)),
        high.place - (7.833 if wire == THIRD else 11.75),
        **({"step": -1.0} if wire == STEP else {"kink": KINK}),
    )
    expected = {}
    for tooth, (force, moment) in zip((low, high), beam.wrenches(), strict=True):
        words = to_trade(tooth.number, np.array([0.0, 0.0, force, moment, 0.0, 0.0]))
        expected[tooth.number] = (words[3], words[0])
    moments, forces = np.array([expected[tooth.number] for tooth in teeth]).T
    scale = np.abs(moments).max()
    np.testing.assert_allclose(smooth[wire][:2], moments, rtol=0, atol=0.006 * scale)
    np.testing.assert_allclose(smooth[wire][2:], forces, rtol=0, atol=0.006 * scale / 11.75)
