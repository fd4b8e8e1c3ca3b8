"""The step along the join: how far the piece's skin stands above the vessel's, place by place.

Right at the join there is a gap for adhesive and the edge of a break. So both skins are looked at a
little way off, each on its own side and equally far, from one line through the join that is level
between the two: an even bend of the wall then counts for nothing.

    piece   ──●───┐
              ↕   │ gap │        step (here the piece stands proud)
              ↕         └───●──  vessel
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.loss.faces import Faces, join_edges
from lossfill.loss.loss import Loss
from lossfill.mesh import FloatArray, Mesh, unit
from lossfill.nearest import Surface


@dataclass(frozen=True, slots=True, eq=False)
class JoinStep:
    """The step along one run of the join.

    Parameters
    ----------
    places_mm : (N, 3) on the join, in its order, scan coordinates
    along_mm : (N,) way along it from its first place
    step_mm : (N,) how far the piece stands above the vessel's skin; negative where it lies below,
        NaN where one of the two was not met, as round a sharp lip
    up : (N, 3) unit way out of the skin
    """

    places_mm: FloatArray
    along_mm: FloatArray
    step_mm: FloatArray
    up: FloatArray

    @property
    def length_mm(self) -> float:
        """Length of the run."""
        return float(self.along_mm[-1])


def step_along_join(
    loss: Loss, piece: Mesh, body: Mesh, *, clearance_mm: float
) -> tuple[JoinStep, ...]:
    """Compare the skins of a piece at home and of the vessel on either side of the join.

    Parameters
    ----------
    loss : whose join it is, where its new skin meets its break
    piece : at home, scan coordinates, mm
    body : the vessel about it, likewise
    clearance_mm : gap between them, past which the skins are looked at

    Returns
    -------
    The runs of the join, the longest first; crumbs are left out.
    """
    faces = Faces.of(loss.solid, loss.form_here)
    edges = join_edges(faces)
    if not len(edges):
        return ()
    lost = Surface(Mesh(faces.vertices, faces.faces[~faces.is_break]))
    ours, theirs = Surface(piece), Surface(body)
    aside_mm = clearance_mm + tol.STEP_ASIDE_MM
    steps = []
    for run in _runs(edges):
        places = _even(faces.vertices[run], tol.STEP_SPACING_MM)
        if places is None:
            continue
        up, into = _level(places, lost, theirs, clearance_mm)
        inner = _heights(ours, places + aside_mm * into, up)
        outer = _heights(theirs, places - aside_mm * into, up)
        steps.append(JoinStep(places, _way(places), inner - outer, up))
    return tuple(sorted(steps, key=lambda step: -step.length_mm))


def _level(
    places: FloatArray, lost: Surface, body: Surface, clearance_mm: float
) -> tuple[FloatArray, FloatArray]:
    """Way up at places of a join, level between the new skin and the old, and way into the new.

    The new skin is the one that was lost: a piece that is set back slopes on purpose.
    """
    along = unit(np.gradient(places, axis=0))
    up = lost.closest(places)[1]
    into = _into(places, along, up, lost)
    for _ in range(2):
        # The second time, the body's skin too has a say in which way is aside.
        new, old = np.zeros_like(up), np.zeros_like(up)
        for aside_mm in tol.STEP_FAN_MM:
            new += _facing(lost, places + (clearance_mm + aside_mm) * into, up)
            old += _facing(body, places - (clearance_mm + aside_mm) * into, up)
        up = unit(unit(new) + unit(old))
        into = _into(places, along, up, lost)
    return up, into


def _into(places: FloatArray, along: FloatArray, up: FloatArray, lost: Surface) -> FloatArray:
    across = unit(np.cross(up, along))
    one, other = (lost.distance(places + way * tol.STEP_ASIDE_MM * across) for way in (1.0, -1.0))
    result: FloatArray = np.where((one <= other)[:, None], across, -across)
    return result


def _facing(surface: Surface, places: FloatArray, up: FloatArray) -> FloatArray:
    """Normals of a skin nearest to places; where another skin is nearer, the way up itself."""
    _, normals = surface.closest(places)
    ours = (normals * up).sum(axis=1) > tol.STEP_FACING
    result: FloatArray = np.where(ours[:, None], normals, up)
    return result


def _heights(surface: Surface, places: FloatArray, up: FloatArray) -> FloatArray:
    distance, facing = surface.along_rays(places + tol.STEP_HIGHEST_MM * up, -up)
    height = tol.STEP_HIGHEST_MM - distance
    met = (
        np.isfinite(distance) & (np.abs(height) < tol.STEP_HIGHEST_MM) & (facing < -tol.STEP_FACING)
    )
    result: FloatArray = np.where(met, height, np.nan)
    return result


def _runs(edges: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Chains of edges as vertex numbers; a closed one ends where it begins."""
    beside: dict[int, list[int]] = {}
    for a, b in edges.tolist():
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    left = {frozenset(edge) for edge in edges.tolist()}
    # Ends first, so that an open run is walked from end to end.
    starts = sorted(beside, key=lambda vertex: (len(beside[vertex]) == 2, vertex))
    runs = []
    for start in starts:
        while any(frozenset((start, other)) in left for other in beside[start]):
            run = [start]
            while True:
                ahead = [v for v in beside[run[-1]] if frozenset((run[-1], v)) in left]
                if not ahead:
                    break
                left.discard(frozenset((run[-1], ahead[0])))
                run.append(ahead[0])
            runs.append(np.array(run))
    return runs


def _even(points: FloatArray, spacing_mm: float) -> FloatArray | None:
    """Points evenly along a polyline, smoothed over its crumbs; None for a crumb."""
    way = _way(points)
    if way[-1] < tol.STEP_RUN_MM:
        return None
    n = max(round(float(way[-1]) / spacing_mm), 4)
    wanted = np.linspace(0.0, way[-1], n + 1)
    even = np.stack([np.interp(wanted, way, points[:, k]) for k in range(3)], axis=1)
    closed = bool(np.allclose(points[0], points[-1]))
    half = round(0.5 * tol.STEP_SMOOTH_MM / spacing_mm)
    before, after = (even[-half - 1 : -1], even[1 : half + 1]) if closed else (even[:1], even[-1:])
    if not closed:
        before, after = np.repeat(before, half, axis=0), np.repeat(after, half, axis=0)
    padded = np.concatenate([before, even, after])
    kernel = np.full(2 * half + 1, 1.0 / (2 * half + 1))
    return np.stack([np.convolve(padded[:, k], kernel, mode="valid") for k in range(3)], axis=1)


def _way(points: FloatArray) -> FloatArray:
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    way: FloatArray = np.concatenate([[0.0], np.cumsum(steps)])
    return way
