"""Rods: measures and strains against differences, rest shapes, energy, grips, centre lines."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from gomphosis.fem import rod_equilibrium
from gomphosis.fem.continuation import load_path
from gomphosis.fem.fibre_laws import PlasticFibre, SuperelasticFibre
from gomphosis.fem.fibre_section import rectangular_section, round_section
from gomphosis.fem.newton import NotConvergedError
from gomphosis.fem.rod import Rod, RodPlace, RodShape, straight_shape
from gomphosis.fem.rod_curve import VALUE, centre_point
from gomphosis.fem.rod_element import Elements, measure, second_derivative
from gomphosis.fem.rod_equilibrium import Grips, between, reach, settle
from gomphosis.fem.rod_line import centre_line, resampled
from gomphosis.fem.rod_strain import strain_map
from gomphosis.fem.section_response import ElasticSection, FibrewiseSection

ELASTIC = ElasticSection(1e4, 180.0, 300.0, 110.0)
SUPERELASTIC = FibrewiseSection(
    round_section(0.4064), SuperelasticFibre(5e4, 1.88e4, 400.0, 450.0, 200.0, 150.0, 0.05)
)


def random_elements(rng, count=4):
    start = rng.normal(size=(count, 3))
    span = rng.normal(size=(count, 3))
    along = span / np.linalg.norm(span, axis=1)[:, None]
    side = np.cross(along, [0.3, 0.5, 0.8])
    side /= np.linalg.norm(side, axis=1)[:, None]
    frame = np.stack([along, side, np.cross(along, side)], axis=2)
    turns = [Rotation.from_rotvec(0.2 * rng.normal(size=(count, 3))).as_matrix() for _ in "ab"]
    return Elements(start, start + span, turns[0] @ frame, turns[1] @ frame)


def moved(elements, motion):
    turns = [Rotation.from_rotvec(motion[:, k : k + 3]).as_matrix() for k in (3, 9)]
    return Elements(
        elements.start + motion[:, :3],
        elements.end + motion[:, 6:9],
        turns[0] @ elements.first,
        turns[1] @ elements.last,
    )


def test_derivatives_of_the_measures_are_those_of_differences():
    """Verification: central differences, finite rotations of 0.2 rad against the chord."""
    rng = np.random.default_rng(1)
    elements, step = random_elements(rng), 1e-6
    force = rng.normal(size=(4, 6))
    here = measure(elements)
    slope, curve = np.zeros((4, 6, 12)), np.zeros((4, 12, 12))
    for k in range(12):
        motion = np.zeros((4, 12))
        motion[:, k] = step
        ahead, behind = (measure(moved(elements, sign * motion)) for sign in (1, -1))
        slope[:, :, k] = (ahead.values - behind.values) / (2 * step)
        curve[:, :, k] = np.einsum("na,naf->nf", force, ahead.slope - behind.slope) / (2 * step)
    np.testing.assert_allclose(here.slope, slope, rtol=0, atol=1e-8)
    np.testing.assert_allclose(second_derivative(here, force), curve, rtol=0, atol=1e-8)


def test_measures_of_an_arc_are_its_angles():
    """Verification: an arc of 0.3 rad turns by half of it against its chord at both ends."""
    angle, radius = 0.3, 10.0
    ends = radius * np.array([[0.0, 0, 0], [np.sin(angle), 1 - np.cos(angle), 0]])
    turn = Rotation.from_rotvec([0, 0, angle]).as_matrix()
    values = measure(Elements(ends[:1], ends[1:], np.eye(3)[None], turn[None])).values[0]
    # sines are turned to angles to the third order: 3/40 of the fifth power is left
    np.testing.assert_allclose(values[1:5], [-0.15, 0, 0.15, 0], rtol=0, atol=6e-6)
    np.testing.assert_allclose(values[0], 2 * radius * np.sin(angle / 2), rtol=1e-14)


def test_strains_are_quadratic_with_their_own_derivative():
    rng = np.random.default_rng(2)
    mapping = strain_map(np.array([0.7, 1.3]), np.array([0.2, 0.8]))
    values, force = rng.normal(size=(2, 6)), rng.normal(size=(2, 2, 4))
    step = 1e-5
    for k in range(6):
        unit = np.zeros((2, 6))
        unit[:, k] = step
        (up, up_slope), (down, down_slope) = mapping.at(values + unit), mapping.at(values - unit)
        slope = mapping.at(values)[1]
        np.testing.assert_allclose((up - down) / (2 * step), slope[..., k], rtol=0, atol=1e-8)
        curve = np.einsum("nps,npsk->nk", force, up_slope - down_slope) / (2 * step)
        np.testing.assert_allclose(mapping.curve(force)[:, k], curve, rtol=0, atol=1e-8)


def test_stretch_and_curvature_are_those_of_a_cubic():
    """Verification: slopes of Hermite's cubic over the chord, integrated by a fine rule."""
    length, xi, first, last = 2.0, 0.3, 0.05, -0.02
    values = np.array([[length, first, 0.0, last, 0.0, 0.0]])
    strain = strain_map(np.array([length]), np.array([xi])).at(values)[0][0, 0]
    place, weight = np.polynomial.legendre.leggauss(6)
    t = 0.5 * (1 + place)
    slope = (1 - 4 * t + 3 * t**2) * first + (3 * t**2 - 2 * t) * last
    # arc over chord, to the second order
    np.testing.assert_allclose(strain[0], 1 + 0.25 * weight @ slope**2, rtol=1e-14)
    bend = ((6 * xi - 4) * first + (6 * xi - 2) * last) / length
    np.testing.assert_allclose(strain[1:], [0.0, bend, 0.0], rtol=0, atol=1e-14)


