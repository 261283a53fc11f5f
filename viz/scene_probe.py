"""Whether scenes can be rendered here: asked once, in a process of its own.

A rendering library without a working OpenGL may end the interpreter instead of raising an error,
so the first picture is drawn by a child, whose death is an answer as well.
"""

import subprocess
import sys
from functools import cache
from importlib.util import find_spec

LIBRARY = "pyvista"
NOT_INSTALLED = f"{LIBRARY} is not installed"
NO_OPENGL = "no OpenGL library works here"
DRAWN = "drawn"
LONGEST = 120.0  # s; a first import from a slow disk takes long

TINY_FRAME = f"""
import pyvista
plotter = pyvista.Plotter(off_screen=True, window_size=(64, 48))
plotter.set_background("white")
plotter.add_mesh(pyvista.Sphere(), color="red", lighting=False)
plotter.show(auto_close=False, interactive=False)
picture = plotter.screenshot(return_img=True).astype(int)
plotter.close()
middle, corner = picture[24, 32], picture[1, 1]
if middle[0] > 200 and middle[1] < 50 and corner.min() > 200:
    print("{DRAWN}")
"""


@cache
def trouble() -> str:
    """Return why no scene can be rendered here, or nothing; found out once for this process."""
    if find_spec(LIBRARY) is None:
        return NOT_INSTALLED
    return "" if draws_in_child() else NO_OPENGL


def draws_in_child(code: str = TINY_FRAME, *, longest: float = LONGEST) -> bool:
    """Return whether a child of this interpreter draws a frame with the right pixels.

    Parameters
    ----------
    code
        What the child runs; it prints a word when the pixels are right.
    longest
        Seconds after which the child is given up.
    """
    try:
        child = subprocess.run(
            [sys.executable, "-c", code],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=longest,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return False
    return child.returncode == 0 and child.stdout.decode(errors="replace").split() == [DRAWN]
