"""Mirror planes and twins laid on a box, against where they are known to lie."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from donor.donor_cases import NOISE_MM, body_of, lump, whole_box, without_a_third
from numpy.testing import assert_allclose
from scanning import as_scanned
from tiles import break_sheet, cut_box

from lossfill.donor.lay import Laid, box_starts, find_mirrors, global_start, lay_twin, turn_starts
from lossfill.frame.samples import Samples, sample_body, sample_mesh
from lossfill.mesh import FloatArray, Mesh

# The box is 90 x 60 x 40 mm, upright about z: its planes of symmetry are x = 0 and y = 0.
SIDES = {"x": np.array([1.0, 0.0, 0.0]), "y": np.array([0.0, 1.0, 0.0])}
MIDDLE = np.array([0.0, 0.0, 20.0])
WITHIN_DEG = 0.2
WITHIN_MM = 0.1


@cache
def left(kind: str) -> Mesh:
    """What is left of the box, upright."""
    whole = whole_box()
    if kind == "corner":
        return break_sheet(whole, [cut_box("corner", rng=np.random.default_rng(3))])[0]
    return without_a_third(whole)


def scanned(kind: str, seed: int) -> tuple[Samples, FloatArray]:
    scan, pose = as_scanned(left(kind), noise_mm=NOISE_MM, rng=np.random.default_rng(seed))
    samples = sample_body(body_of(scan), n=20_000, rng=np.random.default_rng(seed))
    return samples, pose


def plane_of(laid: Laid, pose: FloatArray) -> tuple[FloatArray, float]:
    """Normal of a reflection and its distance from the box's middle, upright."""
    upright = np.linalg.inv(pose) @ laid.matrix @ pose
    values, vectors = np.linalg.eigh(0.5 * (upright[:3, :3] + upright[:3, :3].T))
    # A reflection turns one direction over and keeps two.
    assert_allclose(values, [-1.0, 1.0, 1.0], atol=1e-6)
    image = upright[:3, :3] @ MIDDLE + upright[:3, 3]
    return vectors[:, 0], float(0.5 * np.linalg.norm(image - MIDDLE))


@pytest.mark.parametrize("seed", [11, 12, 13])
@pytest.mark.parametrize("kind", ["corner", "a third gone"])
def test_mirror_planes_of_a_broken_box_are_found_in_any_pose(kind: str, seed: int) -> None:
    samples, pose = scanned(kind, seed)
    planes = [plane_of(laid, pose) for laid in find_mirrors(samples)]
    for side in SIDES.values():
        tilts = [np.degrees(np.arccos(min(1.0, abs(float(n @ side))))) for n, _ in planes]
        nearest = int(np.argmin(tilts))
        assert tilts[nearest] < WITHIN_DEG
        assert planes[nearest][1] < WITHIN_MM


def test_the_matrix_of_a_mirror_is_a_reflection() -> None:
    for laid in find_mirrors(scanned("corner", 11)[0]):
        assert laid.matrix.shape == (4, 4)
        assert_allclose(laid.matrix[3], [0.0, 0.0, 0.0, 1.0], atol=1e-12)
        assert np.linalg.det(laid.matrix[:3, :3]) == pytest.approx(-1.0, abs=1e-9)
        assert 0.0 < laid.alike <= 1.0
        # Two skins, each with the scan's noise calmed by sampling, and a waviness of 0.05 mm.
        assert 0.01 < laid.residual_mm < 0.3


def test_what_is_alike_about_no_plane_has_no_mirror() -> None:
    samples = sample_mesh(lump(), n=20_000, rng=np.random.default_rng(1))
    assert find_mirrors(samples) == []


@cache
def twin_laid() -> tuple[Samples, Samples, FloatArray, Laid]:
    """A box with its corner gone, its twin, the true motion between them, and the one found."""
    samples, pose = scanned("corner", 14)
    scan, other_pose = as_scanned(whole_box(), noise_mm=NOISE_MM, rng=np.random.default_rng(15))
    twin = sample_mesh(scan, n=20_000, rng=np.random.default_rng(15))
    starts = box_starts(about_middle(pose), about_middle(other_pose))
    return samples, twin, pose @ np.linalg.inv(other_pose), lay_twin(samples, twin, starts)[0]


def about_middle(pose: FloatArray) -> FloatArray:
    """From the scan to coordinates along the box's sides, about its middle; off by 2 mm."""
    shift = np.eye(4)
    shift[:3, 3] = -MIDDLE + [1.2, -1.1, 1.2]
    return np.asarray(shift @ np.linalg.inv(pose))


def assert_same_motion(found: FloatArray, true: FloatArray, middle: FloatArray) -> None:
    apart = found @ np.linalg.inv(true)
    turn = np.degrees(np.arccos(np.clip(0.5 * (np.trace(apart[:3, :3]) - 1.0), -1.0, 1.0)))
    assert turn < WITHIN_DEG
    assert np.linalg.norm(apart[:3, :3] @ middle + apart[:3, 3] - middle) < WITHIN_MM


def test_a_twin_is_laid_where_it_belongs() -> None:
    samples, _, true, laid = twin_laid()
    assert np.linalg.det(laid.matrix[:3, :3]) == pytest.approx(1.0, abs=1e-9)
    assert_same_motion(laid.matrix, true, samples.points.mean(axis=0))
    # What broke off is a twentieth of the skin.
    assert laid.alike > 0.85


def test_a_twin_lies_where_plain_registration_from_the_truth_puts_it() -> None:
    import open3d

    samples, twin, true, laid = twin_laid()
    clouds = []
    for one in (twin, samples):
        cloud = open3d.geometry.PointCloud(open3d.utility.Vector3dVector(np.array(one.points)))
        cloud.normals = open3d.utility.Vector3dVector(np.array(one.normals))
        clouds.append(cloud)
    registration = open3d.pipelines.registration
    plain = registration.registration_icp(
        *clouds, 1.0, true, registration.TransformationEstimationPointToPlane()
    )
    assert_same_motion(laid.matrix, plain.transformation, samples.points.mean(axis=0))


def test_box_starts_are_the_turns_of_a_box() -> None:
    starts = box_starts(np.eye(4), np.eye(4))
    assert len({tuple(np.round(start, 6).ravel()) for start in starts}) == 24
    for start in starts:
        assert_allclose(start[:3, :3] @ start[:3, :3].T, np.eye(3), atol=1e-12)
        assert np.linalg.det(start[:3, :3]) == pytest.approx(1.0)


def test_turn_starts_go_once_round_the_axis() -> None:
    starts = turn_starts(np.eye(4), np.eye(4))
    angles = sorted(np.degrees(np.arctan2(start[1, 0], start[0, 0])) % 360.0 for start in starts)
    assert_allclose(np.diff(angles), 360.0 / len(starts), atol=1e-9)
    assert all(start[2, 2] == 1.0 for start in starts)


def test_a_start_by_local_shapes_comes_near_in_any_pose() -> None:
    samples, twin, true, _ = twin_laid()
    found = global_start(samples, twin, seed=1)
    settled = lay_twin(samples, twin, [found])
    # The box is its own image when turned by half about z: either way it lies on itself.
    half = np.diag([-1.0, -1.0, 1.0, 1.0])
    pose = scanned("corner", 14)[1]
    both = [true, pose @ half @ np.linalg.inv(pose) @ true]
    middle = samples.points.mean(axis=0)
    shifts = [
        np.linalg.norm((settled[0].matrix - one)[:3] @ np.append(twin.points.mean(axis=0), 1.0))
        for one in both
    ]
    assert_same_motion(settled[0].matrix, both[int(np.argmin(shifts))], middle)
