"""The outline of a sheet in plan, and where it is broken.

A finished edge runs smoothly, and its section is the same all along; a break wavers within a few
millimetres and leans as it likes. Either tells.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import contourpy
import numpy as np
from scipy.ndimage import (
    binary_closing,
    binary_opening,
    correlate1d,
    gaussian_filter,
    median_filter,
    uniform_filter1d,
)

from lossfill import tolerances as tol
from lossfill.donor.sheets.flatten import Sheet
from lossfill.mesh import BoolArray, FloatArray, ring_area_mm2, unit

LEVELS = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 17))
"""Shares of the thickness at which an edge is measured, closer together at the skins."""
LEVELS[0], LEVELS[-1] = 0.004, 0.996

MIDDLE = slice(4, 13)
"""Levels about the middle, whose mean is the outline."""
_TOLD_BY = slice(4, 13)
"""Levels whose insets tell a finished edge; nearer to the skins a ray may pass by."""


_Measured: TypeAlias = tuple[FloatArray, FloatArray, FloatArray, FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """One closed run of the outline, points at even steps of about 1 mm.

    Parameters
    ----------
    points : (N, 2) mm, counter-clockwise about the material, at the middle of the edge
    outward : (N, 2) unit vectors in plan, away from the material
    inset : (N, L) mm by which the edge lies inside the outline at each of `LEVELS`, beyond what
        the sheet's slope makes of it
    broken : (N,) whether it is a break
    """

    points: FloatArray
    outward: FloatArray
    inset: FloatArray
    broken: BoolArray

    @property
    def area_mm2(self) -> float:
        """Area inside, negative for a hole."""
        return ring_area_mm2(self.points)


def loops_of(sheet: Sheet) -> list[Loop]:
    """Outline and inner holes, the outline first; specks left out."""
    blurred = gaussian_filter(sheet.there.astype(np.float64), 0.6 / sheet.cell_mm)
    lines = contourpy.contour_generator(sheet.x, sheet.y, blurred).lines(0.5)
    rough = [np.asarray(line[:-1]) for line in lines if len(line) > 8]
    rough = [line for line in rough if abs(ring_area_mm2(line)) > tol.LOSS_AREA_MM2]
    if not rough:
        return []
    rough.sort(key=lambda line: -abs(ring_area_mm2(line)))
    # The outline counter-clockwise, the holes clockwise: material always on the left.
    turned = [
        line if (ring_area_mm2(line) > 0.0) == (k == 0) else line[::-1]
        for k, line in enumerate(rough)
    ]
    skins = _whole_skins(sheet)
    measured = [_measured(sheet, _evened(line), skins) for line in turned]
    return _told_apart(measured, sheet.thick_mm)


def _evened(line: FloatArray, step_mm: float = 1.0) -> FloatArray:
    """Closed line at even steps, smoothed a little."""
    closed = np.concatenate([line, line[:1]])
    s = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0.0, s[-1], max(12, round(s[-1] / step_mm)), endpoint=False)
    return np.stack([np.interp(at, s, closed[:, k]) for k in range(2)], axis=1)


def _whole_skins(sheet: Sheet) -> FloatArray:
    """Coefficients (15, 2) of the quartics that both skins follow roughly all over."""
    plan, heights = sheet.places(sheet.sound), sheet.skins(sheet.sound)
    every = max(1, len(plan) // 20_000)
    powers = _powers(plan[::every], _reach(sheet))
    return np.asarray(np.linalg.lstsq(powers, heights[::every], rcond=None)[0], np.float64)


def _reach(sheet: Sheet) -> float:
    return float(max(np.abs(sheet.x).max(), np.abs(sheet.y).max()))


def _powers(plan: FloatArray, reach: float) -> FloatArray:
    x, y = (plan / reach).T
    return np.stack([x**i * y**j for i in range(5) for j in range(5 - i)], axis=1)


def _measured(sheet: Sheet, line: FloatArray, skins: FloatArray) -> _Measured:
    """Points, outward directions, inset at each level, and the sheet's slope."""
    n = len(line)
    window = min(7, n - 1 - n % 2)
    along = unit(_fitted(line, window, 2, slope=True))
    outward = np.stack([along[:, 1], -along[:, 0]], axis=1)
    middle, inset = edge_section(
        sheet, line, outward, lambda plan: _powers(plan, _reach(sheet)) @ skins
    )
    here, inside = (_powers(p, _reach(sheet)) @ skins for p in (line, line - outward))
    slope = slope_and_thickness(here, inside)[0]
    return line - middle[:, None] * outward, outward, inset, slope


