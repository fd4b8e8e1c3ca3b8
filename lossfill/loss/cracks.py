"""Hairline cracks and open seams: narrow grooves in the skin, listed but never filled with a piece.

A groove shows as two walls that face each other across less than two millimetres:

      skin ────┐ → ← ┌──── skin
               │     │
               └─────┘

so its samples stand steep to the form, lie below it, and come in chains. The two walls tell it from
a step, which has one, and from a bead of adhesive, whose walls face away from each other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components, dijkstra
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.form.cells import cell_of
from lossfill.form.form import Form
from lossfill.form.skin import sharp_agreement
from lossfill.frame.frame import Frame
from lossfill.frame.profile import at
from lossfill.loss.loss import Loss
from lossfill.loss.measure import clock
from lossfill.mesh import BoolArray, FloatArray, unit
from lossfill.solids import mesh_from_solid


@dataclass(frozen=True, slots=True, eq=False)
class Crack:
    """A hairline crack, or a seam between joined sherds that stands open.

    Parameters
    ----------
    length_mm : along its mouth in the skin
    width_mm : of its mouth, the median along it
    inside : whether its mouth is in the inner skin; one that shows in both counts as outside
    clock : where its middle lies around the axis, as a clock seen from above
    angle_deg : the same in degrees counter-clockwise, 0–360
    height_mm : height of its middle above the foot
    path_mm : (N, 3) points along its mouth, scan coordinates
    """

    length_mm: float
    width_mm: float
    inside: bool
    clock: str
    angle_deg: float
    height_mm: float
    path_mm: FloatArray = field(repr=False)


@dataclass(frozen=True, slots=True, eq=False)
class _Walls:
    """Samples that stand steep to the form and below it, in vessel coordinates.

    Parameters
    ----------
    points, normals : (N, 3) of the samples
    out : (N, 3) unit, out of the form there
    depth_mm : (N,) below the form
    is_inner : (N,) on the inner skin's side
    """

    points: FloatArray
    normals: FloatArray
    out: FloatArray
    depth_mm: FloatArray
    is_inner: BoolArray

    def some(self, which: NDArray[np.intp] | BoolArray) -> _Walls:
        return _Walls(
            self.points[which],
            self.normals[which],
            self.out[which],
            self.depth_mm[which],
            self.is_inner[which],
        )


def find_cracks(frame: Frame, form: Form, losses: tuple[Loss, ...]) -> tuple[Crack, ...]:
    """List the cracks and open seams, the longest first.

    Parameters
    ----------
    losses : what was found missing: their breaks are no cracks
    """
    walls = _away_from(_steep_samples(frame, form), frame, losses)
    spacing = float(np.sqrt(frame.samples.area_mm2))
    reach = max(tol.CRACK_REACH_MM, tol.CRACK_REACH_SPACINGS * spacing)
    cracks = []
    for group in _groups(walls.points, reach):
        cracks += list(_cracks_of(walls.some(group), frame, reach))
    return tuple(sorted(cracks, key=lambda crack: -crack.length_mm))


def _steep_samples(frame: Frame, form: Form) -> _Walls:
    drop, samples = form.drop, frame.samples
    if drop is None:
        none = np.zeros((0, 3))
        return _Walls(none, none, none, np.zeros(0), np.zeros(0, dtype=bool))
    steep = np.flatnonzero(sharp_agreement(frame, drop) < tol.CRACK_FACING)
    along, points = drop.along[steep], samples.points[steep]
    angle = np.arctan2(points[:, 1], points[:, 0])
    depth = form.offset_mm(along, angle) - drop.offset_mm[steep]
    low = (depth > max(tol.CRACK_LOW_MM, tol.CRACK_LOW_SPREADS * form.noise_mm)) & (
        depth < frame.wall_mm
    )
    low &= ~_turned(form, along, angle, low)
    steep, along, points, angle = steep[low], along[low], points[low], angle[low]
    _, normal = at(form.profile, along)
    out = np.stack(
        [normal[:, 0] * np.cos(angle), normal[:, 0] * np.sin(angle), normal[:, 1]], axis=1
    )
    if form.outline is not None:
        points = form.outline.from_round(points, along)
    return _Walls(points, samples.normals[steep], out, depth[low], along < form.profile.lip)


def _turned(form: Form, along: FloatArray, angle: FloatArray, low: BoolArray) -> BoolArray:
    """Samples in rows that are steep most of the way round: turned grooves and sharp corners."""
    row = cell_of(form.cells, form.profile, along, np.mod(angle, 2 * np.pi)) // form.cells.shape[1]
    sector = (np.mod(angle, 2 * np.pi) * tol.CRACK_SECTORS / (2 * np.pi)).astype(np.intp)
    taken = np.zeros((form.cells.shape[0], tol.CRACK_SECTORS), dtype=bool)
    taken[row[low], sector[low] % tol.CRACK_SECTORS] = True
    full = maximum_filter1d(taken.mean(axis=1), 3) > tol.CRACK_TURN_MAX
    result: BoolArray = full[row]
    return result


def _away_from(walls: _Walls, frame: Frame, losses: tuple[Loss, ...]) -> _Walls:
    """Leave out the breaks of losses, and what stands within a little of them."""
    if not losses or not len(walls.points):
        return walls
    turn, shift = frame.vessel_from_scan[:3, :3], frame.vessel_from_scan[:3, 3]
    known = np.concatenate([mesh_from_solid(loss.solid).vertices for loss in losses])
    reach = tol.CRACK_CLEAR_MM
    tree = cKDTree(known @ turn.T + shift)
    return walls.some(np.asarray(tree.query(walls.points, distance_upper_bound=reach)[0]) > reach)


def _groups(points: FloatArray, reach_mm: float) -> Iterator[NDArray[np.intp]]:
    """Indices of points that hang together by steps of at most `reach_mm`, where they are many."""
    if len(points) < tol.CRACK_SAMPLES:
        return
    labels = connected_components(_graph(points, reach_mm), directed=False)[1]
    for k in np.flatnonzero(np.bincount(labels) >= tol.CRACK_SAMPLES):
        group = np.flatnonzero(labels == k)
        if np.ptp(points[group], axis=0).max() > 0.5 * tol.CRACK_LENGTH_MM:
            yield group


def _graph(points: FloatArray, reach_mm: float) -> csr_matrix:
    pairs = cKDTree(points).query_pairs(reach_mm, output_type="ndarray")
    way = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    n = len(points)
    return csr_matrix((np.maximum(way, 1e-9), (pairs[:, 0], pairs[:, 1])), shape=(n, n))


def _cracks_of(walls: _Walls, frame: Frame, reach_mm: float) -> Iterator[Crack]:
    """Follow the longest way through one group, then what branches off it."""
    near = walls.depth_mm < tol.CRACK_MOUTH_MM
    inside = (near & ~walls.is_inner).sum() < tol.CRACK_OUTER_SHARE * near.sum()
    deepest = float(np.quantile(walls.depth_mm, 0.9))
    left = walls.some(near & (walls.is_inner == inside))
    while len(left.points) >= tol.CRACK_SAMPLES:
        way = _way_through(left.points, reach_mm)
        if way is None:
            return
        s, mine = way
        crack = _crack(left.some(mine), s[mine], deepest, bool(inside), frame)
        if crack is not None:
            yield crack
        left = left.some(~mine)


def _way_through(points: FloatArray, reach_mm: float) -> tuple[FloatArray, BoolArray] | None:
    """How far along the longest way through the points each lies, and which lie on it."""
    graph = _graph(points, reach_mm)
    labels = connected_components(graph, directed=False)[1]
    start = int(np.flatnonzero(labels == np.bincount(labels).argmax())[0])
    first = dijkstra(graph, directed=False, indices=np.array(start))
    start = int(np.where(np.isfinite(first), first, -1.0).argmax())
    s, back = dijkstra(graph, directed=False, indices=np.array(start), return_predecessors=True)
    here = int(np.where(np.isfinite(s), s, -1.0).argmax())
    if s[here] < 0.5 * tol.CRACK_LENGTH_MM:
        return None
    spine = []
    while here >= 0:
        spine.append(here)
        here = int(back[here])
    aside, _ = cKDTree(points[spine]).query(points)
    return s, np.isfinite(s) & (aside < tol.CRACK_WIDTH_MM[1] + 0.5 * reach_mm)


def _crack(
    walls: _Walls, s: FloatArray, deepest_mm: float, inside: bool, frame: Frame
) -> Crack | None:
    """Measure what lies along one way, or tell that it is no crack."""
    n = max(3, round(float(s.max()) / tol.CRACK_STATION_MM))
    station = np.minimum((s * n / max(float(s.max()), 1e-9)).astype(np.intp), n - 1)
    middle = _means(walls.points, station, n)
    for _ in range(2):
        # Across the crack at each sample, along the skin.
        along = unit(np.gradient(middle, axis=0))
        across = unit(np.cross(along[station], walls.out))
        aside = ((walls.points - middle[station]) * across).sum(axis=1)
        facing = (walls.normals * across).sum(axis=1)
        left, right = facing > 0.5, facing < -0.5
        counts = [np.bincount(station[side], minlength=n) for side in (left, right)]
        both = (counts[0] > 0) & (counts[1] > 0)
        if both.mean() < tol.CRACK_WALLS_SHARE:
            return None
        edges = [
            np.bincount(station[side], aside[side], minlength=n) / np.maximum(count, 1)
            for side, count in zip((left, right), counts, strict=True)
        ]
        shift = np.where(both, 0.5 * (edges[0] + edges[1]), 0.0)
        middle = middle + shift[:, None] * _means(across, station, n)
    wall = left | right
    opposed = float((facing[wall] * aside[wall] < 0).mean())
    width = float(np.median((edges[1] - edges[0])[both]))
    path = _with_ends(middle, walls.points, station)
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    length = float(steps.sum())
    if (
        opposed < tol.CRACK_OPPOSED
        or not tol.CRACK_WIDTH_MM[0] <= width <= tol.CRACK_WIDTH_MM[1]
        or length < max(tol.CRACK_LENGTH_MM, tol.CRACK_SLENDER * width)
        or deepest_mm < tol.CRACK_DEEP * width
    ):
        return None
    run = np.concatenate([[0.0], np.cumsum(steps)])
    x, y, z = (float(np.interp(0.5 * length, run, path[:, k])) for k in range(3))
    angle = float(np.degrees(np.arctan2(y, x))) % 360.0
    scan = np.linalg.inv(frame.vessel_from_scan)
    return Crack(
        length_mm=length,
        width_mm=width,
        inside=inside,
        clock=clock(angle),
        angle_deg=angle,
        height_mm=z,
        path_mm=path @ scan[:3, :3].T + scan[:3, 3],
    )


def _means(values: FloatArray, station: NDArray[np.intp], n: int) -> FloatArray:
    """Mean of the rows at each station, (n, 3); between its neighbours' where there is none."""
    count = np.bincount(station, minlength=n)
    there = np.flatnonzero(count)
    columns = []
    for k in range(3):
        total = np.bincount(station, values[:, k], minlength=n)
        columns.append(np.interp(np.arange(n), there, total[there] / count[there]))
    return np.stack(columns, axis=1)


def _with_ends(middle: FloatArray, points: FloatArray, station: NDArray[np.intp]) -> FloatArray:
    """Lead the line on at both ends to where the last sample lies."""
    ends = []
    for here, before in ((0, 1), (len(middle) - 1, len(middle) - 2)):
        ahead = unit(middle[here] - middle[before])
        far = float(((points[station == here] - middle[here]) @ ahead).max(initial=0.0))
        ends.append(middle[here] + far * ahead)
    return np.vstack([ends[0], middle, ends[1]])
