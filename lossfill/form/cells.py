"""The skin laid out flat: one cell per stretch of profile and turn.

Rows follow the profile from the hollow's floor over the lip to the underside, columns go round.
Everything that the form needs to know of the scan is then a small image: how far the skin lies
from the revolved profile, and where there is no skin at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, label

from lossfill import tolerances as tol
from lossfill.frame.profile import Profile, Projection, at
from lossfill.frame.samples import Samples
from lossfill.mesh import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Grid of R rows along the profile and C columns around the turn.

    Parameters
    ----------
    along : (R,) place of each row's middle on the profile, in profile indices
    radius_mm, height_mm, normal_r, normal_z : (R,) of the profile there
    row_mm : length of a row along the profile
    column_rad : width of a column; column j is centred on j · column_rad
    across : (I,) for each row of the hollow's side, from the first, the row across the wall
    """

    along: FloatArray
    radius_mm: FloatArray
    height_mm: FloatArray
    normal_r: FloatArray
    normal_z: FloatArray
    row_mm: float
    column_rad: float
    across: NDArray[np.intp]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return len(self.along), round(2 * np.pi / self.column_rad)

    @property
    def angles(self) -> FloatArray:
        """Middle of each column, (C,) radians."""
        return np.arange(self.shape[1], dtype=np.float64) * self.column_rad

    @property
    def area_mm2(self) -> FloatArray:
        """Area of a cell in each row, (R,)."""
        width: FloatArray = np.maximum(self.radius_mm, 0.25 * self.row_mm) * self.column_rad
        return width * self.row_mm


@dataclass(frozen=True, slots=True, eq=False)
class Skin:
    """What the samples say of each cell.

    Parameters
    ----------
    offset_mm : (R, C) mean distance of the skin from the profile; 0 where none was seen
    weight : (R, C) number of samples behind it
    """

    offset_mm: FloatArray
    weight: FloatArray


def make_cells(profile: Profile, *, sample_mm2: float) -> Cells:
    """Lay a grid over a profile: cells about `tolerances.CELL_MM` wide at the widest radius.

    Parameters
    ----------
    sample_mm2 : surface that one sample stands for; a vessel so large that cells of that size
        would hold too few samples gets wider ones
    """
    cell = max(tol.CELL_MM, float(np.sqrt(tol.CELL_SAMPLES * sample_mm2)))
    n = len(profile.points)
    length = profile.spacing_mm * (n - 1)
    rows = max(round(length / cell), 24)
    edges = np.linspace(0, n - 1, rows + 1)
    along = 0.5 * (edges[1:] + edges[:-1])
    points, normals = at(profile, along)
    around = 2 * np.pi * float(points[:, 0].max()) / cell
    columns = int(np.clip(4 * round(around / 4), *tol.CELL_COLUMNS))
    return Cells(
        along,
        points[:, 0],
        points[:, 1],
        normals[:, 0],
        normals[:, 1],
        length / rows,
        2 * np.pi / columns,
        _across(points, int((along < profile.lip).sum())),
    )


def _across(points: FloatArray, inner: int) -> NDArray[np.intp]:
    """Row of the outside or underside nearest to each of the first `inner` rows."""
    apart = points[:inner, None] - points[None, inner:]
    return inner + np.asarray((apart**2).sum(axis=2).argmin(axis=1), dtype=np.intp)


def cell_of(
    cells: Cells, profile: Profile, along: FloatArray, angle: FloatArray
) -> NDArray[np.intp]:
    """Flat index of the cell in which each place lies."""
    rows, columns = cells.shape
    row = np.minimum((along * rows / (len(profile.points) - 1)).astype(np.intp), rows - 1)
    column = np.rint(angle / cells.column_rad).astype(np.intp) % columns
    return row * columns + column


def gather(
    cells: Cells, where: NDArray[np.intp], offset_mm: FloatArray, weight: FloatArray | None = None
) -> Skin:
    """Average the offsets of samples cell by cell."""
    size = cells.shape[0] * cells.shape[1]
    count = np.bincount(where, weight, minlength=size).astype(np.float64)
    values = offset_mm if weight is None else offset_mm * weight
    total = np.bincount(where, values, minlength=size)
    mean = np.divide(total, count, out=np.zeros(size), where=count > 0)
    return Skin(mean.reshape(cells.shape), count.reshape(cells.shape))


def grow(cells: Cells, mask: BoolArray, reach_mm: float) -> BoolArray:
    """Dilate a mask by a distance in mm, across the seam of the turn too."""
    if not mask.any():
        return mask.copy()
    columns = cells.shape[1]
    result = mask.copy()
    tripled = np.hstack([mask, mask, mask]).astype(np.int64)
    running = np.cumsum(np.hstack([np.zeros((len(mask), 1), dtype=np.int64), tripled]), axis=1)
    for row, radius in enumerate(cells.radius_mm):
        if not mask[row].any():
            continue
        half = min(round(reach_mm / max(radius * cells.column_rad, 1e-9)), columns // 2)
        start = np.arange(columns, 2 * columns) - half
        result[row] = running[row, start + 2 * half + 1] > running[row, start]
    up = round(reach_mm / cells.row_mm)
    if up > 0:
        result = binary_dilation(result, np.ones((2 * up + 1, 1), dtype=bool))
    return result


def label_around(mask: BoolArray) -> tuple[NDArray[np.int32], int]:
    """Label connected cells, joining what meets across the seam of the turn."""
    labels, n = label(mask, structure=np.ones((3, 3), dtype=int))
    parent = np.arange(n + 1)

    def root(k: int) -> int:
        while parent[k] != k:
            k = int(parent[k])
        return k

    rows = mask.shape[0]
    for row in np.flatnonzero(mask[:, 0]).tolist():
        for other in range(max(row - 1, 0), min(row + 2, rows)):
            if mask[other, -1]:
                parent[root(int(labels[row, 0]))] = root(int(labels[other, -1]))
    roots = np.array([root(k) for k in range(n + 1)])
    names = np.unique(roots[1:]) if n else np.array([], dtype=int)
    rename = np.zeros(n + 1, dtype=np.int32)
    for new, old in enumerate(names, start=1):
        rename[old] = new
    return rename[roots][labels], len(names)


def areas_of(cells: Cells, labels: NDArray[np.int32], n: int) -> FloatArray:
    """Area of the cells with each label, (n + 1,) mm²; the first is that of no label."""
    area = np.broadcast_to(cells.area_mm2[:, None], cells.shape)
    return np.bincount(labels.ravel(), area.ravel(), minlength=n + 1).astype(np.float64)


def angles_of(samples: Samples) -> FloatArray:
    """Angle of each sample about the axis, (N,) radians in 0 … 2π."""
    return np.mod(np.arctan2(samples.points[:, 1], samples.points[:, 0]), 2 * np.pi)


def place(cells: Cells, profile: Profile, drop: Projection, samples: Samples) -> NDArray[np.intp]:
    """Flat cell index of each sample."""
    return cell_of(cells, profile, drop.along, angles_of(samples))
