"""Settling a donor: known motions are undone, like the library's, and the same every time."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from lossfill.donor.settle import Target, settled_on
from lossfill.frame.samples import Samples


def lump(n: int, *, seed: int) -> Samples:
    """Points and normals of an ellipsoid of 40 x 30 x 20 mm, which no small motion keeps."""
    axes = np.array([40.0, 30.0, 20.0])
    on_ball = np.random.default_rng(seed).normal(size=(n, 3))
    on_ball /= np.linalg.norm(on_ball, axis=1, keepdims=True)
    normals = on_ball / axes
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return Samples(on_ball * axes, normals, normals, 1.0)


def motion(turn_deg: float, shift_mm: float) -> np.ndarray:
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_rotvec(
        np.deg2rad(turn_deg) * np.array([0.6, 0.0, 0.8])
    ).as_matrix()
    matrix[:3, 3] = shift_mm * np.array([0.0, 0.6, 0.8])
    return matrix


@pytest.mark.parametrize(("turn_deg", "shift_mm"), [(0.0, 2.0), (3.0, 0.0), (4.0, 2.0)])
def test_a_known_motion_is_undone(turn_deg, shift_mm):
    body, donor = lump(20_000, seed=1), lump(2_000, seed=2)
    start = motion(turn_deg, shift_mm)
    found = settled_on(Target.of(body), donor, start, reach_mm=8.0, still_mm=1e-6)
    # Planes at neighbours 1 mm off stand off an ellipsoid by up to 0.5**2 / (2 * 13) mm.
    left = donor.moved(found).points - donor.points
    assert np.sqrt((left**2).sum(axis=1).mean()) < 0.02


def test_it_settles_where_open3d_does():
    open3d = pytest.importorskip("open3d")
    body, donor = lump(20_000, seed=1), lump(2_000, seed=2)
    start = motion(4.0, 2.0)
    mine = settled_on(Target.of(body), donor, start, reach_mm=8.0, still_mm=1e-9)

    def cloud(samples):
        made = open3d.geometry.PointCloud()
        made.points = open3d.utility.Vector3dVector(np.array(samples.points))
        made.normals = open3d.utility.Vector3dVector(np.array(samples.normals))
        return made

    reg = open3d.pipelines.registration
    theirs = reg.registration_icp(
        cloud(donor),
        cloud(body),
        8.0,
        start,
        reg.TransformationEstimationPointToPlane(reg.TukeyLoss(k=4.0)),
        reg.ICPConvergenceCriteria(1e-12, 1e-9, 60),
    ).transformation
    apart = donor.moved(mine).points - donor.moved(np.asarray(theirs)).points
    assert np.abs(apart).max() < 1e-4


def test_outliers_are_believed_little():
    body, donor = lump(20_000, seed=1), lump(2_000, seed=2)
    # A tenth stands 3 mm proud on one side, as a handle would that the body lacks.
    points = np.array(donor.points)
    proud = points[:, 0] > 32.0
    points[proud, 0] += 3.0
    spoilt = Samples(points, donor.normals, donor.calm_normals, 1.0)
    found = settled_on(Target.of(body), spoilt, np.eye(4), reach_mm=4.0, still_mm=1e-6)
    left = (donor.moved(found).points - donor.points)[~proud]
    assert np.abs(left).max() < 0.1  # believed in full they shift it by their tenth of 3 mm


def test_the_same_comes_out_every_time_and_in_any_pose():
    body, donor = lump(20_000, seed=1), lump(2_000, seed=2)
    start = motion(3.0, 1.0)
    first = settled_on(Target.of(body), donor, start, reach_mm=8.0, still_mm=1e-6)
    again = settled_on(Target.of(body), donor, start, reach_mm=8.0, still_mm=1e-6)
    assert np.array_equal(first, again)
    pose = motion(70.0, 300.0)
    posed = settled_on(
        Target.of(body.moved(pose)), donor, pose @ start, reach_mm=8.0, still_mm=1e-6
    )
    assert np.allclose(posed, pose @ first, rtol=0, atol=1e-6)


def test_what_finds_nothing_stays():
    start = motion(0.0, 500.0)
    found = settled_on(
        Target.of(lump(500, seed=1)), lump(50, seed=2), start, reach_mm=8.0, still_mm=1e-6
    )
    assert np.array_equal(found, start)
