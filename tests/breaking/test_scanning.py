"""What scanning adds: noise that keeps a solid a solid, seams, holes, colours."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import vessels
from breaking import Broken, break_vessel
from rays import Surface
from scanning import (
    ADHESIVE,
    CLAY,
    GLAZE,
    add_scan_holes,
    add_seams,
    as_scanned,
    coloured,
    smooth_noise,
    vertex_normals,
)

from lossfill.errors import BooleanError
from lossfill.mesh import Mesh, face_vectors, signed_volume_mm3, transformed
from lossfill.solids import solid_from_mesh


@cache
def bowl() -> tuple[Mesh, Broken]:
    whole = vessels.tea_bowl(edge_mm=1.5)
    return whole, break_vessel(whole, "rim_and_chip", rng=np.random.default_rng(3))


@pytest.mark.parametrize("noise_mm", [0.03, 0.1])
def test_noise_has_the_asked_size_and_leaves_one_solid(noise_mm: float) -> None:
    _, broken = bowl()
    scan, _ = as_scanned(broken.body, noise_mm=noise_mm, rng=np.random.default_rng(1), pose=False)
    solid = solid_from_mesh(scan)
    assert len(solid.decompose()) == 1
    moved = np.linalg.norm(scan.vertices - broken.body.vertices, axis=1)
    assert np.sqrt(np.mean(moved**2)) == pytest.approx(noise_mm, rel=0.05)
    along = np.abs(np.einsum("ij,ij->i", scan.vertices - broken.body.vertices,
                             vertex_normals(broken.body)))  # fmt: skip
    assert np.median(along / moved) > 0.999
    # Zero on average: the volume hardly changes. 25 000 points of 0.1 mm over 50 000 mm² make
    # some 30 mm³.
    change = signed_volume_mm3(scan) - signed_volume_mm3(broken.body)
    assert abs(change) < 100.0 * noise_mm / 0.1


def test_noise_turns_next_to_no_triangle_inside_out() -> None:
    _, broken = bowl()
    scan, _ = as_scanned(broken.body, noise_mm=0.05, rng=np.random.default_rng(1), pose=False)
    before, after = face_vectors(broken.body), face_vectors(scan)
    # Area of all that turned, of some 50 000 mm². Moving each point by itself gives 0.37 mm².
    turned = np.einsum("ij,ij->i", before, after) < 0.0
    assert np.linalg.norm(before[turned], axis=1).sum() < 0.05


def test_points_nearly_on_top_of_one_another_move_together() -> None:
    _, broken = bowl()
    body = broken.body
    scan, _ = as_scanned(body, noise_mm=0.1, rng=np.random.default_rng(1), pose=False)
    pairs = body.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    length = np.linalg.norm(body.vertices[pairs[:, 0]] - body.vertices[pairs[:, 1]], axis=1)
    close = pairs[length < 0.19]
    assert len(close) > 50
    move = scan.vertices - body.vertices
    np.testing.assert_allclose(move[close[:, 0]], move[close[:, 1]], rtol=0.0, atol=1e-12)


def test_pose_is_rigid_and_known() -> None:
    _, broken = bowl()
    scan, pose = as_scanned(broken.body, noise_mm=0.0, rng=np.random.default_rng(7))
    np.testing.assert_allclose(pose[:3, :3] @ pose[:3, :3].T, np.eye(3), rtol=0.0, atol=1e-14)
    assert np.linalg.det(pose) == pytest.approx(1.0, abs=1e-14)
    np.testing.assert_array_equal(scan.vertices, transformed(broken.body, pose).vertices)
    assert np.degrees(np.arccos(pose[2, 2])) > 5.0


def test_order_can_be_shuffled_without_changing_the_solid() -> None:
    _, broken = bowl()
    body = coloured(broken.body, bowl()[0])
    mixed, _ = as_scanned(
        body, noise_mm=0.0, rng=np.random.default_rng(7), pose=False, shuffle=True
    )
    assert not np.array_equal(mixed.vertices, body.vertices)
    assert signed_volume_mm3(mixed) == pytest.approx(signed_volume_mm3(body), rel=1e-12)
    assert mixed.colours is not None
    assert body.colours is not None
    key = np.lexsort(body.vertices.T)
    np.testing.assert_array_equal(mixed.colours[np.lexsort(mixed.vertices.T)], body.colours[key])


def test_seams_are_raised_beads_on_the_skin_alone() -> None:
    whole, broken = bowl()
    seamed, bead = add_seams(broken.body, whole, rng=np.random.default_rng(2))
    solid = solid_from_mesh(seamed)
    assert len(solid.decompose()) == 1
    stands_off = Surface(whole).distance(seamed.vertices)
    assert stands_off[bead].max() == pytest.approx(0.15, abs=0.02)
    outside = ~Surface(whole).inside(seamed.vertices[bead])
    assert outside.mean() > 0.99
    # Volume of the beads: a Gaussian section h·exp(-(2x/w)²) holds h·w·√π/2 for each mm of length,
    # and the cracks run at least once around the bowl's section of some 300 mm.
    gained = signed_volume_mm3(seamed) - signed_volume_mm3(broken.body)
    assert 0.133 * 300.0 < gained < 0.133 * 1500.0
    # Both skins carry them.
    radius = np.hypot(*seamed.vertices[bead][:, :2].T)
    high = seamed.vertices[bead][:, 2] > 50.0
    assert np.ptp(radius[high]) > 4.0


def test_scan_holes_open_the_scan_where_they_should() -> None:
    whole, broken = bowl()
    scan, pose = as_scanned(
        coloured(broken.body, whole), noise_mm=0.03, rng=np.random.default_rng(5)
    )
    missing = transformed(broken.chunks[0], pose).vertices
    opened = add_scan_holes(scan, pose, rng=np.random.default_rng(6), keep_away=missing)
    loops = border_loops(opened)
    # The underside, the patch and three pinholes.
    assert len(loops) == 5
    back = np.linalg.inv(pose)
    widths = []
    for loop in loops:
        points = opened.vertices[loop]
        assert np.linalg.norm(points[:, None] - missing, axis=2).min() > 8.0
        local = points @ back[:3, :3].T + back[:3, 3]
        widths.append(float(np.ptp(local, axis=0).max()))
    widths.sort()
    assert widths[2] < 4.5
    assert 5.0 < widths[3] < 10.0
    assert 20.0 < widths[4] < 44.0
    assert opened.colours is not None
    with pytest.raises(BooleanError):
        solid_from_mesh(opened)


def test_colours_tell_glaze_clay_and_adhesive() -> None:
    whole, broken = bowl()
    seamed, bead = add_seams(broken.body, whole, rng=np.random.default_rng(2))
    painted = coloured(seamed, whole, bead)
    assert painted.colours is not None
    on_break = (Surface(whole).distance(seamed.vertices) > 0.3) & ~bead
    assert (painted.colours[on_break] == CLAY).all()
    assert (painted.colours[bead] == ADHESIVE).all()
    share = (painted.colours == GLAZE).all(axis=1).mean()
    assert 0.4 < share < 0.95


def test_smooth_noise_has_the_asked_size_and_scale() -> None:
    noise = smooth_noise(np.random.default_rng(0), scales_mm=(4.0, 8.0), rms_mm=0.2)
    points = np.random.default_rng(1).uniform(0.0, 200.0, (50_000, 3))
    assert np.sqrt(np.mean(noise(points) ** 2)) == pytest.approx(0.2, rel=0.05)
    # Nothing of it changes over a twentieth of the shortest wave, all of it over half a long one.
    along = np.array([1.0, 0.0, 0.0])
    near, far = points + 0.2 * along, points + 4.0 * along
    assert np.std(noise(near) - noise(points)) < 0.08
    assert np.std(noise(far) - noise(points)) > 0.15


def border_loops(mesh: Mesh) -> list[list[int]]:
    """Edges of the openings, each a closed chain of points."""
    pairs = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    there = {(int(a), int(b)) for a, b in pairs}
    following = {a: b for a, b in there if (b, a) not in there}
    assert len(following) == sum((b, a) not in there for a, b in there)  # no point twice
    loops = []
    while following:
        start, at = following.popitem()
        loop = [start]
        while at != start:
            loop.append(at)
            at = following.pop(at)
        loops.append(loop)
    return loops