def curved_and_kinked():
    """Return a curved, twisted and kinked stress-free shape."""
    rng = np.random.default_rng(5)
    nodes = np.cumsum(np.array([[0, 0, 0], [1, 0.1, 0], [1, 0.3, 0.2], [0.8, 0.1, 0.4]]), axis=0)
    triads = Rotation.from_rotvec(0.3 * rng.normal(size=(4, 3))).as_matrix()
    kinks = Rotation.from_rotvec(0.2 * rng.normal(size=(6, 3))).as_matrix().reshape(3, 2, 3, 3)
    return RodShape(RodPlace(nodes.astype(float), triads), np.full(3, 1.1), kinks)


def test_any_shape_without_load_is_free_of_stress_and_resists_all_but_rigid_motions():
    shape = curved_and_kinked()
    rod = Rod(shape, ELASTIC)
    response = rod.respond(shape.place, rod.at_rest().history)
    np.testing.assert_allclose(response.force, 0.0, rtol=0, atol=1e-10)
    size = 24
    matrix = (response.stiffness @ np.eye(size).reshape(4, 6, size)).reshape(size, size)
    values = np.linalg.eigvalsh(0.5 * (matrix + matrix.T))
    assert np.sum(np.abs(values) < 1e-9 * values.max()) == 6
    assert values.min() > -1e-9 * values.max()


def test_only_the_ends_of_the_elements_count_and_not_how_nodes_lie_between_kinks():
    """Other triads at the nodes, with kinks that undo them, are the same rod."""
    rng = np.random.default_rng(6)
    shape = curved_and_kinked()
    turn = Rotation.from_rotvec(0.5 * rng.normal(size=(4, 3))).as_matrix()
    back = np.swapaxes(turn, 1, 2)
    kinks = np.stack([back[:-1] @ shape.kinks[:, 0], back[1:] @ shape.kinks[:, 1]], axis=1)
    place = RodPlace(shape.place.nodes, shape.place.triads @ turn)
    motion = 0.1 * rng.normal(size=(4, 6))
    forces = []
    for each in (shape, RodShape(place, shape.lengths, kinks)):
        rod = Rod(each, ELASTIC)
        forces.append(rod.respond(each.place.moved(motion), rod.at_rest().history).force)
    assert np.abs(forces[0]).max() > 10.0
    np.testing.assert_allclose(forces[1], forces[0], rtol=0, atol=1e-9)


def cantilever(section, count=8, length=10.0):
    shape = straight_shape(length, count)
    grips = Grips(
        np.array([0, count]),
        shape.place.nodes[[0, count]],
        shape.place.triads[[0, count]],
        np.array([[True] * 6, [False, True, False, False, False, False]]),
    )
    return Rod(shape, section), grips


