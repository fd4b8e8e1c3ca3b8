"""How far to trust the form: hide patches that exist, predict them, and compare."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, areas_of, label_around
from lossfill.mesh import BoolArray, FloatArray


def choose_patches(
    cells: Cells, skin: Skin, gap: BoolArray, own: BoolArray | None = None
) -> list[BoolArray]:
    """Pick patches of existing skin that are like a gap: as wide, on the same rows.

    Parameters
    ----------
    gap : (R, C) all places without skin
    own : (R, C) the one gap that the patches shall be like; the largest where not given

    Returns
    -------
    Masks of cells (R, C), each with skin; empty where too little of the vessel is left.
    """
    rows, width = _rows_and_width(cells, gap, own)
    columns = cells.shape[1]
    seen = skin.weight > 0
    # Single cells that no sample fell into do not make a patch incomplete.
    share = seen[rows].mean(axis=0)
    if not share.any():
        return []
    present = share / float(np.median(share[share > 0]))
    while width >= tol.PATCH_WIDTHS_DEG[0]:
        span = round(np.radians(width) / cells.column_rad)
        patches = []
        for k in range(tol.PATCHES_MAX):
            chosen = (np.arange(span) + k * columns // tol.PATCHES_MAX) % columns
            if present[chosen].mean() >= tol.PATCH_SEEN_MIN:
                mask = np.zeros(cells.shape, dtype=bool)
                mask[np.ix_(rows, chosen)] = True
                patches.append(mask)
        if len(patches) >= 3 or width == tol.PATCH_WIDTHS_DEG[0]:
            return patches
        width = max(width * 0.7, tol.PATCH_WIDTHS_DEG[0])
    return []


def _rows_and_width(cells: Cells, gap: BoolArray, own: BoolArray | None) -> tuple[BoolArray, float]:
    """Rows that a gap takes and its width in degrees; without one the upper wall and 45°."""
    if own is None:
        labels, n = label_around(gap)
        if n == 0:
            rows = np.zeros(cells.shape[0], dtype=bool)
            # The middle half of the profile is the wall on both skins with the lip between.
            quarter = cells.shape[0] // 4
            rows[quarter:-quarter] = True
            return rows, 45.0
        own = labels == 1 + int(areas_of(cells, labels, n)[1:].argmax())
    # Where a wall is broken through, its two skins are two gaps.
    shared = np.asarray(gap[:, own.any(axis=0)].any(axis=1))
    return shared, float(np.clip(width_deg(own), *tol.PATCH_WIDTHS_DEG))


def width_deg(gap: BoolArray) -> float:
    """How much of the turn a gap takes, degrees."""
    return 360.0 * float(gap.any(axis=0).mean())


def rms_on(patch: BoolArray, skin: Skin, predicted: FloatArray, cells: Cells) -> float:
    """Error of a prediction over a hidden patch, mm, weighted by area."""
    there = patch & (skin.weight > 0)
    area = np.broadcast_to(cells.area_mm2[:, None], cells.shape)[there]
    error = (skin.offset_mm - predicted)[there]
    return float(np.sqrt((area * error**2).sum() / area.sum()))
