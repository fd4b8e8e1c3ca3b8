"""A smooth span for what a tile, a slab or a tray lacks.

Where there is nothing to copy and no axis to turn about, the two skins are carried on with least
bending from what is left around the loss, and the edge with the section that it has on both sides
of the bite. Relief is not carried: the span knows of none.
"""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, distance_transform_edt
from scipy.spatial import KDTree

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.donor.donor import Donor
from lossfill.donor.edge import (
    LEVELS,
    MIDDLE,
    Loop,
    Run,
    carried_across,
    edge_section,
    lean_mm,
    loops_of,
    runs_of,
    skins_at,
    slope_and_thickness,
)
from lossfill.donor.flatten import Sheet, flatten
from lossfill.donor.plate import Plates, fit_plates
from lossfill.mesh import BoolArray, FloatArray, unit
from lossfill.solids import Solid, checked


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


def sheet_bridges(body: Body, *, rng: np.random.Generator) -> tuple[Donor, ...]:
    """Span each loss of a sheet.

    Parameters
    ----------
    body : the solid that is really there
    rng : source of the choice of samples and of hidden patches

    Returns
    -------
    One donor for each hole, bite or lost corner, the largest first; none where the body is no
    sheet, or is whole.
    """
    sheet = flatten(body.mesh)
    if sheet is None:
        return ()
    loops = loops_of(sheet)
    if not loops:
        return ()
    losses, whole = losses_of(loops)
    lost = _lost(sheet, losses)
    donors = [_spanned(sheet, loops[0], loss, whole, lost, rng) for loss in losses]
    return tuple(donor for donor in donors if donor is not None)


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
    deep = not gap.offset(-0.5 * tol.LOSS_DEPTH_MM).is_empty()
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
        one, other = unit(run.across[0] - _tip(run)), unit(run.across[-1] - _tip(run))
        angle = float(np.arccos(np.clip(one @ other, -1.0, 1.0)))
        reach = 1.5 * radius / np.tan(0.5 * angle) + 1.0
        about = manifold3d.CrossSection.circle(reach, 32).translate(tuple(_tip(run)))
        whole = (whole - about) + (rounded ^ about)
    return whole


def _is_loss(loop: Loop, run: Run) -> bool:
    gap = _polygon(_completed(loop, [run])) - _polygon(loop.points)
    return any(_counts(part) for part in gap.decompose())


def _tip(run: Run) -> FloatArray:
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


# --- the span ------------------------------------------------------------------------------------


def _mask(sheet: Sheet, plan: manifold3d.CrossSection) -> BoolArray:
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


def _lost(sheet: Sheet, losses: list[Loss]) -> BoolArray:
    """Cells near any loss, where a break may show in place of skin."""
    near: BoolArray = ~sheet.there
    for loss in losses:
        near = np.asarray(near | _mask(sheet, loss.gap))
    steps = max(1, round(tol.PLATE_MARGIN_MM / sheet.cell_mm))
    return np.asarray(binary_dilation(near, iterations=steps))


def _ring(sheet: Sheet, gap: BoolArray, lost: BoolArray) -> BoolArray:
    """Skin about a gap, as wide as the gap itself."""
    width = float(np.sqrt(gap.sum())) * sheet.cell_mm
    reach = max(tol.PLATE_RING_MM, tol.PLATE_RING_SHARE * width)
    near = distance_transform_edt(~gap) * sheet.cell_mm
    ring: BoolArray = sheet.sound & ~lost & (near < reach) & (near > tol.PLATE_MARGIN_MM)
    return ring


def _spanned(
    sheet: Sheet,
    outline: Loop,
    loss: Loss,
    whole: manifold3d.CrossSection,
    lost: BoolArray,
    rng: np.random.Generator,
) -> Donor | None:
    gap = _mask(sheet, loss.gap)
    ring = _ring(sheet, gap, lost)
    if ring.sum() < 50:
        return None
    errors = {
        degree: _hidden_rms(sheet, outline, loss, gap, lost, degree, rng) for degree in (1, 2)
    }
    told = {degree: error for degree, error in errors.items() if error is not None}
    degree = min(told, key=lambda k: told[k]) if told else 1
    plates = fit_plates(sheet.places(ring), sheet.skins(ring), degree=degree, rng=rng)
    sections = _sections(sheet, outline, loss.run, plates)
    reach = loss.gap.offset(tol.DONOR_REACH_MM, circular_segments=48) ^ whole
    solid = _solid(sheet, plates, reach, whole, loss.run, sections)
    size = np.ptp(loss.mouth, axis=0)
    shape = {
        "hole": "the skins around the hole",
        "bite": "the skins around the bite and the edges on both sides of it",
        "corner": "the skins around the lost corner and the two edges that met there",
    }[loss.kind]
    says = (
        f"carried {shape} across {size.max():.0f} × {size.min():.0f} mm with least bending; "
        "no relief is carried"
    )
    return Donor("bridge", solid, plates.residual_mm, says, told.get(degree))


def _sections(sheet: Sheet, outline: Loop, run: Run | None, plates: Plates) -> FloatArray:
    """Inset of the edge at each level before and after a bite, (2, L)."""
    if run is None:
        return np.zeros((2, len(LEVELS)))
    steps = tol.EDGE_MARGIN + np.arange(tol.EDGE_SECTION_POINTS)
    sides = [(place % len(outline.points)) for place in (run.first - steps, run.last + steps)]
    sides = [place[~outline.broken[place]] for place in sides]
    return np.stack([_section(sheet, outline, place, plates) for place in sides])


