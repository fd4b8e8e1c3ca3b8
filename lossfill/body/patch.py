"""The three ways to close an opening: flat, bent to follow the wall, or by least area."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill.body.flatmesh import fill_outline, folded_share, make_delaunay, refine
from lossfill.mesh import BoolArray, FloatArray, IntArray
from lossfill.tolerances import FLAT_RIM, FLAT_RIM_JAG, FOLDED, PATCH_STIFFNESS

SPLINE_CELLS = 24
"""Cells across for the points that a spline is bent through: at most some 600, solved in 0.05 s."""


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """The rim of one opening, with its best plane.

    Parameters
    ----------
    loop : (N,) vertices in the winding that a patch needs
    points : (N, 3) mm
    centre : (3,) mm
    axes : (3, 3) rows: two axes in the plane and its normal, which points out of the material
    width_mm : distance of the two rim points that are farthest apart
    deviation_mm : farthest that the rim leaves its plane
    area_mm2 : signed area inside the rim in the plane
    flat : (N - 2, 3) triangles that fill the rim laid out in its plane
    simple : True where these do not fold over: the rim does not cross itself to speak of
    """

    loop: IntArray
    points: FloatArray
    centre: FloatArray
    axes: FloatArray
    width_mm: float
    deviation_mm: float
    area_mm2: float
    flat: IntArray
    simple: bool

    @property
    def flat_mm(self) -> float:
        """How far a flat rim may leave its plane, mm: it is jagged by its own edges."""
        step = np.linalg.norm(self.points - np.roll(self.points, -1, axis=0), axis=1)
        jag = min(float(np.median(step)), FLAT_RIM_JAG * self.width_mm)
        return FLAT_RIM * self.width_mm + jag

    @property
    def is_flat(self) -> bool:
        """True where the rim lies in a plane and does not cross itself there."""
        return self.simple and self.deviation_mm <= self.flat_mm

    def laid_out(self, points: FloatArray) -> FloatArray:
        """Coordinates (N, 3) in the plane's axes, the third being the height above it."""
        flat: FloatArray = (points - self.centre) @ self.axes.T
        return flat


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """Triangles that close an opening.

    Parameters
    ----------
    points : (K, 3) new vertices, mm
    triangles : (T, 3); negative numbers name new vertices: -1 is the first of `points`
    """

    points: FloatArray
    triangles: IntArray


def rim_of(vertices: FloatArray, loop: IntArray) -> Rim:
    """Measure the rim of an opening."""
    points = vertices[loop]
    centre = points.mean(axis=0)
    spokes = points - centre
    # Half the sum of cross products (Newell's normal) is as long as the area inside the rim.
    normal = 0.5 * np.cross(spokes, np.roll(spokes, -1, axis=0)).sum(axis=0)
    area = float(np.linalg.norm(normal))
    _, _, principal = np.linalg.svd(spokes, full_matrices=False)
    span = float(np.ptp(spokes @ principal[0]))
    if area < 1e-6 * span**2:
        # A slit has no normal of its own; any plane along it will do.
        normal, area = principal[2], 0.0
    normal = normal / np.linalg.norm(normal)
    first = principal[0] - normal * (principal[0] @ normal)
    first /= np.linalg.norm(first)
    axes = np.stack([first, np.cross(normal, first), normal])
    flat = spokes @ axes.T
    filled = fill_outline([flat[:, :2]])
    # Noise makes a jagged rim on a steep wall cross itself in plan by a hair, which is no harm.
    simple = area > 0.0 and folded_share(flat[:, :2], filled) <= FOLDED
    deviation = float(np.abs(flat[:, 2]).max())
    return Rim(loop, points, centre, axes, _across(points), deviation, area, filled, simple)


def flat_patch(rims: list[Rim]) -> Patch:
    """Close openings of one plane by a flat patch; those inside others leave it open there."""
    first = rims[0]
    outlines = [first.laid_out(rim.points)[:, :2] for rim in rims]
    triangles = make_delaunay(np.concatenate(outlines), fill_outline(outlines))
    loop = np.concatenate([rim.loop for rim in rims])
    return Patch(np.empty((0, 3)), loop[triangles])


