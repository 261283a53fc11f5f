"""What is left of a root and its bone, and what that asks of a force: one tooth by itself."""

from dataclasses import asdict, dataclass

import numpy as np

from gomphosis.bone.support import motion_at
from gomphosis.fem.section import Array
from gomphosis.scenarios.model import ToothModel
from gomphosis.scenarios.schema import Scenario


@dataclass(frozen=True)
class RootSupport:
    """How the ligament holds one tooth; mm, and elastic answers to 1 N labially at the slot.

    The slot is that of the start, also where the bracket is bonded anew later.

    Attributes
    ----------
    embedded_root_mm, crest_loss_mm, root_lost_mm
        Root within bone; bone lost at the crest; root lost at the apex.
    centre_of_resistance_below_crest_mm, centre_of_resistance_share
        Its depth, and that over the embedded root.
    bracket_to_centre_of_resistance_mm
        Along the long axis.
    translation_moment_to_force_mm
        M/F at the bracket that moves the tooth bodily: found from the answers to a force and to
        a couple.
    edge_mm_per_N, apex_mm_per_N
        Labial movement of incisal edge and apex.
    single_force_centre_of_rotation_mm
        Below the crest.
    """

    embedded_root_mm: float
    crest_loss_mm: float
    root_lost_mm: float
    centre_of_resistance_below_crest_mm: float
    centre_of_resistance_share: float
    bracket_to_centre_of_resistance_mm: float
    translation_moment_to_force_mm: float
    edge_mm_per_N: float
    apex_mm_per_N: float
    single_force_centre_of_rotation_mm: float

    def document(self) -> dict[str, float]:
        """Return it as plain data."""
        return asdict(self)


def root_support(scenario: Scenario, tooth: ToothModel) -> RootSupport:
    """Return how the ligament holds a tooth of a scenario."""
    place = next(place for place in scenario.teeth if place.number == tooth.number)
    depth = -float(tooth.centre_of_resistance)
    carry = motion_at(tooth.slot).T
    push, couple = (tooth.support.displacement(carry @ unit) for unit in np.eye(6)[[0, 4]])
    return RootSupport(
        embedded_root_mm=tooth.embedded,
        crest_loss_mm=scenario.crest_loss(place),
        root_lost_mm=place.root_lost,
        centre_of_resistance_below_crest_mm=depth,
        centre_of_resistance_share=depth / tooth.embedded,
        bracket_to_centre_of_resistance_mm=float(tooth.slot[2]) + depth,
        # the couple that takes back the turn of the force
        translation_moment_to_force_mm=float(push[4] / couple[4]),
        edge_mm_per_N=_labial(push, tooth.edge),
        apex_mm_per_N=_labial(push, tooth.apex),
        single_force_centre_of_rotation_mm=float(push[0] / push[4]),
    )


def _labial(motion: Array, point: Array) -> float:
    return float((motion_at(point) @ motion)[0])
