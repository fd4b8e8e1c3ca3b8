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
from lossfill.make.layers import layers
from lossfill.mesh import FloatArray, Mesh, face_vectors
from lossfill.solids import Solid, checked, mesh_from_solid, solid_from_mesh

Ints = NDArray[np.int64]

_MIRROR = np.diag([1.0, 1.0, -1.0, 1.0])[:3]


def shadow_below(solid: Solid, floor_mm: float) -> Solid:
    """All that lies in a solid or straight below it, down to a level floor.

    Each layer of the surface that looks up becomes the top of a prism that stands on the floor;
    their union keeps the solid's own triangles, so that nothing is lost to a grid.

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
    faces = mesh.faces[up].astype(np.int64)
    prisms = [
        _prism(mesh.vertices, faces[layer], floor_mm) for layer in layers(mesh.vertices[faces])
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


def _corners(faces: Ints, n_vertices: int) -> Ints:
    """Number the corners of triangles, (F, 3).

    A place where they meet only in a point, not along an edge, counts as often as it is met.
    """
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
    joined = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(n, n))
    _, corner = connected_components(joined, directed=False)
    return corner.astype(np.int64).reshape(-1, 3)


def _border(corners: Ints) -> tuple[Ints, Ints]:
    """Edges of a patch that no other triangle of it shares, as (B,) starts and ends."""
    start, end = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
    n = int(corners.max()) + 1
    alone = ~np.isin(start * n + end, end * n + start)
    return start[alone], end[alone]


def _prism(vertices: FloatArray, faces: Ints, floor_mm: float) -> Solid:
    """All that lies below a layer of triangles."""
    used, numbered = np.unique(_corners(faces, len(vertices)), return_inverse=True)
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
