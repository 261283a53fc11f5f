"""Days that a reader looks for. Verification: small made-up histories and runs."""

from types import SimpleNamespace

import numpy as np
import pytest

from gomphosis.bone.support import Resolution
from gomphosis.scenarios.files import parse_scenario
from gomphosis.scenarios.history import histories
from gomphosis.scenarios.key_times import (
    faded,
    first_for_good,
    first_openings,
    key_times,
    out_of_line,
)
from gomphosis.scenarios.run import run

COARSE = Resolution(along=8, root=2, ligament=2, bone=1, sectors=16)
HEAD = 'schema = 1\nduration = "{}"\nstep = "1 day"\n[rate]\nmax_speed = "60 um/day"\n'
HEAD += 'half_stress = "{}"\n'


def result_of(text):
    return run(parse_scenario(text, "test"), resolution=COARSE)


@pytest.mark.parametrize(
    ("holds", "day"),
    [
        ([0, 0, 1, 1], 2.0),
        ([1, 1, 1, 1], 0.0),
        ([1, 0, 0, 1], 3.0),  # once reached and lost again does not count
        ([1, 1, 1, 0], None),
    ],
)
def test_a_state_counts_from_when_it_lasts_to_the_end(holds, day):
    assert first_for_good(np.arange(4.0), np.array(holds, dtype=bool)) == day


def test_out_of_line_is_the_largest_step_between_neighbours():
    """Vertical and labial parts count, the mesial one and angles do not."""
    places = np.zeros((3, 2, 6))
    places[1, 0, 0] = -0.5  # vertical, of the middle one
    places[2, 1, 1] = 0.3  # labial, of the last one, at the second record
    places[0, :, 2] = places[0, :, 4] = 9.0
    found = [SimpleNamespace(position=place) for place in places]
    np.testing.assert_allclose(out_of_line(found), [0.5, 0.3], rtol=0, atol=1e-12)


def test_wires_visits_and_elastics_are_planned():
    text = HEAD.format("6 weeks", "1 kPa") + (
        "[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\n"
        '[[wire]]\nsize = "0.014 in"\n[[wire]]\nsize = "0.018 in"\ntied_in = "4 weeks"\n'
        '[[visit]]\nat = "2 weeks"\nreligate = true\n'
        '[[elastic]]\nkind = "elastic"\nteeth = [11, 21]\nforce = "9 gf"\n'
        'stiffness = "0 N/mm"\nput_on = "1 week"\n'
    )
    planned = SimpleNamespace(scenario=parse_scenario(text, "test"), cases=())
    found = [(key.day, key.kind, key.wire, key.words) for key in key_times(planned)]
    assert found == [
        (0.0, "wire", 0, ()),
        (7.0, "elastics", None, ()),
        (14.0, "visit", None, ("religated",)),
        (28.0, "wire", 1, ()),
    ]


def test_elastics_are_put_on_taken_off_and_lost():
    """At the start beside the wire, at a change of wire, and one for the other on one day."""
    pull = '[[elastic]]\nkind = "elastic"\nteeth = [11, 21]\nforce = "9 gf"\nstiffness = "0 N/mm"\n'
    text = HEAD.format("6 weeks", "1 kPa") + (
        "[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 21\n"
        '[[wire]]\nsize = "0.014 in"\n[[wire]]\nsize = "0.018 in"\ntied_in = "4 weeks"\n'
        f'{pull}taken_off = "2 weeks"\n'
        f'{pull}put_on = "1 week"\nlost = "3 weeks"\ntaken_off = "5 weeks"\n'
        f'{pull}put_on = "2 weeks"\n{pull}put_on = "4 weeks"\n'
    )
    planned = SimpleNamespace(scenario=parse_scenario(text, "test"), cases=())
    found = [(key.day, key.kind, key.put_on, key.taken_off, key.lost) for key in key_times(planned)]
    assert found == [
        (0.0, "wire", (), (), ()),
        (0.0, "elastics", (0,), (), ()),
        (7.0, "elastics", (1,), (), ()),
        (14.0, "elastics", (2,), (0,), ()),
        (21.0, "elastics", (), (), (1,)),
        (28.0, "wire", (), (), ()),
        (28.0, "elastics", (3,), (), ()),
    ]


def test_forces_fade_within_each_stage_for_itself():
    """The second stage starts with less force; the third does not fade for good; the fourth does
    so as the next change comes; nothing pulls in the fifth."""
    days = np.array([0, 1, 2, 3, 3, 4, 5, 5, 6, 7, 7, 8, 8, 9], dtype=float)
    period = np.array([0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4])
    force = np.array([5, 0.6, 0.5, 0.3, 2, 0.2, 0.1, 3, 0.2, 0.31, 1, 0.1, 0.01, 0.0])
    assert faded(days, period, force) == [2.0, 4.0]
    # at the end of the run there is no next change
    assert faded(days[:-2], period[:-2], force[:-2]) == [2.0, 4.0, 8.0]


@pytest.mark.slow
def test_teeth_come_into_line_and_the_force_fades():
    """A wire that fills its slots does both; an elastic comes and goes meanwhile."""
    text = HEAD.format("1 week", "0.2 kPa") + (
        '[[tooth]]\nnumber = 11\nvertical = "-0.4 mm"\n[[tooth]]\nnumber = 21\n'
        '[[wire]]\nsize = "0.021 x 0.025 in"\n'
        '[[elastic]]\nkind = "elastic"\nteeth = [11, 21]\nforce = "2 gf"\nstiffness = "0 N/mm"\n'
        'put_on = "3 days"\ntaken_off = "4 days"\n'
    )
    result = result_of(text)
    keys = key_times(result)
    planned = [(key.day, key.kind, key.case) for key in keys if key.case == ""]
    assert planned == [(0.0, "wire", ""), (3.0, "elastics", ""), (4.0, "elastics", "")]
    reached = {key.kind: key for key in keys if key.case == "wires"}
    (aligned,) = [key for key in keys if key.kind == "aligned"]
    assert aligned.threshold == 0.2 and set(reached) == {"aligned", "force_faded"}
    found = histories(result, result.cases[0])
    steps = out_of_line(found)
    days = result.cases[0].median.days
    assert steps[days >= aligned.day].max() <= 0.2 < steps[days < aligned.day].max()
    forces = [np.linalg.norm(history.at_bracket[:, :3], axis=1) for history in found]
    largest = np.max(forces, axis=0)
    (fading,) = [key for key in keys if key.kind == "force_faded"]
    first = (days < fading.day) | (days == 0)
    assert fading.day < 3.0 and largest[first].min() > 0.1 * largest[0]
    assert largest[days == fading.day].max() <= 0.1 * largest[0]
    assert [key.day for key in keys] == sorted(key.day for key in keys)


def test_first_opening_of_each_side_is_that_of_the_track():
    text = HEAD.format("12 days", "8 kPa") + (
        '[[tooth]]\nnumber = 11\n[[force]]\ntooth = 11\nforce = "30 cN"\ndirection = "labial"\n'
        'moment_to_force = "8 mm"\n[slice]\nteeth = [11]\nspacing = "0.15 mm"\n'
        'front = { crest = "0.3 mm", middle = "0.5 mm" }\n'
    )
    result = result_of(text)
    (opened,) = result.cases[0].slices
    first = min(o.first_day for o in opened.track.openings if o.side == 1)
    assert first_openings(opened) == {"labial": first}
    (key,) = [key for key in key_times(result) if key.kind == "plate_opens"]
    assert (key.day, key.tooth, key.side) == (first, 11, "labial")
    assert 0 < first < 12
