"""The scores by which the tool is judged, against figures that can be worked out by hand."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
import vessels
from breaking import Broken, break_vessel
from rays import Surface
from scoring import match_losses, sample, score, volume_near_body_mm3

from lossfill.mesh import FloatArray, Mesh, face_vectors, signed_volume_mm3, transformed
from lossfill.solids import mesh_from_solid, solid_from_mesh

CUBE = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=np.float64)
CUBE_FACES = np.array(
    [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ]
)  # fmt: skip


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    return Mesh(np.array(low) + CUBE * (np.array(high) - low), CUBE_FACES)


# A bar of 30 x 20 x 10 mm that lost its last 10 mm.
WHOLE = box((0, 0, 0), (30, 20, 10))
BODY = box((0, 0, 0), (20, 20, 10))
CHUNK = box((20, 0, 0), (30, 20, 10))


@cache
def cup() -> tuple[Mesh, Broken]:
    whole = vessels.tea_bowl(edge_mm=2.0)
    return whole, break_vessel(whole, "hole", rng=np.random.default_rng(3), angle_deg=0.0)


def shift(x: float, y: float = 0.0, z: float = 0.0) -> FloatArray:
    matrix = np.eye(4)
    matrix[:3, 3] = x, y, z
    return matrix


def test_the_chunk_itself_scores_nothing_but_the_clearance() -> None:
    whole, broken = cup()
    chunk = broken.chunks[0]
    result = score(chunk, chunk, whole, broken.body, 0.0)
    # Only the engine's 32-bit positions remain: 1e-6 of some 30 mm.
    for name in ("skin_rms_mm", "skin_p95_mm", "step_p95_mm", "gap_p95_mm"):
        assert getattr(result, name) < 1e-4
    assert abs(result.volume_error) < 1e-12
    # Faces in common, not volume; twelve digits of 1e5 mm³.
    assert result.clash_mm3 < 1e-6
    assert (result.parts, result.watertight, result.outward) == (1, True, True)


def test_a_chunk_shifted_by_a_fifth_of_a_millimetre_scores_that() -> None:
    whole, broken = cup()
    chunk = broken.chunks[0]
    moved = transformed(chunk, shift(0.2))
    result = score(moved, chunk, whole, broken.body, 0.0)
    # A smooth skin shifted by s departs by |n·s|; its RMS follows from the truth's own normals.
    points = chunk.vertices[chunk.faces].mean(axis=1)
    area = face_vectors(chunk)
    on_skin = Surface(whole).distance(points) < 1e-3
    size = np.linalg.norm(area, axis=1)
    along = np.abs(area[:, 0] / size) * 0.2
    expected = math.sqrt(np.average(along[on_skin] ** 2, weights=size[on_skin]))
    assert 0.15 < expected < 0.2
    assert result.skin_rms_mm == pytest.approx(expected, rel=0.03)
    assert result.skin_p95_mm == pytest.approx(0.2, rel=0.05)
    # One skin stands proud by as much as the other falls short.
    assert abs(result.skin_bias_mm) < 0.2 * expected
    assert result.step_p95_mm == pytest.approx(0.2, rel=0.1)
    assert result.volume_error == pytest.approx(0.0, abs=1e-9)
    # Outwards it slides free of its oblique break; upwards it is pushed into it.
    lifted = score(transformed(chunk, shift(0.0, 0.0, 0.2)), chunk, whole, broken.body, 0.0)
    assert lifted.clash_mm3 > max(10.0, 10.0 * result.clash_mm3)


def test_a_proud_piece_has_a_positive_bias_and_a_sunken_one_a_negative() -> None:
    for change in (0.1, -0.1):
        piece = box((20, 0, 0), (30 + change, 20, 10))
        result = score(piece, CHUNK, WHOLE, BODY, 0.0)
        end = 200.0 / 800.0  # share of the end face in the skin
        assert result.skin_bias_mm == pytest.approx(change * end, rel=0.08)
        assert result.skin_rms_mm == pytest.approx(0.1 * math.sqrt(end), rel=0.05)


def test_clearance_is_seen_as_gap_and_allowed_for_in_the_volume() -> None:
    piece = box((20.2, 0, 0), (30, 20, 10))
    result = score(piece, CHUNK, WHOLE, BODY, 0.2)
    # 1 mm³ in 1960: the count of points near a flat break errs by well under 2 % of 40 mm³.
    assert result.volume_error == pytest.approx(0.0, abs=5e-4)
    assert result.expected_volume_mm3 == pytest.approx(1960.0, abs=1.0)
    assert result.gap_p05_mm == pytest.approx(0.2, abs=1e-4)
    assert result.gap_p50_mm == pytest.approx(0.2, abs=1e-4)
    assert result.gap_p95_mm == pytest.approx(0.2, abs=1e-4)
    assert result.skin_p95_mm < 1e-4
    assert result.clash_mm3 == 0.0
    # The same piece, judged as if no clearance had been asked for, is 2 % too small.
    assert score(piece, CHUNK, WHOLE, BODY, 0.0).volume_error == pytest.approx(-0.02, abs=1e-9)


def test_a_step_at_the_join_is_seen_apart_from_the_rest() -> None:
    # Flush everywhere but for a strip of 1 mm along the join that stands 0.3 mm too low.
    piece = solid_from_mesh(CHUNK) - solid_from_mesh(box((19, -1, 9.7), (21, 21, 11)))
    result = score(mesh_from_solid(piece), CHUNK, WHOLE, BODY, 0.0)
    assert result.step_p95_mm == pytest.approx(0.3, abs=0.01)
    assert result.skin_p95_mm < 0.1


def test_overlap_is_caught() -> None:
    piece = box((19.5, 0, 0), (30, 20, 10))
    result = score(piece, CHUNK, WHOLE, BODY, 0.0)
    assert result.clash_mm3 == pytest.approx(100.0, rel=1e-9)
    assert result.volume_error == pytest.approx(0.05, rel=1e-9)
    # Against the body that was scanned, if that one ends earlier, there is none.
    earlier = box((0, 0, 0), (19.5, 20, 10))
    assert score(piece, CHUNK, WHOLE, BODY, 0.0, scanned_body=earlier).clash_mm3 == 0.0


def test_unsound_pieces_are_caught() -> None:
    opened = Mesh(CHUNK.vertices, CHUNK.faces[1:])
    result = score(opened, CHUNK, WHOLE, BODY, 0.0)
    assert not result.watertight
    assert result.clash_mm3 == math.inf
    inside_out = score(Mesh(CHUNK.vertices, CHUNK.faces[:, ::-1]), CHUNK, WHOLE, BODY, 0.0)
    assert not inside_out.outward
    assert inside_out.watertight
    crumb = box((40, 0, 0), (41, 1, 1))
    two = Mesh(
        np.concatenate([CHUNK.vertices, crumb.vertices]),
        np.concatenate([CHUNK.faces, crumb.faces + 8]),
    )
    assert score(two, CHUNK, WHOLE, BODY, 0.0).parts == 2


def test_points_written_once_for_each_triangle_are_merged() -> None:
    soup = Mesh(CHUNK.vertices[CHUNK.faces].reshape(-1, 3), np.arange(36).reshape(-1, 3))
    result = score(soup, CHUNK, WHOLE, BODY, 0.0)
    assert (result.parts, result.watertight) == (1, True)


def test_a_missed_loss_scores_infinitely_badly() -> None:
    result = score(None, CHUNK, WHOLE, BODY, 0.1)
    assert result.skin_rms_mm == result.step_p95_mm == result.gap_p50_mm == math.inf
    assert result.volume_error == -1.0
    assert result.parts == 0


def test_volume_near_the_body_of_a_real_break() -> None:
    whole, broken = cup()
    chunk = broken.chunks[0]
    near = [
        volume_near_body_mm3(chunk, broken.body, whole, 0.15, rng=np.random.default_rng(seed))
        for seed in range(3)
    ]
    assert np.ptp(near) < 0.02 * near[0]
    # Independently: shrink nothing, but count points spread freely through the chunk's box.
    rng = np.random.default_rng(9)
    low, high = chunk.bounds
    points = low + rng.random((300_000, 3)) * (high - low)
    points = points[Surface(broken.body).distance(points) < 0.15]
    inside = Surface(chunk).inside(points).sum()
    free = inside / 300_000 * float(np.prod(high - low))
    # Free counting errs by 1/√n.
    assert near[0] == pytest.approx(free, rel=4.0 / math.sqrt(inside))


def test_points_are_drawn_evenly_by_area() -> None:
    points = sample(WHOLE, 60_000, np.random.default_rng(0))
    on_end = (points[:, 0] > 30.0 - 1e-9).mean()
    assert on_end == pytest.approx(200.0 / 2200.0, rel=0.01)
    assert points[:, 1].mean() == pytest.approx(10.0, abs=0.1)


def test_pieces_are_matched_to_losses() -> None:
    whole = vessels.tea_bowl(edge_mm=2.0)
    broken = break_vessel(whole, "rim_and_chip", rng=np.random.default_rng(3))
    rim, chip = broken.chunks
    stray = transformed(chip, shift(0.0, 0.0, -30.0))
    both = match_losses((stray, chip, rim), (rim, chip))
    assert both.piece_of_chunk == (2, 1)
    assert (both.missed, both.false) == ((), (0,))
    one = match_losses((transformed(rim, shift(0.3)),), (rim, chip))
    assert one.piece_of_chunk == (0, None)
    assert (one.missed, one.false) == ((1,), ())
    none = match_losses((), (rim, chip))
    assert none.missed == (0, 1)
    assert signed_volume_mm3(chip) > 0.0
