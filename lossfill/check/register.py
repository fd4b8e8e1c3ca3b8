"""Laying the scan of a made piece on its design.

A piece of a wall is a shell, and shells look much alike turned over or turned round: so the motion
is started from many sides, and the one is kept in which scan lies on design and design on scan.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from lossfill import tolerances as tol
from lossfill.check.nudge import Points, moved, settled
from lossfill.donor.lay import box_starts, global_start
from lossfill.frame.samples import Samples, sample_mesh
from lossfill.mesh import BoolArray, FloatArray, Mesh, extents
from lossfill.nearest import Surface


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """A design made ready to lay scans on.

    Parameters
    ----------
    surface : for distances
    samples : points of it
    size_mm : its diagonal along its own axes
    """

    surface: Surface
    samples: Samples
    size_mm: float

    @staticmethod
    def of(mesh: Mesh, *, seed: int) -> Target:
        """Make a design ready."""
        rng = np.random.default_rng(seed)
        samples = sample_mesh(mesh, n=tol.CHECK_SAMPLES, rng=rng)
        return Target(Surface(mesh), samples, size_of(mesh))


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """One way in which a scan lies on a design.

    Parameters
    ----------
    matrix : (4, 4) rigid
    rms_mm : trimmed, the worse of both ways
    """

    matrix: FloatArray
    rms_mm: float


def size_of(mesh: Mesh) -> float:
    """Diagonal of the box along a mesh's own axes, mm: the same however it lies."""
    return float(np.linalg.norm(extents(mesh.vertices[np.unique(mesh.faces)])))


def samples_of(mesh: Mesh, *, seed: int, left_out: BoolArray | None = None) -> Samples:
    """Points of a scan to lay it by."""
    return sample_mesh(
        mesh, n=tol.CHECK_SAMPLES, rng=np.random.default_rng(seed), left_out=left_out
    )


def poses(scan: Samples, target: Target, *, seed: int) -> list[Pose]:
    """Ways in which a scan lies on a design, those that differ, best first."""
    few = scan.thinned(tol.CHECK_FEW)
    tree = cKDTree(target.samples.points)
    reach = tol.CHECK_REACH * target.size_mm
    starts = [*_starts(scan, target.samples), _matched(scan, target, seed=seed)]

    def apart(matrix: FloatArray) -> float:
        distance, _ = tree.query(few.moved(matrix).points, distance_upper_bound=reach)
        return float(np.minimum(distance, reach).mean())

    hopeful = sorted(starts, key=apart)[: tol.CHECK_HOPEFUL]
    cloud = _cloud(target.samples)
    near: list[Pose] = []
    for start in hopeful:
        matrix = start
        for share in (1.0, 0.3):
            if not np.isfinite(matrix).all():
                break
            matrix = _step(few, cloud, matrix, share * reach)
        # On a flat thing a start may leave nothing that holds it.
        if not np.isfinite(matrix).all():
            continue
        if not any(_same(matrix, pose.matrix, few, target) for pose in near):
            near.append(Pose(matrix, _rms(few, target, matrix)))
    near.sort(key=lambda pose: pose.rms_mm)
    if not near:
        return []
    return _fine(scan, target, cloud, near[: tol.CHECK_FINISHED], reach)


def trimmed_rms(distance: FloatArray, share: float) -> float:
    """RMS of the smallest share of distances, mm."""
    n = max(1, round(share * len(distance)))
    return float(np.sqrt((np.partition(distance, n - 1)[:n] ** 2).mean()))


def rms_both_ways(scan: FloatArray, target: Target) -> float:
    """Trimmed RMS of placed points on the design, and of the design on them; the worse, mm."""
    onto = trimmed_rms(target.surface.distance(scan), tol.CHECK_TRIM_SCAN)
    back, nearest = cKDTree(scan).query(target.samples.points)
    # Across the surface only: two samples of one place are not at the same spot.
    along = (target.samples.points - scan[nearest]) * target.samples.normals
    far = back > tol.CHECK_SPARSE * np.sqrt(2 * target.samples.area_mm2)
    across = np.where(far, back, np.abs(along.sum(axis=1)))
    return max(onto, trimmed_rms(across, tol.CHECK_TRIM_DESIGN))


