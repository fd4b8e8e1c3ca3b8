"""Small motions that bring points nearer to where they ought to be, by least squares.

The distances are to the triangles themselves, not to points sampled on them, which is what takes
the last hundredths of a millimetre out of a registration.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from lossfill import tolerances as tol
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.robust import belief, spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Points of a scan with the normals of its surface, (N, 3) each."""

    points: FloatArray
    normals: FloatArray

    def moved(self, matrix: FloatArray) -> Points:
        """The same under a (4, 4) rigid motion, with or without a uniform scale."""
        turn = matrix[:3, :3] / np.cbrt(np.linalg.det(matrix[:3, :3]))
        return Points(moved(self.points, matrix), self.normals @ turn.T)


@dataclass(frozen=True, slots=True, eq=False)
class Pulls:
    """What moves the points: how far each is off along a direction, and how much it counts.

    Parameters
    ----------
    points, directions : (N, 3)
    off_mm, weights : (N,)
    """

    points: FloatArray
    directions: FloatArray
    off_mm: FloatArray
    weights: FloatArray


def moved(points: FloatArray, matrix: FloatArray) -> FloatArray:
    """Points under a (4, 4) motion."""
    result: FloatArray = points @ matrix[:3, :3].T + matrix[:3, 3]
    return result


def settled(cloud: Points, surface: Surface, matrix: FloatArray, *, scaled: bool) -> FloatArray:
    """Move a cloud onto a surface it nearly lies on, (4, 4); outliers lose their say.

    Parameters
    ----------
    matrix : (4, 4) where to start
    scaled : find its size too
    """
    for _ in range(tol.CHECK_SETTLE_STEPS):
        step = motion_of(pulls_to(cloud.moved(matrix), surface), scaled=scaled)
        before = moved(cloud.points, matrix)
        matrix = step @ matrix
        if np.abs(moved(cloud.points, matrix) - before).max() < tol.CHECK_SETTLED_MM:
            break
    return matrix


def pulls_to(cloud: Points, surface: Surface) -> Pulls:
    """What draws points onto the surface that faces as they do."""
    places, normals = surface.closest(cloud.points)
    off = ((cloud.points - places) * normals).sum(axis=1)
    alike = (normals * cloud.normals).sum(axis=1) > tol.SKIN_AGREEMENT
    spread = max(spread_of(off[alike]) if alike.any() else 0.0, tol.CHECK_SPREAD_FLOOR_MM)
    return Pulls(cloud.points, normals, off, np.where(alike, belief(off, spread), 0.0))


def motion_of(pulls: Pulls, *, scaled: bool = False, damping: float = 0.0) -> FloatArray:
    """The small motion that takes most of the pulls away, (4, 4).

    Parameters
    ----------
    scaled : with a uniform scale
    damping : how much moving costs against what it gains
    """
    middle = pulls.points.mean(axis=0)
    columns, off = _linear(pulls, middle, scaled=scaled)
    return _motion(_solved(columns, off, damping), middle)


def scale_error(pulls: Pulls) -> float:
    """Standard error of the scale that `motion_of` finds, as a share.

    Neighbouring points err alike, so it comes from leaving out stretches of the piece in turn (the
    jackknife), not from the number of points.
    """
    middle = pulls.points.mean(axis=0)
    columns, off = _linear(pulls, middle, scaled=True)
    _, axes = np.linalg.eigh(np.cov((pulls.points - middle).T))
    order = np.argsort((pulls.points - middle) @ axes[:, 2])
    blocks = np.array_split(order, tol.CHECK_JACKKNIFE)
    found = []
    for block in blocks:
        kept = np.ones(len(off), dtype=bool)
        kept[block] = False
        found.append(_solved(columns[kept], off[kept], 0.0)[6])
    n = len(blocks)
    return float(np.sqrt((n - 1) / n * ((found - np.mean(found)) ** 2).sum()))


def _linear(pulls: Pulls, middle: FloatArray, *, scaled: bool) -> tuple[FloatArray, FloatArray]:
    arm = pulls.points - middle
    parts = [np.cross(arm, pulls.directions), pulls.directions]
    if scaled:
        parts.append((arm * pulls.directions).sum(axis=1)[:, None])
    root = np.sqrt(pulls.weights)
    return np.hstack(parts) * root[:, None], pulls.off_mm * root


def _solved(columns: FloatArray, off: FloatArray, damping: float) -> FloatArray:
    # A turn is measured by how far it moves the points, or damping would not know its size.
    size = np.linalg.norm(columns, axis=0)
    size = np.where(size > 0, size, 1.0)
    scaled = columns / size
    square = scaled.T @ scaled + max(damping, 1e-12) * np.eye(columns.shape[1])
    answer: FloatArray = -np.linalg.solve(square, scaled.T @ off) / size
    return answer


def _motion(answer: FloatArray, middle: FloatArray) -> FloatArray:
    result = np.eye(4)
    size = 1.0 + (answer[6] if len(answer) == 7 else 0.0)
    result[:3, :3] = size * Rotation.from_rotvec(answer[:3]).as_matrix()
    result[:3, 3] = middle + answer[3:6] - result[:3, :3] @ middle
    return result
