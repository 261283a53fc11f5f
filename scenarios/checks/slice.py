"""The slice against the body of revolution, and against closed forms of a thin layer."""

from functools import partial

import numpy as np

from gomphosis.bone.slice_response import UnitResponse
from gomphosis.fem.section import Array
from gomphosis.scenarios.checks.bodies import INCISOR, default_young, solved
from gomphosis.scenarios.checks.check import SHOWN, Check, Outcome
from gomphosis.scenarios.checks.slice_bodies import (
    held_stiffness,
    opened,
    thin,
)

POISSONS = {0.3: 0.03, 0.45: 0.03, 0.49: 0.06}
"""Poisson's ratios and the accepted difference in stiffness: near incompressibility the ligament
flows around the root, which side walls felt by the axis alone do not see."""
SLENDER = {0.0: 0.01, 0.25: 0.02, 0.5: 0.02, 1.0: 0.02}
"""Exponents of the root and its radius over its length."""
THIN = 0.005  # thickness over radius
UNIFORM = "a plane root of width (1 - z/h)^n on even springs: moments of its width (derived here)"


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_stiffness(name, nu) for nu in POISSONS for name in ("lateral", "axial", "rocking")),
        *(_centre(nu) for nu in POISSONS),
        *(_open_sides(name) for name in ("lateral", "axial")),
        *(_profile(name, n) for n in SLENDER for name in ("centre", "spread")),
        _bone_loss(),
        _wall_balance(),
    ]


def compared(name: str, poisson: float, *, side_walls: bool = True) -> Outcome:
    """Return a stiffness (or "centre" over h) of the slice and of the body of revolution."""
    young = default_young()
    response = opened(young=young, poisson=poisson, side_walls=side_walls)
    k = response.stiffness
    found = {"lateral": k[0, 0], "axial": k[1, 1], "rocking": k[2, 2], "centre": k[0, 2] / k[0, 0]}
    support = solved(INCISOR, young=young, poisson=poisson)
    if name == "centre":
        length = support.design.root.length
        return Outcome(-found[name] / length, -support.planar.centre_of_resistance / length)
    return Outcome(found[name], getattr(support.planar, name))


def _stiffness(name: str, poisson: float) -> Check:
    return Check(
        name=f"slice-{name}-nu-{poisson:g}",
        quantity=f"{name} stiffness of a slice of tooth {INCISOR}, even bone, nu {poisson:g}",
        unit="N·mm/rad" if name == "rocking" else "N/mm",
        kind="verification",
        source="the body of revolution of the same root, ligament and bone (own model)",
        status="derived here",
        # asked of the slice in advance; exact only where the layer is thin
        tolerance=POISSONS[poisson],
        compute=partial(compared, name, poisson),
    )


def _centre(poisson: float) -> Check:
    return Check(
        name=f"slice-centre-nu-{poisson:g}",
        quantity=f"centre of resistance of a slice of tooth {INCISOR} over h, nu {poisson:g}",
        unit="1",
        kind="verification",
        source="the body of revolution of the same root, ligament and bone (own model)",
        status="derived here",
        # asked of the slice in advance: 1 % of h
        tolerance=0.01,
        measure="absolute",
        compute=partial(compared, "centre", poisson),
    )


def _open_sides(name: str) -> Check:
    return Check(
        name=f"slice-without-side-walls-{name}",
        quantity=f"{name} stiffness of a slice without the walls beside its plane, nu 0.3",
        unit="N/mm",
        kind="verification",
        source="the body of revolution of the same root, ligament and bone (own model)",
        status="derived here",
        expected=SHOWN,
        compute=partial(compared, name, 0.3, side_walls=False),
        note=(
            "what leaving them out costs: a thin layer would lose G/(M + G) = 22 % laterally and "
            "half axially"
        ),
    )


