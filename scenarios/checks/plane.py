"""The elements of the plane slice: patch, order of convergence, locking, rigid motions."""

from functools import partial

import numpy as np

from gomphosis.fem.boundary import line
from gomphosis.fem.harmonic import constrained_modulus
from gomphosis.fem.plane import COMPONENTS, gathered, isotropic_moduli, plane_elements
from gomphosis.fem.plane_equilibrium import Loading, PlaneBody, linear_equilibrium
from gomphosis.fem.plane_grid import plane_grid
from gomphosis.fem.plane_points import PlanePoints, plane_points
from gomphosis.fem.section import Array, Index
from gomphosis.scenarios.checks.check import Check, Outcome
from gomphosis.scenarios.checks.layer import annulus_stiffness
from gomphosis.scenarios.checks.plane_manufactured import depth, distorted, freedoms, orders, rim

YOUNG = 0.05
NEARLY = 0.499
NORMS = (("displacement", 3.0), ("energy", 2.0))


def checks() -> list[Check]:
    """Return the checks of this file."""
    return [
        *(_patch(poisson) for poisson in (0.0, 0.3, NEARLY)),
        *(_order(poisson, index) for poisson in (0.0, 0.3, NEARLY) for index in range(2)),
        _slab(),
        *(_annulus(poisson) for poisson in (0.3, 0.45, 0.49, NEARLY)),
        _rigid(),
        _symmetry(),
        _traction(),
    ]


def _patch(poisson: float) -> Check:
    return Check(
        name=f"plane-patch-nu-{poisson:g}",
        quantity=(
            "largest error of the stress of an even strain prescribed on the rim, over the "
            f"stress, distorted plane elements, nu {poisson:g}"
        ),
        unit="1",
        kind="verification",
        source="a linear displacement has one stress everywhere, Hooke's law in plane strain",
        status="closed form",
        # round-off of a solve: condition number 1e5 at nu 0.499 times 1e-16, with room
        tolerance=1e-9,
        measure="absolute",
        compute=partial(patch_compared, poisson),
    )


def patch_compared(poisson: float) -> Outcome:
    """Return the largest stress error over the stress of a distorted patch, against none."""
    mesh = distorted(3)
    elements = plane_elements(plane_points(mesh.nodes, mesh.elements), 0.7)
    slope = np.array([[0.02, -0.03], [0.05, 0.01]])
    answer = _prescribed(
        PlaneBody(elements, elements.stiffness(YOUNG, poisson)),
        (slope @ mesh.nodes).T,
        rim(mesh),
    )
    moduli = isotropic_moduli(YOUNG, poisson)
    expected = moduli @ [slope[0, 0], slope[1, 1], slope[0, 1] + slope[1, 0]]
    found = elements.strain(answer) @ moduli
    return Outcome(float(np.abs(found - expected).max() / np.abs(expected).max()), 0.0)


def _prescribed(body: PlaneBody, motion: Array, held: Index) -> Array:
    """Solve for a motion, shape (nodes, 2), given at held nodes."""
    lead = np.zeros_like(motion)
    lead[held] = motion[held]
    free = freedoms(np.setdiff1d(np.arange(len(motion)), held))
    loading = Loading(np.zeros(motion.size), lead.ravel())
    return linear_equilibrium(body, body.pattern(free), loading).answer


def _order(poisson: float, index: int) -> Check:
    norm, best = NORMS[index]
    return Check(
        name=f"plane-manufactured-{norm}-nu-{poisson:g}",
        quantity=(
            f"order of convergence of the {norm} error, plane elements of uneven depth, "
            f"nu {poisson:g}"
        ),
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
        compute=partial(_order_outcome, poisson, index, best),
    )


def _order_outcome(poisson: float, index: int, best: float) -> Outcome:
    return Outcome(orders(poisson)[index], best)


def _slab() -> Check:
    return Check(
        name="plane-confined-slab",
        quantity="constrained modulus of a plane slab between smooth walls, nu 0.499",
        unit="MPa",
        kind="verification",
        source="uniform strain: M = E (1 - nu) / ((1 + nu)(1 - 2 nu))",
        status="closed form",
        # uniform strain on a distorted mesh; a sound element has no error but round-off
        tolerance=0.005,
        compute=slab_compared,
    )


