"""Shipped lessons: every caption is rebuilt from a run of its own scenario, number by number.

Verification of what the captions say against the model itself; published numbers in them are those
of the library. A caption that is not rebuilt here is a defect.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from time import process_time

import numpy as np
import pytest

from gomphosis.bone.library import lookup
from gomphosis.scenarios.files import case_names, find_scenario
from gomphosis.scenarios.history import ToothHistory, histories
from gomphosis.scenarios.play import torsional_play
from gomphosis.scenarios.result import RunResult
from gomphosis.scenarios.run import run

KILO = 1e3
LABIAL, TIP, TORQUE = 1, 3, 4


@dataclass(frozen=True)
class Facts:
    """A finished lesson, asked for its quantities, and the processor's seconds it took."""

    result: RunResult
    seconds: float

    def of(self, case: int = 0, tooth: int = 0) -> ToothHistory:
        return histories(self.result, self.result.cases[case])[tooth]

    @property
    def by_case(self) -> list[ToothHistory]:
        return [self.of(case) for case in range(len(self.result.cases))]

    @property
    def by_tooth(self) -> list[ToothHistory]:
        return list(histories(self.result, self.result.cases[0]))

    @property
    def reach(self) -> list[float]:
        """From the bracket to the centre of resistance, mm."""
        return [tooth.slot[2] - tooth.centre_of_resistance for tooth in self.result.teeth]


def at(history: ToothHistory, day: float) -> int:
    """Return the last record of a day: after a change of wire."""
    return int(np.flatnonzero(np.isclose(history.days, day))[-1])


def edge(history: ToothHistory, day: float) -> float:
    return float(np.linalg.norm(history.crown[at(history, day)]))


def apex(history: ToothHistory, day: float) -> float:
    return float(np.linalg.norm(history.apex[at(history, day)]))


def degrees(history: ToothHistory, day: float) -> float:
    return float(np.rad2deg(history.position[at(history, day)][TORQUE]))


def light_forces(facts: Facts) -> list[str]:
    light, middle, heavy = facts.by_case
    p = [KILO * h.peak_pressure[0] for h in (light, middle, heavy)]
    above = [100 * h.above_line[0] for h in (light, middle, heavy)]
    moved = [edge(h, 7) for h in (light, middle, heavy)]
    alike = lookup("force_and_rate.theodorou_similar").numbers
    same, rise = (lookup(f"force_and_rate.van_leeuwen_{name}").numbers for name in ("same", "rise"))
    line = lookup("pressure_line.capillary")
    assert line.status == "secondary source"
    np.testing.assert_allclose([p[1] / p[0], p[2] / p[0]], [3, 9], rtol=1e-9)
    for h in (light, middle, heavy):
        np.testing.assert_allclose(h.moment_to_force[0, 0], facts.reach[0], rtol=1e-9)
        assert h.movement[-1] == "translation"
    rate = facts.result.scenario.rate
    assert rate.law == "saturating"
    assert rate.overload_pressure is None
    assert "Theodorou" in lookup("force_and_rate.theodorou_similar").source
    assert "2010" in lookup("force_and_rate.van_leeuwen_rise").source
    return [
        "One tooth under 25, 75 and 225 cN. The moment in N·mm is "
        f"{facts.reach[0]:.1f} times the force in N, so that the tooth moves upright.",
        f"Pressure grows with the force: {p[0]:.1f}, {p[1]:.1f}, {p[2]:.1f} kPa are exceeded on 1 "
        f"% of the wall. Above the published line of {line.number:g} kPa (secondary source) lie "
        f"{above[0]:.0f}, {above[1]:.0f}, {above[2]:.0f} % of it.",
        f"After a week the edges have moved {moved[0]:.2f}, {moved[1]:.2f} and {moved[2]:.2f} mm: "
        f"{moved[2] / moved[0]:.1f} times for nine times the force. The fitted law of speed "
        "saturates.",
        f"Measurements conflict. Rates alike from {alike[0]:g} to {alike[1]:g} cN: Theodorou 2019. "
        f"Dogs, van Leeuwen 2010: alike at {same[0]:g} and {same[1]:g} cN, faster at {rise[1]:g} "
        f"than at {rise[0]:g} cN.",
        "Not seen here: resorption of the root. Nor ligament that is crushed, so that bone stands "
        "still and goes from behind: that is in the model only if a file asks for the lag.",
    ]