def _fine(
    scan: Samples, target: Target, cloud: Any, near: list[Pose], reach_mm: float
) -> list[Pose]:
    found: list[Pose] = []
    some = scan.thinned(tol.CHECK_SOME)
    for pose in near:
        matrix = _step(some, cloud, pose.matrix, 0.3 * reach_mm)
        matrix = settled(Points(some.points, some.normals), target.surface, matrix, scaled=False)
        if not any(_same(matrix, other.matrix, some, target) for other in found):
            found.append(Pose(matrix, _rms(some, target, matrix)))
    found.sort(key=lambda pose: pose.rms_mm)
    # Only the best is worth all points.
    points = Points(scan.points, scan.normals)
    matrix = settled(points, target.surface, found[0].matrix, scaled=False)
    return [Pose(matrix, _rms(scan, target, matrix)), *found[1:]]


def _starts(scan: Samples, design: Samples) -> list[FloatArray]:
    """Own axes on own axes, and turned about the thin way in small steps, both sides up."""
    mine, theirs = _own_axes(scan.points), _own_axes(design.points)
    found = box_starts(theirs, mine)
    for over in (np.eye(3), np.diag([1.0, -1.0, -1.0])):
        for angle in np.linspace(0.0, 2 * np.pi, tol.CHECK_TURNS, endpoint=False):
            turn = np.eye(4)
            turn[:3, :3] = Rotation.from_rotvec([0.0, 0.0, angle]).as_matrix() @ over
            found.append(np.linalg.inv(theirs) @ turn @ mine)
    return found


def _matched(scan: Samples, target: Target, *, seed: int) -> FloatArray:
    """A start by local shapes."""
    import open3d

    # It prints that a plain shell has few shapes to match: one start of many is then of no use.
    with open3d.utility.VerbosityContextManager(open3d.utility.VerbosityLevel.Error):
        return global_start(target.samples, scan, seed=seed)


def _own_axes(points: FloatArray) -> FloatArray:
    """To coordinates along a cloud's own axes, the thin way last, (4, 4)."""
    middle = points.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov((points - middle).T))
    turn = axes[:, ::-1].T
    turn[2] *= np.sign(np.linalg.det(turn))
    matrix = np.eye(4)
    matrix[:3, :3] = turn
    matrix[:3, 3] = -turn @ middle
    return matrix


def _step(scan: Samples, target: Any, matrix: FloatArray, reach_mm: float) -> FloatArray:
    """Register by the distance from points to planes, outliers believed little."""
    import open3d

    reg = open3d.pipelines.registration
    found = reg.registration_icp(
        _cloud(scan),
        target,
        reach_mm,
        matrix,
        reg.TransformationEstimationPointToPlane(reg.TukeyLoss(k=0.5 * reach_mm)),
        reg.ICPConvergenceCriteria(1e-6, 1e-6, 40),
    )
    return np.array(found.transformation, dtype=np.float64)


def _rms(scan: Samples, target: Target, matrix: FloatArray) -> float:
    return rms_both_ways(moved(scan.points, matrix), target)


def _same(one: FloatArray, other: FloatArray, few: Samples, target: Target) -> bool:
    apart = np.linalg.norm(moved(few.points, one) - moved(few.points, other), axis=1)
    return float(np.sqrt((apart**2).mean())) < tol.DONOR_SAME * target.size_mm


def _cloud(samples: Samples) -> Any:
    import open3d

    cloud = open3d.geometry.PointCloud()
    cloud.points = open3d.utility.Vector3dVector(np.array(samples.points))
    cloud.normals = open3d.utility.Vector3dVector(np.array(samples.normals))
    return cloud
