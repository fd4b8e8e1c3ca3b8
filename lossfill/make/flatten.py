"""Skins laid flat: exactly where they follow a cone about the axis, else with least stretch.

The least stretch is as rigid as possible: each triangle is turned to fit the plane, then all
points are placed so that the triangles' edges agree best, and again until nothing moves (Liu,
Zhang, Xu, Gotsman, Gortler: A local/global approach to mesh parameterization, 2008).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import factorized

from lossfill import tolerances as tol
from lossfill.mesh import FloatArray, IntArray, Mesh


@dataclass(frozen=True, slots=True, eq=False)
class Cone:
    """The cone about the axis that fits a skin best; a cylinder and a level disc are cones too.

    Parameters
    ----------
    middle : (2,) r and z of a point on it
    slope : (2,) unit, along it in r and z, upwards (outwards where it is level)
    off_mm : largest distance of the skin from it
    """

    middle: FloatArray
    slope: FloatArray
    off_mm: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """How a skin was changed by laying it flat.

    Parameters
    ----------
    largest_percent : largest change of any length, over all but a small share of the area
    mean_percent : its mean over the area
    area_percent : change of the whole area
    folded_share : share of the area that came out turned over
    """

    largest_percent: float
    mean_percent: float
    area_percent: float
    folded_share: float


def fit_cone(points: FloatArray) -> Cone:
    """Fit a cone about the axis to points (N, 3) of a skin."""
    section = np.stack([np.hypot(points[:, 0], points[:, 1]), points[:, 2]], axis=1)
    # Halfway between the extremes and not the mean, for the worst distance is what counts.
    middle = section.mean(axis=0)
    slope = np.linalg.svd(section - middle, full_matrices=False)[2][0]
    if slope[1] < -1e-9 or (abs(slope[1]) <= 1e-9 and slope[0] < 0.0):
        slope = -slope
    normal = np.array([slope[1], -slope[0]])
    aside = (section - middle) @ normal
    shift = 0.5 * (aside.max() + aside.min())
    return Cone(middle + shift * normal, slope, float(np.abs(aside - shift).max()))


def unrolled(cone: Cone, points: FloatArray, turns: FloatArray) -> FloatArray:
    """Unroll points about their cone, (N, 2) mm: x around and y along, as seen from outside.

    Parameters
    ----------
    turns : (N,) angle of each about the axis from the middle, radians
    """
    section = np.stack([np.hypot(points[:, 0], points[:, 1]), points[:, 2]], axis=1)
    along = (section - cone.middle) @ cone.slope
    opening = cone.slope[0]
    if abs(opening) < 1e-7:
        return np.stack([cone.middle[0] * turns, along], axis=1)
    # Distance from the apex, negative where the cone narrows upwards: one formula serves for both.
    slant = cone.middle[0] / opening
    reach, turn = slant + along, turns * opening
    # 2 sin² instead of 1 - cos, which loses its digits where the cone is nearly a cylinder.
    y = along - 2.0 * reach * np.sin(0.5 * turn) ** 2
    return np.stack([reach * np.sin(turn), y], axis=1)


def flat_triangles(mesh: Mesh) -> FloatArray:
    """Each triangle laid flat by itself, (F, 3, 2), its first corner at the origin."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    base = np.maximum(np.linalg.norm(b - a, axis=1), tol.WRAP_THIN_MM)
    ahead = (b - a) / base[:, None]
    along = ((c - a) * ahead).sum(axis=1)
    height = np.linalg.norm((c - a) - along[:, None] * ahead, axis=1)
    flat = np.zeros((len(mesh.faces), 3, 2))
    flat[:, 1, 0] = base
    flat[:, 2, 0] = along
    flat[:, 2, 1] = np.maximum(height, tol.WRAP_THIN_MM)
    return flat


def flattened(mesh: Mesh, start: FloatArray) -> FloatArray:
    """Lay a mesh flat with least stretch, (V, 2) mm.

    Parameters
    ----------
    mesh : one open patch without holes in its joins, all its points used
    start : (V, 2) where to begin, no triangle turned over
    """
    flat, faces = flat_triangles(mesh), mesh.faces
    edges = np.roll(flat, -1, axis=1) - flat
    weights = _cotangents(flat)
    solve = factorized(_stiffness(faces, weights, len(start)))
    places = start
    for _ in range(tol.WRAP_STEPS):
        moved = _one_step(faces, edges, weights, places, solve)
        change = np.abs(moved - places).max()
        places = moved
        if change < tol.WRAP_SETTLED_MM:
            break
    return places