def lifted(grips, height):
    place = grips.place.copy()
    place[1, 1] += height
    return grips.at(place, grips.triads)


@pytest.mark.parametrize("law", ["superelastic", "plastic"])
def test_books_of_a_closed_cycle_close_and_it_dissipates(law):
    """Verification: work at the end = stored + inelastic, to 1 %; a closed cycle costs work."""
    section = SUPERELASTIC
    if law == "plastic":
        fibre = PlasticFibre(1.8e5, 6.9e4, 1600.0, 3000.0)
        section = FibrewiseSection(rectangular_section(0.4, 0.6), fibre)
    rod, grips = cantilever(section)
    state, work, force, energies = rod.at_rest(), 0.0, 0.0, []
    heights = np.concatenate([np.linspace(0, 5, 26), np.linspace(5, 0, 26)[1:]])
    strain = np.zeros((len(rod.point_stations), 4))
    for before, height in pairwise(heights):
        found = settle(rod, state, lifted(grips, height))
        now = float(found.reaction[1, 1])
        work += 0.5 * (force + now) * (height - before)
        force, state, strain = now, found.state, found.response.strain
        weight = np.repeat(rod.shape.lengths / 2, 2)
        stored = weight @ section.stored(strain, state.history)
        inelastic = weight @ section.inelastic(state.history)
        energies.append((work, stored + inelastic))
    works, books = np.array(energies).T
    np.testing.assert_allclose(works, books, rtol=0, atol=0.01 * works.max())
    assert work > 0.05 * works.max()
    if law == "plastic":
        # steel keeps a bend: at the starting height it pushes the other way
        assert force < -0.1


def test_reactions_hold_the_loads_too():
    """Statics, with a load on a node that is held and one between."""
    rod, grips = cantilever(ELASTIC)
    load = np.zeros((9, 6))
    load[0, :3], load[4, 1], load[8, 1] = [0.3, -0.2, 0.1], 0.5, -2.0
    found = settle(rod, rod.at_rest(), grips, load=load)
    total = found.reaction[:, :3].sum(axis=0) + load[:, :3].sum(axis=0)
    np.testing.assert_allclose(total, 0.0, rtol=0, atol=1e-7)
    np.testing.assert_allclose(found.reaction[0, [0, 2]], [-0.3, -0.1], rtol=0, atol=1e-7)
    # between a clamp and a free end that is held up, at half the span: 5/16 of the load
    np.testing.assert_allclose(found.reaction[1, 1], 2.0 - 0.5 * 5 / 16, rtol=1e-3)


def test_one_step_and_many_agree():
    """Bars: 1e-6 for an elastic wire, 1 % for a superelastic one."""
    for section, bar in ((ELASTIC, 1e-6), (SUPERELASTIC, 0.01)):
        rod, grips = cantilever(section)
        path = between(grips, lifted(grips, 3.0))
        once = reach(rod, rod.at_rest(), path).reaction[1, 1]
        many = reach(rod, rod.at_rest(), path, steps=40).reaction[1, 1]
        assert abs(once / many - 1) < bar


def test_a_failed_step_is_gone_in_halves(monkeypatch):
    rod, grips = cantilever(ELASTIC)
    shares, plain = [], rod_equilibrium.settle

    def brittle(rod, state, grips, **options):
        share = (grips.place[1, 1] - state.place.nodes[-1, 1]) / 4.0
        if share > 0.3:
            raise NotConvergedError([1.0], 1e-8)
        shares.append(share)
        return plain(rod, state, grips, **options)

    monkeypatch.setattr(rod_equilibrium, "settle", brittle)
    found = reach(rod, rod.at_rest(), between(grips, lifted(grips, 4.0)))
    np.testing.assert_allclose(shares, 0.25, rtol=1e-9)
    monkeypatch.undo()
    exact = settle(rod, rod.at_rest(), lifted(grips, 4.0))
    np.testing.assert_allclose(found.reaction, exact.reaction, rtol=0, atol=1e-6)


