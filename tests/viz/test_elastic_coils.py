"""Verification of elastics in films: where coils end, when they are on, that they are seen."""

import numpy as np
import pytest

from gomphosis.scenarios.surfaces import tooth_placements
from gomphosis.viz import palette
from gomphosis.viz.arch_film import ArchFilm
from gomphosis.viz.elastic_coils import OUT, POINTS, RADIUS, Coils, coil
from gomphosis.viz.film import Film

A, B = np.array([1.0, 2.0, 3.0]), np.array([4.0, 6.0, 3.5])


def test_a_coil_runs_from_end_to_end_about_its_line():
    line = coil(A, B)
    assert line.shape == (POINTS, 3)
    assert line[0] == pytest.approx(A, abs=1e-12) and line[-1] == pytest.approx(B, abs=1e-12)
    along = (B - A) / np.linalg.norm(B - A)
    across = (line - A) - np.outer((line - A) @ along, along)
    reach = np.linalg.norm(across, axis=1)
    assert reach.max() == pytest.approx(RADIUS, rel=1e-9)
    assert np.all(np.diff((line - A) @ along) > 0)


def test_a_coil_without_length_is_a_point():
    assert coil(A, A) == pytest.approx(np.broadcast_to(A, (POINTS, 3)))


def expected(scenario, day):
    """Return which links are on at a day, from the file alone."""
    return [
        elastic.put_on <= day < elastic.off
        for elastic in scenario.elastic
        for _ in elastic.teeth[1:]
    ]


def test_coils_are_on_from_the_day_they_are_put_on_until_they_come_off(chained):
    coils, track = Coils(chained), chained.cases[0].median
    found = set()
    for day, period in zip(track.days, track.period, strict=True):
        # a day of a change stands twice, before and after it
        if np.sum(track.days == day) == 1:
            acting = coils.acting(int(period))
            assert list(acting) == expected(chained.scenario, day), day
            found.add(acting)
    assert len(found) > 1


def test_coils_end_on_the_brackets_of_their_teeth(chained):
    film = ArchFilm(chained, (0,), True)
    state = film.stand.states[0][0]
    coils = Coils(chained)
    places = tooth_placements(chained.teeth, chained.cases[0], 0)
    on = 0
    for line, (_, a, b), acts in zip(state.coils, coils.links, coils.acting(0), strict=True):
        for end, k in ((line[0], a), (line[-1], b if acts else a)):
            hook = places[k].points(chained.teeth[k].slot) + OUT * places[k].turn[:, 0]
            assert end == pytest.approx(hook, abs=1e-9)
        on += acts
    assert on


def green(picture):
    pixels = np.asarray(picture).astype(int)
    return int((np.abs(pixels - palette.rgb(palette.SERIES[4])).max(axis=-1) < 8).sum())


@pytest.mark.parametrize("on", [True, False])
def test_coils_are_seen_while_they_are_on(chained, on, monkeypatch):
    if not on:
        monkeypatch.setattr(Coils, "acting", lambda self, _: (False,) * len(self.links))
    pictures = (Film(chained).frame(0), ArchFilm(chained, (0,), True).frame(0))
    for picture in pictures:
        assert (green(picture) > 100) if on else (green(picture) == 0)
