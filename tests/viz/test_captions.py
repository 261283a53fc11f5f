"""Verification of what films say: of a lesson its own words, else what happens, at its time."""

from dataclasses import replace

import numpy as np
import pytest

from gomphosis.scenarios.elastic_tables import Elastic
from gomphosis.scenarios.files import ScenarioError, case_names, find_scenario, parse_scenario
from gomphosis.scenarios.key_times import key_times
from gomphosis.scenarios.lesson_tables import Caption, Lesson
from gomphosis.scenarios.visit_tables import Visit
from gomphosis.viz.captions import Captions
from gomphosis.viz.film import Film
from gomphosis.viz.film_canvas import CAPTION_LINES, SAID, font, wrapped
from gomphosis.viz.film_layout import CAPTION, FOOT, MARGIN, WIDTH


def with_lesson(result, *captions):
    lesson = Lesson(aim="a", question="q", caption=[{"at": at, "text": t} for at, t in captions])
    scenario = result.scenario.model_copy(update={"lesson": lesson})
    return replace(result, scenario=scenario)


def test_a_run_tells_what_happens_from_the_day_on(wires):
    captions = Captions(wires)
    assert captions.at(0.0).startswith("Wire 1, 0.014 in nickel-titanium, is tied in. The wire ")
    assert captions.at(13.9) == captions.entries[0][1]
    assert captions.at(14.0).startswith("Wire 2, 0.017 × 0.025 in nickel-titanium, is tied in.")
    days = [day for day, _ in captions.entries]
    assert days == sorted({key.day for key in key_times(wires)} | {0.0})


def test_elastics_are_named_as_they_come_and_go(wires):
    """Beside a wire that only guides, it is not the wire that takes the teeth with it."""
    common = {"teeth": [11, 12], "force": "100 gf", "stiffness": "0 N/mm"}
    ring = Elastic(kind="elastic", taken_off="1 week", **common)
    coil = Elastic(kind="coil-spring", put_on="1 week", lost="3 weeks", **common)
    scenario = wires.scenario.model_copy(update={"elastic": (ring, coil)})
    captions = Captions(replace(wires, scenario=scenario))
    assert "is tied in. Elastic 11–12 is put on. Teeth that are pulled" in captions.at(0.0)
    assert "The wire straightens" not in captions.at(0.0)
    assert captions.at(7.0) == "Elastic 11–12 is taken off. Coil spring 11–12 is put on."
    assert captions.at(21.0) == "Coil spring 11–12 is lost."
    later = wires.scenario.model_copy(update={"elastic": (coil,)})
    assert "The wire straightens" in Captions(replace(wires, scenario=later)).at(0.0)


def test_a_visit_says_what_is_done_to_the_wire_and_on_which_teeth(wires):
    tip = [{"tooth": tooth, "tip": "2 deg"} for tooth in (11, 21)]
    visits = (
        {"at": "1 week", "rebond": tip[:1]},
        {"at": "9 days", "rebond": tip, "religate": True},
        {"at": "3 weeks", "religate": True},
    )
    visit = tuple(Visit.model_validate(table) for table in visits)
    scenario = wires.scenario.model_copy(update={"visit": visit})
    period = np.zeros(len(wires.cases[0].median.days), dtype=int)
    track = replace(wires.cases[0].median, period=period)
    case = replace(wires.cases[0], tracks={0.5: track})
    captions = Captions(replace(wires, scenario=scenario, cases=(case,)))
    assert captions.at(7.0) == "The bracket of tooth 11 is bonded anew."
    assert captions.at(9.0) == (
        "At this visit the wire is religated. The brackets of teeth 11 and 21 are bonded anew."
    )
    assert captions.at(21.0).startswith("At this visit the wire is religated.")
    assert "bonded" not in captions.at(21.0)


def test_prescribed_forces_are_explained(forces):
    assert Captions(forces).at(3.0).startswith("A constant force presses the ligament")