def edge_section(
    sheet: Sheet,
    points: FloatArray,
    outward: FloatArray,
    skins: Callable[[FloatArray], FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """Measure the edge by level rays.

    Parameters
    ----------
    points, outward : (N, 2) places near the edge and the directions away from the material
    skins : from plan (N, 2) to the heights of both skins (N, 2), mm

    Returns
    -------
    middle : (N,) mm by which the middle of the edge lies inside of the points; 0 where not met
    inset : (N, L) mm by which the edge lies inside of that at each of `LEVELS`, beyond what the
        sheet's slope makes of an edge that stands square on it
    """
    heights = skins(points)
    slope, thick = slope_and_thickness(heights, skins(points - outward))
    # Square on the sheet, an edge reaches less far up than its skins do at its foot.
    rise = (thick / (1.0 + slope**2))[:, None] * (LEVELS - 0.5)
    high = heights.mean(axis=1)[:, None] + rise
    n, levels = high.shape
    start = np.repeat(points + tol.EDGE_REACH_MM * outward, levels, axis=0)
    ahead = np.repeat(np.column_stack([-outward, np.zeros(n)]), levels, axis=0)
    met, _ = sheet.surface.along_rays(np.column_stack([start, high.ravel()]), ahead)
    depth = met.reshape(n, levels) - tol.EDGE_REACH_MM
    middle = _mean_of_middle(depth)
    middle[~(np.isfinite(middle) & (np.abs(middle) < tol.EDGE_REACH_MM))] = 0.0
    inset = np.clip(depth - middle[:, None], -tol.EDGE_REACH_MM, tol.EDGE_REACH_MM)
    inset -= lean_mm(slope, thick)
    # Farther in, the skins of a sloping sheet are at other heights: where between them was met?
    share = (
        LEVELS
        + np.where(np.abs(inset) < 0.9 * tol.EDGE_REACH_MM, inset, 0.0) * (slope / thick)[:, None]
    )
    share = np.maximum.accumulate(share, axis=1)
    told = [np.interp(LEVELS, at, found) for at, found in zip(share, inset, strict=True)]
    return middle, np.array(told)


def slope_and_thickness(heights: FloatArray, inside: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rise of the sheet per mm outwards, and thickness, from the skins here and 1 mm inside."""
    return (heights - inside).mean(axis=1), heights[:, 1] - heights[:, 0]


def _mean_of_middle(depth: FloatArray) -> FloatArray:
    """Mean over the middle levels without the two that stray most, (N,) mm."""
    ordered = np.sort(depth[:, MIDDLE], axis=1)
    return np.asarray(ordered[:, 1:-1].mean(axis=1), np.float64)


def lean_mm(slope: FloatArray, thick: FloatArray) -> FloatArray:
    """Inset at each level of an edge that stands square on a sloping sheet, (N, L) mm.

    Parameters
    ----------
    slope : (N,) rise of the sheet per mm outwards
    thick : (N,) mm
    """
    return np.asarray((slope * thick / (1.0 + slope**2))[:, None] * (LEVELS - 0.5))


def skins_at(sheet: Sheet, plan: FloatArray) -> FloatArray:
    """Heights of both skins at places in plan, (N, 2) mm; infinite where there is nothing."""
    far = 2.0 * float(max(np.nanmax(sheet.high), -np.nanmin(sheet.low))) + 1.0
    found = []
    for sign in (-1.0, 1.0):
        starts = np.column_stack([plan, np.full(len(plan), sign * far)])
        met, _ = sheet.surface.along_rays(starts, np.tile([0.0, 0.0, -sign], (len(plan), 1)))
        found.append(sign * (far - met))
    return np.stack(found, axis=1)


def _told_apart(measured: list[_Measured], thick_mm: float) -> list[Loop]:
    """Tell breaks from the finished edge by what most of the outline is like."""
    roughness = [_roughness(points, outward) for points, outward, _, _ in measured]
    usual = float(np.percentile(roughness[0], tol.EDGE_FINISHED_PERCENT))
    limit = max(tol.EDGE_ROUGH_TIMES * usual, tol.EDGE_ROUGH_MM)
    section = [
        np.stack([median_filter(c, min(7, len(c)), mode="wrap") for c in inset.T], axis=1)
        for _, _, inset, _ in measured
    ]
    fine = roughness[0] <= usual
    finished = np.median(section[0][fine], axis=0)
    plumb = float(np.median(_leans(section[0][fine])))
    loops = []
    for (points, outward, inset, slope), rough, found in zip(
        measured, roughness, section, strict=True
    ):
        # What is left of the slope's own effect grows with its square.
        allowed = tol.EDGE_SLOPE_SHARE * thick_mm * slope**2
        stray = np.abs(found - finished)[:, _TOLD_BY].max(axis=1)
        lean = np.abs(_leans(found) - plumb)
        broken = (rough > limit) | (stray > tol.EDGE_SECTION_MM + allowed)
        broken |= lean > thick_mm * tol.EDGE_LEAN + allowed
        doubt = max(tol.EDGE_DOUBT_TIMES * usual, tol.EDGE_ROUGH_MM)
        sure = max(tol.EDGE_DOUBT_TIMES * usual, tol.EDGE_DOUBT_FLOOR_MM)
        ends = _to_their_ends(points, outward, _whole_runs(broken, 4), doubt)
        runs = _without_doubtful(points, _whole_runs(ends, tol.EDGE_SPELL_MM), sure)
        loops.append(Loop(points, outward, inset, runs))
    return loops


def _leans(section: FloatArray) -> FloatArray:
    """Inset from the lower to the upper skin by the line through the middle levels, (N,) mm."""
    share = LEVELS[_TOLD_BY] - 0.5
    lean: FloatArray = section[:, _TOLD_BY] @ share / (share @ share)
    n = len(lean)
    return np.asarray(uniform_filter1d(lean, min(9, n), mode="wrap"))


def _roughness(points: FloatArray, outward: FloatArray) -> FloatArray:
    """RMS deviation from the cubic that fits 13 mm, (N,) mm."""
    n = len(points)
    window = min(13, n - 1 - n % 2)
    smooth = _fitted(points, window, 3)
    stray = ((points - smooth) * outward).sum(axis=1)
    # A running mean of squares may fall below zero by a rounding.
    square = np.maximum(uniform_filter1d(stray**2, window, mode="wrap"), 0.0)
    return np.asarray(np.sqrt(square))


def _whole_runs(broken: BoolArray, spell: int) -> BoolArray:
    """Without short spells of either kind; the ends are cyclic."""
    n = len(broken)
    three = np.concatenate([broken] * 3)
    three = binary_closing(three, iterations=spell // 2)
    three = binary_opening(three, iterations=2)
    return np.asarray(three[n : 2 * n])


def _to_their_ends(
    points: FloatArray, outward: FloatArray, broken: BoolArray, limit_mm: float
) -> BoolArray:
    """Run the finished edge on into each break as far as it still fits.

    Roughness is told over a window, so that a break shows some way before it begins.
    """
    result, n = broken.copy(), len(broken)
    for first, last in runs_of(broken):
        for start, step in ((first, 1), (last, -1)):
            before = (start - step * np.arange(1, 11)) % n
            inside = (start + step * np.arange(min(6, (last - first) // 2))) % n
            if broken[before].any() or len(inside) == 0:
                continue
            order = np.arange(-10, 0)[::-1]
            # A straight run of the last centimetre.
            slope = np.polyfit(order, points[before], 1)
            ahead = np.arange(len(inside))[:, None] * slope[0] + slope[1]
            stray = np.abs(((points[inside] - ahead) * outward[before[0]]).sum(axis=1))
            fits = np.cumprod(stray < 2.0 * limit_mm).astype(np.bool_)
            result[inside[fits]] = False
    return result


def _without_doubtful(points: FloatArray, broken: BoolArray, limit_mm: float) -> BoolArray:
    """Count short spells between breaks as broken too unless one smooth curve fits each."""
    result, n = broken.copy(), len(broken)
    for first, last in runs_of(~broken):
        spell = np.arange(first, last + 1) % n
        if len(spell) > tol.EDGE_DOUBT_MM or len(spell) == n:
            continue
        inner = points[spell[2:-2]] if len(spell) > 8 else points[spell]
        chord = unit(inner[-1] - inner[0])
        x, y = (inner - inner[0]) @ chord, (inner - inner[0]) @ [-chord[1], chord[0]]
        stray = y - np.polynomial.Polynomial.fit(x, y, 2)(x)
        result[spell] = np.sqrt(np.mean(stray**2)) > limit_mm
    return result


def runs_of(mask: BoolArray) -> list[tuple[int, int]]:
    """First and last index of each run, last counted past N where one wraps; none for all."""
    n = len(mask)
    if mask.all() or not mask.any():
        return []
    starts = np.flatnonzero(mask & ~np.roll(mask, 1))
    ends = np.flatnonzero(mask & ~np.roll(mask, -1))
    runs = []
    for start in starts:
        later = ends[ends >= start]
        runs.append((int(start), int(later[0]) if len(later) else int(ends[0]) + n))
    return runs


def _fitted(points: FloatArray, window: int, degree: int, *, slope: bool = False) -> FloatArray:
    """Least-squares polynomial through each point's neighbours along a closed line, (N, K).

    Its value at the point, or its slope for each step. (scipy.signal has the same filter, but
    takes longer to import than a sheet's outline to trace.)

    Parameters
    ----------
    window : how many neighbours, itself among them; odd, more than the degree
    """
    at = np.arange(window) - window // 2
    weights = np.linalg.pinv(np.vander(at, degree + 1, increasing=True))[int(slope)]
    result: FloatArray = correlate1d(points, weights, axis=0, mode="wrap")
    return result
