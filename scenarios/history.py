"""One tooth through one run, in trade words: everything that tables and pictures show."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gomphosis.bone.directions import to_trade
from gomphosis.bone.library import lookup
from gomphosis.bone.loop import Track
from gomphosis.bone.standstill import Standstill
from gomphosis.bone.support import motion_at
from gomphosis.bone.wall import COMPRESSION, NEUTRAL, TENSION
from gomphosis.fem.section import Array
from gomphosis.scenarios.bonding import at_slot, bonded, bonded_rows, carried
from gomphosis.scenarios.kinematics import (
    moment_to_force,
    movement_type,
    orientation,
    point_movement,
    rotation_centre,
)
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.persons import growth_factor, person_factor
from gomphosis.scenarios.result import CaseResult, RunResult
from gomphosis.scenarios.schema import Scenario


@dataclass(frozen=True)
class ToothHistory:
    """Quantities of one tooth at the T records of a run.

    Attributes
    ----------
    days, period
        Shape (T,).
    position
        Slot out of line (vertical, labial, mesial in mm), where its bracket is bonded at the
        time, and the tooth's angulation, inclination, rotation in rad, shape (T, 6).
    first_place
        Place out of line of the point at which the bracket was bonded first, same components,
        shape (T, 3): re-bonding does not move it.
    crown, apex
        Movement of incisal edge and apex from the unloaded start: extrusion, labial, mesial in
        mm, shape (T, 3); the ligament's elastic give is included.
    turn
        Change of angulation, inclination, rotation in rad, shape (T, 3).
    at_bracket, at_resistance
        Force system on the tooth in trade words about the centre of the slot as it is bonded at
        the time, and about the centre of resistance, N and N·mm, shape (T, 6).
    moment_to_force
        M/F at the bracket in the labial and mesial plane, mm, nan below 0.02 N, shape (T, 2).
    rotation_centre
        Distance from crest towards apex in the labial and mesial plane, mm, nan for a
        translation, shape (T, 2).
    movement, plane
        Type of movement since the start and the plane of its transverse part, T strings each.
    peak_pressure, mean_pressure
        Pressure in the ligament that is exceeded on 1 % of the wall, and its area mean where
        positive, MPa, shape (T,).
    zone_area
        Wall under compression, neutral, tension, mm^2, shape (T, 3).
    above_line
        Share of the wall whose pressure exceeds the published capillary line, shape (T,).
    overload_area
        Wall whose pressure exceeds the scenario's own limit, mm^2; zero without a limit.
    stopped_area
        Wall that stands still because it was overloaded, mm^2; zero without a lag.
    strain
        Compressive strain of the ligament across its thickness that is exceeded on 1 % of the
        wall (linear law), shape (T,).
    resorbed, deposited
        Bone removed from and added to the wall since the start, mm^3, shape (T,).
    """

    number: int
    days: Array
    period: Array
    position: Array
    first_place: Array
    crown: Array
    apex: Array
    turn: Array
    at_bracket: Array
    at_resistance: Array
    moment_to_force: Array
    rotation_centre: Array
    movement: tuple[str, ...]
    plane: tuple[str, ...]
    peak_pressure: Array
    mean_pressure: Array
    zone_area: Array
    above_line: Array
    overload_area: Array
    stopped_area: Array
    strain: Array
    resorbed: Array
    deposited: Array


def histories(
    result: RunResult, case: CaseResult, *, quantile: float = 0.5
) -> tuple[ToothHistory, ...]:
    """Return the history of every tooth of a case at a quantile of the rate."""
    factor = growth_factor(result.scenario.growing) * person_factor(quantile)
    return tuple(
        tooth_history(tooth, case.tracks[quantile], index, result.scenario, rate_factor=factor)
        for index, tooth in enumerate(result.teeth)
    )


def tooth_history(
    tooth: ToothModel, track: Track, index: int, scenario: Scenario, *, rate_factor: float
) -> ToothHistory:
    """Return one tooth's history; index is its place in the track."""
    pose, wrench = track.pose[:, index], track.wrench[:, index]
    number = tooth.number
    kinds = [movement_type(number, p, edge=tooth.edge, apex=tooth.apex) for p in pose]
    bonds = bonded(scenario, tooth)
    at_bracket = to_trade(number, at_slot(bonds, track.period, wrench))
    resistance = np.array([0.0, 0.0, tooth.centre_of_resistance])
    wall = wall_history(tooth, wrench, scenario)
    resorbed, deposited = bone_turnover(tooth, track.days, wrench, rate_factor)
    return ToothHistory(
        number=number,
        days=track.days,
        period=track.period,
        position=_out_of_line(bonds, track.period, pose),
        first_place=_out_of_line(bonds[:1], 0 * track.period, pose)[:, :3],
        crown=point_movement(number, pose, tooth.edge),
        apex=point_movement(number, pose, tooth.apex),
        turn=orientation(number, pose),
        at_bracket=at_bracket,
        at_resistance=about(tooth, wrench, resistance),
        moment_to_force=moment_to_force(at_bracket),
        rotation_centre=rotation_centre(number, pose),
        movement=tuple(kind for kind, _ in kinds),
        plane=tuple(plane for _, plane in kinds),
        stopped_area=np.zeros(len(pose)) if track.stopped is None else track.stopped[:, index],
        resorbed=resorbed,
        deposited=deposited,
        **wall,
    )


