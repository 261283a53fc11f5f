"""Panels of the arch film rendered in three dimensions, off the screen.

A panel is a stack of renderers that share one camera: the start, pale, behind; teeth, brackets and
wire; arrows before everything, so that no crown hides them. From frame to frame only places of
teeth and points of brackets, arrows and wire change. Only for use after the probe has found that a
child draws: without a working OpenGL this ends the interpreter.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from gomphosis.fem.section import Array
from gomphosis.scenarios.surfaces import Placement
from gomphosis.viz import palette
from gomphosis.viz.film_layout import Box
from gomphosis.viz.scene_bodies import (
    Bodies,
    Solid,
    State,
    arrow_rows,
    closed,
    coil_rows,
    curl_rows,
    wire_rows,
)
from gomphosis.viz.scene_panels import UNDER, Panel, Stand

if TYPE_CHECKING:
    from PIL.Image import Image
    from pyvista import Actor, Plotter, PolyData
    from vtkmodules.vtkRenderingCore import vtkCamera, vtkLight, vtkRenderer, vtkRenderWindow

START, BODIES, ARROWS = 0, 1, 2  # layers
OVER = 1.5  # rendered larger and made smaller: as smooth as eight samples to a pixel, faster
FAR = 500.0  # mm from the middle of the panel to the camera
KEY, FILL = (-0.45, 0.6, 1.0), (0.7, -0.1, 0.8)  # directions of light, camera's axes
POLISHED = {palette.TOOTH: 0.18, palette.METAL: 0.5, palette.GHOST: 0.4}


@dataclass
class Moving:
    """What changes from frame to frame in one panel."""

    teeth: dict[int, list["Actor"]] = field(default_factory=dict)
    starts: dict[int, list["Actor"]] = field(default_factory=dict)
    brackets: dict[int, "PolyData"] = field(default_factory=dict)
    forces: dict[int, "PolyData"] = field(default_factory=dict)
    turns: dict[int, "PolyData"] = field(default_factory=dict)
    wire: "PolyData | None" = None
    coils: list["PolyData"] = field(default_factory=list)


class SceneView:
    """Render the panels of a film; close it when done.

    Parameters
    ----------
    stand
        Panels and what is in them.
    area
        Part of the frame that is rendered; it holds every panel.
    """

    def __init__(self, stand: Stand, area: Box) -> None:
        import pyvista

        self._stand = stand
        self._area = area
        with _quiet():
            size = [round(OVER * area.width), round(OVER * area.height)]
            self._plotter = pyvista.Plotter(off_screen=True, window_size=size, lighting="none")
            self._plotter.renderer.SetBackground(*_share(palette.PAPER))
            window = _window(self._plotter)
            window.SetMultiSamples(0)
            window.SetNumberOfLayers(3)
            self.panels = tuple(self._panel(panel) for panel in stand.panels)
            self._plotter.show(auto_close=False, interactive=False)

    def picture(self, record: int) -> "Image":
        """Return the area at a record."""
        from PIL import Image

        for panel, moving in zip(self._stand.panels, self.panels, strict=True):
            state = self._stand.states[panel.case][record]
            self._move(moving, state, self._stand.bodies[panel.case].wire_radius(record))
        with _quiet():
            self._plotter.render()
            pixels = self._plotter.screenshot(return_img=True)
        size = (self._area.width, self._area.height)
        return Image.fromarray(np.asarray(pixels)).resize(size, Image.Resampling.LANCZOS)

    def close(self) -> None:
        """Give the window's memory back."""
        self._plotter.close()

    def _panel(self, panel: Panel) -> Moving:
        """Add a panel's renderers and what stands in them."""
        renderers = self._renderers(panel)
        bodies = self._stand.bodies[panel.case]
        state = next(iter(self._stand.states[panel.case].values()))
        moving = Moving()
        for k in panel.teeth:
            parts = bodies.solids[k]
            pale = [actor(_surface(s), palette.RULE, flat=True) for s in (parts.crown, parts.root)]
            looks = ((parts.crown, palette.TOOTH), (parts.root, palette.ROOT))
            solid = [actor(_surface(s), colour, smooth=True) for s, colour in looks]
            moving.brackets[k] = _surface(state.brackets[k])
            solid.append(actor(moving.brackets[k], palette.GHOST))
            for part in pale:
                renderers[START].AddActor(part)
            for part in solid:
                renderers[BODIES].AddActor(part)
            moving.starts[k], moving.teeth[k] = pale, solid
        self._add_changing(renderers, panel, bodies, state, moving)
        return moving

    def _add_changing(
        self,
        renderers: "list[vtkRenderer]",
        panel: Panel,
        bodies: Bodies,
        state: State,
        moving: Moving,
    ) -> None:
        for k in panel.teeth:
            moving.forces[k] = _surface(closed(arrow_rows(state.slots[k], state.forces[k])))
            moving.turns[k] = _surface(closed(curl_rows(state.slots[k], state.turns[k])))
            renderers[ARROWS].AddActor(actor(moving.turns[k], palette.SERIES[3]))
            renderers[ARROWS].AddActor(actor(moving.forces[k], palette.SERIES[5]))
        if len(state.wire):
            moving.wire = _surface(closed(wire_rows(state.wire, bodies.wire_radius(0))))
            renderers[BODIES].AddActor(actor(moving.wire, palette.METAL))
        for line in state.coils:
            moving.coils.append(_surface(closed(coil_rows(line))))
            renderers[BODIES].AddActor(actor(moving.coils[-1], palette.SERIES[4]))

    def _renderers(self, panel: Panel) -> "list[vtkRenderer]":
        """Return the renderers of a panel, back to front."""
        from vtkmodules.vtkRenderingCore import vtkCamera, vtkRenderer

        camera = vtkCamera()
        self._aim(camera, panel)
        box, area = panel.box, self._area
        left, top = box.left - area.left, box.top - area.top
        view = (
            left / area.width,
            1 - (top + box.height) / area.height,
            (left + box.width) / area.width,
            1 - top / area.height,
        )
        found = []
        for layer in (START, BODIES, ARROWS):
            renderer = vtkRenderer()
            renderer.SetLayer(layer)
            renderer.SetViewport(*view)
            renderer.SetActiveCamera(camera)
            renderer.SetBackground(*_share(palette.SHADE))
            for light in _lights():
                renderer.AddLight(light)
            _window(self._plotter).AddRenderer(renderer)
            found.append(renderer)
        return found

    def _aim(self, camera: "vtkCamera", panel: Panel) -> None:
        scale, sight = self._stand.scale, panel.sight
        # the middle of the panel lies above that of its box, by half of what is kept for the bars
        middle = panel.middle + np.array([0.0, 0.5 * UNDER / scale])
        focus = sight.right * middle[0] - sight.up * middle[1]
        camera.ParallelProjectionOn()
        camera.SetParallelScale(0.5 * panel.box.height / scale)
        camera.SetFocalPoint(*focus)
        camera.SetPosition(*(focus + FAR * sight.toward))
        camera.SetViewUp(*sight.up)
        camera.SetClippingRange(1.0, 2 * FAR)

    def _move(self, moving: Moving, state: State, radius: float) -> None:
        for k, actors in moving.teeth.items():
            for part in actors:
                part.user_matrix = matrix(state.teeth[k])
            for part in moving.starts[k]:
                part.user_matrix = matrix(state.starts[k])
            moving.brackets[k].points = state.brackets[k].points
            moving.forces[k].points = arrow_rows(state.slots[k], state.forces[k]).reshape(-1, 3)
            moving.turns[k].points = curl_rows(state.slots[k], state.turns[k]).reshape(-1, 3)
        if moving.wire is not None:
            moving.wire.points = wire_rows(state.wire, radius).reshape(-1, 3)
        for surface, line in zip(moving.coils, state.coils, strict=True):
            surface.points = coil_rows(line).reshape(-1, 3)


