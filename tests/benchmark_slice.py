"""Time a whole step of a slice beside an independent code; by hand: python tests/benchmark_slice.py

A step takes the moduli of new bone from the map at the tooth's new place, assembles, solves three
unit loads, balances the load, and moves walls, tooth and map (linear ligament). The other code,
NGSolve (registry name ngsolve), assembles and solves the same slice with its side walls for the
same three loads, on the same nodes with straight edges, one thread each; it neither moves nor
sweeps anything. Both print the motion under 0.3 N at the bracket, which shows that they solve one
problem. Numbers belong to the machine they were measured on, so none is kept here and no test is
timed.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from importlib.util import find_spec
from itertools import pairwise

import numpy as np

from gomphosis.bone.rates import Saturating
from gomphosis.bone.slice_body import SliceBody
from gomphosis.bone.slice_counts import SliceCounts
from gomphosis.bone.slice_mesh import slice_mesh
from gomphosis.bone.slice_response import wall_motion
from gomphosis.bone.slice_run import Place, SliceCase, advance, balance
from gomphosis.fem.cholesky import best_factorise
from gomphosis.fem.harmonic import lame
from gomphosis.fem.sparse_solve import scipy_factor
from gomphosis.scenarios.files import find_scenario
from gomphosis.scenarios.model import tooth_models
from gomphosis.scenarios.slice_model import slice_models

UNKNOWNS = (5_000, 20_000, 80_000)
LOAD = np.array([0.3, 0.0, 0.3 * 7.0])
SHIFT = np.array([0.02, -0.01, 0.002])  # a day's drift
STRIPS = 200  # of side walls handed to the other code


def least(task: Callable[[], object], repeat: int) -> float:
    """Run a task once unmeasured and then N times; return the least disturbed time in s."""
    task()
    seconds = []
    for _ in range(repeat):
        begin = time.perf_counter()
        task()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)


def sized(case: SliceCase, unknowns: int) -> SliceCase:
    """Return the case on a mesh of about as many unknowns."""
    counts = SliceCounts().near(unknowns)
    old = case.body
    return replace(case, body=SliceBody(old.design, slice_mesh(old.design, counts), old.tissue))


def ours(case: SliceCase, repeat: int) -> tuple[dict[str, float], np.ndarray]:
    """Return times of a whole step in seconds, and the motion under the load."""
    begin = time.perf_counter()
    place = Place(np.zeros(3), case.bones, case.outline)
    _, state = balance(case, place, LOAD)
    first = time.perf_counter() - begin
    place, _ = advance(case, place, SHIFT, 1.0)

    def step(factorise) -> None:
        found, now = balance(case, place, LOAD, factorise=factorise)
        motion = wall_motion(found, now, case.law, shear_weight=case.shear_weight)
        advance(case, place, motion.drift, 1.0)

    fast = best_factorise()
    times = {
        "first step with all preparation": first,
        "scipy": least(lambda: step(scipy_factor), repeat),
        "optional solver": least(lambda: step(fast), repeat),
    }
    return times, state.motion


def theirs(case: SliceCase, repeat: int) -> tuple[dict[str, float], np.ndarray]:
    """Return times of the other code's assembly and solution, and its motion under the load."""
    import ngsolve as ng

    ng.SetNumThreads(1)
    mesh = _their_mesh(case)
    space = ng.VectorH1(mesh, order=2, dirichlet="outer")
    trial, test = space.TnT()
    shear, bulk = _their_moduli(case, mesh)
    depth = _their_depth(case, mesh)

    def strain(field):
        return 0.5 * (ng.Grad(field) + ng.Grad(field).trans)

    form = ng.BilinearForm(space, symmetric=True, condense=True)
    form += (
        depth
        * (
            2 * shear * ng.InnerProduct(strain(trial), strain(test))
            + bulk * ng.div(trial) * ng.div(test)
        )
    ) * ng.dx
    across, along = _their_side_walls(case)
    form += (across * trial[0] * test[0] + along * trial[1] * test[1]) * ng.ds("axis")
    loads = _their_loads(case, test)
    found = [ng.GridFunction(space) for _ in loads]

    def solve() -> None:
        inverse = form.mat.Inverse(space.FreeDofs(True), inverse="sparsecholesky")
        for load, answer in zip(loads, found, strict=True):
            right = load.vec.CreateVector()
            right.data = load.vec + form.harmonic_extension_trans * load.vec
            answer.vec.data = inverse * right
            answer.vec.data += form.harmonic_extension * answer.vec
            answer.vec.data += form.inner_solve * load.vec

    times = {"assemble": least(form.Assemble, repeat), "solve": least(solve, repeat)}
    compliance = np.array(
        [[ng.InnerProduct(load.vec, answer.vec) for answer in found] for load in loads]
    )
    return times, compliance @ LOAD


def _their_mesh(case: SliceCase):
    import ngsolve as ng
    from netgen.meshing import Element1D, Element2D, FaceDescriptor, Mesh, MeshPoint, Pnt

    mine = case.body.mesh
    mesh = Mesh(dim=2)
    mesh.Add(FaceDescriptor(surfnr=1, domin=1, bc=1))
    used = np.unique(mine.elements[:, :4])
    number = {
        int(node): mesh.Add(MeshPoint(Pnt(*map(float, mine.nodes[:, node]), 0))) for node in used
    }
    for name, members in mine.regions.items():
        inside = mesh.AddRegion(name.replace(" ", "_"), dim=2)
        for element in members:
            mesh.Add(Element2D(inside, [number[int(node)] for node in mine.elements[element, :4]]))
    for name in ("outer", "axis", "bracket"):
        region = mesh.AddRegion(name, dim=1)
        corners = mine.lines[name][::2]
        for pair in pairwise(corners):
            mesh.Add(Element1D([number[int(node)] for node in pair], index=region))
    return ng.Mesh(mesh)