def about(tooth: ToothModel, wrench: Array, point: Array) -> Array:
    """Return wrenches about the crest, shape (T, 6), in trade words about another point."""
    return to_trade(tooth.number, carried(wrench, point))


def _out_of_line(bonds: Sequence[ToothModel], period: np.ndarray, pose: Array) -> Array:
    """Return how far the slot stands out of line in trade words, shape (T, 6)."""
    found = np.empty_like(pose)
    for tooth, rows in bonded_rows(bonds, period):
        found[rows] = tooth.start + pose[rows] @ motion_at(tooth.slot).T
    return to_trade(bonds[0].number, found)


def wall_history(tooth: ToothModel, wrench: Array, scenario: Scenario) -> dict[str, Array]:
    """Return pressures, zone areas and strain of the wall under wrenches of shape (T, 6)."""
    wall = tooth.wall
    stress = wall.stress(wrench)
    area = wall.area
    zones = wall.zones(stress.normal, neutral_below=scenario.neutral_below)
    squeezed = np.maximum(stress.pressure, 0.0)
    under = (stress.pressure > 0) * area
    limit = scenario.pressure_limit
    over = stress.pressure > (np.inf if limit is None else limit)
    line = lookup("pressure_line.capillary").number * 1e-3
    return {
        "peak_pressure": wall.peak(squeezed),
        "mean_pressure": (squeezed * area).sum(axis=(1, 2))
        / np.maximum(under.sum(axis=(1, 2)), np.finfo(float).tiny),
        "zone_area": np.stack(
            [((zones == z) * area).sum(axis=(1, 2)) for z in (COMPRESSION, NEUTRAL, TENSION)], 1
        ),
        "above_line": ((stress.pressure > line) * area).sum(axis=(1, 2)) / area.sum(),
        "overload_area": (over * area).sum(axis=(1, 2)),
        "strain": wall.peak(np.maximum(-stress.normal, 0.0))
        / tooth.support.design.ligament.constrained,
    }


def bone_turnover(
    tooth: ToothModel, days: Array, wrench: Array, rate_factor: float
) -> tuple[Array, Array]:
    """Return bone resorbed and deposited since the start, mm^3, each of shape (T,).

    Each step counts its end speed, as the implicit step does; wall that stands still counts not.
    """
    normal = tooth.support.wall.normal
    area = tooth.wall.area
    length = np.diff(days, prepend=days[0])
    gained = np.zeros((len(days), 2))
    still = Standstill.start([tooth.remodelling])
    for k, step in enumerate(length):
        if step > 0:
            velocity = tooth.remodelling.wall_velocity(wrench[k])
            outward = np.einsum("nsc,nc->ns", velocity[..., :2], normal) * area
            moving = still.moving(step)[0]
            if moving is not None:
                outward *= moving.reshape(area.shape)
            sides: Sequence[float] = (np.maximum(outward, 0).sum(), np.maximum(-outward, 0).sum())
            gained[k] = rate_factor * step * np.asarray(sides)
        still = still.after(wrench[k : k + 1], float(step))
    total = np.cumsum(gained, axis=0)
    return total[:, 0], total[:, 1]
