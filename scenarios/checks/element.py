"""The harmonic element: its order of convergence and its rigid motions."""

from functools import partial

import numpy as np

from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.support import (
    Elastic,
    Resolution,
    SupportDesign,
    rigid_modes,
    support_section,
)
from gomphosis.fem.harmonic import harmonic, quadrature
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.manufactured import FIELDS, orders

WORDS = {
    "axial": "axial load (harmonic 0)",
    "torsion": "torsion (harmonic 0)",
    "lateral": "harmonic 1",
    "second": "harmonic 2",
}
NORMS = (("displacement", 3.0), ("energy", 2.0))


def checks() -> list[Check]:
    """Return the checks of this file."""
    found = [_order(name, index) for name in FIELDS for index in range(len(NORMS))]
    return [*found, _rigid(0), _rigid(1)]


def _order(name: str, index: int) -> Check:
    norm, best = NORMS[index]
    return Check(
        name=f"manufactured-{name}-{norm}",
        quantity=f"order of convergence of the {norm} error, {WORDS[name]}",
        unit="1",
        kind="verification",
        source=(
            "a smooth field chosen in advance and the loads that belong to it; a quadratic "
            f"element cannot do better than order {best:g}"
        ),
        status="closed form",
        # 8 and 16 elements a side are nearly, not fully, where the order shows purely
        tolerance=0.1,
        measure="absolute",
        compute=partial(_order_outcome, name, index, best),
    )


def _order_outcome(name: str, index: int, best: float) -> Outcome:
    return Outcome(orders(name)[index], best)


def _rigid(order: int) -> Check:
    return Check(
        name=f"rigid-motions-harmonic-{order}",
        quantity=f"force of rigid motions over the stiffness's own size, harmonic {order}",
        unit="1",
        kind="verification",
        source="a rigid motion strains nothing",
        status="closed form",
        # round-off of sums over some 27 x 16 products, relative to the largest term
        tolerance=1e-12,
        measure="absolute",
        compute=partial(rigid_force, order),
    )


def rigid_force(order: int) -> Outcome:
    """Return the largest nodal force of unit rigid motions of a tooth in bone, against none."""
    pair = Elastic(1.0, 0.45)
    design = SupportDesign(
        RootProfile(3.0, 12.0, 0.35), ThicknessProfile(0.22, 0.16, 0.22), pair, pair, pair
    )
    section = support_section(design, Resolution())
    size = section.mesh.nelements
    matrix = harmonic(quadrature(section), order).stiffness(np.ones(size), np.full(size, 0.45))
    modes = rigid_modes(section.nodes, order)
    scale = abs(matrix).max() * np.abs(modes).max()
    return Outcome(float(np.abs(matrix @ modes).max() / scale), 0.0)
