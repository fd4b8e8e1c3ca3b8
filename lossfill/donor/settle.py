"""Settling a donor on the skin: points to planes, outliers believed little.

Written out here, with scipy's tree and numpy, for one reason: the registration of the library at
hand adds its points up in parallel, in an order that differs from run to run. Its answers differ in
the fifth digit, and the same scan must give the same files.

Method: Y. Chen and G. Medioni, Object modelling by registration of multiple range images, Image and
Vision Computing 10 (1992) 145-155, with Tukey's weights (cited from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from lossfill import tolerances as tol
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """The skin to settle on, made ready for many tries.

    Parameters
    ----------
    points, normals : (N, 3) mm and unit
    tree : of the points
    """

    points: FloatArray
    normals: FloatArray
    tree: cKDTree = field(repr=False)

    @staticmethod
    def of(samples: Samples) -> Target:
        """The skin that samples show."""
        return Target(samples.points, samples.calm_normals, cKDTree(samples.points))


def settled_on(
    target: Target, donor: Samples, start: FloatArray, *, reach_mm: float, still_mm: float
) -> FloatArray:
    """Move a donor until it lies as well as it can from here.

    Parameters
    ----------
    donor : points spread over it, in its own coordinates
    start : (4, 4) motion to begin with, which may reflect
    reach_mm : a point that finds nothing so near has no say
    still_mm : settled when the RMS distance changes by less, and at most one point comes or goes,
        twice in a row

    Returns
    -------
    (4, 4) the motion, start included.
    """
    matrix = np.array(start, dtype=np.float64)
    points, before, calm = donor.moved(matrix).points, (-1, np.inf), 0
    for _ in range(tol.DONOR_ROUNDS):
        found = target.tree.query(points, distance_upper_bound=reach_mm)
        distance, nearest = (np.asarray(part) for part in found)
        near = np.isfinite(distance)
        if near.sum() < 6:  # as many as a rigid motion has freedoms
            break
        now = (int(near.sum()), float(np.sqrt((distance[near] ** 2).mean())))
        # Once may be chance: points that draw near and others that draw away just balance.
        still = abs(now[0] - before[0]) < 2 and abs(now[1] - before[1]) < still_mm
        calm = calm + 1 if still else 0
        if calm == 2:
            break
        before = now
        step = _motion(points[near], target, nearest[near], believed_mm=0.5 * reach_mm)
        points = points @ step[:3, :3].T + step[:3, 3]
        matrix = step @ matrix
    return matrix


def _motion(
    points: FloatArray, target: Target, nearest: NDArray[np.intp], *, believed_mm: float
) -> FloatArray:
    """The small motion that brings points nearest to the planes beneath them, (4, 4)."""
    normals = target.normals[nearest]
    off = ((points - target.points[nearest]) * normals).sum(axis=1)
    # Tukey's weights: nothing beyond the reach, all but one at the middle.
    weight = np.clip(1.0 - (off / believed_mm) ** 2, 0.0, None) ** 2
    # About the middle of the points, or turn and shift would be nearly one and the same.
    middle = points.mean(axis=0)
    design = np.hstack([np.cross(points - middle, normals), normals])
    weighted = design * weight[:, None]
    answer = np.linalg.lstsq(weighted.T @ design, -weighted.T @ off, rcond=1e-12)[0]
    step = np.eye(4)
    step[:3, :3] = Rotation.from_rotvec(answer[:3]).as_matrix()
    step[:3, 3] = middle + answer[3:] - step[:3, :3] @ middle
    return step