def tipping_and_bodily(facts: Facts) -> list[str]:
    none, half, bodily, more = facts.by_case
    forces = [h.at_bracket[0, LABIAL] for h in facts.by_case]
    np.testing.assert_allclose(forces, -0.2, rtol=1e-9)
    first, second = none.rotation_centre[at(none, 1), 0], half.rotation_centre[at(half, 2), 0]
    above = -more.rotation_centre[at(more, 5), 0]
    tip = facts.result.teeth[0].embedded
    ratio = bodily.moment_to_force[0, 0]
    # half of the moment, and less than half of the way to the apex
    assert abs(half.moment_to_force[0, 0] / ratio - 0.5) < 0.01
    assert 0 < second - first < 0.5 * (tip - first)
    for h, day in ((none, 1), (half, 2)):
        crown, root = h.crown[at(h, day), LABIAL], h.apex[at(h, day), LABIAL]
        assert crown < 0 < root
    crown, root = more.crown[at(more, 5), LABIAL], more.apex[at(more, 5), LABIAL]
    assert root < 0 < crown
    assert abs(root) > abs(crown)
    assert np.isnan(bodily.rotation_centre[:, 0]).all()
    return [
        f"The same {100 * abs(forces[0]):.0f} cN pulls all four inward at the bracket. Only the "
        "moment that holds the crown back differs. M/F is moment over force, in mm.",
        "M/F 0: the crown goes with the force and the tip of the root against it. What stands "
        f"still lies in the root, {first:.1f} mm from the bone crest.",
        f"M/F {half.moment_to_force[0, 0]:.0f} mm, half of what keeps it upright: the tooth still "
        f"tips. What stands still has come only {second - first:.1f} mm nearer to the root's tip, "
        f"which lies {tip:.0f} mm from the crest.",
        f"Bodily: M/F {ratio:.1f} mm, the distance from bracket to centre of resistance. Edge and "
        f"tip of the root move alike: {edge(bodily, 4):.2f} and {apex(bodily, 4):.2f} mm after 4 "
        "days.",
        f"M/F {more.moment_to_force[0, 0]:.0f} mm: after 5 days the root leads by "
        f"{apex(more, 5):.2f} mm, the edge has gone {edge(more, 5):.2f} mm the other way. What "
        f"stood still lies {above:.1f} mm from the crest, towards the crown.",
    ]


