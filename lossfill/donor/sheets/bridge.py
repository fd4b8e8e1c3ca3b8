"""A smooth span for what a tile, a slab or a tray lacks.

Where there is nothing to copy and no axis to turn about, the two skins are carried on with least
bending from what is left around the loss, and the edge with the section that it has on both sides
of the bite. Relief is not carried: the span knows of none.
"""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.donor.donor import Donor
from lossfill.donor.sheets.carry import Run
from lossfill.donor.sheets.edge import (
    LEVELS,
    MIDDLE,
    Loop,
    edge_section,
    lean_mm,
    loops_of,
    skins_at,
    slope_and_thickness,
)
from lossfill.donor.sheets.flatten import Sheet, flatten
from lossfill.donor.sheets.hidden import hidden_rms
from lossfill.donor.sheets.plan import Loss, cells_of, losses_of, lost_cells, ring_about, tip_of
from lossfill.donor.sheets.plate import Plates, fit_plates
from lossfill.mesh import BoolArray, FloatArray, unit
from lossfill.solids import Solid, checked


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
    lost = lost_cells(sheet, losses)
    donors = [_spanned(sheet, loops[0], loss, whole, lost, rng) for loss in losses]
    return tuple(donor for donor in donors if donor is not None)


def _spanned(
    sheet: Sheet,
    outline: Loop,
    loss: Loss,
    whole: manifold3d.CrossSection,
    lost: BoolArray,
    rng: np.random.Generator,
) -> Donor | None:
    gap = cells_of(sheet, loss.gap)
    ring = ring_about(sheet, gap, lost)
    if ring.sum() < 50:
        return None
    errors = {degree: hidden_rms(sheet, outline, loss, gap, lost, degree, rng) for degree in (1, 2)}
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
    error = told.get(degree)
    if error is not None:
        # Hidden patches tell of the skins; what is made anew of the edge errs besides.
        error = float(np.hypot(error, tol.EDGE_ERROR_MM[loss.kind]))
    return Donor("bridge", solid, plates.residual_mm, says, error)


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
    tip = int(np.argmin(np.linalg.norm(run.across - tip_of(run), axis=1)))
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