def moments(exponent: float, *, length: float = 12.0) -> tuple[float, float]:
    """Return centre of resistance over h and a·b over h^2 of a slender slice in a thin layer."""
    body = thin(exponent, slender=SLENDER[exponent], thickness=THIN, length=length)
    k = held_stiffness(body)
    centre = -k[0, 2] / k[0, 0]
    return float(centre / length), float((k[2, 2] / k[0, 0] - centre**2) / length**2)


def _profile(name: str, exponent: float) -> Check:
    index = ("centre", "spread").index(name)
    closed = (
        1 / (exponent + 2),
        (exponent + 1) / ((exponent + 2) ** 2 * (exponent + 3)),
    )
    words = ("centre of resistance over h", "a·b over h^2")
    return Check(
        name=f"slice-profile-{name}-n-{exponent:g}",
        quantity=f"{words[index]}, slender root of exponent {exponent:g} in a thin layer",
        unit="1",
        kind="verification",
        source=f"{UNIFORM}: 1/(n + 2) and (n + 1)/((n + 2)^2 (n + 3))",
        status="closed form",
        # Side walls are in: with a constant G/M they weigh the profile as the plane does. The
        # springs of the closed form feel neither axial shear nor an end: both vanish like r/h.
        tolerance=0.01,
        compute=lambda: Outcome(moments(exponent)[index], closed[index]),
    )


def _bone_loss() -> Check:
    return Check(
        name="slice-bone-loss",
        quantity="centre of resistance over h' with half the bone left, root of exponent 0.5",
        unit="1",
        kind="verification",
        source="what is left of a parabola is a parabola: 2/5 at every bone level (derived here)",
        status="closed form",
        # as for the profiles
        tolerance=0.01,
        # the paraboloid keeps r^2/h, so the part left is sqrt(2) times less slender
        compute=lambda: Outcome(left_over(0.5), 0.4),
    )


def left_over(share: float) -> float:
    """Return the centre of resistance over h' where a share of the paraboloid's h is left."""
    body = thin(0.5, slender=SLENDER[0.5] / np.sqrt(share), thickness=THIN, length=12.0 * share)
    k = held_stiffness(body)
    return float(-k[0, 2] / k[0, 0] / (12.0 * share))


def wall_totals(response: UnitResponse) -> Array:
    """Return what wall and side walls together take up of unit loads, shape (3, 3)."""
    body = response.slice_body
    nodes = body.wall.place
    push = body.wall.traction(-response.wall_force)
    # consistent tractions integrate with the mass matrix' row sums, their moments in full
    force = np.einsum("nm,mck->nck", body.wall.mass, push)
    held = body.side.stiffness[:, :, None] * response.side_displacement
    heights = np.einsum("pa,pa->p", body.side.shape, body.mesh.nodes[1, body.side.nodes])
    total = np.concatenate([force, held])
    x = np.concatenate([nodes[:, 0], 0 * heights])
    z = np.concatenate([nodes[:, 1], heights])
    turn = np.einsum("n,nk->k", z, total[:, 0]) - np.einsum("n,nk->k", x, total[:, 1])
    return np.stack([total[:, 0].sum(axis=0), total[:, 1].sum(axis=0), turn])


def _wall_balance() -> Check:
    def compute() -> Outcome:
        found = wall_totals(opened(young=default_young(), poisson=0.3))
        # forces in N, the moment per mm of root, so that all are of one size
        length = solved(INCISOR, young=default_young(), poisson=0.3).design.root.length
        size = np.array([1.0, 1.0, length])
        miss = (found - np.eye(3)) * size / size[:, None]
        return Outcome(float(np.abs(miss).max()), 0.0)

    return Check(
        name="slice-wall-balance",
        quantity="what wall tractions and side walls leave of a unit load, over the load",
        unit="1",
        kind="verification",
        source="balance of the tooth with its ligament",
        status="closed form",
        # round-off of a crown a hundred times as stiff as dentine: some 1e-7
        tolerance=1e-6,
        measure="absolute",
        compute=compute,
    )
