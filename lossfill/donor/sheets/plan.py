"""What a sheet lacks in plan: holes, bites and lost corners."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from scipy.ndimage import binary_dilation, distance_transform_edt

from lossfill import tolerances as tol
from lossfill.donor.sheets.carry import Run, carried_across
from lossfill.donor.sheets.edge import (
    Loop,
    runs_of,
)
from lossfill.donor.sheets.flatten import Sheet
from lossfill.mesh import BoolArray, FloatArray, unit


@dataclass(frozen=True, slots=True, eq=False)
class Loss:
    """What is missing in plan.

    Parameters
    ----------
    kind : "hole", "bite" or "corner"
    gap : the plan of what is missing
    run : the broken run, None for a hole
    """

    kind: str
    gap: manifold3d.CrossSection
    run: Run | None

    @property
    def mouth(self) -> FloatArray:
        """Corners of the gap, (N, 2) mm."""
        return np.concatenate([np.asarray(p) for p in self.gap.to_polygons()])


def losses_of(loops: list[Loop]) -> tuple[list[Loss], manifold3d.CrossSection]:
    """Find what is missing in plan, the largest first, and the plan of the whole sheet."""
    outline = loops[0]
    runs = [carried_across(outline, *run) for run in runs_of(outline.broken)]
    sound = [run for run in runs if run is not None]
    present = _polygon(outline.points)
    whole = _polygon(_completed(outline, sound))
    losses = []
    for run in sound:
        one = _polygon(_completed(outline, [run])) - present
        for gap in one.decompose():
            if _counts(gap):
                losses.append(Loss("corner" if run.corner else "bite", gap, run))
    # A corner that is still there is rounded alike: what the sharp one has more is no loss.
    whole = _rounded_alike(whole, outline, sound)
    losses = [
        Loss(loss.kind, gap, loss.run)
        for loss in losses
        for gap in (loss.gap ^ whole).decompose()
        if _counts(gap)
    ]
    for loop in loops[1:]:
        gap = _polygon(loop.points[::-1])
        if loop.broken.mean() > tol.HOLE_BROKEN_SHARE and _counts(gap):
            losses.append(Loss("hole", gap, None))
        else:
            whole = whole - gap
    losses.sort(key=lambda loss: -loss.gap.area())
    return losses, whole


def _polygon(points: FloatArray) -> manifold3d.CrossSection:
    return manifold3d.CrossSection([points], manifold3d.FillRule.Positive)


def _counts(gap: manifold3d.CrossSection) -> bool:
    """Whether a piece would be made for it."""
    deep = not gap.offset(-0.5 * tol.BITE_DEPTH_MM).is_empty()
    return bool(deep and gap.area() > tol.LOSS_AREA_MM2)


def _completed(loop: Loop, runs: list[Run]) -> FloatArray:
    """Outline with its broken runs replaced."""
    n = len(loop.points)
    runs = sorted(runs, key=lambda run: run.first)
    if not runs:
        return loop.points
    parts = []
    for run, following in zip(runs, [*runs[1:], runs[0]], strict=True):
        parts.append(run.across)
        begin, end = run.last + tol.EDGE_MARGIN + 1, following.first - tol.EDGE_MARGIN
        end += n * int(np.ceil(max(begin - end, 0) / n))
        parts.append(loop.points[np.arange(begin, end) % n])
    return np.concatenate(parts)


def _rounded_alike(
    whole: manifold3d.CrossSection, loop: Loop, runs: list[Run]
) -> manifold3d.CrossSection:
    """Round new corners as those that are left; they stay sharp where none is left."""
    radius = _corner_radius(loop)
    if radius < 0.3:
        return whole
    # Only about the corners that were lost: elsewhere the outline is as it was found.
    rounded = whole.offset(-radius, circular_segments=64).offset(radius, circular_segments=64)
    for run in runs:
        if not run.corner or not _is_loss(loop, run):
            continue
        one, other = unit(run.across[0] - tip_of(run)), unit(run.across[-1] - tip_of(run))
        angle = float(np.arccos(np.clip(one @ other, -1.0, 1.0)))
        reach = 1.5 * radius / np.tan(0.5 * angle) + 1.0
        about = manifold3d.CrossSection.circle(reach, 32).translate(tuple(tip_of(run)))
        whole = (whole - about) + (rounded ^ about)
    return whole


def _is_loss(loop: Loop, run: Run) -> bool:
    gap = _polygon(_completed(loop, [run])) - _polygon(loop.points)
    return any(_counts(part) for part in gap.decompose())


def tip_of(run: Run) -> FloatArray:
    """Where the two sides meet: the sharpest turn."""
    ahead = unit(np.diff(run.across, axis=0))
    turn = (ahead[1:] * ahead[:-1]).sum(axis=1)
    tip: FloatArray = run.across[1 + int(np.argmin(turn))]
    return tip


def _corner_radius(loop: Loop) -> float:
    """Median radius of the outline's corners that are still there, mm; 0 where none is."""
    n, flank = len(loop.points), tol.CORNER_FLANK
    place = np.arange(n)
    cosine = (loop.outward[place - flank] * loop.outward[(place + flank) % n]).sum(axis=1)
    whole = ~binary_dilation(np.tile(loop.broken, 3), iterations=flank + 4)[n : 2 * n]
    radii = []
    for first, last in runs_of((cosine < np.cos(np.radians(50.0))) & whole):
        k = (first + last) // 2
        ends = [(k - flank) % n, (k + flank) % n]
        out = loop.outward[ends]
        if abs(np.linalg.det(out)) < 0.5:
            continue
        tip = np.linalg.solve(out, (out * loop.points[ends]).sum(axis=1))
        short = float(np.linalg.norm(loop.points - tip, axis=1).min())
        half = 0.5 * (np.pi - float(np.arccos(np.clip(out[0] @ out[1], -1.0, 1.0))))
        radii.append(short / (1.0 / np.sin(half) - 1.0))
    return float(np.median(radii)) if radii else 0.0


