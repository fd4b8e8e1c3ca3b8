"""Sections of a bar, cut square to its line."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from lossfill import tolerances as tol
from lossfill.mesh import BoolArray, FloatArray, Mesh


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """A closed outline in which a plane meets a bar.

    Parameters
    ----------
    centre : (3,) middle of its area
    area_mm2 : what it holds, less its hollows
    hollow : whether it has an outline inside the other
    segments : (S, 2, 3) its outer outline in pieces, the bar on their left seen along the plane's
        normal
    faces : triangles that it passes through
    """

    centre: FloatArray
    area_mm2: float
    hollow: bool
    segments: FloatArray = field(repr=False)
    faces: NDArray[np.intp] = field(repr=False)


def cut_section(mesh: Mesh, point: FloatArray, normal: FloatArray) -> Section | None:
    """Cut a bar by a plane; of several outlines, the one nearest to the point.

    Returns None where the plane passes the bar by.
    """
    heights = (mesh.vertices - point) @ normal
    # Exactly on the plane is just above it, so that every outline closes.
    above: BoolArray = heights >= 0.0
    votes = above[mesh.faces]
    faces = np.flatnonzero(votes.any(axis=1) & ~votes.all(axis=1))
    if len(faces) == 0:
        return None
    corners, up = mesh.faces[faces], votes[faces]
    # Turned so that the corner alone on its side comes first.
    alone = np.where(up.sum(axis=1) == 1, up.argmax(axis=1), (~up).argmax(axis=1))
    corners = corners[np.arange(len(faces))[:, None], (alone[:, None] + np.arange(3)) % 3]
    ends, keys = [], []
    for k in (1, 2):
        low, high = (
            np.minimum(corners[:, 0], corners[:, k]),
            np.maximum(corners[:, 0], corners[:, k]),
        )
        share = heights[low] / (heights[low] - heights[high])
        a, b = mesh.vertices[low], mesh.vertices[high]
        ends.append(a + share[:, None] * (b - a))
        keys.append(low.astype(np.int64) * len(mesh.vertices) + high)
    segments = np.stack(ends, axis=1)
    # With the lone corner above, the outward side of the pair (first, second) is on the right.
    lone_up = up[np.arange(len(faces)), alone]
    segments[~lone_up] = segments[~lone_up][:, ::-1]
    names, at = np.unique(np.concatenate(keys), return_inverse=True)
    a, b = at[: len(faces)], at[len(faces) :]
    graph = coo_array((np.ones(len(a)), (a, b)), shape=(len(names), len(names)))
    label = connected_components(graph, directed=False)[1][a].astype(np.intp)
    return _nearest(segments, label, faces, point, normal)


def _nearest(
    segments: FloatArray,
    label: NDArray[np.intp],
    faces: NDArray[np.intp],
    point: FloatArray,
    normal: FloatArray,
) -> Section | None:
    """Outline nearest to the point, less those inside it."""
    n = int(label.max()) + 1
    local = segments - point
    twice = np.cross(local[:, 0], local[:, 1]) @ normal
    areas = 0.5 * np.bincount(label, twice, minlength=n)
    moment = (local.sum(axis=1) / 3.0) * twice[:, None]
    sums = 0.5 * np.stack([np.bincount(label, moment[:, k], minlength=n) for k in range(3)], axis=1)
    outer = np.flatnonzero(areas > 1e-9 * np.abs(areas).max())
    if len(outer) == 0:
        return None
    middles = sums[outer] / areas[outer, None]
    best = int(np.linalg.norm(middles, axis=1).argmin())
    chosen = int(outer[best])
    mine = label == chosen
    inside = [
        k for k in np.flatnonzero(areas < 0.0) if _holds(local[mine], local[label == k], normal)
    ]
    area = float(areas[chosen] + areas[inside].sum())
    middle = (sums[chosen] + sums[inside].sum(axis=0)) / max(area, 1e-300)
    hollow = bool(-areas[inside].sum() > 0.02 * areas[chosen])
    kept = mine | np.isin(label, inside)
    return Section(point + middle, area, hollow, segments[mine], faces[kept])


def _holds(outline: FloatArray, other: FloatArray, normal: FloatArray) -> bool:
    """Whether an outline goes round another, by its winding about one of the other's points."""
    a, b = outline[:, 0] - other[0, 0], outline[:, 1] - other[0, 0]
    turn = np.arctan2(np.cross(a, b) @ normal, (a * b).sum(axis=1))
    return bool(abs(turn.sum()) > np.pi)


def radii(
    section: Section, centre: FloatArray, side: FloatArray, third: FloatArray
) -> tuple[FloatArray, float]:
    """Radius of a section by angle from one side to the third direction.

    Returns
    -------
    radius : (A,) mm about the given centre, the farthest where a ray meets the outline twice
    covered : the section's area over the area so described, 1 where every ray meets it once
    """
    angles = 2 * np.pi * np.arange(tol.SECTION_ANGLES) / tol.SECTION_ANGLES
    flat = np.stack([(section.segments - centre) @ side, (section.segments - centre) @ third], -1)
    rays = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    a, step = flat[:, 0], flat[:, 1] - flat[:, 0]
    across = rays[:, None, 0] * step[None, :, 1] - rays[:, None, 1] * step[None, :, 0]
    far = (a[:, 0] * step[:, 1] - a[:, 1] * step[:, 0])[None] / np.where(
        across == 0, np.inf, across
    )
    share = (a[None, :, 0] * rays[:, None, 1] - a[None, :, 1] * rays[:, None, 0]) / np.where(
        across == 0, np.inf, across
    )
    met = (share >= -1e-9) & (share <= 1 + 1e-9) & (across != 0)
    radius = np.where(met, far, 0.0).max(axis=1)
    around = np.sin(2 * np.pi / len(angles)) * 0.5
    described = around * float((radius * np.roll(radius, -1)).sum())
    outer = 0.5 * float(np.abs((a[:, 0] * flat[:, 1, 1] - a[:, 1] * flat[:, 1, 0]).sum()))
    return radius, min(outer, described) / max(outer, described, 1e-300)
