"""The triangles of a missing part, and what can be told of them without a vessel's frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.body.topology import edges_of
from lossfill.mesh import BoolArray, FloatArray, IntArray, Mesh, points_over
from lossfill.nearest import Surface
from lossfill.solids import Solid, from_original


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """The triangles of a missing part.

    Parameters
    ----------
    vertices : (V, 3) mm
    faces : (F, 3)
    vectors : (F, 3) area vectors, mm²
    centres : (F, 3) mm
    is_break : (F,) True on the break, False on the new skin
    """

    vertices: FloatArray
    faces: IntArray
    vectors: FloatArray
    centres: FloatArray
    is_break: BoolArray

    @property
    def areas(self) -> FloatArray:
        """Area of each triangle, (F,) mm²."""
        result: FloatArray = np.linalg.norm(self.vectors, axis=1)
        return result

    @property
    def looks_outward(self) -> BoolArray:
        """Triangles that look away from the vessel's axis, or the middle of the thing, (F,).

        The faces must stand in its frame.
        """
        outward: BoolArray = (self.vectors[:, :2] * self.centres[:, :2]).sum(axis=1) >= 0
        return outward

    @staticmethod
    def of(part: Solid, form_here: Solid, matrix: FloatArray | None = None) -> Faces:
        """Take a part apart.

        Parameters
        ----------
        form_here : the original solid that gave the part its skin
        matrix : (4, 4) rigid, to the coordinates that are wanted
        """
        raw = part.to_mesh64()
        vertices = raw.vert_properties[:, :3]
        if matrix is not None:
            vertices = vertices @ matrix[:3, :3].T + matrix[:3, 3]
        faces = raw.tri_verts.astype(np.int32)
        corners = vertices[faces]
        return Faces(
            vertices,
            faces,
            0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]),
            corners.mean(axis=1),
            ~from_original(raw, form_here.original_id(), len(faces)),
        )


def break_depth_mm(faces: Faces) -> float:
    """Distance of the break's deepest place from the new skin, mm."""
    if faces.is_break.all() or not faces.is_break.any():
        return 0.0
    skin = Surface(Mesh(faces.vertices, faces.faces[~faces.is_break]))
    breaks = Mesh(faces.vertices, faces.faces[faces.is_break])
    places = points_over(breaks, spacing_mm=tol.DEPTH_SPACING_MM)
    return float(np.quantile(skin.distance(places), 0.99))


def join_edges(faces: Faces) -> NDArray[np.int64]:
    """Edges between a skin triangle and a break triangle, (J, 2) vertex numbers."""
    edges = edges_of(faces.faces)
    one, other, _ = edges.pairs()
    mixed = faces.is_break[one] != faces.is_break[other]
    two = edges.uses == 2
    return np.column_stack([edges.low[two][mixed], edges.high[two][mixed]])


def ends_in_an_edge(faces: Faces, points: FloatArray, vectors: FloatArray) -> bool:
    """Tell whether the body's skin ends in an edge about a missing part.

    Where something broke off, skin and break meet at an edge. Where the form only strays from a
    body that is whole, or shows a knob that this one never had, the body's skin runs on beneath.

    Parameters
    ----------
    points, vectors : (N, 3) places on the body's surface about the part and their normals, or
        area vectors
    """
    ends = faces.vertices[join_edges(faces)]
    if len(ends) == 0:
        return False
    middles = ends.mean(axis=1)
    middles = middles[:: max(1, len(middles) // tol.JOIN_PLACES)]
    centres, inward = faces.centres[faces.is_break], -faces.vectors[faces.is_break]
    breaks = cKDTree(centres)
    # How far off the others are is not asked, which saves most of the search.
    bound = 0.5 * tol.BROKEN_EDGE_MM
    off_break = np.asarray(breaks.query(points, distance_upper_bound=bound)[0])
    beyond = np.isinf(off_break)
    points, vectors = points[beyond], vectors[beyond]
    if len(points) == 0:
        return True
    places = cKDTree(middles)
    at_break, one = _summed_near(places, breaks, inward, tol.BROKEN_EDGE_MM)
    at_skin, other = _summed_near(places, cKDTree(points), vectors, 2.0 * tol.BROKEN_EDGE_MM)
    known = at_break & at_skin
    size = np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
    sharp = known & ((one * other).sum(axis=1) < tol.BROKEN_EDGE_COSINE * size)
    return bool(known.any() and sharp.sum() > tol.BROKEN_EDGE_SHARE * known.sum())


def _summed_near(
    places: cKDTree, tree: cKDTree, vectors: FloatArray, reach_mm: float
) -> tuple[BoolArray, FloatArray]:
    """Whether anything of a tree lies within reach of each place, and the sum of its vectors."""
    pairs = places.sparse_distance_matrix(tree, reach_mm, output_type="ndarray")
    at, near = pairs["i"], pairs["j"]
    count = np.bincount(at, minlength=places.n)
    summed = [np.bincount(at, vectors[near, k], minlength=places.n) for k in range(3)]
    return count > 0, np.stack(summed, axis=1)


def join_length_mm(faces: Faces) -> float:
    """Length of the line where new skin and break meet, mm."""
    ends = faces.vertices[join_edges(faces)]
    return float(np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).sum())
