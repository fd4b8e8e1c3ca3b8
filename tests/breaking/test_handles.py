"""Breaks of handles: exact complements, where they were asked for, with rough faces."""

from __future__ import annotations

import numpy as np
import pytest
import vessels
from breaking import HANDLE_BREAKS, Cut, break_vessel
from rays import Surface
from scoring import sample

from lossfill.mesh import FloatArray, Mesh
from lossfill.solids import solid_from_mesh


@pytest.fixture(scope="module", params=["mug", "two_handled_cup"])
def whole(request: pytest.FixtureRequest) -> Mesh:
    mesh: Mesh = getattr(vessels, request.param)(edge_mm=2.0)
    return mesh


def on_break(whole: Mesh, chunk: Mesh) -> FloatArray:
    points = sample(chunk, 20_000, np.random.default_rng(0))
    return points[Surface(whole).distance(points) > 0.05]


@pytest.mark.parametrize("kind", HANDLE_BREAKS)
def test_chunk_and_body_make_up_the_whole(whole: Mesh, kind: str) -> None:
    result = break_vessel(whole, kind, rng=np.random.default_rng(2), angle_deg=0.0)
    body, chunk = solid_from_mesh(result.body), solid_from_mesh(result.chunks[0])
    intact = solid_from_mesh(whole)
    # Doubles carry 15 digits; sums over 10^5 triangles keep 12.
    assert body.volume() + chunk.volume() == pytest.approx(intact.volume(), rel=1e-11)
    assert len(body.decompose()) == len(chunk.decompose()) == 1
    # A middle piece opens the ring; a root opens it too, and leaves a hole in the wall.
    assert body.genus() == intact.genus() - (1 if kind == "handle" else 0)


@pytest.mark.parametrize("around_deg", [30.0, 60.0])
def test_middle_piece_is_as_long_as_asked(around_deg: float) -> None:
    whole = vessels.mug(edge_mm=2.0)
    cut = (Cut("handle", around_deg),)
    chunk = break_vessel(whole, cut, rng=np.random.default_rng(3), angle_deg=0.0).chunks[0]
    # The eye of the mug's handle is half-way between its ends, on the wall.
    angle = np.degrees(np.arctan2(chunk.vertices[:, 2] - 50.0, chunk.vertices[:, 0] - 41.5))
    # Faces lean by up to 0.2 over ±5.5 mm across and ±4 mm out, at 24 mm, and are rough by 0.3.
    assert np.ptp(angle) == pytest.approx(around_deg, abs=2 * np.degrees(2.2 / 24.0))


def test_break_faces_are_rough() -> None:
    whole = vessels.mug(edge_mm=2.0)
    chunk = break_vessel(whole, "handle", rng=np.random.default_rng(4), angle_deg=0.0).chunks[0]
    faces = on_break(whole, chunk)
    for side in (faces[faces[:, 2] > 50.0], faces[faces[:, 2] < 50.0]):
        least = np.linalg.svd(side - side.mean(axis=0), full_matrices=False)[1][2]
        assert 0.05 < least / np.sqrt(len(side)) < 0.4


def test_no_handle_is_said() -> None:
    with pytest.raises(ValueError, match="no handle at 90 degrees"):
        break_vessel(
            vessels.mug(edge_mm=2.0), "handle", rng=np.random.default_rng(1), angle_deg=90.0
        )
