"""Where the vessel shows no skin: what is lost, and what a handle covers."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, areas_of, grow, label_around
from lossfill.mesh import BoolArray, FloatArray


def find_gaps(cells: Cells, present: FloatArray, *, sample_mm2: float) -> BoolArray:
    """Places with nothing at skin level, too large for the samples to have missed by chance.

    Parameters
    ----------
    present : (R, C) samples at skin level, -1 where there are only lower ones
    sample_mm2 : surface that one sample stands for
    """
    # Near the axis a cell is smaller than a sample's share: columns are looked at together there.
    empty: BoolArray = _pooled(cells, np.maximum(present, 0.0), sample_mm2) == 0
    empty |= present < 0
    # A lone empty cell beside a gap is chance, one that its neighbours surround belongs to it.
    around = np.stack([np.roll(empty, shift, axis=1) for shift in (-1, 1)])
    rows = np.pad(empty, ((1, 1), (0, 0)), mode="edge")
    beside = around.sum(axis=0) + rows[:-2] + rows[2:]
    empty &= (beside >= 2) | (present < 0)
    labels, n = label_around(empty)
    if n == 0:
        return empty
    size = areas_of(cells, labels, n)
    sunken = np.bincount(labels.ravel(), (present < 0).ravel(), minlength=n + 1)
    sure = (size / sample_mm2 >= tol.GAP_SAMPLES) | (sunken >= 2)
    sure &= size >= tol.GAP_AREA_MM2
    sure[0] = False
    result: BoolArray = sure[labels]
    return result


def with_shallows(cells: Cells, gap: BoolArray, sagged: BoolArray) -> BoolArray:
    """Add the shallow rim of a spall: cells beside a gap that show only what sags below skin."""
    bare = gap | (sagged & grow(cells, gap, tol.SHALLOWS_MM))
    labels, n = label_around(bare)
    meets = np.zeros(n + 1, dtype=bool)
    meets[labels[gap]] = True
    result: BoolArray = meets[labels] & bare
    return result


def _pooled(cells: Cells, present: FloatArray, sample_mm2: float) -> FloatArray:
    """Sum samples over as many columns as a cell needs to be sure of holding some, (R, C)."""
    columns = cells.shape[1]
    half = np.ceil((tol.CELL_SAMPLES * sample_mm2 / cells.area_mm2 - 1.3) / 2)
    half = np.clip(half, 0, columns // 2 - 1).astype(np.intp)
    running = np.cumsum(np.hstack([present, present, present]), axis=1)
    pooled = present.copy()
    for row in np.flatnonzero(half):
        k = half[row]
        last = running[row, columns + k : 2 * columns + k]
        pooled[row] = last - running[row, columns - k - 1 : 2 * columns - k - 1]
    return pooled
