"""Slices of a report: bone, outlines, wall and displacement of every kept state."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from gomphosis.bone.density_map import LEAST
from gomphosis.bone.slice_run import Frame
from gomphosis.fem.section import Array
from gomphosis.scenarios.slice_vtu import slice_mesh_fields, slice_wall_fields
from gomphosis.viz.report_packing import Packing
from gomphosis.viz.slice_view import SliceView

PLACE = 0.001  # mm
DENSITY, TRACTION, DISPLACED = 0.01, 0.01, 1e-4  # of full cortical, kPa, mm: last digits shown
DAY, FORCE = 0.001, 0.001  # day, N
RESORBED, LAID_DOWN = 1, 2
HALF = 0.5  # share of a cell from which a change is marked


def slice_document(packing: Packing, view: SliceView, rows: Sequence[int]) -> dict[str, Any]:
    """Return one slice at some of its kept states, arrays packed.

    Parameters
    ----------
    packing
        Where arrays go.
    view
        The slice.
    rows
        Which states.
    """
    frames = [view.opened.track.frames[row] for row in rows]
    low, high = view.window
    document: dict[str, Any] = {
        "tooth": view.opened.model.number,
        "plane": view.opened.model.plane,
        "sides": list(view.sides),
        "up": view.up,
        "window": [*map(float, low), *map(float, high)],
        "days": [float(frame.day) for frame in frames],
        "stopped": view.opened.track.stopped,
    }
    document |= _bone(packing, view, rows)
    document |= _outlines(packing, view, frames)
    document |= _wall(packing, view, frames)
    document |= _displacement(packing, view, frames)
    document |= _load(packing, view)
    document["states"] = [_state(view, frame) for frame in frames]
    return document


def _bone(packing: Packing, view: SliceView, rows: Sequence[int]) -> dict[str, Any]:
    maps = [view.opened.track.frames[row].bones for row in rows]
    raster = maps[0].raster
    room = np.stack([1.0 - bones.covered for bones in maps])
    share = np.stack([bones.bone for bones in maps]) / np.maximum(room, LEAST)
    changes = [view.changes[row] for row in rows]
    changed = [RESORBED * (c.resorbed >= HALF) + LAID_DOWN * (c.laid_down >= HALF) for c in changes]
    return {
        "raster": {"origin": list(map(float, raster.origin)), "spacing": float(raster.spacing)},
        "density": packing.add(np.stack([bones.density for bones in maps]), step=DENSITY),
        "share": packing.add(np.clip(np.where(room > LEAST, share, 0.0), 0.0, 1.0), step=0.05),
        "covered": packing.add(np.stack([bones.covered >= HALF for bones in maps])),
        "changed": packing.add(np.stack(changed)),
    }


def _outlines(packing: Packing, view: SliceView, frames: Sequence[Frame]) -> dict[str, Any]:
    lines = {"ligament": ("wall", "root surface"), "root": ("root surface",)}
    if view.has_crown:
        lines["crown"] = ("crown surface",)
    return {
        name: packing.add(np.stack([view.outline(f, *names).T for f in frames]), step=PLACE)
        for name, names in lines.items()
    }


def _wall(packing: Packing, view: SliceView, frames: Sequence[Frame]) -> dict[str, Any]:
    below = view.result.scenario.neutral_below
    found = [
        slice_wall_fields(view.opened.model.case, frame, neutral_below=below) for frame in frames
    ]
    return {
        "wall": packing.add(np.stack([np.asarray(m.points)[:, [0, 2]] for m in found]), step=PLACE),
        "ribbon": packing.add(np.stack([view.ribbon(f)[0].T for f in frames]), step=PLACE),
        "normal": packing.add(
            np.stack([m.point_data["normal_traction_kPa"] for m in found]), step=TRACTION
        ),
        "zone": packing.add(np.stack([m.cell_data["zone"][0] for m in found])),
    }


def _displacement(packing: Packing, view: SliceView, frames: Sequence[Frame]) -> dict[str, Any]:
    found = [slice_mesh_fields(view.opened.model.case, frame) for frame in frames]
    places = np.stack([np.asarray(m.points) for m in found])[..., [0, 2]]
    displaced = np.stack([np.asarray(m.point_data["displacement_mm"]) for m in found])[..., [0, 2]]
    return {
        "nodes": packing.add(places, step=PLACE),
        "cells": packing.add(found[0].cells[0].data[:, :4]),
        "region": packing.add(found[0].cell_data["region"][0]),
        "displacement": packing.add(displaced, step=DISPLACED),
        "displaced": packing.add(np.linalg.norm(displaced, axis=-1), step=DISPLACED),
    }


def _load(packing: Packing, view: SliceView) -> dict[str, Any]:
    """Return the force in the plane on all days, of which states may be kept of a few."""
    track = view.opened.track
    return {
        "load_days": packing.add(track.days, step=DAY),
        "load": packing.add(np.hypot(*track.load[:, :2].T), step=FORCE),
    }


def _state(view: SliceView, frame: Frame) -> dict[str, Any]:
    at, force = view.force(frame)
    arrow = view.arrow(force)
    front, back = view.plate(frame)
    lines = view.opening_lines(frame)
    return {
        "force_N": float(np.hypot(*force)),
        "slot": [float(part) for part in at],
        "arrow": None if arrow is None else [float(part) for part in arrow],
        "plate_mm": [front, back],
        "resorbed_mm2": float(frame.books.resorbed),
        "laid_down_mm2": float(frame.books.deposited),
        "open": [_rounded(line) for _, line in lines],
        "open_sides": [side for side, _ in lines],
        "open_texts": view.opening_texts(frame),
        "strokes": [_rounded(stroke.T) for stroke in view.strokes(frame)],
        "dots": _rounded(view.dots(frame)),
    }


def _rounded(line: Array) -> list[list[float]]:
    """Return points of shape (2, n) as a list of pairs, to a thousandth."""
    return [[float(x), float(z)] for x, z in np.round(line.T, 3)]
