"""Real scanned ceramics: what is sound stays, seams close, cut holes are closed as they were.

The scans come by pip when wanted (see `real_scans`): scanned household objects, Downs et al., ICRA
2022, arXiv 2204.11918, CC BY 4.0, © 2020 Google LLC, as far as their origin is stated.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import real_scans
from body.body_checks import assert_closed
from numpy.testing import assert_allclose
from shapes import as_scan, centroids, soup, without

from lossfill.body import make_body
from lossfill.body.overlap import find_overlap
from lossfill.body.topology import edges_of
from lossfill.mesh import FloatArray, Mesh, face_vectors, signed_volume_mm3


@cache
def as_in_file(name: str) -> Mesh:
    """A real scan in mm with the file's own vertices: nothing merged."""
    try:
        real_scans.load_real(name)
    except real_scans.ScanUnavailableError as error:
        pytest.skip(str(error))
    path = real_scans._cache_folder() / Path(real_scans.NAMES[name]).name
    return Mesh(*real_scans._read_obj(path))


def distance_mm(mesh: Mesh, points: FloatArray) -> FloatArray:
    """Unsigned distance to a mesh, by Open3D."""
    import open3d as o3d

    scene = o3d.t.geometry.RaycastingScene()
    scene.add_triangles(
        o3d.core.Tensor(mesh.vertices.astype(np.float32)),
        o3d.core.Tensor(mesh.faces.astype(np.uint32)),
    )
    queries = o3d.core.Tensor(points.astype(np.float32))
    return np.asarray(scene.compute_distance(queries).numpy(), dtype=np.float64)


def test_the_bowl_is_sound_as_it_is() -> None:
    mesh = as_in_file("bowl")
    body = make_body(as_scan(mesh))
    assert body.mesh is mesh
    # Measured on the file: watertight, 154.08 cm³.
    assert_allclose(body.solid.volume() / 1000.0, 154.08, atol=0.005, rtol=0)


def test_the_bowl_split_to_a_soup_closes_again() -> None:
    mesh = as_in_file("bowl")
    body = make_body(as_scan(soup(mesh)))
    assert_closed(body)
    assert len(body.repairs) == 1
    assert len(body.mesh.vertices) == len(mesh.vertices)
    assert_allclose(body.solid.volume(), signed_volume_mm3(mesh), rtol=1e-9)


def test_the_ramekin_is_closed_along_its_seams() -> None:
    mesh = as_in_file("ramekin")
    assert (edges_of(mesh.faces).uses == 1).sum() == 336
    body = make_body(as_scan(mesh))
    assert_closed(body)
    # Measured on the file after merging: 8139 vertices, 74.506 cm³, Euler 2.
    assert len(body.mesh.vertices) == 8139
    assert_allclose(body.solid.volume() / 1000.0, 74.506, atol=0.0005, rtol=0)
    assert [(repair.what, repair.count) for repair in body.repairs] == [
        ("joined vertices that were split along seams", 168)
    ]
    assert body.solid.genus() == 0


def test_the_plate_is_a_solid_while_its_pinch_is_left_alone() -> None:
    # Merging all equal points makes of this file what looks like an open mesh of Euler number 4.
    # Its own vertices are closed: two of them lie at one place, which is a pinch and no seam.
    mesh = as_in_file("plate")
    assert len(np.unique(mesh.vertices, axis=0)) == len(mesh.vertices) - 1
    body = make_body(as_scan(mesh))
    assert_closed(body)
    assert body.solid.genus() == 0
    assert_allclose(body.solid.volume(), signed_volume_mm3(mesh), rtol=1e-9)
    # Two slivers of no area and what they hang by: 4 of 3464 triangles.
    assert [(repair.what, repair.count) for repair in body.repairs] == [
        ("dropped triangles without area", 4)
    ]
    assert_allclose(np.ptp(body.mesh.vertices, axis=0), [274.5, 274.0, 33.3], atol=0.05, rtol=0)


def test_the_plate_merged_blindly_is_still_a_solid() -> None:
    mesh = as_in_file("plate")
    vertices, number = np.unique(mesh.vertices, axis=0, return_inverse=True)
    body = make_body(as_scan(Mesh(vertices, number.ravel()[mesh.faces])))
    assert_closed(body)
    assert_allclose(body.solid.volume(), signed_volume_mm3(mesh), rtol=1e-9)
    assert [repair.what for repair in body.repairs] == [
        "dropped triangles without area",
        "dropped doubled triangles",
    ]


@pytest.mark.parametrize("name", ["bowl", "ramekin", "plate"])
@pytest.mark.parametrize("noise_mm", [0.0, 0.1])
def test_real_scans_show_no_overlap(name: str, noise_mm: float) -> None:
    mesh = as_in_file(name)
    if noise_mm:
        # Shaken after welding, or the seams of the ramekin would come apart.
        mesh = make_body(as_scan(mesh)).mesh
        noise = np.random.default_rng(1).normal(0.0, noise_mm, mesh.vertices.shape)
        mesh = Mesh(mesh.vertices + noise, mesh.faces)
    assert find_overlap(mesh).volume_mm3 == 0.0


@pytest.mark.parametrize(
    ("name", "radius_mm", "rms_mm"),
    # The ramekin is fluted by 0.4 mm, which a patch cannot know.
    [("bowl", 2.5, 0.06), ("bowl", 8.0, 0.06), ("bowl", 12.5, 0.11), ("ramekin", 8.0, 0.2)],
)
def test_a_patch_of_wall_comes_back(name: str, radius_mm: float, rms_mm: float) -> None:
    whole = make_body(as_scan(as_in_file(name))).mesh
    c = centroids(whole)
    n = face_vectors(whole)
    n /= np.linalg.norm(n, axis=1)[:, None]
    level = np.abs(c[:, 2] - whole.bounds[:, 2].mean()) < 2.0
    outward = np.flatnonzero(level & (n[:, 0] > 0.6))
    spot = outward[np.argmax(c[outward, 0])]
    hole = (np.linalg.norm(c - c[spot], axis=1) < radius_mm) & (n @ n[spot] > 0.0)
    body = make_body(as_scan(without(whole, hole)))
    assert_closed(body)
    assert [repair.what for repair in body.repairs][-1] == "closed a scan hole in a wall"
    off = distance_mm(whole, body.mesh.vertices[np.unique(body.mesh.faces[body.patched])])
    assert np.sqrt(np.mean(off**2)) < rms_mm
