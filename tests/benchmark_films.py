"""Time the film of the arch; by hand: python tests/benchmark_films.py [--flat] [--frames 60]

Frames, GIF, MP4 and sheet of a shipped case are made in a folder that is thrown away; the run
itself and the probe of the renderer are not counted. Time of the processor, with that of the
encoder, which is a process of its own, stands beside time on the clock. Numbers belong to the
machine they were measured on, so none is kept here and no test is timed.
"""

import argparse
import os
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from gomphosis.scenarios.files import find_scenario
from gomphosis.scenarios.run import run
from gomphosis.viz.animation import frame_records
from gomphosis.viz.arch_film import ArchFilm
from gomphosis.viz.film_files import Movie, save_gif, save_mp4, save_sheet
from gomphosis.viz.scene_probe import trouble


def used() -> float:
    """Return the processor's time of this process and of its finished children, s."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def timed(name: str, task: Callable[[], object]) -> tuple[object, float, float]:
    """Run a task, print its times in seconds, and return what it returns with them."""
    begin, before = time.perf_counter(), used()
    found = task()
    wall, process = time.perf_counter() - begin, used() - before
    print(f"{name:<28}{process:>12.2f}{wall:>10.2f}")
    return found, process, wall


def main() -> None:
    """Print a row for every part of the work, and the sum."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--case", default="three-incisors")
    parser.add_argument("--flat", action="store_true", help="draw outlines")
    parser.add_argument("--frames", type=int, help="how many; default: as many as the film has")
    chosen = parser.parse_args()
    flat = chosen.flat or bool(trouble())
    result = run(find_scenario(chosen.case))
    records = tuple(frame_records(result))
    if chosen.frames:
        last = len(result.cases[0].median.days) - 1
        records = tuple(np.linspace(0, last, chosen.frames).astype(int).tolist())
    print(f"{chosen.case}, {len(records)} frames, {'flat' if flat else 'rendered'}")
    print(f"{'':<28}{'processor s':>12}{'clock s':>10}")
    film = ArchFilm(result, records, flat)
    rows = [timed("places and window", lambda: film.frame(records[0]))]
    rows.append(timed("frames", lambda: [film.frame(record) for record in records]))
    film.close()
    pictures = rows[-1][0]
    assert isinstance(pictures, list)
    movie = Movie(pictures, range(min(6, len(pictures))))
    with TemporaryDirectory() as folder:
        for name, save in (("x.gif", save_gif), ("x.mp4", save_mp4), ("x.png", save_sheet)):
            place = Path(folder) / name
            rows.append(timed(name[-3:], lambda save=save, place=place: save(movie, place)))
    print(f"{'sum':<28}{sum(r[1] for r in rows):>12.2f}{sum(r[2] for r in rows):>10.2f}")


if __name__ == "__main__":
    main()
