"""The search along a direction: areas in closed form, and no line is ever missed."""

from __future__ import annotations

import numpy as np
import pytest
from fit.fit_cases import along_y, box, corners
from hypothesis import given, settings
from hypothesis import strategies as st

from lossfill.fit.overlap import Overlap, overlap_along_z
from lossfill.mesh import FloatArray

CELL_MM = 0.05

PIECE = box((0.013, 0.021, 5.0), (10.013, 8.021, 9.0))
# Seen along z the two share 3.11 mm × 5.37 mm.
LOW_BODY = box((6.903, 2.651, 0.0), (14.0, 11.0, 4.0))
HIGH_BODY = LOW_BODY.translate((0.0, 0.0, 2.0))
WIDE_MM, LONG_MM = 10.013 - 6.903, 8.021 - 2.651


def overlap(piece: FloatArray, body: FloatArray, cell_mm: float = CELL_MM) -> Overlap:
    return overlap_along_z(piece, body, finest_mm=cell_mm, coarsest_mm=32 * cell_mm)


def turned(points: FloatArray, angle: float) -> FloatArray:
    c, s = np.cos(angle), np.sin(angle)
    return points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 90.0, 211.0])
def test_boxes_share_their_rectangle_within_one_ring_of_cells(angle_deg: float) -> None:
    angle = np.radians(angle_deg)
    found = overlap(turned(corners(PIECE), angle), turned(corners(HIGH_BODY), angle))
    # A cell is open where both reach into it: none farther off than its diagonal.
    ring = CELL_MM if angle_deg % 90.0 == 0.0 else np.sqrt(2.0) * CELL_MM
    assert found.area_mm2 >= WIDE_MM * LONG_MM
    assert found.area_mm2 <= (WIDE_MM + 2.0 * ring) * (LONG_MM + 2.0 * ring)
    np.testing.assert_allclose(found.body_mm, 6.0, atol=1e-6)
    np.testing.assert_allclose(found.piece_mm, 5.0, atol=1e-6)


def test_a_piece_above_the_body_is_free() -> None:
    assert len(overlap(corners(PIECE), corners(LOW_BODY)).cells) == 0
    # A hundredth above is above; a hundredth into it is not.
    near = LOW_BODY.translate((0.0, 0.0, 0.99))
    assert len(overlap(corners(PIECE), corners(near)).cells) == 0
    assert len(overlap(corners(PIECE), corners(near.translate((0, 0, 0.02)))).cells) > 0


def test_a_piece_beside_the_body_is_free() -> None:
    beside = HIGH_BODY.translate((5.0, 0.0, 50.0))
    assert len(overlap(corners(PIECE), corners(beside)).cells) == 0


def test_a_slope_is_open_up_to_where_it_meets_the_body() -> None:
    # The piece's underside rises as z = x over 10 mm; the body's top is level at 4.003.
    piece = along_y([(0.0, 0.0), (10.0, 10.0), (10.0, 20.0), (0.0, 20.0)], 6.013)
    body = box((-1.0, -1.0, -5.0), (11.0, 7.5, 4.003))
    found = overlap(corners(piece), corners(body))
    assert found.area_mm2 >= 4.003 * 6.013
    assert found.area_mm2 <= (4.003 + 2 * CELL_MM) * (6.013 + 2 * CELL_MM)


def test_a_mirrored_plan_gives_the_mirrored_cells() -> None:
    rng = np.random.default_rng(3)
    piece, body = random_triangles(rng, 4), random_triangles(rng, 4)
    here = overlap(piece, body)
    there = overlap(piece * [-1.0, 1.0, 1.0], body * [-1.0, 1.0, 1.0])
    assert len(here.cells) > 100
    # Cell i runs from i to i + 1, so its mirror image from -i - 1.
    mirrored = np.column_stack([-1 - there.cells[:, 0], there.cells[:, 1]])
    assert set(map(tuple, mirrored.tolist())) == set(map(tuple, here.cells.tolist()))


def random_triangles(rng: np.random.Generator, n: int) -> FloatArray:
    middle = rng.uniform(-2.0, 2.0, (n, 1, 3))
    return np.asarray(middle + rng.normal(0.0, 2.0, (n, 3, 3)))


@settings(max_examples=60, derandomize=True, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), lattice=st.sampled_from([0.0, 0.5, 1.0]))
def test_no_line_on_which_the_body_stands_above_is_missed(seed: int, lattice: float) -> None:
    rng = np.random.default_rng(seed)
    piece, body = random_triangles(rng, 3), random_triangles(rng, 3)
    if lattice:
        # Upright, level and folded triangles, with sides along the cells.
        piece, body = np.round(piece / lattice) * lattice, np.round(body / lattice) * lattice
    found = overlap(piece, body, 0.1)
    held = {tuple(cell): k for k, cell in enumerate(found.cells.tolist())}
    for places, others, over in ((piece, body, True), (body, piece, False)):
        points = grid_on(places)
        heights = heights_of(others, points[:, :2])
        for point, height in zip(points, heights, strict=True):
            low, high = (point[2], height) if over else (height, point[2])
            # Heights of nearly upright triangles are known to 1e-6 mm.
            if not high > low + 1e-6:
                continue
            # A place on a border of cells, but for rounding, belongs to the upper one.
            cell = tuple(int(x) for x in np.floor(point[:2] / found.cell_mm + 1e-9))
            assert cell in held, (seed, point, height)
            assert found.body_mm[held[cell]] >= high - 1e-6
            assert found.piece_mm[held[cell]] <= low + 1e-6


def grid_on(triangles: FloatArray, n: int = 30) -> FloatArray:
    """Places all over triangles, sides and corners too."""
    i, j = (k.ravel() for k in np.meshgrid(np.arange(n + 1), np.arange(n + 1)))
    i, j = i[i + j <= n], j[i + j <= n]
    weights = np.stack([i, j, n - i - j], axis=1) / n
    return np.asarray(np.einsum("kb,fbx->fkx", weights, triangles).reshape(-1, 3))


def heights_of(triangles: FloatArray, places: FloatArray) -> FloatArray:
    """Height of any triangle over each place, or NaN where none lies there."""
    heights = np.full(len(places), np.nan)
    for a, b, c in triangles:
        u, v, w = (b - a)[:2], (c - a)[:2], places - a[:2]
        area = u[0] * v[1] - u[1] * v[0]
        if abs(area) < 1e-6:
            continue
        p = (w[:, 0] * v[1] - w[:, 1] * v[0]) / area
        q = (u[0] * w[:, 1] - u[1] * w[:, 0]) / area
        over = (p >= 0) & (q >= 0) & (p + q <= 1)
        heights = np.where(over, a[2] + p * (b - a)[2] + q * (c - a)[2], heights)
    return heights
