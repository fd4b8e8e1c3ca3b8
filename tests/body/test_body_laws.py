"""The order of a file and the pose of a scan are accidents: nothing may depend on them."""

from __future__ import annotations

import numpy as np
from body.body_checks import assert_closed, facing_out
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from shapes import as_scan, bowl_shell, centroids, without

from lossfill.body import make_body
from lossfill.mesh import Mesh, transformed


def holed_bowl() -> Mesh:
    """A bowl with a patch of wall, a pinhole and the standing ring missing."""
    mesh = bowl_shell(96).mesh
    c = centroids(mesh)
    patch = facing_out(mesh) & (np.linalg.norm(c - [50.0, 0.0, 28.0], axis=1) < 9.0)
    pin = np.arange(len(c)) == 9000
    return without(mesh, patch | pin | (c[:, 2] < -3.0 + 1e-6))


HOLED = holed_bowl()
BODY = make_body(as_scan(HOLED))
SEEDS = st.integers(0, 2**32 - 1)


def rotation(random: np.random.Generator) -> np.ndarray:
    """A random turn (from a random quaternion) and shift as a (4, 4) matrix."""
    w, x, y, z = (q := random.normal(size=4)) / np.linalg.norm(q)
    matrix = np.eye(4)
    matrix[:3, :3] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    matrix[:3, 3] = random.uniform(-200.0, 200.0, 3)
    return matrix


def test_the_holed_bowl_has_the_holes_that_the_laws_need() -> None:
    assert len(BODY.repairs) == 3
    assert BODY.patched.sum() > 100


@settings(max_examples=15, deadline=None, derandomize=True)
@given(SEEDS)
def test_order_of_vertices_and_triangles_does_not_matter(seed: int) -> None:
    random = np.random.default_rng(seed)
    new = random.permutation(len(HOLED.vertices)).astype(np.int32)
    vertices = np.empty_like(HOLED.vertices)
    vertices[new] = HOLED.vertices
    faces = new[HOLED.faces][random.permutation(len(HOLED.faces))]
    first = random.integers(0, 3, len(faces))[:, None]
    faces = np.take_along_axis(faces, (first + np.arange(3)) % 3, axis=1)
    body = make_body(as_scan(Mesh(vertices, faces)))
    assert_closed(body)
    assert [r.what for r in body.repairs] == [r.what for r in BODY.repairs]
    # A rim that starts elsewhere may be triangulated otherwise: a few 0.001 mm on 250 mm².
    assert_allclose(body.solid.volume(), BODY.solid.volume(), rtol=2e-5)
    for one, other in zip(body.repairs, BODY.repairs, strict=True):
        assert_allclose(one.size_mm, other.size_mm, rtol=1e-9)
        assert_allclose(one.place_mm, other.place_mm, atol=1e-6, rtol=0)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(SEEDS)
def test_pose_does_not_matter(seed: int) -> None:
    pose = rotation(np.random.default_rng(seed))
    body = make_body(as_scan(transformed(HOLED, pose)))
    assert_closed(body)
    assert [r.what for r in body.repairs] == [r.what for r in BODY.repairs]
    assert_allclose(body.solid.volume(), BODY.solid.volume(), rtol=2e-5)
    for one, other in zip(body.repairs, BODY.repairs, strict=True):
        place = pose[:3, :3] @ np.array(other.place_mm) + pose[:3, 3]
        assert_allclose(one.place_mm, place, atol=1e-6, rtol=0)
        # The width is taken along the rim's principal axes, which a round rim does not have.
        assert_allclose(one.size_mm, other.size_mm, rtol=1e-2)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(st.floats(0.2, 5.0))
def test_size_does_not_matter(factor: float) -> None:
    body = make_body(as_scan(Mesh(HOLED.vertices * factor, HOLED.faces)))
    assert [r.what for r in body.repairs] == [r.what for r in BODY.repairs]
    assert_allclose(body.solid.volume(), BODY.solid.volume() * factor**3, rtol=2e-5)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(SEEDS)
def test_mirrored_and_turned_over_scans_mirror(seed: int) -> None:
    mirror = rotation(np.random.default_rng(seed)) @ np.diag([1.0, -1.0, 1.0, 1.0])
    mesh = transformed(HOLED, mirror)
    body = make_body(as_scan(Mesh(mesh.vertices, mesh.faces[:, ::-1])))
    assert [r.what for r in body.repairs][-1] == "turned the inside-out scan"
    assert_allclose(body.solid.volume(), BODY.solid.volume(), rtol=2e-5)