def _their_moduli(case: SliceCase, mesh):
    """Return shear modulus and first constant: linear in the map's cells, constant elsewhere."""
    import ngsolve as ng

    bones, law, tissue = case.bones, case.life.density_law, case.body.tissue
    raster = bones.raster
    room = np.maximum(1 - bones.covered, 1e-3)
    cells = law.soft + bones.bone * (law.modulus(bones.density) - law.soft) / room
    low = [float(raster.centres(axis)[0]) for axis in (0, 1)]
    high = [float(raster.centres(axis)[-1]) for axis in (0, 1)]
    bone = ng.VoxelCoefficient(tuple(low), tuple(high), np.ascontiguousarray(cells.T), linear=True)
    pairs = {
        "crown": (100 * tissue.dentine.young, tissue.dentine.poisson),
        "root": (tissue.dentine.young, tissue.dentine.poisson),
        "ligament": (tissue.ligament.young, tissue.ligament.poisson),
        "bone": (bone, tissue.bone_poisson),
        "soft_tissue": (law.soft, tissue.bone_poisson),
    }

    def of(index: int):
        return mesh.MaterialCF(
            {name: young * float(lame(1.0, nu)[index]) for name, (young, nu) in pairs.items()}
        )

    return of(1), of(0)


def _their_depth(case: SliceCase, mesh):
    import ngsolve as ng

    root = case.body.design.root
    z = np.linspace(-root.depth, 0.0, 2000)
    left, right = root.half_widths(z)
    width = np.repeat(0.5 * (right - left)[:, None], 2, axis=1)
    r = ng.VoxelCoefficient((-50.0, -root.depth), (50.0, 0.0), width, linear=True)
    beside = ng.IfPos(ng.x, ng.x, -ng.x)
    parts = dict.fromkeys(("ligament", "bone", "soft_tissue"), beside)
    return 0.5 * np.pi * mesh.MaterialCF(parts | {"root": r, "crown": float(width[-1, 0])})


def _their_side_walls(case: SliceCase):
    """Return the side walls' stiffness per length of the axis, N/mm^2, strip by strip."""
    import ngsolve as ng

    side, mesh = case.body.side, case.body.mesh
    height = np.einsum("pa,pa->p", side.shape, mesh.nodes[1, side.nodes])
    edges = np.linspace(-case.body.design.root.depth, 0.0, STRIPS + 1)
    found = []
    for stiffness in side.stiffness.T:
        strips = np.histogram(height, edges, weights=stiffness)[0] / np.diff(edges)
        values = np.repeat(strips[:, None], 2, axis=1)
        found.append(ng.VoxelCoefficient((-50.0, edges[0]), (50.0, 0.0), values, linear=False))
    return found


def _their_loads(case: SliceCase, test):
    """Return unit loads Fx, Fz, My at the crest, even and linear along the bracket."""
    import ngsolve as ng

    mesh = case.body.mesh
    x, z = mesh.nodes[:, mesh.lines["bracket"][::2]]
    weight = np.hypot(np.diff(x), np.diff(z))
    # exact for straight edges: Simpson's rule on the modes' products
    points = [(x[:-1], z[:-1], weight / 6), (x[1:], z[1:], weight / 6)]
    points += [(0.5 * (x[:-1] + x[1:]), 0.5 * (z[:-1] + z[1:]), 4 * weight / 6)]
    gram = np.zeros((3, 3))
    for px, pz, w in points:
        modes = np.array([[1 + 0 * px, 0 * px], [0 * px, 1 + 0 * px], [pz, -px]])
        gram += np.einsum("icn,jcn,n->ij", modes, modes, w)
    modes = [ng.CF((1, 0)), ng.CF((0, 1)), ng.CF((ng.y, -ng.x))]
    forms = []
    for row in np.linalg.inv(gram):
        a, b, c = map(float, row)
        even = a * modes[0] + b * modes[1] + c * modes[2]
        forms.append(ng.LinearForm(even * test * ng.ds("bracket")).Assemble())
    return forms


def main() -> None:
    """Print times in ms, ratios to the other code's assemble + solve, and growth with size."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=5)
    repeat = parser.parse_args().repeat
    scenario = find_scenario("thin-plate")
    case = slice_models(scenario, tooth_models(scenario, Saturating(0.06, 0.0014)))[0].case
    sizes, totals = [], {}
    for unknowns in UNKNOWNS:
        one = sized(case, unknowns)
        times, motion = ours(one, repeat)
        sizes.append(len(one.body.pattern.free))
        print(f"{sizes[-1]} unknowns: motion {motion}")
        whole = None
        if find_spec("ngsolve") is None:
            print("  NOT COMPARED: ngsolve is not installed")
        else:
            other, moved = theirs(one, repeat)
            whole = sum(other.values())
            parts = ", ".join(f"{key} {1e3 * value:.1f} ms" for key, value in other.items())
            print(f"  other code: motion {moved}; {parts}")
        for key, value in times.items():
            totals.setdefault(key, []).append(value)
            ratio = "" if whole is None else f"{value / whole:8.2f} of the other code"
            print(f"    {key:<32} {1e3 * value:10.1f} ms {ratio}")
    for key, row in totals.items():
        power = np.log(row[-1] / row[0]) / np.log(sizes[-1] / sizes[0])
        print(f"{key}: time grows like n^{power:.2f}")


if __name__ == "__main__":
    main()
