"""The error to expect of a span: places like the gap, hidden and spanned alike."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt

from lossfill import tolerances as tol
from lossfill.donor.sheets.edge import (
    Loop,
)
from lossfill.donor.sheets.flatten import Sheet
from lossfill.donor.sheets.plan import Loss, ring_about, tip_of
from lossfill.donor.sheets.plate import fit_plates
from lossfill.mesh import BoolArray, FloatArray, unit


def hidden_rms(
    sheet: Sheet,
    outline: Loop,
    loss: Loss,
    gap: BoolArray,
    lost: BoolArray,
    degree: int,
    rng: np.random.Generator,
) -> float | None:
    """RMS error over places like the gap that are hidden and spanned alike; None for no place."""
    squares, count = 0.0, 0
    for hidden in _places_alike(sheet, outline, loss, gap, lost):
        seen = hidden & sheet.sound & ~lost
        ring = ring_about(sheet, hidden, lost)
        if ring.sum() < 50 or seen.sum() < 0.6 * hidden.sum():
            continue
        plates = fit_plates(sheet.places(ring), sheet.skins(ring), degree=degree, rng=rng)
        every = max(1, int(seen.sum()) // 400)
        wrong = plates.at(sheet.places(seen)[::every]) - sheet.skins(seen)[::every]
        squares += float((wrong**2).sum())
        count += wrong.size
    return float(np.sqrt(squares / count)) if count else None


def _places_alike(
    sheet: Sheet, outline: Loop, loss: Loss, gap: BoolArray, lost: BoolArray
) -> list[BoolArray]:
    """Cells of the gap moved to other places: along the edge for a bite, over the skin for a hole.

    The places are those that show most sound skin, and lie apart.
    """
    mouth = sheet.places(gap)
    middle = mouth.mean(axis=0)
    good = sheet.sound & ~lost
    if loss.run is None:
        free = distance_transform_edt(good) * sheet.cell_mm
        half = 0.5 * float(np.sqrt(gap.sum())) * sheet.cell_mm
        targets = sheet.places(free > 1.15 * half)
        if len(targets) == 0:
            targets = sheet.places(free > 0.9 * half)
        moves = [(np.eye(2), target) for target in _apart(targets, half)]
        anchor = middle
    else:
        run, n = loss.run, len(outline.points)
        tip = tip_of(run) if run.corner else run.across[len(run.across) // 2]
        anchor, out = tip, unit(tip - middle)
        span = max(8, int(0.5 * np.linalg.norm(run.across[-1] - run.across[0])))
        moves = []
        for k in range(0, n, 4):
            steps = (k + np.arange(-span, span + 1)) % n
            turn = float(outline.outward[steps[0]] @ outline.outward[steps[-1]])
            # Corners are like corners, and straight edges like straight ones.
            if (outline.broken[k] and not run.corner) or (turn < 0.5) != run.corner:
                continue
            there = unit(outline.outward[[steps[0], k, steps[-1]]].sum(axis=0))
            matrix = np.array(
                [[out @ there, -_cross(out, there)], [_cross(out, there), out @ there]]
            )
            moves.append((matrix, outline.points[k]))
        moves = _best(sheet, mouth - anchor, moves, good)
    return [_cells(sheet, (mouth - anchor) @ matrix.T + to, gap.shape) for matrix, to in moves]


def _cross(a: FloatArray, b: FloatArray) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _apart(targets: FloatArray, apart_mm: float) -> list[FloatArray]:
    """Up to PATCHES_HIDDEN places, each as far from the others as can be."""
    if len(targets) == 0:
        return []
    centre = targets.mean(axis=0)
    chosen = [targets[int(np.argmax(np.linalg.norm(targets - centre, axis=1)))]]
    while len(chosen) < tol.PATCHES_HIDDEN:
        far = np.min([np.linalg.norm(targets - c, axis=1) for c in chosen], axis=0)
        if far.max() < apart_mm:
            break
        chosen.append(targets[int(np.argmax(far))])
    return chosen


def _best(
    sheet: Sheet, shape: FloatArray, moves: list[tuple[FloatArray, FloatArray]], good: BoolArray
) -> list[tuple[FloatArray, FloatArray]]:
    """Moves that land on sound skin, apart from each other."""
    size = float(np.sqrt(len(shape))) * sheet.cell_mm
    kept: list[tuple[FloatArray, FloatArray]] = []
    scored = []
    for matrix, to in moves:
        cells = _cells(sheet, shape[::5] @ matrix.T + to, good.shape)
        scored.append(float(good[cells].sum()) / max(len(shape[::5]), 1))
    for k in np.argsort(scored)[::-1]:
        if scored[k] < tol.PATCH_SEEN_SHARE or len(kept) == tol.PATCHES_HIDDEN:
            break
        if all(np.linalg.norm(moves[k][1] - to) > 0.7 * size for _, to in kept):
            kept.append(moves[k])
    return kept


def _cells(sheet: Sheet, plan: FloatArray, shape: tuple[int, ...]) -> BoolArray:
    """Cells under the points, (R, C)."""
    column = np.rint((plan[:, 0] - sheet.x[0]) / sheet.cell_mm).astype(int)
    row = np.rint((plan[:, 1] - sheet.y[0]) / sheet.cell_mm).astype(int)
    inside = (column >= 0) & (column < shape[1]) & (row >= 0) & (row < shape[0])
    cells = np.zeros(shape, dtype=np.bool_)
    cells[row[inside], column[inside]] = True
    return cells