def matrix(placed: Placement) -> Array:
    """Return a placement as a homogeneous matrix, shape (4, 4)."""
    found = np.eye(4)
    found[:3, :3], found[:3, 3] = placed.turn, placed.shift
    return found


def actor(surface: "PolyData", colour: str, *, smooth: bool = False, flat: bool = False) -> "Actor":
    """Return a surface in a colour, shaded unless it is to be flat."""
    from pyvista import Actor, DataSetMapper, PolyData, Property

    if smooth:
        # rings that close to a point would leave normals there undefined
        turned = surface.clean().compute_normals(
            cell_normals=False, auto_orient_normals=True, split_vertices=False
        )
        assert isinstance(turned, PolyData)
        surface = turned
    look = Property(
        color=colour,
        lighting=not flat,
        interpolation="Phong" if smooth else "Flat",
        ambient=0.25,
        diffuse=0.75,
        specular=POLISHED.get(colour, 0.05),
        specular_power=25.0,
    )
    return Actor(mapper=DataSetMapper(dataset=surface), prop=look)


def _share(colour: str) -> tuple[float, float, float]:
    red, green, blue = palette.rgb(colour)
    return red / 255, green / 255, blue / 255


def _surface(solid: Solid) -> "PolyData":
    from pyvista import PolyData

    count = np.full((len(solid.cells), 1), 4)
    return PolyData(solid.points.astype(float), np.hstack([count, solid.cells]).ravel())


def _lights() -> "list[vtkLight]":
    from vtkmodules.vtkRenderingCore import vtkLight

    lights = []
    for place, strength in ((KEY, 0.85), (FILL, 0.35)):
        light = vtkLight()
        light.SetLightTypeToCameraLight()
        light.SetPosition(*place)
        light.SetFocalPoint(0.0, 0.0, 0.0)
        light.SetIntensity(strength)
        lights.append(light)
    return lights


def _window(plotter: "Plotter") -> "vtkRenderWindow":
    window = plotter.render_window
    assert window is not None  # before the plotter is closed
    return window


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the renderer's remarks on displays it looked for in vain off the standard error."""
    from vtkmodules.vtkCommonCore import vtkLogger

    before = vtkLogger.GetCurrentVerbosityCutoff()
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_OFF)
    try:
        yield
    finally:
        vtkLogger.SetStderrVerbosity(before)
