"""The one type in which triangles cross a stage border."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles in millimetres, checked once when made and read-only after that.

    Parameters
    ----------
    vertices : (V, 3) float64, mm
    faces : (F, 3) int32, counter-clockwise seen from outside
    colours : (V, 3) uint8 or None, sRGB, for pictures only

    Raises
    ------
    InputError
        For a wrong shape, no triangle, a coordinate that is not finite, or an index out of range.
    """

    vertices: FloatArray
    faces: IntArray
    colours: NDArray[np.uint8] | None = None

    def __post_init__(self) -> None:
        vertices = np.ascontiguousarray(self.vertices, dtype=np.float64)
        if vertices.ndim != 2 or vertices.shape[1] != 3:
            raise InputError(f"points must come as rows of x, y, z; got shape {vertices.shape}")
        faces = np.ascontiguousarray(self.faces)
        if faces.ndim != 2 or faces.shape[1] != 3 or len(faces) == 0:
            raise InputError("the mesh holds no triangle: export the scan again as a surface mesh")
        # Checked before the narrowing to 32 bits, which would wrap a wild index into range.
        if int(faces.min()) < 0 or int(faces.max()) >= len(vertices):
            raise InputError(
                f"a triangle points to vertex {int(faces.max())} of {len(vertices)}: "
                "the file is damaged; export it again"
            )
        if not np.isfinite(vertices).all():
            bad = int((~np.isfinite(vertices).all(axis=1)).sum())
            raise InputError(
                f"{bad} of {len(vertices)} points have no finite position (NaN or infinity): "
                "export the scan again"
            )
        object.__setattr__(self, "vertices", _read_only(vertices))
        object.__setattr__(self, "faces", _read_only(faces.astype(np.int32, copy=False)))
        if self.colours is not None:
            colours = np.ascontiguousarray(self.colours, dtype=np.uint8)
            if colours.shape != (len(vertices), 3):
                raise InputError(f"colours must be one RGB row per point; got {colours.shape}")
            object.__setattr__(self, "colours", _read_only(colours))

    @property
    def bounds(self) -> FloatArray:
        """Lowest and highest corner, (2, 3) mm."""
        # By columns, which is many times quicker than along the short axis.
        columns = [self.vertices[:, k] for k in range(3)]
        return np.array([[c.min() for c in columns], [c.max() for c in columns]])

    @property
    def diagonal_mm(self) -> float:
        """Length of the bounding box's diagonal, mm."""
        low, high = self.bounds
        return float(np.linalg.norm(high - low))


