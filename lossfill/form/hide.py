"""How far to trust the form: hide patches that exist, predict them, and compare."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, areas_of, label_around
from lossfill.mesh import BoolArray, FloatArray


def choose_patches(
    cells: Cells, skin: Skin, gap: BoolArray, own: BoolArray | None = None
) -> list[BoolArray]:
    """Pick patches of existing skin that are like a gap: as wide, as high, all round the turn.

    They lie on the gap's own rows; those of a gap that meets neither rim nor foot also farther up
    and down the wall, where there is room.

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
    own_height, *others = [
        (there, _present(skin, there)) for there in (rows, *_other_heights(cells, rows))
    ]
    if not own_height[1].any():
        return []
    while width >= tol.PATCH_WIDTHS_DEG[0]:
        span = round(np.radians(width) / cells.column_rad)
        patches = []
        for k in range(tol.PATCHES_MAX):
            chosen = (np.arange(span) + k * columns // tol.PATCHES_MAX) % columns
            # The gap's own rows by turns with the others, which may be cut where these are not.
            other = others[k // 2 % len(others)] if others and k % 2 else own_height
            for there, present in (other, own_height):
                if present[chosen].mean() >= tol.PATCH_SEEN_MIN:
                    mask = np.zeros(cells.shape, dtype=bool)
                    mask[np.ix_(there, chosen)] = True
                    patches.append(mask)
                    break
        if len(patches) >= 3 or width == tol.PATCH_WIDTHS_DEG[0]:
            return patches
        width = max(width * 0.7, tol.PATCH_WIDTHS_DEG[0])
    return []


def _present(skin: Skin, rows: BoolArray) -> FloatArray:
    """Share of some rows that each column shows, (C,), over what a whole column does."""
    # Single cells that no sample fell into do not make a patch incomplete.
    share: FloatArray = (skin.weight > 0)[rows].mean(axis=0)
    return share / float(np.median(share[share > 0])) if share.any() else share


def _other_heights(cells: Cells, rows: BoolArray) -> list[BoolArray]:
    """Rows as far along the wall, moved up and moved down; none beside the rim or the foot."""
    inner = len(cells.across)
    foot = inner + int(cells.height_mm[inner:].argmin())
    floor = int((cells.across >= foot).sum())
    margin = round(tol.PATCH_CLEAR_MM / cells.row_mm)
    inside, outside = np.flatnonzero(rows[:inner]), inner + np.flatnonzero(rows[inner:])
    room_up, room_down, span = [len(rows)], [len(rows)], 0
    if len(inside):
        room_up.append(inner - 1 - margin - int(inside[-1]))
        room_down.append(int(inside[0]) - floor - margin)
        span = int(np.ptp(inside)) + 1
    if len(outside):
        room_up.append(int(outside[0]) - inner - margin)
        room_down.append(foot - margin - int(outside[-1]))
        span = max(span, int(np.ptp(outside)) + 1)
    if min(room_up) < 0 or min(room_down) < 0:
        return []
    # Up the wall is towards the lip, which lies after the inside's rows and before the outside's.
    moves = (min(min(room_up), span), -min(min(room_down), span))
    moved = []
    for by in moves:
        if abs(by) >= tol.PATCH_MOVED_MIN * span:
            there = np.zeros(len(rows), dtype=bool)
            there[inside + by] = True
            there[outside - by] = True
            moved.append(there)
    return moved


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


def wider_than_patches(gap: BoolArray) -> bool:
    """Whether a gap takes more of the turn than any patch that may be hidden."""
    return width_deg(gap) > tol.PATCH_WIDTHS_DEG[1]


def rms_on(patch: BoolArray, skin: Skin, predicted: FloatArray, cells: Cells) -> float:
    """Error of a prediction over a hidden patch, mm, weighted by area."""
    there = patch & (skin.weight > 0)
    area = np.broadcast_to(cells.area_mm2[:, None], cells.shape)[there]
    error = (skin.offset_mm - predicted)[there]
    return float(np.sqrt((area * error**2).sum() / area.sum()))
