"""Where a former ends at the lip: the line of the highest places of the skin that it lies on."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from scipy import ndimage

from lossfill import tolerances as tol
from lossfill.make.heights import Plane
from lossfill.mesh import BoolArray, FloatArray
from lossfill.nearest import Surface
from lossfill.solids import Solid


@dataclass(frozen=True, slots=True, eq=False)
class Lip:
    """The lip over a former's grid.

    Parameters
    ----------
    crest_mm : (N,) height above the foot at which a former ends, for each column of the grid
    ends_mm : (N,) the grid's y of the same places
    """

    crest_mm: FloatArray
    ends_mm: FloatArray

    def air(self, plane: Plane) -> Solid:
        """All that lies above the lip's line, straight across the wall, as a solid to cut away."""
        # The grid's x is level, so that a column keeps its height across the wall.
        reach = 10.0 * float(np.ptp(plane.x) + np.ptp(plane.y))
        x = np.concatenate([[plane.x[0] - reach], plane.x, [plane.x[-1] + reach]])
        z = np.concatenate([self.crest_mm[:1], self.crest_mm, self.crest_mm[-1:]])
        top = float(z.max()) + reach
        line = np.concatenate([np.stack([x, z], axis=1), [[x[-1], top], [x[0], top]]])
        area = manifold3d.CrossSection([line])
        across = plane.pose[:, 0]
        level = np.cross(across, [0.0, 0.0, 1.0])
        # Columns x, z and level; the third is x × z, so that the frame is right-handed.
        start = plane.pose[:, 3] * [1.0, 1.0, 0.0] - reach * level
        pose = np.stack([across, [0.0, 0.0, 1.0], level, start], axis=1)
        return manifold3d.Manifold.extrude(area, 2.0 * reach).transform(pose)


def lip_over(plane: Plane, whole: Surface, heights: FloatArray, near: BoolArray) -> Lip | None:
    """Find the lip over a grid of heights; None where the former does not come to it.

    Parameters
    ----------
    heights : (M, N) mm of the skin, NaN where there is none
    near : (M, N) whether a place lies so near to the gap that the margin does not end it
    """
    known = np.isfinite(heights)
    level = np.full(heights.shape, -np.inf)
    level[known] = plane.points(heights, known)[:, 2]
    top = level.argmax(axis=0)
    columns = np.arange(len(plane.x))
    ends = (known & near)[top, columns]
    if not ends.any():
        return None
    # Nothing stands above a lip; above a handle's root or below a shoulder something does.
    x, y = plane.x[ends], plane.y[top[ends]]
    local = np.stack([x, y, heights[top[ends], columns[ends]]], axis=1)
    starts = local @ plane.pose[:, :3].T + plane.pose[:, 3] + [0.0, 0.0, 0.2]
    up = np.broadcast_to([0.0, 0.0, 1.0], starts.shape)
    ends[ends] = np.isinf(whole.along_rays(starts, up)[0])
    if ends.sum() * plane.cell_mm < tol.LIP_LEAST_MM:
        return None
    spread = max(1, round(tol.LIP_SMOOTH_MM / plane.cell_mm))
    lines = []
    for values in (level[top, columns], plane.y[top]):
        one = ndimage.median_filter(values[ends], spread, mode="nearest")
        lines.append(np.interp(plane.x, plane.x[ends], one))
    return Lip(lines[0] - tol.LIP_HAIR_MM, lines[1])