def slab_compared(poisson: float = NEARLY) -> Outcome:
    """Return the modulus of a plane slab that cannot bulge, by elements and formula."""
    width, height = 1.0, 0.5

    def place(xi: Array, eta: Array) -> Array:
        bulge = 0.08 * np.sin(np.pi * xi) * np.sin(np.pi * eta)
        return np.stack([width * (xi + bulge), height * (eta - bulge)])

    grid = np.linspace(0.0, 1.0, 4)
    mesh = plane_grid(grid, grid, mapping=place)
    elements = plane_elements(plane_points(mesh.nodes, mesh.elements))
    body = PlaneBody(elements, elements.stiffness(YOUNG, poisson))
    sides = np.concatenate([mesh.lines["xi_first"], mesh.lines["xi_last"]])
    ends = np.concatenate([mesh.lines["eta_first"], mesh.lines["eta_last"]])
    held = np.concatenate([COMPONENTS * sides, COMPONENTS * ends + 1])
    lead = np.zeros(elements.size)
    top = COMPONENTS * mesh.lines["eta_last"] + 1
    lead[top] = 1.0
    free = np.setdiff1d(np.arange(elements.size), held)
    answer = linear_equilibrium(body, body.pattern(free), Loading(0 * lead, lead)).answer
    return Outcome(
        float(body.force(answer)[top].sum()) * height / width,
        constrained_modulus(YOUNG, poisson),
    )


def _annulus(poisson: float) -> Check:
    return Check(
        name=f"plane-bonded-annulus-nu-{poisson:g}",
        quantity=(
            "lateral stiffness per length of a bonded annulus in plane strain by plane elements, "
            f"nu {poisson:g}"
        ),
        unit="MPa",
        kind="verification",
        source="harmonic 1 of plane strain in polar coordinates (derived here)",
        status="closed form",
        # one element across; without projected dilatation it is off by 0.5 % at nu 0.499
        tolerance=0.001,
        compute=partial(annulus_compared, poisson),
    )


def annulus_compared(poisson: float) -> Outcome:
    """Return the lateral stiffness per length of a layer 3.0 to 3.2 mm, by elements and formula."""
    inner, outer = 3.0, 3.2

    def place(xi: Array, eta: Array) -> Array:
        radius = outer + (inner - outer) * eta
        return radius * np.stack([np.cos(np.pi * xi), np.sin(np.pi * xi)])

    mesh = plane_grid(np.linspace(0, 1, 17), np.linspace(0, 1, 2), mapping=place)
    elements = plane_elements(plane_points(mesh.nodes, mesh.elements))
    body = PlaneBody(elements, elements.stiffness(YOUNG, poisson))
    core = mesh.lines["eta_last"]
    cut = np.concatenate([mesh.lines["xi_first"], mesh.lines["xi_last"]])
    bonded = freedoms(np.union1d(core, mesh.lines["eta_first"]))
    # half of the ring: nothing crosses the cut, along which the core moves
    free = np.setdiff1d(np.arange(elements.size), np.union1d(bonded, COMPONENTS * cut + 1))
    lead = np.zeros(elements.size)
    lead[COMPONENTS * core] = 1.0
    answer = linear_equilibrium(body, body.pattern(free), Loading(0 * lead, lead)).answer
    half = float(body.force(answer)[COMPONENTS * core].sum())
    theirs = annulus_stiffness(inner=inner, outer=outer, young=YOUNG, poisson=poisson)
    return Outcome(2 * half, theirs)


def _whole_matrix() -> tuple[Array, Array]:
    """Return the dense stiffness of a distorted body of uneven depth and stiffness, and nodes."""
    mesh = distorted(4)
    points = plane_points(mesh.nodes, mesh.elements)
    elements = plane_elements(points, depth(*np.moveaxis(points.place, -1, 0)))
    young = np.exp(3 * points.place[:, :, 0])
    body = PlaneBody(elements, elements.stiffness(young, 0.45))
    pattern = body.pattern(np.arange(elements.size))
    return pattern.assembled(body.matrices).toarray(), mesh.nodes


