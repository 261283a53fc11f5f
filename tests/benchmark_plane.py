"""Time the plane slice beside an independent code; by hand: python tests/benchmark_plane.py.

Both solve the same body on the same mesh with the same elements (nine nodes, full quadratic), a
soft layer in a stiff block, one thread each. Ours projects the dilatation, so answers agree to the
error of the mesh only. Ours also with the optional solver, and with the
factor of the day before where bone changed a little. The other code is NGSolve (registry name
ngsolve); without it only our own times are printed. Numbers belong to the machine they were
measured on, so none is kept here and no test is timed.
"""

import argparse
import time
from collections.abc import Callable
from importlib.util import find_spec

import numpy as np

from gomphosis.fem.cholesky import best_factorise
from gomphosis.fem.harmonic import lame
from gomphosis.fem.plane import plane_elements
from gomphosis.fem.plane_equilibrium import PlaneBody
from gomphosis.fem.plane_grid import plane_grid
from gomphosis.fem.plane_points import plane_points
from gomphosis.fem.sparse_order import nested_dissection
from gomphosis.fem.sparse_solve import scipy_factor, solve_nearby, solve_sparse

COUNTS = {"5k": 25, "20k": 50, "80k": 100}
SOFT, STIFF, POISSON = 0.05, 345.0, 0.3
LAYER = (0.4, 0.6)


def least(task: Callable[[], object], repeat: int) -> float:
    """Run a task once unmeasured and then N times; return the least disturbed time in s."""
    task()
    seconds = []
    for _ in range(repeat):
        begin = time.perf_counter()
        task()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)


def ours(count: int, repeat: int) -> tuple[dict[str, float], float]:
    """Return times of each part, and the displacement of a corner."""
    grid = np.linspace(0.0, 1.0, count + 1)
    mesh = plane_grid(grid, grid, mapping=lambda x, z: np.stack([x, z]))
    begin = time.perf_counter()
    elements = plane_elements(plane_points(mesh.nodes, mesh.elements))
    order = nested_dissection(mesh.nodes, mesh.elements)
    order = order[mesh.nodes[1, order] > 0]
    free = (2 * order[:, None] + np.arange(2)).ravel()
    body = PlaneBody(elements, elements.stiffness(1.0, POISSON))
    pattern = body.pattern(free)
    prepared = time.perf_counter() - begin
    middle = mesh.nodes[1, mesh.elements[:, 8]]
    soft = (middle > LAYER[0]) & (middle < LAYER[1])
    # one modulus per integration point, as sampled from a bone density map
    young = np.repeat(np.where(soft, SOFT, STIFF)[:, None], 9, axis=1)
    later = young * np.random.default_rng(1).uniform(0.9, 1.1, size=young.shape)
    load = elements.measure @ np.ones(9) / 36  # of a unit body force along x, by Simpson's rule
    right = np.zeros(elements.size)
    share = load[:, None] * [1, 1, 1, 1, 4, 4, 4, 4, 16]
    np.add.at(right, 2 * mesh.elements, share)
    right = right[free]

    def assembled(moduli: np.ndarray):
        return pattern.assembled(elements.stiffness(moduli, POISSON))

    matrix, changed = assembled(young), assembled(later)
    fast = best_factorise()
    kept, fast_kept = scipy_factor(matrix), best_factorise()(matrix)
    times = {
        "prepare once": prepared,
        "assemble": least(lambda: assembled(young), repeat),
        "solve, scipy": least(lambda: solve_sparse(matrix, right), repeat),
        "solve, kept scipy factor": least(lambda: solve_nearby(changed, right, kept=kept), repeat),
    }
    if fast is not scipy_factor:
        times["solve, optional"] = least(
            lambda: solve_sparse(matrix, right, factorise=fast), repeat
        )
        times["solve, kept optional factor"] = least(
            lambda: solve_nearby(changed, right, kept=fast_kept, factorise=fast), repeat
        )
    answer = solve_sparse(matrix, right).answer
    corner = 2 * mesh.lines["eta_last"][0]
    return times, float(answer[np.flatnonzero(free == corner)[0]])


