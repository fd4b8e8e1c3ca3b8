"""Where a piece that rises along a direction meets a body: a search that misses nothing.

Seen along the direction, each line parallel to it meets the piece lowest at some height L and the
body highest at some height H. The piece can rise and never share volume with the body if and only
if L is not below H on any line. Lines are gathered into square cells; over a cell, H is no more
than the highest bound of the body's triangles in it, and L no less than the lowest of the piece's:

          │ piece │            each triangle bounds its height over a cell by its plane
       L ─┤       │            and by its own corners, whichever is closer
          └───────┘
       H ───╮  ╭────  body
            ╰──╯
          cell

Cells in which these bounds do not settle it are quartered, down to the finest. What no cell leaves
open is proved for every line, not for samples of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import BoolArray, FloatArray, Mesh

Keys: TypeAlias = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Overlap:
    """The finest cells in which the body may stand above the piece.

    Parameters
    ----------
    cells : (K, 2) int64, whole numbers of the cell's lower corner
    body_mm : (K,) no part of the body in the cell is higher
    piece_mm : (K,) no part of the piece in the cell is lower
    cell_mm : edge of a cell
    """

    cells: NDArray[np.int64]
    body_mm: FloatArray
    piece_mm: FloatArray
    cell_mm: float

    @property
    def area_mm2(self) -> float:
        """Area of all those cells."""
        return len(self.cells) * self.cell_mm**2


NO_OVERLAP = Overlap(np.zeros((0, 2), dtype=np.int64), np.zeros(0), np.zeros(0), 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    """Triangles seen along z, each of their numbers in a row of its own.

    Parameters
    ----------
    low, high : (2, F) box about each in plan
    normal : (3, 2, F) of each side in plan, not of unit length
    start : (3, F) where along its normal each side lies
    far : (3, 2, F) lowest and highest that the triangle reaches from its side along that normal
    bottom : (F,) its lowest corner
    level, slope : (F,) and (2, F) its plane is z = level + slope · (x, y)
    steep : (F,) True where it has no such plane
    """

    low: FloatArray
    high: FloatArray
    normal: FloatArray
    start: FloatArray
    far: FloatArray
    bottom: FloatArray
    level: FloatArray
    slope: FloatArray
    steep: BoolArray

    @staticmethod
    def of(corners: FloatArray) -> _Plan:
        x = [np.ascontiguousarray(corners[:, k, 0]) for k in range(3)]
        y = [np.ascontiguousarray(corners[:, k, 1]) for k in range(3)]
        z = [np.ascontiguousarray(corners[:, k, 2]) for k in range(3)]
        turns = ((0, 1, 2), (1, 2, 0), (2, 0, 1))
        normal = np.array([[y[j] - y[i], x[i] - x[j]] for i, j, _ in turns])
        start = np.array([x[i] * normal[i, 0] + y[i] * normal[i, 1] for i, _, _ in turns])
        reach = np.array([x[k] * normal[i, 0] + y[k] * normal[i, 1] for i, _, k in turns]) - start
        ux, uy, uz = x[1] - x[0], y[1] - y[0], z[1] - z[0]
        vx, vy, vz = x[2] - x[0], y[2] - y[0], z[2] - z[0]
        across = np.array([uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx])
        steep = np.abs(across[2]) < 1e-9 * np.abs(across[:2]).max(axis=0)
        steep |= across[2] == 0
        slope = -across[:2] / np.where(steep, 1.0, across[2])
        return _Plan(
            low=np.array([np.minimum.reduce(x), np.minimum.reduce(y)]),
            high=np.array([np.maximum.reduce(x), np.maximum.reduce(y)]),
            normal=normal,
            start=start,
            far=np.stack([np.minimum(reach, 0.0), np.maximum(reach, 0.0)], axis=1),
            bottom=np.minimum.reduce(z),
            level=z[0] - slope[0] * x[0] - slope[1] * y[0],
            slope=slope,
            steep=steep,
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Which triangles lie over which cells, by the whole numbers of the cell's lower corner."""

    triangle: Keys
    column: Keys
    row: Keys

    @property
    def keys(self) -> Keys:
        """One number for each cell."""
        keys: Keys = (self.column + _FAR) * (2 * _FAR) + (self.row + _FAR)
        return keys

    def some(self, chosen: BoolArray) -> _Pairs:
        return _Pairs(self.triangle[chosen], self.column[chosen], self.row[chosen])