def _rigid() -> Check:
    return Check(
        name="plane-rigid-motions",
        quantity="force of rigid motions over the stiffness's own size, plane elements",
        unit="1",
        kind="verification",
        source="a rigid motion strains nothing",
        status="closed form",
        # round-off of sums over some 27 x 16 products, relative to the largest term
        tolerance=1e-12,
        measure="absolute",
        compute=rigid_force,
    )


def rigid_force() -> Outcome:
    """Return the largest nodal force of unit rigid motions, against none."""
    matrix, (x, z) = _whole_matrix()
    one, zero = np.ones_like(x), np.zeros_like(x)
    motions = [np.stack(pair, axis=1).ravel() for pair in ((one, zero), (zero, one), (z, -x))]
    force = np.abs(matrix @ np.stack(motions, axis=1)).max()
    return Outcome(float(force / (np.abs(matrix).max() * np.abs(motions).max())), 0.0)


def _symmetry() -> Check:
    return Check(
        name="plane-symmetry",
        quantity="largest difference of the stiffness from its transpose over its largest entry",
        unit="1",
        kind="verification",
        source="an elastic body has an energy, so its stiffness is symmetric",
        status="closed form",
        # round-off of one product of 27 terms
        tolerance=1e-14,
        measure="absolute",
        compute=asymmetry,
    )


def asymmetry() -> Outcome:
    """Return the asymmetry of an assembled stiffness over its largest entry, against none."""
    matrix, _ = _whole_matrix()
    return Outcome(float(np.abs(matrix - matrix.T).max() / np.abs(matrix).max()), 0.0)


def _traction() -> Check:
    return Check(
        name="plane-wall-traction",
        quantity=(
            "largest error of the traction recovered on a curved wall from an even stress, over "
            "the stress, uneven depth"
        ),
        unit="1",
        kind="verification",
        source="traction = stress times normal (Cauchy)",
        status="closed form",
        # normals of a parabolic edge are exact to third order of its bend, 1e-4 and less here
        tolerance=0.001,
        measure="absolute",
        compute=traction_compared,
    )


def traction_compared(count: int = 8) -> Outcome:
    """Return the largest traction error on the upper side over the stress, against none."""
    mesh = distorted(count)
    nodal = depth(mesh.nodes[0], mesh.nodes[1])
    points = plane_points(mesh.nodes, mesh.elements)
    elements = plane_elements(points, points.interpolated(nodal))
    stress = np.array([0.3, -0.2, 0.1])
    even = np.broadcast_to(stress, (*points.weight.shape, 3))
    # an even stress in uneven depth is balanced by body forces, which the sides must not take up
    reaction = elements.force(even) + _body_force(points, nodal, stress)
    forces = reaction.reshape(-1, COMPONENTS)
    # at its ends the wall shares nodes with the other sides, whose part is not its own
    for name, outwards in (("xi_first", -1.0), ("xi_last", 1.0)):
        side = line(mesh, name, depth=nodal)
        forces[side.nodes] -= side.mass @ _cauchy(stress, outwards * side.normal)
    wall = line(mesh, "eta_last", depth=nodal)
    # walking along +xi the body lies to the right
    miss = wall.traction(forces[wall.nodes]) - _cauchy(stress, -wall.normal)
    return Outcome(float(np.abs(miss).max() / np.abs(stress).max()), 0.0)


def _cauchy(stress: Array, normal: Array) -> Array:
    return normal @ stress[[[0, 2], [2, 1]]]


def _body_force(points: PlanePoints, nodal: Array, stress: Array) -> Array:
    """Return the nodal forces of stress times the slope of the depth, shape (size,)."""
    slope = np.einsum("eqia,ea->eqi", points.gradient, nodal[points.elements])
    pull = slope @ stress[[[0, 2], [2, 1]]]
    local = np.einsum("eq,qa,eqc->eac", points.weight, points.value, pull)
    return gathered(freedoms(points.elements.ravel()), local, size=COMPONENTS * points.count)
