"""Outlines from a user's table (verification): smoothing, frame, and every refusal by name."""

import numpy as np
import pytest

from gomphosis.bone.root import RootProfile, ThicknessProfile
from gomphosis.bone.slice_crown import CrownOutline
from gomphosis.bone.slice_mesh import SliceDesign, slice_mesh
from gomphosis.bone.slice_outline import read_slice_outline, slice_outline
from gomphosis.bone.slice_polygon import crossings, outside_by

LABIAL = np.array([[8.0], [0.0]])
SQUARE = np.array([[0.0, 4, 4, 0], [0.0, 0, 4, 4]])


def half_ellipse(count=41, radius=3.0, depth=12.0, above=2.0):
    """Return a root: half an ellipse below the crest, straight above it, closed."""
    angle = np.linspace(np.pi, 2 * np.pi, count)
    lower = np.stack([radius * np.cos(angle), depth * np.sin(angle)])
    cap = np.array([[radius, -radius, -radius], [above, above, 0.0]])
    return np.concatenate([lower, cap], axis=1)


def box(x=8.0, top=0.0, bottom=-18.0):
    return np.array([[-x, x, x, -x, -x], [bottom, bottom, top, top, bottom]])


def write(path, parts, header="part,x_mm,z_mm"):
    rows = [f"{name},{x!r},{z!r}" for name, points in parts.items() for x, z in points.T.tolist()]
    path.write_text("\n".join(["# invented", header, *rows]) + "\n")
    return path


def turned(points, degrees, shift):
    a = np.radians(degrees)
    return np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) @ points + shift


def test_distance_outside_a_square_by_hand():
    points = np.array([[2.0, 2, 5, 7, 1], [2.0, 5, 2, 8, 0]])
    np.testing.assert_allclose(outside_by(points, SQUARE), [-2, 1, 1, 5, 0], rtol=0, atol=1e-14)


def test_crossings_of_two_squares_by_hand():
    corner, place = crossings(SQUARE, SQUARE + 2.0)
    np.testing.assert_array_equal(corner, [1, 2])
    np.testing.assert_allclose(place, [[4, 2], [2, 4]], rtol=0, atol=1e-14)


def test_a_table_gives_the_root_it_was_sampled_from(tmp_path):
    """Half an ellipse, the crest at its second point: depth and width by hand, and the notes."""
    crest = 12 * np.sin(np.pi / 40)
    path = write(tmp_path / "tooth.csv", {"root": half_ellipse(), "bone": box(top=-crest)})
    outline = read_slice_outline(path)
    np.testing.assert_allclose(outline.half_width, 3 * np.cos(np.pi / 40), rtol=1e-12)
    np.testing.assert_allclose(outline.surface.depth, 12 - crest, rtol=1e-6)
    assert outline.notes == (
        "tooth.csv: moved the middle of the crest, x = 0, z = -0.9415 mm, to the origin",
    )


def test_between_the_points_the_root_is_smooth():
    """A cubic spline through an ellipse: twice the points, an error at least 8 times smaller.

    Without the outer quarters: a natural spline errs at its ends and forgets it inwards.
    """
    error = []
    for count in (21, 41):
        outline = slice_outline({"root": half_ellipse(count), "bone": box(top=-0.01)})
        place = outline.surface.points - np.array([[0.0], [0.01]])
        level = (place[0] / 3) ** 2 + (place[1] / 12) ** 2
        error.append(np.abs(level[750:-750] - 1.0).max())
    assert error[1] < error[0] / 8
    assert error[1] < 1e-4


def test_a_trembling_hand_is_not_amplified():
    """25 uneven points, each off by up to 0.05 mm (invented): the root stays within twice that.

    Knots by chord length, not by its square root, overshoot beside close points and fail this.
    """
    random = np.random.default_rng(1)
    step = np.where(np.arange(24) % 3 == 1, 0.08, 1.0)
    angle = np.pi + np.pi * np.concatenate([[0.0], np.cumsum(step)]) / step.sum()
    exact = np.stack([3 * np.cos(angle), 12 * np.sin(angle)])
    root = half_ellipse(25)
    root[:, 1:24] = (exact + random.uniform(-0.035, 0.035, exact.shape))[:, 1:24]
    outline = slice_outline({"root": root, "bone": box(top=-0.5)})
    fine = np.linspace(np.pi, 2 * np.pi, 4001)
    ellipse = np.stack([3 * np.cos(fine), 12 * np.sin(fine)])
    gap = []
    for place in back_in_file_frame(outline, root)[:, ::10].T:
        gap.append(np.linalg.norm(ellipse - place[:, None], axis=0).min())
    assert max(gap) < 0.1


def back_in_file_frame(outline, root):
    """Undo the turn and the shift by the root's own corners."""
    a, b = outline.root, root[:, :-1]
    middle, target = a.mean(axis=1, keepdims=True), b.mean(axis=1, keepdims=True)
    u, _, vt = np.linalg.svd((b - target) @ (a - middle).T)
    return u @ vt @ (outline.surface.points - middle) + target


def test_frame_and_orientation_of_the_file_do_not_matter():
    parts = {"root": half_ellipse(), "bone": box(top=-0.5), "labial_plate": box(1, -1, -9) + 6.5}
    parts["labial_plate"][1] -= 6.5
    straight = slice_outline(parts)
    shift = np.array([[3.0], [-40.0]])
    moved = slice_outline({k: turned(v[:, ::-1], 12.0, shift) for k, v in parts.items()})
    np.testing.assert_allclose(moved.surface.depth, straight.surface.depth, rtol=1e-9)
    first, second = (
        set(map(tuple, np.round(o.plates["labial_plate"].T, 6) + 0.0)) for o in (straight, moved)
    )
    assert first == second
    assert first == {(5.5, -8.5), (7.5, -8.5), (7.5, -0.5), (5.5, -0.5)}
    said = " ".join(moved.notes)
    assert "root: points ran clockwise and were reversed" in said
    assert "turned by -12 degrees to stand the long axis upright" in said


