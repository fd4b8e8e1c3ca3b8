"""The parts that patches are made of, each against a truth of its own."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.spatial import Delaunay
from shapes import bowl_shell, plate, sphere, turned_over

from lossfill.body.flatmesh import fill_outline, folded_share, make_delaunay, refine
from lossfill.body.patch import inside, least_area_patch, rim_of
from lossfill.body.pieces import winding_number
from lossfill.body.topology import boundary_loops, edges_of, label_faces, label_sheets
from lossfill.mesh import FloatArray, IntArray

ANGLE = np.arange(40) / 40 * 2.0 * np.pi
CIRCLE = np.column_stack([np.cos(ANGLE), np.sin(ANGLE)])
STAR = CIRCLE * np.where(np.arange(40) % 2 == 0, 1.0, 0.6)[:, None]


def area_of(points: FloatArray, triangles: IntArray) -> FloatArray:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    ab, ac = b - a, c - a
    return np.asarray(0.5 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]))


def polygon_area(points: FloatArray) -> float:
    """Gauss's shoelace formula."""
    x, y = points.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


@pytest.mark.parametrize("outline", [CIRCLE, STAR], ids=["circle", "star"])
def test_refined_triangles_tile_the_outline(outline: FloatArray) -> None:
    points, triangles = refine(outline, fill_outline([outline]), 0.1)
    areas = area_of(points, triangles)
    assert areas.min() > 0.0
    assert_allclose(areas.sum(), polygon_area(outline), rtol=1e-12)
    assert_array_equal(points[: len(outline)], outline)
    # Twice the equilateral area of that edge length: refining stops at 1.35 times an edge squared.
    assert areas.max() < 1.5 * 0.1**2
    edges = edges_of(triangles)
    rim = edges.uses == 1
    assert rim.sum() == len(outline)
    assert ((edges.high - edges.low)[rim] % (len(outline) - 2) == 1).all()


def test_flips_reach_the_delaunay_triangulation_of_scipy() -> None:
    # On a convex outline, constrained and plain Delaunay are the same; no four points of this
    # random set lie on a circle, so it is unique.
    points = np.concatenate([CIRCLE * 2.0, np.random.default_rng(2).uniform(-1.2, 1.2, (150, 2))])
    points[:40] *= np.random.default_rng(3).uniform(1.0, 1.0001, (40, 1))
    expected = Delaunay(points).simplices
    # A bad start: a fan of ears, with each inner point put into the triangle that holds it.
    start = fill_outline([points[:40]])
    for number in range(40, len(points)):
        a, b, c = (points[start[:, k]] for k in range(3))
        holds = np.ones(len(start), dtype=bool)
        for p, q in ((a, b), (b, c), (c, a)):
            side = (q - p)[:, 0] * (points[number] - p)[:, 1]
            holds &= side > (q - p)[:, 1] * (points[number] - p)[:, 0]
        (at,) = np.flatnonzero(holds)
        i, j, k = start[at]
        start = np.concatenate(
            [np.delete(start, at, axis=0), [[i, j, number], [j, k, number], [k, i, number]]]
        )
    found = make_delaunay(points, start.astype(np.int32))
    as_sets = [{tuple(sorted(t)) for t in triangles.tolist()} for triangles in (found, expected)]
    assert len(as_sets[0] ^ as_sets[1]) == 0


def test_folds_are_measured() -> None:
    assert folded_share(STAR, fill_outline([STAR])) == 0.0
    eight = np.array([[0.0, 0.0], [2.0, 2.0], [2.0, 0.0], [0.0, 1.0]])
    assert folded_share(eight, fill_outline([eight])) > 0.02
    backwards = CIRCLE[::-1]
    assert folded_share(backwards, fill_outline([backwards])) == float("inf")


def test_least_area_finds_the_flat_filling_of_a_bent_outline() -> None:
    # Four corners of a square folded along a diagonal by 90 degrees: of the two ways to fill it,
    # along the fold the area is that of the square, across it is larger.
    corners = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.0]])
    lift = np.array([0.0, 1.0, 0.0, 0.0])
    corners[:, 2] += lift
    rim = rim_of(corners, np.arange(4, dtype=np.int32))
    patch = least_area_patch(rim)
    spans = [
        0.5 * np.linalg.norm(np.cross(corners[j] - corners[i], corners[k] - corners[i]))
        for i, j, k in patch.triangles
    ]
    one = 0.5 * np.sqrt(3.0) + 0.5  # fold along 0-2: an upright triangle, sqrt(3)/2, and a flat one
    other = 2.0 * 0.5 * np.sqrt(2.0)  # along 1-3
    assert_allclose(sum(spans), min(one, other), rtol=1e-12)


def test_a_point_is_inside_an_outline_or_not() -> None:
    points = np.random.default_rng(4).uniform(-1.2, 1.2, (500, 2))
    angle = np.pi / 40
    within = np.linalg.norm(points, axis=1) < np.cos(angle)  # the polygon's inscribed circle
    outside = np.linalg.norm(points, axis=1) > 1.0
    found = inside(CIRCLE, points)
    assert found[within].all()
    assert not found[outside].any()


def test_winding_number_counts_surfaces() -> None:
    ball = sphere(10.0, 32).mesh
    assert winding_number(ball, np.array([1.0, 2.0, 3.0])) == pytest.approx(1.0, abs=1e-9)
    assert winding_number(ball, np.array([11.0, 2.0, 3.0])) == pytest.approx(0.0, abs=1e-9)
    assert winding_number(turned_over(ball), np.zeros(3)) == pytest.approx(-1.0, abs=1e-9)


def test_the_rim_of_a_sheet_runs_against_its_triangles() -> None:
    sheet = plate(10.0, 5)
    (loop,) = boundary_loops(sheet.faces, edges_of(sheet.faces))
    assert len(loop) == 20
    rim = rim_of(sheet.vertices, loop)
    # The sheet faces up, so what closes it to a solid faces down.
    assert_allclose(rim.axes[2], [0.0, 0.0, -1.0], atol=1e-12)
    assert_allclose(rim.area_mm2, 100.0, rtol=1e-12)
    assert rim.is_flat


def test_euler_and_parts() -> None:
    bowl = bowl_shell(48).mesh
    edges = edges_of(bowl.faces)
    assert len(bowl.vertices) - len(edges.uses) + len(bowl.faces) == 2
    two = np.concatenate([bowl.faces, bowl.faces + len(bowl.vertices)])
    assert label_faces(two, 2 * len(bowl.vertices))[0] == 2
    assert label_sheets(len(two), edges_of(two))[0] == 2
    # Idle vertices between are no parts.
    assert label_faces(two + 5, 2 * len(bowl.vertices) + 9)[0] == 2