def torque_and_play(facts: Facts) -> list[str]:
    middle = facts.by_tooth[1]
    lean = degrees(middle, 0)
    slot, wires = facts.result.scenario.slot, facts.result.scenario.wires
    plays = [np.rad2deg(torsional_play(wire.cross_section, slot.height)) for wire in wires]
    assert plays[0] == np.inf
    assert plays[1] > plays[2] > lean > 2 * plays[3] > plays[3]
    before = middle.period < 3
    for h in facts.by_tooth:
        assert np.abs(h.at_bracket[before]).max() < 1e-3
        assert np.abs(h.crown[before]).max() < 1e-3
    start, week, end = ([at(h, day) for h in facts.by_tooth] for day in (21, 28, 40))
    torque = [h.at_bracket[k, TORQUE] for h, k in zip(facts.by_tooth, start, strict=True)]
    assert torque[1] < 0 < min(torque[0], torque[2])
    rest = middle.at_bracket[week[1], TORQUE]
    for h in facts.by_tooth:
        assert apex(h, 28) > edge(h, 28)
        assert abs(h.at_bracket[end[1], TORQUE]) < 0.05
    later = [degrees(h, 28) for h in facts.by_tooth]
    leans = [degrees(h, 40) for h in facts.by_tooth]
    others = 0.5 * (leans[0] + leans[2])
    assert abs(leans[1] - others - 2 * plays[3]) < 0.05
    return [
        f"The middle crown leans outward by {lean:.0f}°, its neighbours do not. A round wire, "
        "0.018 in, turns freely in their slots: it passes on no torque, and nothing moves.",
        f"Rectangular, 0.017 × 0.025 in: it turns by {plays[1]:.1f}° in a slot, one way, before "
        f"two walls hold it. That is its play. {lean:.0f}° is less: still no torque.",
        f"0.019 × 0.025 in: {plays[2]:.1f}° of play, in the slots of the neighbours as well. Still "
        "no torque.",
        f"0.021 × 0.025 in: {plays[3]:.1f}° of play in each slot, {2 * plays[3]:.1f}° from tooth "
        f"to tooth. {lean:.0f}° is more. As it is tied in, {abs(torque[1]):.1f} N·mm turn this "
        f"root outward, {torque[0]:.1f} and {torque[2]:.1f} those beside it inward.",
        f"A week later {abs(rest):.1f} N·mm are left. The middle tooth leans {later[1]:.1f}°, its "
        f"neighbours {later[0]:.1f} and {later[2]:.1f}°. Roots have moved more than edges.",
        f"The torque is gone: {leans[1]:.1f}° less {others:.1f}° are {leans[1] - others:.1f}°, "
        "the play in two slots. A wire that does not fill its slots leaves that much.",
    ]


def two_brackets(facts: Facts) -> list[str]:
    near, far = facts.by_tooth
    places = [tooth.place for tooth in facts.result.teeth]
    span = abs(places[0] - places[1])
    wire = facts.result.scenario.wires[0]
    rigidity = wire.cross_section.second_order_inertia * wire.alloy_constants.young
    unit = 2 * rigidity * np.deg2rad(12) / span
    moments = {day: [h.at_bracket[at(h, day), TIP] for h in (near, far)] for day in (0, 7, 14)}
    lifts = {day: [h.at_bracket[at(h, day), 0] for h in (near, far)] for day in (0, 7, 14)}
    # trade words: the same sign on both sides of the mouth is the opposite sense
    assert min(moments[0]) > 0
    assert moments[14][0] > 0 > moments[14][1]
    assert abs(moments[0][0] / moments[0][1] - 1) < 0.02
    assert max(map(abs, lifts[0])) < 0.005
    assert lifts[7][0] < 0 < lifts[7][1]
    for day in moments:
        # forces sum to zero, and so do moments: about the near slot, far tooth in the same sense
        a, b = moments[day]
        assert abs(sum(lifts[day])) < 1e-6
        np.testing.assert_allclose(a - b + span * lifts[day][0], 0.0, atol=0.01)
    assert {place.speed_factor for place in facts.result.scenario.teeth} == {0.01}
    step = 6 * rigidity / span**2
    return [
        f"A bend of 12° half-way: {moments[0][0]:.2f} and {moments[0][1]:.2f} N·mm, equal and "
        "opposite but for friction, and hardly any vertical force. Theory of a beam: "
        f"{0.5 * unit:.2f} N·mm each, and none.",
        "For this lesson both teeth are slowed to a hundredth, so that every wire finds them in "
        "nearly the same place: nothing but the bend differs.",
        f"The bend at a third: {moments[7][0]:.2f} N·mm on the near tooth, {moments[7][1]:.2f} on "
        f"the far one. Theory: {unit:.2f} and 0. The price: {lifts[7][1]:.2f} N push the near "
        "tooth in and pull the far one out.",
        f"A step of 1 mm: {moments[14][0]:.2f} and {abs(moments[14][1]):.2f} N·mm of one sense, "
        f"with {lifts[14][1]:.2f} N in on one tooth and out on the other. Theory: {step:.2f} N·mm "
        f"and {2 * step / span:.2f} N.",
        "Exact for any bend: forces on both teeth sum to zero, and moments too. Not exact: the "
        "theory's numbers, since ligament gives and slots have width, play and friction.",
    ]


