"""The finished edge carried across a break: with least bending, or to where two sides meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_smoothing_spline

from lossfill import tolerances as tol
from lossfill.donor.sheets.edge import Loop
from lossfill.mesh import FloatArray, unit


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A broken run of a loop and how the finished edge ran there.

    Parameters
    ----------
    first, last : indices of the first and last broken point, last >= first, modulo N
    across : (M, 2) mm from the finished point before the break to the one after it
    corner : whether the edges were run on until they met
    """

    first: int
    last: int
    across: FloatArray
    corner: bool


def carried_across(loop: Loop, first: int, last: int) -> Run | None:
    """Carry the finished edge across a broken run; None where too little of it is left."""
    # Where a corner follows at once, the edge beyond it is the one to be carried on.
    first, before = _nearest_side(loop, first, -1)
    last, after = _nearest_side(loop, last, 1)
    if min(len(before), len(after)) < tol.EDGE_SIDE_MIN or last - first > 0.8 * len(loop.points):
        return None
    before = before[::-1]
    ends = loop.points[before], loop.points[after]
    heads = [_heading(end, inward) for end, inward in zip(ends, (-1, 0), strict=True)]
    chord = unit(ends[1][0] - ends[0][-1])
    turn = float(np.degrees(np.arccos(np.clip(heads[0] @ heads[1], -1.0, 1.0))))
    off = min(float(heads[0] @ chord), float(heads[1] @ chord))
    corner = turn > tol.CORNER_TURN_DEG or off < np.cos(np.radians(1.5 * tol.CORNER_TURN_DEG))
    across = _until_they_meet(*ends) if corner else _least_bent(*ends, chord)
    if across is None:
        return None
    return Run(first, last, across, corner)


def _nearest_side(loop: Loop, end: int, step: int) -> tuple[int, NDArray[np.intp]]:
    """Find the finished edge next to a break: where the break then ends, and its indices."""
    for skipped in range(0, tol.EDGE_SKIP_MAX, 2):
        at = end + step * skipped
        side = _finished_side(loop, at + step * tol.EDGE_MARGIN, step)
        if len(side) >= tol.EDGE_SIDE_MIN:
            return at, side
    return end, np.zeros(0, np.intp)


def _finished_side(loop: Loop, start: int, step: int) -> NDArray[np.intp]:
    """Indices of the finished points from a break on, up to a corner or the next break."""
    n = len(loop.points)
    place = (start + step * np.arange(min(tol.EDGE_SIDE_MAX, n // 2))) % n
    ahead = loop.outward[place]
    stop = loop.broken[place]
    first = min(6, len(place) - 1)
    reference = unit(ahead[: first + 1].mean(axis=0))
    stop |= (ahead @ reference) < np.cos(np.radians(tol.EDGE_TURN_DEG))
    end = int(np.argmax(stop)) if stop.any() else len(place)
    # The turn shows where it has begun already.
    if stop.any() and not loop.broken[place[end]]:
        end -= tol.EDGE_TURN_MARGIN
    return np.asarray(place[: max(end, 0)], np.intp)


def _heading(points: FloatArray, at: int) -> FloatArray:
    """Direction along a finished side at its end by the break."""
    near = points[-15:] if at == -1 else points[:15]
    centred = near - near.mean(axis=0)
    direction: FloatArray = np.linalg.svd(centred, full_matrices=False)[2][0]
    return np.asarray(direction * np.sign(direction @ (near[-1] - near[0])))


def _least_bent(before: FloatArray, after: FloatArray, chord: FloatArray) -> FloatArray:
    """Span with least bending in the frame of the chord between the ends."""
    side = np.array([-chord[1], chord[0]])
    origin = before[-1]
    near = np.concatenate([before, after])
    x, y = (near - origin) @ chord, (near - origin) @ side
    order = np.argsort(x)
    x, y = x[order], y[order]
    grows = np.concatenate([[True], np.diff(x) > 1e-3])
    spline = make_smoothing_spline(x[grows], y[grows], lam=tol.EDGE_GIVE_MM**4)
    end = float((after[0] - origin) @ chord)
    at = np.linspace(0.0, end, max(3, round(end / 0.7)))
    return np.asarray(origin + at[:, None] * chord + np.asarray(spline(at))[:, None] * side)


def _until_they_meet(before: FloatArray, after: FloatArray) -> FloatArray | None:
    """Run both sides on until they cross; the corner is sharp."""
    reach = 3.0 * float(np.linalg.norm(after[0] - before[-1])) + 10.0
    one = _run_on(before, reach)
    other = _run_on(after[::-1], reach)
    gap = np.linalg.norm(one[:, None] - other[None], axis=2)
    i, j = np.unravel_index(int(np.argmin(gap)), gap.shape)
    if i in (0, len(one) - 1) or j in (0, len(other) - 1):
        return None
    a, b = one[i] - one[i - 1], other[j] - other[j - 1]
    matrix = np.stack([a, -b], axis=1)
    if abs(np.linalg.det(matrix)) < 0.2 * np.linalg.norm(a) * np.linalg.norm(b):
        return None
    t = np.linalg.solve(matrix, other[j] - one[i])
    meet = one[i] + t[0] * a
    return np.concatenate([one[:i], meet[None], other[:j][::-1]])


def _run_on(points: FloatArray, reach_mm: float) -> FloatArray:
    """Points past the last one, straight on unless the side is plainly curved."""
    head = _heading(points, -1)
    side = np.array([-head[1], head[0]])
    x, y = (points - points[-1]) @ head, (points - points[-1]) @ side
    line, curve = (np.polynomial.Polynomial.fit(x, y, k) for k in (1, 2))
    left = [float(np.sum((f(x) - y) ** 2)) for f in (line, curve)]
    # Points scatter together, so a curve must explain most of what a line plainly leaves.
    plain = left[0] > len(x) * tol.EDGE_CURVED_MM**2
    chosen = curve if plain and left[1] < tol.EDGE_CURVED_SHARE * left[0] else line
    at = np.arange(0.0, reach_mm, 0.7)
    return np.asarray(points[-1] + at[:, None] * head + np.asarray(chosen(at))[:, None] * side)