def theirs(count: int, repeat: int, *, condense: bool) -> tuple[dict[str, float], float]:
    """Return the same of the other code, with or without inner unknowns in the global system."""
    import ngsolve as ng

    ng.SetNumThreads(1)
    mesh = _their_mesh(count)
    space = ng.VectorH1(mesh, order=2, dirichlet="floor")
    trial, test = space.TnT()
    soft = ng.IfPos((ng.y - LAYER[0]) * (LAYER[1] - ng.y), 1.0, 0.0)
    bulk, shear = (
        soft * float(low) + (1 - soft) * float(high)
        for low, high in zip(lame(SOFT, POISSON), lame(STIFF, POISSON), strict=True)
    )

    def strain(field):
        return 0.5 * (ng.Grad(field) + ng.Grad(field).trans)

    form = ng.BilinearForm(space, symmetric=True, condense=condense)
    form += (
        2 * shear * ng.InnerProduct(strain(trial), strain(test))
        + bulk * ng.div(trial) * ng.div(test)
    ) * ng.dx
    load = ng.LinearForm(ng.CoefficientFunction((1, 0)) * test * ng.dx).Assemble()
    found = ng.GridFunction(space)

    def solve() -> None:
        inverse = form.mat.Inverse(space.FreeDofs(condense), inverse="sparsecholesky")
        if not condense:
            found.vec.data = inverse * load.vec
            return
        right = load.vec.CreateVector()
        right.data = load.vec + form.harmonic_extension_trans * load.vec
        found.vec.data = inverse * right
        found.vec.data += form.harmonic_extension * found.vec
        found.vec.data += form.inner_solve * load.vec

    times = {"assemble": least(form.Assemble, repeat), "solve": least(solve, repeat)}
    return times, float(found(mesh(0.0, 1.0))[0])


def _their_mesh(count: int):
    import ngsolve as ng
    from netgen.meshing import Element1D, Element2D, FaceDescriptor, Mesh, MeshPoint, Pnt

    mesh = Mesh(dim=2)
    mesh.Add(FaceDescriptor(surfnr=1, domin=1, bc=1))
    steps = range(count + 1)
    number = [[mesh.Add(MeshPoint(Pnt(i / count, j / count, 0))) for j in steps] for i in steps]
    inside = mesh.AddRegion("body", dim=2)
    for i in range(count):
        for j in range(count):
            ring = (number[i][j], number[i + 1][j], number[i + 1][j + 1], number[i][j + 1])
            mesh.Add(Element2D(inside, list(ring)))
    floor = mesh.AddRegion("floor", dim=1)
    for i in range(count):
        mesh.Add(Element1D([number[i][0], number[i + 1][0]], index=floor))
    return ng.Mesh(mesh)


def main() -> None:
    """Print the times in ms, and ratios to the other code's assemble + solve."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=5)
    repeat = parser.parse_args().repeat
    totals: dict[str, list[float]] = {}
    for name, count in COUNTS.items():
        times, corner = ours(count, repeat)
        print(f"{name}: corner moves {corner:.10g} mm")
        _print(times)
        sums = {key: times["assemble"] + value for key, value in times.items() if "solve" in key}
        for key, total in sums.items():
            totals.setdefault(key, []).append(total)
        if find_spec("ngsolve") is None:
            print("  NOT COMPARED: ngsolve is not installed")
            continue
        for condense in (False, True):
            other, moved = theirs(count, repeat, condense=condense)
            whole = sum(other.values())
            print(f"  other code, condense={condense}: corner {moved:.10g} mm")
            _print(other)
            for key, total in sums.items():
                print(f"    ratio assemble + {key:<32} {total / whole:8.2f}")
    sizes = [2 * (2 * count + 1) ** 2 for count in COUNTS.values()]
    for key, row in totals.items():
        power = np.log(row[-1] / row[0]) / np.log(sizes[-1] / sizes[0])
        print(f"assemble + {key}: time grows like n^{power:.2f}")


def _print(times: dict[str, float]) -> None:
    for key, value in times.items():
        print(f"    {key:<32} {1e3 * value:10.1f} ms")


if __name__ == "__main__":
    main()
