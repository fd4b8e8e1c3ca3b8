"""Heights of a skin over a plane, found by rays: what a former's face is laid on.

Rays run against the way that the former comes off, so that nothing of what they find can hold it.
They start on the missing skin and go on outwards from ray to ray, each from a little above what its
neighbours met: so they stay on one skin, and end where another wall, a handle or a turn of the skin
comes in between.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from lossfill import tolerances as tol
from lossfill.mesh import BoolArray, FloatArray, Mesh
from lossfill.nearest import Surface

_ROUND = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """A plane with a regular grid of places on it.

    Parameters
    ----------
    pose : (3, 4) columns x, y, z (the way off) and the origin, in vessel coordinates
    x, y : (N,), (M,) mm, the grid's places
    cell_mm : their distance
    """

    pose: FloatArray
    x: FloatArray
    y: FloatArray
    cell_mm: float

    def points(self, heights: FloatArray, where: BoolArray) -> FloatArray:
        """Places (N, 3) in vessel coordinates of some of the grid, at heights (M, N) above it."""
        x, y = np.meshgrid(self.x, self.y)
        local = np.stack([x[where], y[where], heights[where]], axis=-1)
        result: FloatArray = local @ self.pose[:, :3].T + self.pose[:, 3]
        return result

    def place_of(self, points: FloatArray) -> FloatArray:
        """Points (N, 3) of the vessel as x, y and height."""
        result: FloatArray = (points - self.pose[:, 3]) @ self.pose[:, :3]
        return result


def plane_over(patch: Mesh, pose: FloatArray, *, margin_mm: float) -> Plane:
    """The grid over a patch and a margin about it.

    Parameters
    ----------
    patch : the missing skin
    pose : (3, 4) as in `Plane`
    """
    seen = (patch.vertices - pose[:, 3]) @ pose[:, :3]
    low, high = seen[:, :2].min(axis=0) - margin_mm, seen[:, :2].max(axis=0) + margin_mm
    cell = max(tol.FORMER_CELL_MM, float(np.sqrt(np.prod(high - low) / tol.FORMER_CELLS)))
    # Two cells more, so that the outline lies inside; the grid is even about the origin.
    first, last = np.floor(low / cell) - 2, np.ceil(high / cell) + 2
    x, y = (cell * np.arange(a, b + 1) for a, b in zip(first, last, strict=True))
    return Plane(pose, x, y, cell)


def heights_over(plane: Plane, whole: Surface, patch: Mesh, *, margin_mm: float) -> FloatArray:
    """Heights of the skin over and about the missing one, (M, N) mm; NaN where there is none.

    Parameters
    ----------
    whole : the skin of the body and of all that is missing
    patch : the missing skin on this side
    """
    gap = Surface(patch)
    step = tol.FORMER_STEEPEST * plane.cell_mm * np.sqrt(2.0)
    top = float(plane.place_of(patch.vertices)[:, 2].max()) + 1.0
    shape = (len(plane.y), len(plane.x))
    heights = _cast(plane, gap, np.full(shape, top), np.ones(shape, dtype=bool))
    refused = np.zeros(shape, dtype=bool)
    while True:
        known = np.isfinite(heights)
        wanted = known.copy()
        wanted[known] = gap.distance(plane.points(heights, known)) < margin_mm + plane.cell_mm
        ring = ndimage.binary_dilation(wanted, _ROUND) & ~known & ~refused
        if not ring.any():
            return heights
        high = ndimage.grey_dilation(np.where(wanted, heights, -np.inf), size=(3, 3))
        low = ndimage.grey_erosion(np.where(wanted, heights, np.inf), size=(3, 3))
        found = _cast(plane, whole, high + step, ring)
        on = ring & (found >= low - step)
        heights = np.where(on, found, heights)
        refused |= ring & ~on


def room_over(plane: Plane, whole: Surface, heights: FloatArray) -> FloatArray:
    """How far each place of the skin is from what lies above it, (M, N) mm; NaN without skin."""
    known = np.isfinite(heights)
    # From a little above: a ray from the skin itself would meet its roughness.
    starts = plane.points(heights, known) + 0.5 * plane.pose[:, 2]
    free = np.full(heights.shape, np.nan)
    free[known] = whole.along_rays(starts, np.broadcast_to(plane.pose[:, 2], starts.shape))[0] + 0.5
    return free


def offset_from(
    plane: Plane, whole: Surface, heights: FloatArray, where: BoolArray, off_mm: float
) -> FloatArray:
    """Heights at which a face stands off the skin by a distance, (M, N) mm."""
    result = heights + off_mm * lean_of(plane, heights)
    lean = lean_of(plane, heights)[where]
    for _ in range(tol.FORMER_OFFSET_STEPS):
        short = off_mm - whole.distance(plane.points(result, where))
        result[where] += short * lean
    return result


def lean_of(plane: Plane, heights: FloatArray) -> FloatArray:
    """Height by which one mm across a skin shows, (M, N): 1 / cos of its slope, without noise."""
    smooth = ndimage.gaussian_filter(heights, tol.FORMER_SMOOTH_MM / plane.cell_mm, mode="nearest")
    along_y, along_x = np.gradient(smooth, plane.cell_mm)
    result: FloatArray = np.sqrt(1.0 + along_x**2 + along_y**2)
    return result


def roughness_of(plane: Plane, heights: FloatArray, where: BoolArray) -> FloatArray:
    """How far the skin strays from a smooth one, square to it, (N,) mm at some places.

    Smooth is the paraboloid through each place's surroundings by least squares: it follows bends
    and throwing lines, and leaves the noise of a scan.
    """
    known = np.isfinite(heights)
    reach = round(tol.ROUGH_REACH_MM / plane.cell_mm)
    x, y = np.meshgrid(*2 * (np.arange(-reach, reach + 1.0),))
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1).reshape(-1, 6)
    # The paraboloid's value in its middle is one weighted sum of the heights about it.
    weights = np.linalg.pinv(terms)[0].reshape(x.shape)
    skin = filled(heights, known)
    smooth = ndimage.correlate(skin, weights, mode="nearest")
    whole = ndimage.binary_erosion(known, np.ones(x.shape, dtype=bool)) & where
    result: FloatArray = (np.abs(skin - smooth) / lean_of(plane, skin))[whole]
    return result


def filled(heights: FloatArray, known: BoolArray) -> FloatArray:
    """The same with the nearest known height wherever none is known."""
    rows, columns = ndimage.distance_transform_edt(
        ~known, return_distances=False, return_indices=True
    )
    result: FloatArray = heights[rows, columns]
    return result


def _cast(plane: Plane, surface: Surface, tops: FloatArray, where: BoolArray) -> FloatArray:
    """First heights met from above, (M, N); NaN for none, and where a ray starts inside."""
    starts = plane.points(tops, where)
    ahead = np.broadcast_to(-plane.pose[:, 2], starts.shape)
    met = np.full(len(starts), np.inf)
    # Body and missing material meet in edges of their own, between which a ray may slip through:
    # of three rays a hair apart, the one that is stopped first is right.
    for turn in (0.0, 2.0, 4.0):
        hair = tol.FORMER_RAY_HAIR_MM * (
            np.cos(turn) * plane.pose[:, 0] + np.sin(turn) * plane.pose[:, 1]
        )
        far, facing = surface.along_rays(starts + hair, ahead)
        met = np.minimum(met, np.where(facing < 0.0, far, np.inf))
    heights = np.full(tops.shape, np.nan)
    heights[where] = np.where(np.isfinite(met), tops[where] - met, np.nan)
    return heights