def test_an_outline_on_a_profile_meshes_like_the_profile():
    """Paraboloid sampled by points: areas of root and ligament as in closed form, 0.1 %."""
    root = RootProfile(3.0, 12.0, 0.5)
    point = root.surface(np.linspace(0, 1, 40))[0]
    lower = np.concatenate([point[:, ::-1] * [[-1], [1]], point[:, 1:]], axis=1)
    cap = np.array([[3.0, -3.0, -3.0], [3.0, 3.0, 0.0]])
    outline = slice_outline({"root": np.concatenate([lower, cap], axis=1), "bone": box(top=-1e-9)})
    crown = CrownOutline((0.0, 10.0), (outline.half_width, 2.0), 5.0)
    mesh = slice_mesh(SliceDesign(outline.surface, ThicknessProfile.uniform(0.2), crown))
    np.testing.assert_allclose(mesh.area("root"), 2 * 3 * 12 / 1.5, rtol=1e-3)
    turn = np.pi - 2 * np.arctan2(3 * 0.5, 12)  # of the normal, crest to crest
    exact = 2 * root.arc_length() * 0.2 + 0.5 * turn * 0.2**2
    np.testing.assert_allclose(mesh.area("ligament"), exact, rtol=1e-3)


def test_an_asymmetric_root_with_a_sloping_crest_is_meshed():
    root = half_ellipse()
    root[0] += 0.6 * (root[1] / 12) ** 2  # a bent root
    bone = np.array([[-8.0, 8, 8, -8, -8], [-18.0, -18, 0.3, -1.2, -18]])
    outline = slice_outline({"root": root, "bone": bone})
    left, right = outline.surface.points[:, 0], outline.surface.points[:, -1]
    np.testing.assert_allclose(left, -right, rtol=0, atol=1e-12)
    assert right[1] > 0.1
    crown = CrownOutline((0.0, 10.0), (outline.half_width, 2.0), 5.0)
    mesh = slice_mesh(SliceDesign(outline.surface, ThicknessProfile(0.3, 0.2, 0.3), crown))
    assert mesh.scaled_jacobians.min() > 0.3
    axis = mesh.nodes[:, mesh.lines["axis"]]
    np.testing.assert_allclose(axis[0], 0.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(axis[1, [0, -1]], [0.0, -outline.surface.depth], atol=1e-12)


def refusals():
    root, bone = half_ellipse(), box()
    knot = root.copy()
    knot[:, [10, 14]] = knot[:, [14, 10]]
    bent = half_ellipse()
    bent[0, :-3] += 6.0 * np.sin(np.pi * np.clip(-bent[1, :-3] / 12, 0, 1))
    narrow = box(x=2.0)
    window = np.array([[-8.0, 8, 8, 2.2, 8, 8, -8, -8], [-18.0, -18, -5, -4, -3, 0, 0, -18]])
    return [
        ({"bone": bone}, "t.csv: no part root; it has bone"),
        (
            {"root": root[:, :-1], "bone": bone},
            r"t.csv: root: the outline is open: point 43 at .* "
            r"is 2 mm from point 1 at x = -3",
        ),
        (
            {"root": knot, "bone": bone},
            r"t.csv: root: the outline crosses itself between .* x -?\d",
        ),
        ({"root": root, "bone": box(top=5.0)}, r"t.csv: no crest found: .* all inside the bone"),
        ({"root": root, "bone": box() + 50.0}, r"t.csv: no crest found: .* all outside the bone"),
        (
            {"root": root, "bone": narrow},
            r"t.csv: bone: point \d at x = -?2, z = 0 mm lies inside the root",
        ),
        (
            {"root": root, "bone": window},
            r"root leaves the bone below the crest: they cross 4 "
            r"times, expected 2: .*x = 2\.\d+, z = -",
        ),
        (
            {"root": bent, "bone": box(x=14.0, top=-0.1)},
            r"t.csv: (root surface climbs|long axis)"
            r".* at x = .* mm",
        ),
        (
            {"root": root, "bone": box(top=-0.5), "labial_plate": box(1, -1, -9) + LABIAL},
            r"t.csv: labial_plate: point \d at x = 9, z = .* lies 1 mm outside the bone",
        ),
    ]


@pytest.mark.parametrize(("parts", "message"), refusals())
def test_bad_outlines_are_refused_with_the_place(parts, message):
    with pytest.raises(ValueError, match=message):
        slice_outline(parts, "t.csv")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("part,x,z\n", "bad.csv: line 1: expected columns part,x_mm,z_mm"),
        ("part,x_mm,z_mm\n# note\nroot,1\n", "bad.csv: line 3: expected 3 values, got 2"),
        ("part,x_mm,z_mm\nrot,1,2\n", "bad.csv: line 2: unknown part 'rot', expected one of root"),
        ("part,x_mm,z_mm\nroot,1,2 mm\n", "bad.csv: line 2: '1', '2 mm' are not numbers in mm"),
        ("part,x_mm,z_mm\nroot,nan,2\n", "bad.csv: line 2: nan, 2 are not finite"),
        ("", "bad.csv: no part root; it has none"),
    ],
)
def test_bad_tables_are_refused_with_the_line(tmp_path, text, message):
    path = tmp_path / "bad.csv"
    path.write_text(text)
    with pytest.raises(ValueError, match=message):
        read_slice_outline(path)
