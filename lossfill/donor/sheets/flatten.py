"""Is the body a sheet: two skins, each a height over one plane, and a narrow edge?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import binary_closing, binary_opening, distance_transform_edt

from lossfill import tolerances as tol
from lossfill.mesh import BoolArray, FloatArray, Mesh, centres, face_vectors, unit
from lossfill.nearest import Surface


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A body seen along the direction in which it is thin.

    Parameters
    ----------
    axes : (3, 3) rows are the two directions of the plan and the direction through the sheet
    origin : (3,) scan coordinates, mm; `plan = (point - origin) @ axes.T`
    surface : the body in plan coordinates
    x, y : (C,), (R,) mm, middles of the cells
    low, high : (R, C) mm, heights of the skins; NaN where there is none
    there : (R, C) cells that hold material
    sound : (R, C) cells in which both skins are sure to be skin
    thick_mm : the usual thickness
    """

    axes: FloatArray
    origin: FloatArray
    surface: Surface
    x: FloatArray
    y: FloatArray
    low: FloatArray
    high: FloatArray
    there: BoolArray
    sound: BoolArray
    thick_mm: float

    @property
    def cell_mm(self) -> float:
        """Side of a cell."""
        return float(self.x[1] - self.x[0])

    def places(self, mask: BoolArray) -> FloatArray:
        """Middles of the chosen cells, (N, 2) mm."""
        row, column = np.nonzero(mask)
        return np.stack([self.x[column], self.y[row]], axis=1)

    def skins(self, mask: BoolArray) -> FloatArray:
        """Heights of both skins in the chosen cells, (N, 2) mm."""
        return np.stack([self.low[mask], self.high[mask]], axis=1)


def flatten(mesh: Mesh) -> Sheet | None:
    """See the body as a sheet; None where it is none."""
    area = face_vectors(mesh)
    axis = _thin_axis(mesh, area)
    size = np.linalg.norm(area, axis=1)
    facing = np.abs(unit(area) @ axis)
    if size[facing > tol.SHEET_FACING].sum() < tol.SHEET_SKIN_SHARE * size.sum():
        return None
    axes = _axes_about(axis)
    origin = mesh.bounds.mean(axis=0)
    local = Mesh((mesh.vertices - origin) @ axes.T, mesh.faces)
    return _mapped(local, axes, origin)


def is_sheet(mesh: Mesh) -> bool:
    """Whether a mesh is two skins over a plane with a narrow edge between them."""
    return flatten(mesh) is not None


def _thin_axis(mesh: Mesh, area: FloatArray) -> FloatArray:
    """Direction of least spread, turned to where the skins face on average."""
    size = np.linalg.norm(area, axis=1)
    middle = centres(mesh)
    middle = middle - np.average(middle, axis=0, weights=size)
    axis: FloatArray = np.linalg.eigh((middle * size[:, None]).T @ middle)[1][:, 0]
    normal = unit(area)
    for _ in range(4):
        towards = normal @ axis
        skin = np.abs(towards) > tol.SHEET_FACING
        if not skin.any():
            return axis
        axis = unit((area[skin] * np.sign(towards[skin])[:, None]).sum(axis=0))
    return axis


def _axes_about(axis: FloatArray) -> FloatArray:
    """Right-handed rows of which the last is the axis."""
    least = np.eye(3)[int(np.argmin(np.abs(axis)))]
    first = unit(np.cross(least, axis))
    return np.stack([first, np.cross(axis, first), axis])


def _mapped(local: Mesh, axes: FloatArray, origin: FloatArray) -> Sheet | None:
    """Both skins' heights by rays from either side."""
    low_corner, high_corner = local.bounds
    span = high_corner - low_corner
    cell = max(tol.SHEET_CELL_MM, float(span[:2].max()) / tol.SHEET_CELLS)
    # Half a cell off at random would not matter; a border of empty cells does.
    x, y = (np.arange(low_corner[k] - 4 * cell, high_corner[k] + 4 * cell, cell) for k in range(2))
    shape = (len(y), len(x))
    plan = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    surface = Surface(local)
    far = float(span[2])
    heights, facing = [], []
    for sign in (-1.0, 1.0):
        starts = np.column_stack([plan, np.full(len(plan), sign * far)])
        ahead = np.tile([0.0, 0.0, -sign], (len(plan), 1))
        distance, cosine = surface.along_rays(starts, ahead)
        heights.append(np.where(np.isfinite(distance), sign * (far - distance), np.nan))
        facing.append(-cosine)
    low, high = (h.reshape(shape) for h in heights)
    there = np.isfinite(low) & np.isfinite(high)
    thick = high - low
    thick_mm = float(np.median(thick[there]))
    width_mm = float(np.sqrt(there.sum())) * cell
    if thick_mm > tol.SHEET_THICK_SHARE * width_mm:
        return None
    inner = distance_transform_edt(there) * cell > max(tol.SHEET_EDGE_MM, 0.25 * thick_mm)
    # A second wall below the first skin, as a bowl or box has, is no sheet.
    at = inner.ravel()
    starts = np.column_stack([plan[at], heights[1][at] - 1e-3 * thick_mm])
    through, cosine = surface.along_rays(starts, np.tile([0.0, 0.0, -1.0], (len(starts), 1)))
    plain = np.zeros(at.shape, dtype=np.bool_)
    plain[at] = (np.abs(through - thick.ravel()[at]) < 0.05 * thick_mm) & (cosine > 0.0)
    plain &= np.abs(thick.ravel() - thick_mm) < tol.SHEET_THICK_SPREAD * thick_mm
    if plain.sum() < tol.SHEET_PLAIN_SHARE * max(int(at.sum()), 1):
        return None
    sound = plain & (np.minimum(*facing) > tol.SHEET_FACING)
    # Specks and slits of one cell are rays that grazed a triangle's edge.
    there = binary_opening(binary_closing(there, iterations=1), iterations=1)
    return Sheet(
        axes, origin, surface, x, y, low, high, there, sound.reshape(shape) & there, thick_mm
    )
