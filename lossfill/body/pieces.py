"""Closed parts: turned outward, hollows kept, touching sherds joined, strangers refused."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np

from lossfill.body.debris import Parts, parts_of
from lossfill.body.topology import label_faces
from lossfill.errors import InputError
from lossfill.mesh import BoolArray, FloatArray, IntArray, Mesh
from lossfill.solids import checked


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """One solid out of closed parts.

    Parameters
    ----------
    vertices, faces, patched : its triangles
    n_turned : triangles that were turned over to face outward
    n_joined : sherds that were joined to the largest
    """

    vertices: FloatArray
    faces: IntArray
    patched: BoolArray
    n_turned: int
    n_joined: int


def refuse_far_apart(low: FloatArray, high: FloatArray) -> None:
    """Refuse parts whose boxes, from `low` to `high` (P, 3) mm, lie apart: separate objects.

    Raises
    ------
    InputError
        With the number of objects and the sizes of the two largest.
    """
    extent = np.linalg.norm(high - low, axis=1)
    largest = int(np.argmax(extent))
    apart = ((low > high[largest]) | (high < low[largest])).any(axis=1)
    if apart.any():
        raise _separate(1 + int(apart.sum()), float(extent[largest]), float(extent[apart].max()))


def settle(vertices: FloatArray, faces: IntArray, patched: BoolArray) -> Settled:
    """Turn closed, consistently wound parts outward and make one solid's surface of them.

    Raises
    ------
    InputError
        Where the parts are separate objects.
    """
    parts = parts_of(vertices, faces, *label_faces(faces, len(vertices)))
    volume = _volumes(vertices, faces, parts)
    largest = int(np.argmax(parts.extent_mm))
    turn = np.full(len(volume), volume[largest] < 0.0)
    volume = np.where(turn, -volume, volume)
    outer = Mesh(vertices, faces[parts.label == largest])
    is_hollow = np.zeros(len(volume), dtype=np.bool_)
    for part in np.flatnonzero(volume < 0.0):
        points = vertices[faces[parts.label == part].ravel()]
        # A sherd that overlaps the largest part is partly inside as well; a hollow is wholly. The
        # largest part faces inward where the whole scan does, hence the absolute value.
        extremes = points[np.concatenate([points.argmin(axis=0), points.argmax(axis=0)])]
        is_hollow[part] = all(abs(winding_number(outer, point)) > 0.5 for point in extremes)
        turn[part] ^= not is_hollow[part]
    turned = turn[parts.label]
    faces = np.where(turned[:, None], faces[:, ::-1], faces)
    pieces = np.flatnonzero(~is_hollow)
    if len(pieces) == 1:
        return Settled(vertices, faces, patched, int(turned.sum()), 0)
    joined = _union(vertices, faces, patched, parts, is_hollow, largest)
    return Settled(*joined, int(turned.sum()), len(pieces) - 1)


def winding_number(mesh: Mesh, point: FloatArray) -> float:
    """How often closed triangles go round a point: 1 inside, 0 outside (Van Oosterom–Strackee)."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]] - point for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    triple = np.einsum("ij,ij->i", a, np.cross(b, c))
    below = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return float(np.arctan2(triple, below).sum() / (2.0 * np.pi))


def _volumes(vertices: FloatArray, faces: IntArray, parts: Parts) -> FloatArray:
    # From the middle of each part's own box, or large terms cancel and digits are lost.
    origin = (0.5 * (parts.low + parts.high))[parts.label]
    a, b, c = (vertices[faces[:, k]] - origin for k in range(3))
    sixth = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    return np.bincount(parts.label, sixth, len(parts.area_mm2)).astype(np.float64)


def _union(
    vertices: FloatArray,
    faces: IntArray,
    patched: BoolArray,
    parts: Parts,
    is_hollow: BoolArray,
    largest: int,
) -> tuple[FloatArray, IntArray, BoolArray]:
    owner = np.where(is_hollow, largest, np.arange(len(is_hollow)))[parts.label]
    solids = []
    for piece in np.unique(owner):
        chosen = np.flatnonzero(owner == piece)
        mesh = manifold3d.Mesh64(
            vertices, faces[chosen].astype(np.uint64), face_id=chosen.astype(np.uint64)
        )
        solids.append(checked(manifold3d.Manifold(mesh), "a sherd's surface is not closed"))
    whole = manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add)
    checked(whole, "the sherds could not be joined")
    bodies = [part for part in whole.decompose() if part.volume() > 0.0]
    if len(bodies) > 1:
        sizes = sorted((_extent(part) for part in bodies), reverse=True)
        raise _separate(len(bodies), sizes[0], sizes[1])
    raw = whole.to_mesh64()
    return (
        np.ascontiguousarray(raw.vert_properties[:, :3]),
        raw.tri_verts.astype(np.int32),
        patched[np.asarray(raw.face_id, dtype=np.int64)],
    )


def _extent(solid: manifold3d.Manifold) -> float:
    box = np.array(solid.bounding_box()).reshape(2, 3)
    return float(np.linalg.norm(box[1] - box[0]))


def _separate(count: int, first_mm: float, second_mm: float) -> InputError:
    return InputError(
        f"the file holds {count} separate objects ({first_mm:.0f} and {second_mm:.0f} mm across) "
        "that do not share material: keep one vessel per file, or let its sherds overlap by a "
        "little where they are joined"
    )