def overlap_along_z(
    piece: FloatArray, body: FloatArray, *, finest_mm: float, coarsest_mm: float
) -> Overlap:
    """Find where a body may stand above the lowest of a piece, seen along z.

    Parameters
    ----------
    piece, body : (F, 3, 3) corners of triangles, mm
    finest_mm, coarsest_mm : edges of the cells; the second a power of two times the first
    """
    # The highest of a body is the lowest of its mirror image in the level plane.
    mine, theirs = _Plan.of(piece), _Plan.of(body * _OVER)
    cell_mm = coarsest_mm
    my_pairs, their_pairs = _first_pairs(mine, cell_mm), _first_pairs(theirs, cell_mm)
    while True:
        my_pairs = _reaching(mine, my_pairs, cell_mm)
        their_pairs = _reaching(theirs, their_pairs, cell_mm)
        bounds = _bound(mine, my_pairs, cell_mm), _bound(theirs, their_pairs, cell_mm)
        keys, lowest, highest = _open(my_pairs.keys, their_pairs.keys, *bounds)
        if len(keys) == 0 or cell_mm <= 1.001 * finest_mm:
            break
        my_pairs, their_pairs = _quartered(my_pairs, keys), _quartered(their_pairs, keys)
        cell_mm *= 0.5
    # A tall steep triangle says little by its plane and its corners: what is still open is
    # looked at once more, by what of each triangle lies within the cell.
    my_pairs, their_pairs = _in_cells(my_pairs, keys), _in_cells(their_pairs, keys)
    clipped = _clipped(piece, my_pairs, cell_mm), _clipped(body * _OVER, their_pairs, cell_mm)
    keys, lowest, highest = _open(my_pairs.keys, their_pairs.keys, *clipped)
    cells = np.stack([keys // (2 * _FAR) - _FAR, keys % (2 * _FAR) - _FAR], axis=1)
    return Overlap(cells, highest, lowest, cell_mm)


def _open(
    my_keys: Keys, their_keys: Keys, mine: FloatArray, theirs: FloatArray
) -> tuple[Keys, FloatArray, FloatArray]:
    """Cells in which the body may stand above the piece's lowest, and how low and high they are."""
    my_cells, lowest = _lowest(mine, my_keys)
    their_cells, deepest = _lowest(theirs, their_keys)
    both, i, j = np.intersect1d(my_cells, their_cells, assume_unique=True, return_indices=True)
    above = -deepest[j] > lowest[i]
    return both[above], lowest[i][above], -deepest[j][above]


_FAR = 1 << 30
_OVER = np.array([1.0, 1.0, -1.0])


def _first_pairs(plan: _Plan, cell_mm: float) -> _Pairs:
    """Every triangle with every cell of the box about it."""
    low = np.floor(plan.low / cell_mm).astype(np.int64)
    wide = np.floor(plan.high / cell_mm).astype(np.int64) - low + 1
    count = wide[0] * wide[1]
    triangle = np.repeat(np.arange(len(count)), count)
    k = np.arange(len(triangle)) - np.repeat(np.cumsum(count) - count, count)
    column = k // wide[1, triangle]
    return _Pairs(
        triangle, low[0, triangle] + column, low[1, triangle] + k - column * wide[1, triangle]
    )


def _reaching(plan: _Plan, pairs: _Pairs, cell_mm: float) -> _Pairs:
    """Drop the pairs whose triangle does not reach over its cell, by the axes that part them."""
    # A hair more than half, so that rounding loses no pair.
    half = 0.5 * cell_mm * (1 + 1e-9) + 1e-9
    for axis in range(2):
        middle = ((pairs.column, pairs.row)[axis] + 0.5) * cell_mm
        t = pairs.triangle
        over = (plan.low[axis, t] <= middle + half) & (plan.high[axis, t] >= middle - half)
        pairs = pairs.some(over)
    for k in range(3):
        t = pairs.triangle
        x, y = (pairs.column + 0.5) * cell_mm, (pairs.row + 0.5) * cell_mm
        across, along = plan.normal[k, 0, t], plan.normal[k, 1, t]
        at = x * across + y * along - plan.start[k, t]
        reach = half * (np.abs(across) + np.abs(along))
        over = (at + reach >= plan.far[k, 0, t]) & (at - reach <= plan.far[k, 1, t])
        pairs = pairs.some(over)
    return pairs


def _bound(plan: _Plan, pairs: _Pairs, cell_mm: float) -> FloatArray:
    """A height that the triangle does not go below over its cell, (P,) mm."""
    t = pairs.triangle
    across, along = plan.slope[0, t], plan.slope[1, t]
    lean = 0.5 * cell_mm * (np.abs(across) + np.abs(along)) + 1e-9
    x, y = (pairs.column + 0.5) * cell_mm, (pairs.row + 0.5) * cell_mm
    by_plane = plan.level[t] + across * x + along * y - lean
    bottom = plan.bottom[t]
    return np.where(plan.steep[t], bottom, np.maximum(bottom, by_plane))


def _lowest(values: FloatArray, keys: Keys) -> tuple[Keys, FloatArray]:
    """The lowest value over each cell."""
    if len(keys) == 0:
        return keys, values
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    first = np.flatnonzero(np.diff(keys, prepend=keys[0] - 1))
    result: FloatArray = np.minimum.reduceat(values[order], first)
    return keys[first], result


def _quartered(pairs: _Pairs, keys: Keys) -> _Pairs:
    """Keep the pairs of some cells, and part each cell into four."""
    kept = _in_cells(pairs, keys)
    quarters = [
        _Pairs(kept.triangle, 2 * kept.column + i, 2 * kept.row + j) for i in (0, 1) for j in (0, 1)
    ]
    return _Pairs(
        np.concatenate([quarter.triangle for quarter in quarters]),
        np.concatenate([quarter.column for quarter in quarters]),
        np.concatenate([quarter.row for quarter in quarters]),
    )


def _in_cells(pairs: _Pairs, keys: Keys) -> _Pairs:
    """Keep the pairs of some cells, given in ascending order."""
    if len(keys) == 0:
        return pairs.some(np.zeros(len(pairs.triangle), dtype=bool))
    mine = pairs.keys
    place = np.minimum(np.searchsorted(keys, mine), len(keys) - 1)
    return pairs.some(keys[place] == mine)


def _clipped(corners: FloatArray, pairs: _Pairs, cell_mm: float) -> FloatArray:
    """How low each triangle comes within its cell, (P,) mm; infinite where it does not reach it.

    The lowest place of what lies in the cell is on a side of the triangle, or at a corner of the
    cell over which the triangle lies.
    """
    a = corners[pairs.triangle]
    cells = np.stack([pairs.column, pairs.row], axis=1)
    low, high = cells * cell_mm - 1e-7, (cells + 1) * cell_mm + 1e-7
    lowest = np.full(len(a), np.inf)
    for k in range(3):
        start, way = a[:, k], a[:, (k + 1) % 3] - a[:, k]
        flat = np.where(np.abs(way[:, :2]) < 1e-12, 1e-12, way[:, :2])
        one, other = (low - start[:, :2]) / flat, (high - start[:, :2]) / flat
        enters = np.maximum(np.minimum(one, other).max(axis=1), 0.0)
        leaves = np.minimum(np.maximum(one, other).min(axis=1), 1.0)
        ends = start[:, 2] + np.minimum(enters * way[:, 2], leaves * way[:, 2])
        lowest = np.where(enters <= leaves, np.minimum(lowest, ends), lowest)
    u, v = a[:, 1] - a[:, 0], a[:, 2] - a[:, 0]
    twice = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    twice = np.where(np.abs(twice) < 1e-15, np.nan, twice)
    for corner in (
        low,
        high,
        np.stack([low[:, 0], high[:, 1]], 1),
        np.stack([high[:, 0], low[:, 1]], 1),
    ):
        at = corner - a[:, 0, :2]
        p = (at[:, 0] * v[:, 1] - at[:, 1] * v[:, 0]) / twice
        q = (u[:, 0] * at[:, 1] - u[:, 1] * at[:, 0]) / twice
        over = (p >= 0) & (q >= 0) & (p + q <= 1)
        height = a[:, 0, 2] + p * u[:, 2] + q * v[:, 2]
        lowest = np.where(over, np.minimum(lowest, height), lowest)
    return lowest


def corners_along(mesh: Mesh, turn: FloatArray) -> FloatArray:
    """Corners of a mesh's triangles in turned coordinates, (F, 3, 3).

    Parameters
    ----------
    turn : (3, 3) rows are the new axes
    """
    placed = mesh.vertices @ turn.T
    corners: FloatArray = placed[mesh.faces]
    return corners
