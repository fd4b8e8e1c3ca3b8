"""Mirror images and twins, laid on a body by its skin alone.

A start comes near, and the fine registration settles it. Both look at points spread over what is
left, and set aside those that find nothing near: a donor shows more than the body has, and the
body has a break that no donor shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.donor.settle import Target, settled_on
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray
from lossfill.robust import belief, spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A rigid or mirrored motion that lays a donor on the body.

    Parameters
    ----------
    matrix : (4, 4) scan mm of the body from the donor's own mm
    residual_mm : robust spread of skin about skin where both are there
    alike : share of the donor's skin that lies on the body's
    larger : by what share the donor is larger than the body, by the skin where both are there
    """

    matrix: FloatArray
    residual_mm: float
    alike: float
    larger: float


def find_mirrors(samples: Samples, *, axis: FloatArray | None = None) -> list[Laid]:
    """Planes about which what is left lies on itself, best first.

    Parameters
    ----------
    samples : of the body, scan coordinates
    axis : (2, 3) point and direction of an axis that the plane must hold, where there is one
    """
    starts = [
        _reflection(normal, offset)
        for normal, offset in (_planes_voted(samples) if axis is None else _planes_about(axis))
    ]
    return _settled(samples, samples, starts)


def lay_twin(samples: Samples, twin: Samples, starts: list[FloatArray]) -> list[Laid]:
    """Lay another thing of the set on the body, best first.

    Parameters
    ----------
    samples, twin : of body and twin, each in the coordinates of its scan
    starts : (4, 4) rigid motions to try, such as `box_starts`
    """
    return _settled(samples, twin, starts)


def box_starts(body_from: FloatArray, twin_from: FloatArray) -> list[FloatArray]:
    """Ways to lay a twin's box on the body's, 24 rigid motions.

    Parameters
    ----------
    body_from, twin_from : (4, 4) each from its scan to coordinates along its box's sides, about
        the box's middle
    """
    turns = []
    for order in ((0, 1, 2), (1, 2, 0), (2, 0, 1), (0, 2, 1), (2, 1, 0), (1, 0, 2)):
        for signs in np.ndindex(2, 2, 2):
            turn = np.zeros((3, 3))
            turn[np.arange(3), order] = 1.0 - 2.0 * np.array(signs)
            if np.linalg.det(turn) > 0:
                turns.append(turn)
    found = []
    for turn in turns:
        middle = np.eye(4)
        middle[:3, :3] = turn
        found.append(np.linalg.inv(body_from) @ middle @ twin_from)
    return found