def test_a_plate_that_opens_is_said_on_its_day(slices):
    captions = Captions(slices)
    opened = [key for key in key_times(slices) if key.kind == "plate_opens"]
    assert opened
    for key in opened:
        assert f"The {key.side} plate of tooth {key.tooth} lies open" in captions.at(key.day)
        assert f"The {key.side} plate" not in captions.at(key.day - 0.5)
    assert captions.story()[0] == opened[0].day


def test_a_lesson_says_its_own_words(wires):
    captions = Captions(with_lesson(wires, ("1 week", "first"), ("2 weeks", "second")))
    said = [captions.at(day) for day in (0.0, 6.9, 7.0, 13.9, 14.0, 28.0)]
    assert said == ["", "", "first", "first", "second", "second"]
    assert captions.story() == [7.0, 14.0]


def test_the_frame_shows_the_caption_of_its_day(wires):
    film = Film(with_lesson(wires, ("0 days", "Look here."), ("1 week", "And now here.")))
    height = film.layout.height
    strips = [
        film.frame(r).crop((0, height - FOOT - CAPTION, WIDTH, height - FOOT)) for r in (0, 6, 7)
    ]
    assert strips[0].tobytes() == strips[1].tobytes() != strips[2].tobytes()


def test_every_shipped_caption_fits_under_its_film():
    found = 0
    for name in case_names():
        lesson = find_scenario(name).lesson
        for caption in () if lesson is None else lesson.captions:
            lines = wrapped(caption.text, WIDTH - 2 * MARGIN, size=SAID)
            assert len(lines) <= CAPTION_LINES, (name, caption.text)
            assert max(font(SAID).getlength(line) for line in lines) <= WIDTH - 2 * MARGIN
            found += 1


BASE = (
    'schema = 1\nduration = "2 weeks"\n[[tooth]]\nnumber = 11\n[[tooth]]\nnumber = 12\n'
    '[lesson]\naim = "a"\n'
)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "a.toml: lesson.question is missing; accepted: text in quotes"),
        ('question = "q"\nfree_body = 21\n', "lesson.free_body = 21 is not among the teeth"),
        (
            'question = "q"\n[[lesson.caption]]\nat = "3 weeks"\ntext = "t"\n',
            'lesson.caption[1].at = "3 weeks" is not within the duration; accepted: at most 14',
        ),
        (
            'question = "q"\n[[lesson.caption]]\nat = "1 week"\ntext = "t"\n'
            '[[lesson.caption]]\nat = "7 days"\ntext = "t"\n',
            'lesson.caption[2].at = "7 days" is not after the caption before it',
        ),
    ],
)
def test_a_bad_lesson_is_refused_in_one_line(text, told):
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(BASE + text, "a.toml")
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_caption_keeps_its_day():
    assert Caption(at="2 weeks", text="t").at == 14.0


FORCES = "".join(
    f'[[force]]\ncase = "{case}"\ntooth = 11\nforce = "20 cN"\ndirection = "labial"\n'
    for case in ("light", "heavy")
)


@pytest.mark.parametrize(
    ("forces", "accepted"),
    [
        (FORCES, 'accepted: "light" or "heavy"'),
        ("", "accepted: none, where no forces are prescribed"),
    ],
)
def test_a_caption_speaks_of_a_case_of_its_scenario(forces, accepted):
    told = 'question = "q"\n[[lesson.caption]]\nat = "1 week"\ntext = "t"\ncase = "{}"\n'
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(BASE + told.format("Light") + forces, "a.toml")
    assert 'lesson.caption[1].case = "Light" is not a case of this scenario' in str(caught.value)
    assert accepted in str(caught.value) and "\n" not in str(caught.value)
    if forces:
        kept = parse_scenario(BASE + told.format("light") + forces, "a.toml").lesson
        assert kept.captions[0].case == "light"


def test_stills_show_wires_before_what_follows_from_them(wires):
    kinds = {key.kind for key in key_times(wires)}
    assert {"wire", "aligned"} <= kinds
    tied = [key.day for key in key_times(wires) if key.kind == "wire"]
    assert Captions(wires).story()[: len(tied)] == tied
    assert len(Captions(wires).story()) > len(tied)
