"""Triangles that look up, parted into few layers none of which lies above itself.

A rough break that stands nearly upright folds over itself in a thousand places. What lies one above
the other is parted triangle by triangle, so that all else stays in one layer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.mesh import BoolArray, FloatArray

Ints = NDArray[np.int64]


def layers(corners: FloatArray) -> list[Ints]:
    """Part triangles into layers.

    Parameters
    ----------
    corners : (F, 3, 3) mm, counter-clockwise seen from above

    Returns
    -------
    The numbers of each layer's triangles; of two that lie one above the other the less steep one
    is in the earlier layer.
    """
    pairs = _above_each_other(corners[:, :, :2])
    vectors = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    order = np.argsort(-vectors[:, 2] / np.linalg.norm(vectors, axis=1), kind="stable")
    layer = np.zeros(len(corners), dtype=np.int64)
    both = np.concatenate([pairs, pairs[:, ::-1]])
    both = both[np.argsort(both[:, 0], kind="stable")]
    ends = np.searchsorted(both[:, 0], np.arange(len(corners) + 1))
    settled = np.zeros(len(corners), dtype=np.bool_)
    for k in order[ends[order + 1] > ends[order]]:
        others = both[ends[k] : ends[k + 1], 1]
        taken = set(layer[others[settled[others]]].tolist())
        layer[k] = next(n for n in range(len(taken) + 1) if n not in taken)
        settled[k] = True
    return [np.flatnonzero(layer == n) for n in range(int(layer.max(initial=-1)) + 1)]


def _above_each_other(plan: FloatArray) -> Ints:
    """Pairs of triangles that share area in plan, (P, 2), the lower number first."""
    pairs = _near_each_other(plan)
    apart = np.zeros(len(pairs), dtype=np.bool_)
    for one, other in ((0, 1), (1, 0)):
        for k in range(3):
            left = np.flatnonzero(~apart)
            mine, theirs = plan[pairs[left, one]], plan[pairs[left, other]]
            apart[left] = _parted_by_side(mine, theirs, k)
    return pairs[~apart]


def _parted_by_side(mine: FloatArray, theirs: FloatArray, k: int) -> BoolArray:
    """Whether a side of one triangle has all of the other on its outside, (P,)."""
    start = mine[:, k]
    way = mine[:, (k + 1) % 3] - start
    off = theirs - start[:, None]
    inside = way[:, None, 0] * off[:, :, 1] - way[:, None, 1] * off[:, :, 0]
    return np.asarray(inside.max(axis=1) <= tol.MOULD_TOUCH_MM * np.linalg.norm(way, axis=1))


def _near_each_other(plan: FloatArray) -> Ints:
    """Pairs of triangles whose boxes share a cell of a grid and overlap, (P, 2)."""
    low, high = plan.min(axis=1), plan.max(axis=1)
    # Cells about as large as the boxes: few cells for each triangle, few triangles in each cell.
    cell_mm = 2 * float(np.median(np.max(high - low, axis=1))) + tol.MOULD_TOUCH_MM
    first = np.floor((low - low.min(axis=0)) / cell_mm).astype(np.int64)
    wide = np.floor((high - low.min(axis=0)) / cell_mm).astype(np.int64) - first + 1
    count = wide[:, 0] * wide[:, 1]
    triangle = np.repeat(np.arange(len(plan)), count)
    k = _counted(count)
    column = first[triangle, 0] + k // wide[triangle, 1]
    row = first[triangle, 1] + k % wide[triangle, 1]
    cell = column * (int(row.max()) + 1) + row
    order = np.argsort(cell, kind="stable")
    triangle, cell = triangle[order], cell[order]
    # Each with all that follow it in its cell.
    following = np.searchsorted(cell, cell, side="right") - np.arange(len(cell)) - 1
    one = np.repeat(np.arange(len(cell)), following)
    pairs = np.stack([triangle[one], triangle[one + 1 + _counted(following)]], axis=1)
    meet = (low[pairs[:, 0]] < high[pairs[:, 1]]) & (low[pairs[:, 1]] < high[pairs[:, 0]])
    pairs = np.sort(pairs[meet.all(axis=1)], axis=1)
    keys = np.unique(pairs[:, 0] * len(plan) + pairs[:, 1])
    return np.stack([keys // len(plan), keys % len(plan)], axis=1)


def _counted(count: Ints) -> Ints:
    """Count from 0 for each number in turn: 2, 3 gives 0, 1, 0, 1, 2."""
    return np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
