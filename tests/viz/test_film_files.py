"""Verification of what is written of a film, read back by the encoder's own decoder."""

import signal
import subprocess
from pathlib import Path

import numpy as np
import pytest
from imageio_ffmpeg import count_frames_and_secs, get_ffmpeg_exe
from PIL import Image

from gomphosis.scenarios.caution import NOTICE
from gomphosis.viz import film_files
from gomphosis.viz.film_files import (
    MOST_ON_SHEET,
    SHEET_GAP,
    Movie,
    chosen_frames,
    film_names,
    save_film,
    save_mp4,
)

SIZE = (121, 64)  # odd: the colour format of the MP4 wants even sides
SHADES = (20, 90, 160, 230)


def movie():
    pictures = [Image.new("RGB", SIZE, (shade, shade, 255 - shade)) for shade in SHADES]
    return Movie(pictures, chosen=[0, 2, 3], fixed=["#ffffff"], pause=100)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("film")
    save_film(movie(), place, "a")
    return place


def test_names_of_the_files(folder):
    assert sorted(path.name for path in folder.iterdir()) == sorted(film_names("a"))


def test_mp4_holds_every_frame_as_long_as_the_gif(folder):
    path = folder / "a.mp4"
    count, seconds = count_frames_and_secs(path)
    # 900 ms, two of 100 ms, 2500 ms
    assert (count, seconds) == (36, pytest.approx(3.6, abs=0.11))
    words = [get_ffmpeg_exe(), "-i", path, "-f", "rawvideo", "-pix_fmt", "rgb24", "-"]
    decoded = subprocess.run(words, capture_output=True, check=True)
    assert b"Video: h264" in decoded.stderr
    assert b", 122x64" in decoded.stderr
    shades = np.frombuffer(decoded.stdout, np.uint8).reshape(-1, 64, 122, 3)[:, 30, 60, 0]
    expected = np.repeat(SHADES, [9, 1, 1, 25])
    # lossy: some levels of 255
    assert np.abs(shades.astype(int) - expected).max() <= 6
    with Image.open(folder / "a.gif") as gif:
        pauses = []
        for k in range(gif.n_frames):
            gif.seek(k)
            pauses.append(gif.info["duration"])
    assert pauses == [900, 100, 100, 2500]


def test_caution_travels_in_all_three(folder):
    assert NOTICE.encode() in (folder / "a.mp4").read_bytes()
    with Image.open(folder / "a.gif") as gif:
        assert gif.info["comment"].decode() == NOTICE
    with Image.open(folder / "a_sheet.png") as sheet:
        assert sheet.text["Description"] == NOTICE


def test_sheet_shows_the_chosen_frames_in_reading_order(folder):
    with Image.open(folder / "a_sheet.png") as sheet:
        pixels = np.asarray(sheet.convert("RGB"))
    width, height = SIZE
    assert pixels.shape[:2] == (2 * height + SHEET_GAP, 2 * width + SHEET_GAP)
    right, below = width + SHEET_GAP, height + SHEET_GAP
    assert [pixels[y, x, 0] for y, x in ((0, 0), (0, right), (below, 0))] == [20, 160, 230]


def test_frames_of_different_sizes_are_no_film():
    with pytest.raises(ValueError, match="one size"):
        Movie([Image.new("RGB", (2, 2)), Image.new("RGB", (2, 4))], chosen=[0])


def test_an_unwritable_place_is_an_error(tmp_path):
    with pytest.raises(OSError, match="missing"):
        save_film(movie(), tmp_path / "missing", "a")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_encoder_out_of_space_tells_in_one_line(tmp_path, capfd):
    """Also where all frames fit into the pipe, so that only the encoder learns of it."""
    path = tmp_path / "a.mp4"
    path.symlink_to("/dev/full")
    with pytest.raises(OSError, match="No space left on device") as error:
        save_mp4(movie(), path)
    assert error.value.filename == str(path)
    assert "\n" not in str(error.value)
    assert capfd.readouterr() == ("", "")


def test_interrupted_encoder_is_ended(tmp_path, monkeypatch):
    started = []

    class Told(subprocess.Popen):
        def __init__(self, *words, **settings):
            super().__init__(*words, **settings)
            started.append(self)

    def interrupted(_):
        raise KeyboardInterrupt

    monkeypatch.setattr(film_files, "Popen", Told)
    film = movie()
    monkeypatch.setattr(film.pictures[2], "convert", interrupted)
    with pytest.raises(KeyboardInterrupt):
        save_mp4(film, tmp_path / "a.mp4")
    assert [process.returncode for process in started] == [-signal.SIGKILL]


@pytest.mark.parametrize(
    ("days", "keys", "expected"),
    [
        ([0.0, 1.0, 2.0], [], [0, 1, 2]),
        # the ends, then what happens, the first frame that shows it, then even steps
        (list(range(0, 101, 10)), [34.0, 71.0], [0, 2, 4, 6, 8, 10]),
        (list(range(0, 101, 10)), [11.0, 12.0, 31.0, 41.0, 51.0, 61.0], [0, 2, 4, 5, 6, 10]),
        ([0.0], [0.0], [0]),
    ],
)
def test_stills_are_the_ends_and_what_happens(days, keys, expected):
    found = chosen_frames(days, keys)
    assert found == expected
    assert len(found) <= MOST_ON_SHEET