def test_no_way_raises_with_its_history():
    rod, grips = cantilever(ELASTIC)
    stretched = grips.at(grips.place * np.nan, grips.triads)
    with pytest.raises(NotConvergedError) as error:
        reach(rod, rod.at_rest(), lambda share: stretched)
    assert len(error.value.history) >= 1


def three_grips(motion, held):
    rng = np.random.default_rng(3)
    shape = straight_shape(20.0, 8)
    nodes = np.array([0, 4, 8])
    place = shape.place.nodes[nodes] + 0.6 * rng.normal(size=(3, 3)) + motion[:, :3]
    turn = Rotation.from_rotvec(0.2 * rng.normal(size=(3, 3)))
    triads = Rotation.from_rotvec(motion[:, 3:]).as_matrix() @ turn.as_matrix()
    return shape, Grips(nodes, place, triads @ shape.place.triads[nodes], held)


@pytest.mark.parametrize("twist", [True, False])
def test_stiffness_seen_from_the_grips_is_that_of_differences(twist):
    """Verification: central differences of whole equilibria, grips 0.6 mm and 0.2 rad out."""
    held = np.ones((3, 6), dtype=bool)
    held[[0, 2], 0] = False
    held[[0, 2], 3] = twist
    shape, grips = three_grips(np.zeros((3, 6)), held)
    rod = Rod(shape, ELASTIC)
    here = reach(rod, rod.at_rest(), lambda share: grips, steps=1)
    motion, reaction = here.by_grips()
    step = 1e-5
    for k in range(18):
        unit = step * np.eye(18)[k].reshape(3, 6)
        ahead, behind = (
            settle(rod, here.state, three_grips(sign * unit, held)[1]) for sign in (1, -1)
        )
        by = (ahead.reaction - behind.reaction) / (2 * step)
        np.testing.assert_allclose(
            reaction[:, :, k], by, rtol=0, atol=1e-7 * np.abs(reaction).max()
        )
        by = (ahead.state.place.nodes - behind.state.place.nodes) / (2 * step)
        np.testing.assert_allclose(motion[:, :3, k], by, rtol=0, atol=1e-7)


def bent():
    rod, grips = cantilever(ELASTIC)
    return rod, settle(rod, rod.at_rest(), lifted(grips, 4.0)).state.place


def test_centre_line_goes_through_the_nodes_along_their_tangents():
    """Its points beside nodes lie on the tangents there, to the square of the distance."""
    rod, place = bent()
    line = centre_line(rod.shape, place, per_element=4)
    assert len(line) == 4 * 8 + 1
    np.testing.assert_array_equal(line[::4], place.nodes)
    fine, way = centre_line(rod.shape, place, per_element=1000), rod.shape.lengths[0] / 1000
    for sign in (1, -1):
        beside = fine[1000 + sign : 7500 : 1000] - place.nodes[1:-1]
        tangents = sign * way * place.triads[1:-1, :, 0]
        np.testing.assert_allclose(beside, tangents, rtol=0, atol=2 * way**2)


def test_resampled_nodes_lie_on_the_line_and_keep_what_did_not_move():
    rod, place = bent()
    stations = rod.shape.stations + 0.05
    stations[[0, 8]] = 0.0, 10.0
    new = resampled(rod.shape, place, stations)
    for node in range(1, 8):
        there = centre_point(rod.shape, place, stations[node]).path[VALUE, 0]
        np.testing.assert_allclose(new.nodes[node], there, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(new.triads[[0, 8]], place.triads[[0, 8]])


def test_a_load_path_that_cannot_go_on_raises():
    rod, grips = cantilever(ELASTIC)
    path = load_path(rod, rod.at_rest(), grips, load=np.full((9, 6), np.nan), stride=0.1)
    with pytest.raises(NotConvergedError):
        next(path)


def test_shapes_that_do_not_fit_are_refused():
    shape = straight_shape(2.0, 2)
    with pytest.raises(ValueError, match="3 nodes need 2 lengths above 0 mm"):
        RodShape(shape.place, np.array([1.0, 0.0]))
    with pytest.raises(ValueError, match="at least 2 nodes"):
        RodShape(RodPlace(np.zeros((1, 3)), np.eye(3)[None]), np.zeros(0))