def harmonic(mesh: Mesh, rim: IntArray) -> FloatArray:
    """Spread a mesh over a disc so that no triangle is turned over, (V, 2) (Tutte, 1963).

    Parameters
    ----------
    rim : (N,) vertices around its border, counter-clockwise
    """
    n = len(mesh.vertices)
    steps = np.linalg.norm(np.diff(mesh.vertices[np.append(rim, rim[0])], axis=0), axis=1)
    turns = 2.0 * np.pi * np.concatenate([[0.0], np.cumsum(steps)[:-1]]) / steps.sum()
    places = np.zeros((n, 2))
    places[rim] = steps.sum() / (2.0 * np.pi) * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    inside = np.setdiff1d(np.arange(n), rim)
    if len(inside):
        matrix = csc_array(_stiffness(mesh.faces, np.ones((len(mesh.faces), 3)), n, pin=False))
        solve = factorized(csc_array(matrix[inside][:, inside]))
        pull = -matrix[inside][:, rim] @ places[rim]
        places[inside] = np.stack([solve(pull[:, k]) for k in range(2)], axis=1)
    return places


def stretch(mesh: Mesh, places: FloatArray) -> Stretch:
    """Measure how laying flat changed lengths and areas."""
    flat = flat_triangles(mesh)
    before = np.stack([flat[:, 1], flat[:, 2]], axis=2)
    corners = places[mesh.faces]
    after = np.stack([corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]], axis=2)
    change = after @ np.linalg.inv(before)
    values = np.linalg.svd(change, compute_uv=False)
    area = 0.5 * np.linalg.det(before)
    worst = np.maximum(values[:, 0] - 1.0, 1.0 - values[:, 1])
    order = np.argsort(worst)
    share = np.cumsum(area[order]) / area.sum()
    kept = min(int(np.searchsorted(share, 1.0 - tol.WRAP_TAIL_SHARE)), len(order) - 1)
    folded = np.linalg.det(change) <= 0.0
    return Stretch(
        largest_percent=100.0 * float(worst[order[kept]]),
        mean_percent=100.0 * float(np.average(worst, weights=area)),
        area_percent=100.0 * float((values.prod(axis=1) * area).sum() / area.sum() - 1.0),
        folded_share=float(area[folded].sum() / area.sum()),
    )


def _cotangents(flat: FloatArray) -> FloatArray:
    """Half the cotangent of the angle across from each edge, (F, 3); edge k runs from corner k."""
    result = np.empty(flat.shape[:2])
    for k in range(3):
        top = flat[:, (k + 2) % 3]
        a, b = flat[:, k] - top, flat[:, (k + 1) % 3] - top
        result[:, k] = 0.5 * (a * b).sum(axis=1) / (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    return result


def _stiffness(faces: IntArray, weights: FloatArray, n: int, *, pin: bool = True) -> csc_array:
    """The edges' weights as a Laplacian; one point is held, or the whole could slide."""
    i, j, w = faces.ravel(), np.roll(faces, -1, axis=1).ravel(), weights.ravel()
    rows, columns = np.concatenate([i, j, i, j]), np.concatenate([i, j, j, i])
    values = np.concatenate([w, w, -w, -w])
    if pin:
        rows, columns = np.append(rows, 0), np.append(columns, 0)
        values = np.append(values, np.abs(w).mean())
    return csc_array(coo_array((values, (rows, columns)), shape=(n, n)))


def _one_step(
    faces: IntArray,
    edges: FloatArray,
    weights: FloatArray,
    places: FloatArray,
    solve: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    """Turn each triangle to fit, then place all points so that the edges agree best."""
    corners = places[faces]
    now = np.roll(corners, -1, axis=1) - corners
    spread = np.swapaxes(weights[..., None] * now, 1, 2) @ edges
    turn = np.arctan2(spread[:, 1, 0] - spread[:, 0, 1], spread[:, 0, 0] + spread[:, 1, 1])
    c, s = np.cos(turn), np.sin(turn)
    turned = np.stack([c, s], axis=1)[:, None] * edges[..., :1]
    turned += np.stack([-s, c], axis=1)[:, None] * edges[..., 1:]
    turned *= weights[..., None]
    pull = np.zeros_like(places)
    i, j = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    for k in range(2):
        wanted = turned[..., k].ravel()
        pull[:, k] = np.bincount(j, wanted, len(places)) - np.bincount(i, wanted, len(places))
    # One point is held at the origin, so that the whole is put back where it was.
    moved = np.stack([solve(pull[:, k]) for k in range(2)], axis=1)
    result: FloatArray = moved - moved.mean(axis=0) + places.mean(axis=0)
    return result