def bent_patch(rim: Rim, around: FloatArray) -> Patch:
    """Close an opening by a thin plate bent through the rim and the skin around it.

    Parameters
    ----------
    rim : laid out without crossing itself
    around : (M, 3) points of the skin near the opening, mm
    """
    from scipy.interpolate import RBFInterpolator

    flat = rim.laid_out(rim.points)
    step = np.linalg.norm(rim.points - np.roll(rim.points, -1, axis=0), axis=1)
    outline = flat[:, :2]
    laid, triangles = refine(outline, rim.flat, float(np.median(step)))
    n_rim = len(outline)
    new = laid[n_rim:]
    if len(new) == 0:
        return Patch(np.empty((0, 3)), rim.loop[triangles])
    known = np.concatenate(
        [_evened(flat, rim.width_mm), _evened(rim.laid_out(around), 2.0 * rim.width_mm)]
    )
    # Points of a folded rim that fall on one spot would make the system singular.
    _, first = np.unique(np.round(known[:, :2] / (1e-4 * rim.width_mm)), axis=0, return_index=True)
    known = known[first]
    # Lengths in rim widths make the stiffness a pure number.
    plate = RBFInterpolator(
        known[:, :2] / rim.width_mm,
        known[:, 2],
        kernel="thin_plate_spline",
        degree=2,
        smoothing=PATCH_STIFFNESS,
    )
    height = plate(new / rim.width_mm)
    points = rim.centre + np.column_stack([new, height]) @ rim.axes
    number = np.concatenate([rim.loop, -1 - np.arange(len(new), dtype=np.int32)])
    return Patch(points, number[triangles].astype(np.int32))


def least_area_patch(rim: Rim) -> Patch:
    """Close a short rim by the triangles of least total area (dynamic programming, cubic cost)."""
    points = rim.points
    n = len(points)
    cost = np.zeros((n, n))
    best = np.zeros((n, n), dtype=np.int32)
    for gap in range(2, n):
        for i in range(n - gap):
            k = i + gap
            between = np.arange(i + 1, k)
            area = np.linalg.norm(
                np.cross(points[between] - points[i], points[between] - points[k]), axis=1
            )
            total = cost[i, between] + cost[between, k] + area
            at = int(np.argmin(total))
            cost[i, k], best[i, k] = total[at], between[at]
    triangles, stack = [], [(0, n - 1)]
    while stack:
        i, k = stack.pop()
        if k - i < 2:
            continue
        j = int(best[i, k])
        triangles.append((i, j, k))
        stack += [(i, j), (j, k)]
    return Patch(np.empty((0, 3)), rim.loop[np.array(triangles, dtype=np.int32)])


def _across(points: FloatArray) -> float:
    from scipy.spatial.distance import pdist

    # Every few points of a long rim: they are much closer to each other than it is wide.
    return float(pdist(points[:: -(-len(points) // 2000)]).max())


def inside(outline: FloatArray, points: FloatArray) -> BoolArray:
    """True for points (M, 2) inside a closed polygon (N, 2), by counting crossings."""
    result = np.zeros(len(points), dtype=np.bool_)
    x, y = points[:, 0], points[:, 1]
    for (ax, ay), (bx, by) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if ay == by:
            continue
        spans = (ay > y) != (by > y)
        result ^= spans & (x < ax + (y - ay) * ((bx - ax) / (by - ay)))
    return result


def _evened(points: FloatArray, width_mm: float) -> FloatArray:
    """Mean of the points in each cell of a grid in the plane, few enough for one dense solve.

    The mean does not depend on the order of the points and takes noise out with it.
    """
    cell = width_mm / SPLINE_CELLS
    number = np.floor(points[:, :2] / cell).astype(np.int64)
    _, group = np.unique(number, axis=0, return_inverse=True)
    group = group.ravel()
    count = np.bincount(group)
    means = [np.bincount(group, weights=points[:, k]) / count for k in range(3)]
    return np.stack(means, axis=1)