def turn_starts(body_from: FloatArray, twin_from: FloatArray) -> list[FloatArray]:
    """Ways to lay a turned twin on a turned vessel: about the axis, every few degrees."""
    found = []
    for angle in np.linspace(0.0, 2 * np.pi, tol.DONOR_TURN_STARTS, endpoint=False):
        turn = np.eye(4)
        turn[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
        found.append(np.linalg.inv(body_from) @ turn @ twin_from)
    return found


def global_start(samples: Samples, twin: Samples, *, seed: int) -> FloatArray:
    """A start that needs no box and no axis: local shapes matched between body and twin."""
    import open3d

    reg = open3d.pipelines.registration
    size = float(np.linalg.norm(np.ptp(samples.points, axis=0)))
    cell = tol.DONOR_MATCH_CELL * size
    clouds = [_cloud(s).voxel_down_sample(cell) for s in (twin, samples)]
    search = open3d.geometry.KDTreeSearchParamHybrid(radius=5 * cell, max_nn=100)
    shapes = [_local_shapes(cloud, search) for cloud in clouds]
    open3d.utility.random.seed(seed)
    found = reg.registration_ransac_based_on_feature_matching(
        clouds[0],
        clouds[1],
        shapes[0],
        shapes[1],
        True,
        1.5 * cell,
        reg.TransformationEstimationPointToPoint(False),
        3,
        [
            reg.CorrespondenceCheckerBasedOnEdgeLength(0.9),
            reg.CorrespondenceCheckerBasedOnDistance(1.5 * cell),
        ],
        reg.RANSACConvergenceCriteria(50_000, 0.999),
    )
    return np.array(found.transformation, dtype=np.float64)


def _local_shapes(cloud: Any, search: Any) -> Any:
    import open3d

    registration: Any = open3d.pipelines.registration
    return registration.compute_fpfh_feature(cloud, search)


def _settled(body: Samples, donor: Samples, starts: list[FloatArray]) -> list[Laid]:
    """Settle the most hopeful starts; keep those that differ, best first."""
    size = float(np.linalg.norm(np.ptp(body.points, axis=0)))
    few, many = donor.thinned(tol.DONOR_FEW), donor.thinned(tol.DONOR_MANY)
    tree = cKDTree(body.thinned(tol.DONOR_MANY).points)
    cap = tol.DONOR_CAP * size

    def apart(matrix: FloatArray) -> float:
        distance, _ = tree.query(few.moved(matrix).points, distance_upper_bound=cap)
        return float(np.minimum(distance, cap).mean())

    hopeful = sorted(starts, key=apart)[: tol.DONOR_HOPEFUL]
    coarse, target = Target.of(body.thinned(tol.DONOR_MANY)), Target.of(body)
    near: list[FloatArray] = []
    for start in hopeful:
        matrix = start
        for reach in (cap, 0.5 * cap):
            matrix = _step(few, coarse, matrix, reach)
        # Several starts lead to one place: only one of them is worth the many points.
        if all(_differs(matrix, other, few, size) for other in near):
            near.append(matrix)
    fine = tol.DONOR_FINE * size
    near = _worth_many(body, few, [_step(few, target, matrix, fine) for matrix in near])
    laid = [_judged(body, many, _step(many, target, matrix, fine)) for matrix in near]
    laid.sort(key=lambda one: (-round(one.alike, 2), one.residual_mm))
    different: list[Laid] = []
    for one in laid:
        if all(_differs(one.matrix, other.matrix, few, size) for other in different):
            different.append(one)
    if not different:
        return []
    best = different[0].alike
    return [one for one in different if one.alike > max(best - 0.1, tol.DONOR_ALIKE_MIN)]


def _worth_many(body: Samples, few: Samples, near: list[FloatArray]) -> list[FloatArray]:
    """Those of some motions that the many points may still keep, as far as a few can tell.

    A motion that lies nowhere well never settles: it takes longer than all the others together.
    """
    alike = [_judged(body, few, matrix).alike for matrix in near]
    least = max(max(alike, default=0.0) - 0.1, tol.DONOR_ALIKE_MIN) - tol.DONOR_ALIKE_ERRS
    return [matrix for matrix, share in zip(near, alike, strict=True) if share > least]


def _step(donor: Samples, target: Target, matrix: FloatArray, reach_mm: float) -> FloatArray:
    # The few only bring the many near.
    many = len(donor.points) > 2 * tol.DONOR_FEW
    still = tol.DONOR_STILL_MM if many else tol.DONOR_STILL_FEW_MM
    return settled_on(target, donor, matrix, reach_mm=reach_mm, still_mm=still)


def _judged(body: Samples, donor: Samples, matrix: FloatArray) -> Laid:
    """How well a donor lies on the body's skin."""
    moved = donor.moved(matrix)
    found = cKDTree(body.points).query(moved.points)
    distance, nearest = (np.asarray(part) for part in found)
    facing = (moved.calm_normals * body.calm_normals[nearest]).sum(axis=1) > tol.SKIN_AGREEMENT
    off = ((moved.points - body.points[nearest]) * body.calm_normals[nearest]).sum(axis=1)
    spacing = np.sqrt(body.area_mm2)
    near = facing & (distance < 3 * spacing)
    if near.sum() < 50:
        return Laid(matrix, float("inf"), 0.0, 0.0)
    spread = max(spread_of(off[near]), tol.RESIDUAL_FLOOR_MM)
    alike = near & (np.abs(off) < tol.DONOR_ALIKE_MM)
    larger = _larger(moved.points[near], body.calm_normals[nearest[near]], off[near])
    return Laid(matrix, spread, float(alike.mean()), larger)


def _larger(points: FloatArray, normals: FloatArray, off_mm: FloatArray) -> float:
    """By what share a donor is larger whose points lie off the body along its normals, robustly.

    A larger one stands off by that share of its distance from some middle, which is found too.
    """
    outward = (normals * (points - points.mean(axis=0))).sum(axis=1)
    design = np.column_stack([outward, normals])
    weight = np.ones(len(off_mm))
    answer = np.zeros(4)
    for _ in range(4):
        weighted = design * np.sqrt(weight)[:, None]
        answer = np.linalg.lstsq(weighted, off_mm * np.sqrt(weight), rcond=None)[0]
        residual = off_mm - design @ answer
        weight = belief(residual, spread_of(residual) + 1e-6)
    return float(answer[0])


def _differs(one: FloatArray, other: FloatArray, few: Samples, size_mm: float) -> bool:
    apart = np.linalg.norm(few.moved(one).points - few.moved(other).points, axis=1)
    return float(np.sqrt((apart**2).mean())) > tol.DONOR_SAME * size_mm


def _planes_about(axis: FloatArray) -> list[tuple[FloatArray, float]]:
    point, direction = axis
    side = np.cross(direction, np.eye(3)[int(np.argmin(np.abs(direction)))])
    side /= np.linalg.norm(side)
    other = np.cross(direction, side)
    angles = np.linspace(0.0, np.pi, tol.DONOR_TURN_STARTS, endpoint=False)
    normals = [np.cos(a) * side + np.sin(a) * other for a in angles]
    return [(normal, float(normal @ point)) for normal in normals]


def _planes_voted(samples: Samples) -> list[tuple[FloatArray, float]]:
    """Planes about which many pairs of points and normals are images of each other.

    Every pair of points names one plane, halfway between them; it counts where that plane takes
    the one's normal to the other's. A true plane is named by many pairs.
    """
    few = samples.thinned(tol.MIRROR_VOTERS)
    middle = few.points.mean(axis=0)
    p, n = few.points - middle, few.calm_normals
    i, j = np.triu_indices(len(p), 1)
    across = p[j] - p[i]
    length = np.linalg.norm(across, axis=1)
    size = float(np.linalg.norm(np.ptp(p, axis=0)))
    far = length > tol.MIRROR_PAIR_APART * size
    i, j, normal = i[far], j[far], across[far] / length[far][:, None]
    image = n[i] - 2 * (n[i] * normal).sum(axis=1)[:, None] * normal
    fits = (image * n[j]).sum(axis=1) > tol.MIRROR_PAIR_AGREEMENT
    i, j, normal = i[fits], j[fits], normal[fits]
    offset = (0.5 * (p[i] + p[j]) * normal).sum(axis=1)
    # A plane and its other side are one.
    flip = np.where(normal @ np.array([0.123, 0.456, 0.881]) < 0, -1.0, 1.0)
    normal, offset = normal * flip[:, None], offset * flip
    places = np.column_stack([normal, offset / (tol.MIRROR_OFFSET_SHARE * size)])
    tree = cKDTree(places)
    some = places[:: max(1, len(places) // tol.MIRROR_VOTES)]
    count = tree.query_ball_point(some, tol.MIRROR_VOTE_REACH, return_length=True)
    found: list[FloatArray] = []
    for k in np.argsort(-count, kind="stable"):
        if all(np.linalg.norm(some[k] - one) > 2 * tol.MIRROR_VOTE_REACH for one in found):
            found.append(some[k])
        if len(found) == tol.MIRROR_CANDIDATES:
            break
    planes = []
    for one in found:
        close = places[tree.query_ball_point(one, tol.MIRROR_VOTE_REACH)].mean(axis=0)
        direction = close[:3] / np.linalg.norm(close[:3])
        shift = close[3] * tol.MIRROR_OFFSET_SHARE * size
        planes.append((direction, float(shift + direction @ middle)))
    return planes


def _reflection(normal: FloatArray, offset_mm: float) -> FloatArray:
    """Reflection about {x : normal · x = offset}, (4, 4)."""
    matrix = np.eye(4)
    matrix[:3, :3] -= 2 * np.outer(normal, normal)
    matrix[:3, 3] = 2 * offset_mm * normal
    return matrix


def _cloud(samples: Samples) -> Any:
    import open3d

    cloud = open3d.geometry.PointCloud()
    cloud.points = open3d.utility.Vector3dVector(np.array(samples.points))
    cloud.normals = open3d.utility.Vector3dVector(np.array(samples.calm_normals))
    return cloud