def face_vectors(mesh: Mesh) -> FloatArray:
    """Area vector of each triangle, (F, 3) mm²: along the outward normal, as long as the area."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    return 0.5 * np.cross(b - a, c - a)


def area_mm2(mesh: Mesh) -> float:
    """Area of all its triangles, mm²."""
    return float(np.linalg.norm(face_vectors(mesh), axis=1).sum())


def centres(mesh: Mesh) -> FloatArray:
    """The middle of each triangle, (F, 3) mm."""
    middles: FloatArray = mesh.vertices[mesh.faces].mean(axis=1)
    return middles


def part_of(mesh: Mesh, chosen: BoolArray) -> Mesh:
    """Some of its triangles, (F,) True for those, with the vertices that they use."""
    used, numbered = np.unique(mesh.faces[chosen], return_inverse=True)
    return Mesh(mesh.vertices[used], numbered.reshape(-1, 3).astype(np.int32))


def rounding_mm3(mesh: Mesh, *, roundings: float) -> float:
    """Volume that two solids may come to share by rounding to 32-bit numbers alone.

    Rounding moves each coordinate by at most half the spacing s of float32 at the largest
    coordinate, so each point of the surface by at most sqrt(3)/2 s. A surface of area A that
    moves by no more than d sweeps no more than A d (to first order; d is 1e-5 mm). Hence
    A s sqrt(3)/2 for each rounding.

    Parameters
    ----------
    mesh : the one of the two that is rounded, mm
    roundings : how often its numbers were rounded
    """
    spacing_mm = float(np.spacing(np.float32(np.abs(mesh.vertices).max())))
    return area_mm2(mesh) * spacing_mm * math.sqrt(3.0) / 2.0 * roundings


def unit(vectors: FloatArray) -> FloatArray:
    """Vectors (..., D) divided by their lengths; zero stays zero."""
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    result: FloatArray = vectors / np.maximum(length, 1e-300)
    return result


def signed_volume_mm3(mesh: Mesh) -> float:
    """Volume by the divergence theorem, mm³; negative where the triangles face inwards."""
    # Measured from the middle of the box, or the sum of large terms loses digits far from 0.
    origin = mesh.bounds.mean(axis=0)
    a, b, c = (mesh.vertices[mesh.faces[:, k]] - origin for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def transformed(mesh: Mesh, matrix: FloatArray) -> Mesh:
    """Return the mesh moved by a (4, 4) rigid or mirrored transform; winding stays outward."""
    vertices = mesh.vertices @ matrix[:3, :3].T + matrix[:3, 3]
    faces = mesh.faces if np.linalg.det(matrix[:3, :3]) > 0 else mesh.faces[:, ::-1]
    return Mesh(vertices, faces, mesh.colours)


def vertex_normals(mesh: Mesh) -> FloatArray:
    """Unit normal at each vertex, (V, 3), of the triangles about it by their area."""
    vectors = face_vectors(mesh)
    total = np.zeros_like(mesh.vertices)
    for axis in range(3):
        for corner in range(3):
            total[:, axis] += np.bincount(
                mesh.faces[:, corner], vectors[:, axis], minlength=len(total)
            )
    return unit(total)


def ring_area_mm2(ring: FloatArray) -> float:
    """Signed area of a flat ring (N, 2), mm²: positive counter-clockwise, negative for a hole."""
    x, y = ring[:, 0], ring[:, 1]
    return 0.5 * float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def extents(points: FloatArray) -> FloatArray:
    """Extents of a cloud along its own axes, (3,) mm, the largest first."""
    centred = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    return np.sort(np.ptp(centred @ axes, axis=0))[::-1]


def points_over(mesh: Mesh, *, spacing_mm: float) -> FloatArray:
    """Points on every triangle no farther apart than the spacing, (N, 3)."""
    corners = mesh.vertices[mesh.faces]
    steps = np.maximum(steps_over(corners, spacing_mm), 1)
    found = [mesh.vertices[np.unique(mesh.faces)]]
    for n in np.unique(steps[steps > 1]):
        found.append(grids_over(corners[steps == n], n).reshape(-1, 3))
    return np.concatenate(found)


def spread_by_area(
    mesh: Mesh, n: int, rng: np.random.Generator
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Places spread evenly by area over a mesh, (n, 3) mm, and the triangle of each, (n,)."""
    area = np.linalg.norm(face_vectors(mesh), axis=1)
    # One place in each n-th of the area: closer to even than places drawn each for itself.
    at = (np.arange(n) + rng.random(n)) / n * area.sum()
    which = np.minimum(np.searchsorted(np.cumsum(area), at), len(area) - 1)
    u, v = rng.random((2, n))
    # The root makes them even over a triangle; without it they crowd at its first corner.
    u = np.sqrt(u)
    weights = np.stack([1 - u, u * (1 - v), u * v], axis=1)
    places: FloatArray = np.einsum("nk,nkx->nx", weights, mesh.vertices[mesh.faces[which]])
    return places, which


def steps_over(corners: FloatArray, spacing_mm: float) -> NDArray[np.intp]:
    """Steps along the sides of triangles (F, 3, 3) that are no longer than the spacing, (F,)."""
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    result: NDArray[np.intp] = np.ceil(sides / spacing_mm).astype(np.intp)
    return result


def grids_over(corners: FloatArray, steps: int) -> FloatArray:
    """Even grids of points on triangles (F, 3, 3), corners and sides included, (F, K, 3)."""
    i, j = (k.ravel() for k in np.meshgrid(np.arange(steps + 1), np.arange(steps + 1)))
    i, j = i[i + j <= steps], j[i + j <= steps]
    weights = np.stack([i, j, steps - i - j], axis=1) / steps
    result: FloatArray = np.einsum("kb,fbx->fkx", weights, corners)
    return result


def _read_only(array: NDArray[np.generic]) -> NDArray[np.generic]:
    if array.flags.writeable:
        # A view, so that the caller's own array keeps its flag.
        array = array.view()
        array.flags.writeable = False
    return array
