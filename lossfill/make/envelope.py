"""What a solid shadows along z: all that lies below it, and all that lies above it.

A half of a mould that is drawn off upwards must hold nothing below the piece, and one drawn off
downwards nothing above it. What neither may hold is the cavity: the piece, and with it whatever
lies between two parts of it one above the other.
"""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from lossfill import tolerances as tol
from lossfill.errors import BooleanError
from lossfill.mesh import FloatArray, Mesh, face_vectors
from lossfill.solids import Solid, checked, mesh_from_solid, solid_from_mesh

Ints = NDArray[np.int64]

_MIRROR = np.diag([1.0, 1.0, -1.0, 1.0])[:3]


def shadow_below(solid: Solid, floor_mm: float) -> Solid:
    """All that lies in a solid or straight below it, down to a level floor.

    Every patch of surface that looks up becomes the top of a prism that stands on the floor; their
    union keeps the solid's own triangles, so that nothing is lost to a grid.

    Parameters
    ----------
    floor_mm : z of the floor, lower than the solid

    Raises
    ------
    BooleanError
        Where the modeller fails.
    """
    mesh = mesh_from_solid(solid)
    vectors = face_vectors(mesh)
    # What stands within a hair of upright shadows nothing of a width that counts.
    up = vectors[:, 2] > tol.MOULD_UPRIGHT * np.linalg.norm(vectors, axis=1)
    prisms = [
        _prism(mesh.vertices, patch, floor_mm) for patch in _flat_patches(mesh, mesh.faces[up])
    ]
    if not prisms:
        raise BooleanError("a piece without any surface that looks along the pull has no mould")
    whole = manifold3d.Manifold.batch_boolean(prisms, manifold3d.OpType.Add)
    return checked(whole, "the shadow of the piece could not be joined")


def shadow_above(solid: Solid, ceiling_mm: float) -> Solid:
    """All that lies in a solid or straight above it, up to a level ceiling.

    Parameters
    ----------
    ceiling_mm : z of the ceiling, higher than the solid

    Raises
    ------
    BooleanError
        Where the modeller fails.
    """
    return shadow_below(solid.transform(_MIRROR), -ceiling_mm).transform(_MIRROR)


def _flat_patches(mesh: Mesh, faces: NDArray[np.int32]) -> list[tuple[Ints, Ints]]:
    """Connected patches none of which lies above itself: their (F, 3) faces and (F, 3) corners.

    Corners are numbered so that a place where a patch meets itself only in a point counts twice.
    """
    patches = []
    waiting = [faces.astype(np.int64)]
    while waiting:
        group = waiting.pop()
        corners, label = _connect(group, len(mesh.vertices))
        for number in range(int(label.max()) + 1):
            mine = label == number
            patch = group[mine]
            if len(patch) > 1 and _lies_above_itself(mesh.vertices, patch, corners[mine]):
                waiting += _halves(mesh.vertices, patch)
            else:
                patches.append((patch, corners[mine]))
    return patches


def _halves(vertices: FloatArray, patch: Ints) -> list[Ints]:
    """Part a patch that covers itself into two that do so less.

    A rough break folds over itself where it stands nearly upright, so that such triangles go first;
    what still does, like a spiral stair, is halved across its longer side.
    """
    corners = vertices[patch]
    vectors = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    steep = vectors[:, 2] < tol.MOULD_STEEP * np.linalg.norm(vectors, axis=1)
    if steep.any() and not steep.all():
        return [patch[steep], patch[~steep]]
    middles = corners.mean(axis=1)[:, :2]
    along = middles[:, int(np.argmax(np.ptp(middles, axis=0)))]
    order = np.argsort(along, kind="stable")
    half = len(order) // 2
    return [patch[order[:half]], patch[order[half:]]]


def _connect(faces: Ints, n_vertices: int) -> tuple[Ints, NDArray[np.int32]]:
    """Number the corners, (F, 3), and the patches, (F,), of triangles joined along edges."""
    n = 3 * len(faces)
    here = np.arange(n).reshape(-1, 3)
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    first, second = here.ravel(), np.roll(here, -1, axis=1).ravel()
    ahead, back = start * n_vertices + end, end * n_vertices + start
    order = np.argsort(ahead, kind="stable")
    at = np.searchsorted(ahead, back, sorter=order).clip(max=n - 1)
    other = order[at]
    met = ahead[other] == back
    # The edge runs a, b here and b, a there: here's first corner is there's second.
    rows = np.concatenate([first[met], second[met]])
    columns = np.concatenate([second[other[met]], first[other[met]]])
    _, corner = connected_components(_graph(rows, columns, n), directed=False)
    _, patch = connected_components(
        _graph(first[met] // 3, other[met] // 3, len(faces)), directed=False
    )
    return corner.astype(np.int64).reshape(-1, 3), patch


def _graph(rows: Ints, columns: Ints, n: int) -> coo_array:
    return coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(n, n))


def _border(corners: Ints) -> tuple[Ints, Ints]:
    """Edges of a patch that no other triangle of it shares, as (B,) starts and ends."""
    start, end = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
    n = int(corners.max()) + 1
    alone = ~np.isin(start * n + end, end * n + start)
    return start[alone], end[alone]


def _lies_above_itself(vertices: FloatArray, patch: Ints, corners: Ints) -> bool:
    """Whether a patch that looks up everywhere covers some place twice, seen from above."""
    a, b, c = (vertices[patch[:, k], :2] for k in range(3))
    area = 0.5 * float(((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]).sum())
    start, end = _border(corners)
    at = np.zeros((int(corners.max()) + 1, 2))
    at[corners.ravel()] = vertices[patch.ravel(), :2]
    following = dict(zip(start.tolist(), end.tolist(), strict=True))
    loops = []
    while following:
        first, here = following.popitem()
        loop = [first]
        while here != first:
            loop.append(here)
            here = following.pop(here)
        loops.append(at[loop])
    covered = manifold3d.CrossSection(loops, manifold3d.FillRule.Positive).area()
    return bool(area - covered > tol.MOULD_COVER_SHARE * area)


def _prism(vertices: FloatArray, patch: tuple[Ints, Ints], floor_mm: float) -> Solid:
    faces, corners = patch
    used, numbered = np.unique(corners, return_inverse=True)
    numbered = numbered.reshape(-1, 3)
    top = np.zeros((len(used), 3))
    top[numbered.ravel()] = vertices[faces.ravel()]
    bottom = top.copy()
    bottom[:, 2] = floor_mm
    start, end = _border(numbered)
    n = len(used)
    sides = [np.stack([end, start, start + n], axis=1), np.stack([end, start + n, end + n], axis=1)]
    triangles = np.concatenate([numbered, numbered[:, ::-1] + n, *sides]).astype(np.int32)
    return solid_from_mesh(Mesh(np.concatenate([top, bottom]), triangles))