def _section(sheet: Sheet, outline: Loop, at: NDArray[np.intp], plates: Plates) -> FloatArray:
    """Inset at each level over some points of the edge, measured about the plates, (L,)."""
    points, outward = outline.points[at], outline.outward[at]
    section = np.median(edge_section(sheet, points, outward, plates.at)[1], axis=0)
    section -= np.median(section[MIDDLE])
    slope, thick = slope_and_thickness(plates.at(points), plates.at(points - outward))
    lean = np.median(lean_mm(slope, thick), axis=0)
    # A level ray near a skin grazes it or passes by; an upright one meets it squarely.
    inside = np.arange(-1.5, 4.0, 0.1)
    plan = (points[:, None] - inside[:, None] * outward[:, None]).reshape(-1, 2)
    under, over = plates.at(plan).T
    found = skins_at(sheet, plan)
    shares = (found - under[:, None]) / (over - under)[:, None]
    shares = np.where(np.isfinite(shares), shares, 0.5).reshape(len(points), len(inside), 2)
    for skin, outer in ((0, LEVELS < 0.2), (1, LEVELS > 0.8)):
        share = np.median(shares[:, :, skin], axis=0)
        away = np.abs(share - np.median(share[inside > 3.0]))
        # From the skin outwards the edge only falls away.
        away = np.maximum.accumulate(away[::-1])
        level = np.minimum(LEVELS, 1.0 - LEVELS)[outer]
        reached = np.interp(level + 0.002, away, inside[::-1])
        section[outer] = reached - lean[outer]
    return np.asarray(section)


def _solid(
    sheet: Sheet,
    plates: Plates,
    reach: manifold3d.CrossSection,
    whole: manifold3d.CrossSection,
    run: Run | None,
    sections: FloatArray,
) -> Solid:
    """Closed solid over a plan: an extruded plan warped to the skins and the edge's section."""
    edge, outward = _edge_points(whole)
    tree = KDTree(edge)
    later = np.zeros(len(edge)) if run is None else _share_after(edge, run)
    fade = max(3.0, 2.5 * float(np.abs(sections).max()))
    thick = sheet.thick_mm
    levels = len(LEVELS) - 1
    flat = reach.simplify(0.01).extrude(thick, n_divisions=levels - 1)
    flat = flat.refine_to_length(tol.DONOR_SPACING_MM)

    def warped(points: FloatArray) -> FloatArray:
        plan = points[:, :2]
        place = np.clip(points[:, 2] / thick, 0.0, 1.0)
        share = 0.5 - 0.5 * np.cos(np.pi * place)
        found, which = tree.query(plan)
        distance, nearest = np.asarray(found), np.asarray(which)
        heights = plates.at(plan)
        at_edge = distance < fade
        shift = np.zeros(len(plan))
        if at_edge.any():
            near, out = plan[at_edge], outward[nearest[at_edge]]
            slope, across = slope_and_thickness(heights[at_edge], plates.at(near - out))
            steps = np.linspace(0.0, 1.0, levels + 1)
            before, after = (np.interp(place[at_edge], steps, side) for side in sections)
            inset = before + later[nearest[at_edge]] * (after - before)
            inset += slope * across / (1.0 + slope**2) * (share[at_edge] - 0.5)
            shift[at_edge] = inset * (1.0 - distance[at_edge] / fade)
        moved = plan - shift[:, None] * outward[nearest]
        heights = plates.at(moved)
        z = heights[:, 0] + share * (heights[:, 1] - heights[:, 0])
        return np.asarray(np.column_stack([moved, z]) @ sheet.axes + sheet.origin)

    solid = checked(flat.warp_batch(warped), "a span cannot be built")
    return solid if solid.volume() > 0.0 else solid.mirror((0.0, 0.0, 1.0))


def _share_after(edge: FloatArray, run: Run) -> FloatArray:
    """How far the section is the one after the break, 0 to 1, at points of the outline, (N,)."""
    nearest = np.asarray(KDTree(run.across).query(edge)[1])
    length = np.linalg.norm(np.diff(run.across, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(length)])
    if not run.corner:
        return np.asarray(along[nearest] / along[-1])
    tip = int(np.argmin(np.linalg.norm(run.across - _tip(run), axis=1)))
    share: FloatArray = np.clip(0.5 + (along[nearest] - along[tip]) / tol.EDGE_REACH_MM, 0.0, 1.0)
    return share


def _edge_points(whole: manifold3d.CrossSection) -> tuple[FloatArray, FloatArray]:
    """Points on the outline every 0.3 mm and the directions outwards there."""
    points, directions = [], []
    for polygon in whole.to_polygons():
        corners = np.asarray(polygon)
        following = np.roll(corners, -1, axis=0)
        length = np.linalg.norm(following - corners, axis=1)
        n = np.maximum(1, np.ceil(length / 0.3).astype(int))
        which = np.repeat(np.arange(len(corners)), n)
        share = (np.arange(len(which)) - np.repeat(np.cumsum(n) - n, n)) / n[which]
        points.append(corners[which] + share[:, None] * (following - corners)[which])
        along = unit(following - corners)[which]
        out = np.stack([along[:, 1], -along[:, 0]], axis=1)
        # Over a millimetre, so that the direction turns round a corner step by step.
        turned = np.sum([np.roll(out, k, axis=0) for k in range(-2, 3)], axis=0)
        directions.append(unit(turned))
    return np.concatenate(points), np.concatenate(directions)


# --- the error to expect -------------------------------------------------------------------------


def _hidden_rms(
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
        ring = _ring(sheet, hidden, lost)
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
        tip = _tip(run) if run.corner else run.across[len(run.across) // 2]
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
