"""Sampling: even, on the surface, and only on what was measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from shapes import as_scan, bowl_shell, centroids, sphere, without

from lossfill import tolerances as tol
from lossfill.body import make_body
from lossfill.errors import AmbiguousShapeError
from lossfill.frame.samples import Samples, sample_body
from lossfill.mesh import face_vectors

BALL = make_body(as_scan(sphere(40.0, 96, 48).mesh))
N = 20_000


def samples_of(body, n: int = N) -> Samples:
    return sample_body(body, n=n, rng=np.random.default_rng(1))


def test_samples_lie_on_the_ball_and_stand_for_its_area() -> None:
    samples = samples_of(BALL)
    assert len(samples.points) == N
    area = np.linalg.norm(face_vectors(BALL.mesh), axis=1).sum()
    # Areas are kept in 32 bits.
    assert_allclose(N * samples.area_mm2, area, rtol=1e-7)
    away = np.linalg.norm(samples.points, axis=1)
    # A facet of 3.75° on both sides sags by 40 (1 - cos² 1.9°) = 0.04 mm.
    assert away.max() < 40.0 + 1e-9
    assert away.min() > 40.0 - 0.08
    out = samples.points / away[:, None]
    assert ((samples.normals * out).sum(axis=1) > np.cos(np.radians(3.0))).all()
    # A facet leans by half its 3.75° to either side; the averaging cell sees parts of two.
    assert ((samples.calm_normals * out).sum(axis=1) > np.cos(np.radians(4.0))).all()


def test_samples_are_even() -> None:
    samples = samples_of(BALL)
    octant = (samples.points > 0) @ [1, 2, 4]
    share = np.bincount(octant, minlength=8) / N
    # Each face gets its share to within one sample. An octant has 24 × 12 faces in 24 runs of the
    # area's total, each with two ends; at random the spread would be √(N/8)/N = 0.25 %.
    assert_allclose(share, 1.0 / 8.0, atol=48.0 / N, rtol=0)
    assert_allclose(samples.points.mean(axis=0), 0.0, atol=0.2, rtol=0)


def test_the_same_generator_gives_the_same_samples() -> None:
    one, other = samples_of(BALL), samples_of(BALL)
    assert (one.points == other.points).all()
    assert (one.calm_normals == other.calm_normals).all()


def test_closed_scan_holes_are_not_sampled() -> None:
    mesh = bowl_shell(96).mesh
    c = centroids(mesh)
    hole = np.linalg.norm(c - [50.0, 0.0, 28.0], axis=1) < 9.0
    body = make_body(as_scan(without(mesh, hole)))
    assert body.patched.sum() > 10
    samples = samples_of(body)
    guessed = centroids(body.mesh)[body.patched]
    low, high = guessed.min(axis=0), guessed.max(axis=0)
    middle = guessed.mean(axis=0)
    assert (np.linalg.norm(samples.points - middle, axis=1) > 0.35 * (high - low).max()).all()
    measured = np.linalg.norm(face_vectors(body.mesh), axis=1)[~body.patched].sum()
    assert_allclose(N * samples.area_mm2, measured, rtol=1e-7)


def test_a_body_of_closed_holes_alone_is_refused() -> None:
    guessed = replace(BALL, patched=np.ones(len(BALL.mesh.faces), dtype=bool))
    with pytest.raises(AmbiguousShapeError, match="no measured surface"):
        samples_of(guessed)


def test_thinned_samples_stand_for_as_much_surface() -> None:
    samples = samples_of(BALL)
    few = samples.thinned(3000)
    assert 3000 <= len(few.points) < 6000
    assert_allclose(len(few.points) * few.area_mm2, N * samples.area_mm2, rtol=1e-3)
    assert len(samples.thinned(10 * N).points) == N


def test_moved_samples_move_points_and_turn_normals() -> None:
    samples = samples_of(BALL, 100)
    matrix = np.eye(4)
    matrix[:3, :3] = [[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]
    matrix[:3, 3] = [5.0, 0.0, 1.0]
    there = samples.moved(matrix)
    # A quarter turn to the left about z, then the shift.
    x, y, z = samples.points.T
    assert_allclose(there.points, np.stack([5.0 - y, x, z + 1.0], axis=1), atol=1e-12)
    x, y, z = samples.calm_normals.T
    assert_allclose(there.calm_normals, np.stack([-y, x, z], axis=1), atol=1e-12)


def test_averaged_normals_are_calmer_than_the_triangles_own() -> None:
    rng = np.random.default_rng(0)
    fine = sphere(20.0, 400, 200).mesh
    # Triangles of 0.3 mm with noise of 0.02 mm: their normals stray by some degrees.
    rough = fine.vertices + 0.02 * rng.normal(size=fine.vertices.shape)
    body = make_body(as_scan(replace(fine, vertices=rough)))
    samples = samples_of(body)
    out = samples.points / np.linalg.norm(samples.points, axis=1, keepdims=True)
    own = np.degrees(np.arccos(np.clip((samples.normals * out).sum(axis=1), -1, 1)))
    calm = np.degrees(np.arccos(np.clip((samples.calm_normals * out).sum(axis=1), -1, 1)))
    assert tol.NORMAL_CELL_MM > 1.0
    assert np.median(calm) < 0.5 * np.median(own)