def bone_loss(facts: Facts) -> list[str]:
    whole, three, six = facts.by_tooth
    scenario = facts.result.scenario
    assert [scenario.crest_loss(place) for place in scenario.teeth] == [0.0, 3.0, 6.0]
    force = whole.at_bracket[0, LABIAL]
    moment = whole.at_bracket[0, TORQUE]
    for h in (three, six):
        np.testing.assert_allclose(h.at_bracket[0], whole.at_bracket[0], atol=1e-12)
    assert whole.movement[-1] == "translation"
    assert three.movement[-1] == six.movement[-1] == "controlled tipping"
    depths = [h.rotation_centre[at(h, 5), 0] for h in (three, six)]
    p = [KILO * h.peak_pressure[0] for h in facts.by_tooth]
    moved = [edge(h, 9) for h in facts.by_tooth]
    assert min(depths) > 0
    # from the incisal edge, and so in the tooth itself, the centre lies farther towards the apex
    assert facts.reach[0] < facts.reach[1] < facts.reach[2]
    reach = facts.reach
    return [
        f"One incisor with 0, 3 and 6 mm of bone lost. Each feels {100 * abs(force):.0f} cN inward "
        f"and {moment:.1f} N·mm at the bracket: M/F {abs(moment / force):.0f} mm, which moves the "
        "whole one bodily.",
        "With less bone the centre of resistance lies nearer to the root's tip: "
        f"{reach[0]:.1f}, {reach[1]:.1f} and {reach[2]:.1f} mm from the bracket. That is the M/F "
        "each needs to move bodily.",
        "So the same M/F is too little for the other two. They tip, about points "
        f"in the root, {depths[0]:.1f} and {depths[1]:.1f} mm from their own crests.",
        f"The same load presses more on less root: {p[0]:.1f}, {p[1]:.1f}, {p[2]:.1f} kPa are "
        f"exceeded on 1 % of the wall. After 9 days the edges have moved {moved[0]:.1f}, "
        f"{moved[1]:.1f} and {moved[2]:.1f} mm.",
        "The model takes bone away evenly all around the root. In a mouth the loss is uneven, and "
        "so is what holds the tooth.",
    ]


CAPTIONS: dict[str, Callable[[Facts], list[str]]] = {
    "lesson-light-forces": light_forces,
    "lesson-tipping-and-bodily": tipping_and_bodily,
    "lesson-torque-and-play": torque_and_play,
    "lesson-two-brackets": two_brackets,
    "lesson-bone-loss": bone_loss,
}
QUICK = ("lesson-light-forces", "lesson-tipping-and-bodily", "lesson-bone-loss")


@cache
def facts_of(name: str) -> Facts:
    begin = process_time()
    result = run(find_scenario(name))
    return Facts(result, process_time() - begin)


def test_every_lesson_has_its_test():
    assert {name for name in case_names() if name.startswith("lesson-")} == set(CAPTIONS)


@pytest.mark.parametrize(
    "name",
    [n if n in QUICK else pytest.param(n, marks=pytest.mark.slow) for n in CAPTIONS],
)
def test_captions_say_what_the_run_does(name: str):
    facts = facts_of(name)
    lesson = facts.result.scenario.lesson
    assert lesson is not None
    assert [caption.text for caption in lesson.captions] == CAPTIONS[name](facts)


@pytest.mark.slow
@pytest.mark.parametrize("name", CAPTIONS)
def test_lessons_are_quick(name: str):
    """An engineering bar: a class does not wait. Other work on the machine is not counted."""
    assert facts_of(name).seconds < 15.0


@pytest.mark.parametrize("name", CAPTIONS)
def test_lessons_are_marked_and_named(name: str):
    scenario = find_scenario(name)
    assert scenario.invented
    assert scenario.title.endswith("(invented)")
    assert scenario.lesson is not None
    assert scenario.lesson.free_body in [place.number for place in scenario.teeth]