def cells_of(sheet: Sheet, plan: manifold3d.CrossSection) -> BoolArray:
    """Cells whose middle lies in a plan, (R, C)."""
    rows, columns = sheet.there.shape
    turns = np.zeros((rows, columns + 1), dtype=np.int64)
    for polygon in plan.to_polygons():
        start = (np.asarray(polygon) - [sheet.x[0], sheet.y[0]]) / sheet.cell_mm
        end = np.roll(start, -1, axis=0)
        # Rows whose middle an edge passes; a cell right of an odd number of edges is inside.
        low, high = np.ceil(np.minimum(start, end)[:, 1]), np.ceil(np.maximum(start, end)[:, 1])
        n = np.maximum(high - low, 0).astype(int)
        edge = np.repeat(np.arange(len(n)), n)
        row = low[edge].astype(int) + np.arange(len(edge)) - np.repeat(np.cumsum(n) - n, n)
        share = (row - start[edge, 1]) / (end - start)[edge, 1]
        column = np.ceil(start[edge, 0] + share * (end - start)[edge, 0]).astype(int)
        seen = (row >= 0) & (row < rows)
        np.add.at(turns, (row[seen], np.clip(column[seen], 0, columns)), 1)
    return np.asarray(np.cumsum(turns[:, :-1], axis=1) % 2 == 1)


def lost_cells(sheet: Sheet, losses: list[Loss]) -> BoolArray:
    """Cells near any loss, where a break may show in place of skin."""
    near: BoolArray = ~sheet.there
    for loss in losses:
        near = np.asarray(near | cells_of(sheet, loss.gap))
    steps = max(1, round(tol.PLATE_MARGIN_MM / sheet.cell_mm))
    return np.asarray(binary_dilation(near, iterations=steps))


def ring_about(sheet: Sheet, gap: BoolArray, lost: BoolArray) -> BoolArray:
    """Skin about a gap, as wide as the gap itself."""
    width = float(np.sqrt(gap.sum())) * sheet.cell_mm
    reach = max(tol.PLATE_RING_MM, tol.PLATE_RING_SHARE * width)
    near = distance_transform_edt(~gap) * sheet.cell_mm
    ring: BoolArray = sheet.sound & ~lost & (near < reach) & (near > tol.PLATE_MARGIN_MM)
    return ring
