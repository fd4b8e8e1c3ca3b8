"""Which openings are scan holes that may be closed, and how; the rest are left for a person.

A scan hole is where the scanner did not see: a pinhole, the patch that stood on the turntable, a
patch of wall in shadow. What must never be closed is the mouth of a vessel that was scanned from
outside only: that would turn it into a solid lump.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from lossfill.body.patch import Patch, Rim, bent_patch, flat_patch, inside, least_area_patch, rim_of
from lossfill.body.topology import Edges, boundary_loops, used_vertices
from lossfill.mesh import FloatArray, IntArray
from lossfill.tolerances import (
    CAP_AREA,
    CAP_DEPTH,
    CAP_HOLLOW,
    CAP_SOLID,
    PATCH_FACING,
    PATCH_FACING_BENT,
    PATCH_WIDTH,
    PINHOLE_WIDTH,
    SHORT_RIM_EDGES,
    SHORT_RIM_WIDTH,
)

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

OUTLINE_POINTS = 20_000
"""Vertices that outlines and hulls are taken from; their error is far below the limits used."""

DEPTH_RAYS = 24
"""Rays that look behind a flat opening."""


@dataclass(frozen=True, slots=True)
class Closed:
    """One opening that was closed.

    Parameters
    ----------
    how : a sentence fragment for people
    place_mm : its middle
    width_mm : its extent
    normal : (3,) out of the material
    """

    how: str
    place_mm: FloatArray
    width_mm: float
    normal: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Closing:
    """The surface after its scan holes were closed.

    Parameters
    ----------
    vertices, faces : the surface as given, with new vertices and triangles at the end
    n_added : number of new triangles
    closed : the openings that were closed, widest first
    left : the openings that were not, widest first
    """

    vertices: FloatArray
    faces: IntArray
    n_added: int
    closed: tuple[Closed, ...]
    left: tuple[Rim, ...]


def close_openings(vertices: FloatArray, faces: IntArray, edges: Edges) -> Closing:
    """Close every opening of a consistently wound surface that is a scan hole."""
    surface = _Surface(vertices, faces, edges)
    rims = [rim_of(vertices, loop) for loop in boundary_loops(faces, edges)]
    rims.sort(key=lambda rim: -rim.width_mm)
    patches: list[Patch] = []
    closed: list[Closed] = []
    flat: list[Rim] = []
    left: list[Rim] = []
    for rim in rims:
        how, patch = _wall_patch(surface, rim)
        if patch is not None:
            patches.append(patch)
            closed.append(Closed(how, rim.centre, rim.width_mm, rim.axes[2]))
        elif rim.is_flat:
            flat.append(rim)
        else:
            left.append(rim)
    with_walls = _joined(surface, patches)
    for group in _of_one_plane(flat):
        cap = flat_patch(group)
        if _may_cap(surface, with_walls, group, cap):
            patches.append(cap)
            outer = group[0]
            closed.append(
                Closed("closed a flat scan hole", outer.centre, outer.width_mm, outer.axes[2])
            )
        else:
            left.extend(group)
    closed.sort(key=lambda hole: -hole.width_mm)
    left.sort(key=lambda rim: -rim.width_mm)
    new_vertices, new_faces = _joined(surface, patches)
    return Closing(new_vertices, new_faces, len(new_faces) - len(faces), tuple(closed), tuple(left))


def face_to_face(closed: tuple[Closed, ...]) -> list[tuple[Closed, Closed]]:
    """Find pairs of closed openings that lie opposite each other through the wall.

    That is what a through loss looks like when its break was not scanned.
    """
    wide = [hole for hole in closed[:50] if hole.width_mm > 5.0]
    return [
        (one, other)
        for at, one in enumerate(wide)
        for other in wide[at + 1 :]
        if float(one.normal @ other.normal) < -0.7
        and np.linalg.norm(one.place_mm - other.place_mm) < 0.75 * one.width_mm
    ]


@dataclass(slots=True)
class _Surface:
    """The surface around the openings, with what is costly and only sometimes needed."""

    vertices: FloatArray
    faces: IntArray
    edges: Edges
    points: FloatArray = field(init=False)
    diagonal_mm: float = field(init=False)
    _border: tuple[np.ndarray, np.ndarray] | None = None
    _skin: tuple[cKDTree, FloatArray, FloatArray] | None = None

    def __post_init__(self) -> None:
        self.points = self.vertices[used_vertices(self.faces, len(self.vertices))]
        self.diagonal_mm = float(np.linalg.norm(np.ptp(self.points, axis=0)))

    def facing(self, rim: Rim) -> float:
        """Mean cosine between the opening's normal and the triangles along its rim."""
        stride = len(self.vertices)
        if self._border is None:
            half = self.edges.halves[self.edges.first[self.edges.uses == 1]]
            face, corner = np.divmod(half, 3)
            key = self.faces[face, (corner + 1) % 3].astype(np.int64) * stride
            key += self.faces[face, corner]
            order = np.argsort(key)
            self._border = key[order], face[order]
        keys, border_faces = self._border
        wanted = rim.loop.astype(np.int64) * stride + np.roll(rim.loop, -1)
        a, b, c = (
            self.vertices[self.faces[border_faces[np.searchsorted(keys, wanted)], k]]
            for k in range(3)
        )
        normal = np.cross(b - a, c - a)
        length = np.linalg.norm(normal, axis=1)
        # Weighted by rim length: long triangles count for the rim that they hold, not their area.
        step = np.linalg.norm(rim.points - np.roll(rim.points, -1, axis=0), axis=1)
        cosine = normal @ rim.axes[2] / np.where(length > 0.0, length, 1.0)
        return float((cosine * step).sum() / step.sum())

    def around(self, rim: Rim) -> FloatArray:
        """Skin near the rim that runs on across the opening, (M, 3) mm."""
        from scipy.spatial import cKDTree

        if self._skin is None:
            a, b, c = (self.vertices[self.faces[:, k]] for k in range(3))
            centre = (a + b + c) / 3.0
            self._skin = cKDTree(centre), centre, np.cross(b - a, c - a)
        tree, centre, normal = self._skin
        near = np.array(tree.query_ball_point(rim.centre, 0.85 * rim.width_mm), dtype=np.int64)
        if len(near) == 0:
            return np.empty((0, 3))
        # The other side of the wall faces away; a floor at the wall's foot faces across.
        along = normal[near] @ rim.axes[2]
        skin: FloatArray = centre[near[along > 0.5 * np.linalg.norm(normal[near], axis=1)]]
        return skin


def _wall_patch(surface: _Surface, rim: Rim) -> tuple[str, Patch | None]:
    """Close an opening in a wall or a pinhole anywhere; None where it is neither."""
    relative = rim.width_mm / surface.diagonal_mm
    if rim.simple and relative <= PATCH_WIDTH:
        facing = surface.facing(rim)
        if facing >= PATCH_FACING or (not rim.is_flat and facing >= PATCH_FACING_BENT):
            return "closed a scan hole in a wall", bent_patch(rim, surface.around(rim))
    if rim.is_flat and relative > PINHOLE_WIDTH:
        return "", None
    if len(rim.loop) <= SHORT_RIM_EDGES and relative <= SHORT_RIM_WIDTH:
        patch = flat_patch([rim]) if rim.is_flat else least_area_patch(rim)
        return "closed a small scan hole", patch
    return "", None


def _of_one_plane(rims: list[Rim]) -> list[list[Rim]]:
    """Group rims that lie in one plane inside each other, as both rims of a ring do."""
    groups: list[list[Rim]] = []
    for rim in rims:
        for group in groups:
            outer = group[0]
            flat = outer.laid_out(rim.points)
            # The inner rim of a ring runs the other way round, so its normal is opposite.
            opposite = float(outer.axes[2] @ rim.axes[2]) < -0.95
            level = float(np.abs(flat[:, 2]).max()) <= outer.flat_mm
            outline = outer.laid_out(outer.points)[:, :2]
            if opposite and level and inside(outline, flat[:1, :2]).all():
                group.append(rim)
                break
        else:
            groups.append([rim])
    return groups


def _may_cap(
    surface: _Surface, with_walls: tuple[FloatArray, IntArray], group: list[Rim], cap: Patch
) -> bool:
    """Decide whether a flat patch closes a scan hole, or the mouth of half a scan."""
    outer = group[0]
    area = outer.area_mm2 - sum(rim.area_mm2 for rim in group[1:])
    points = surface.points[:: max(1, len(surface.points) // OUTLINE_POINTS)]
    flat = outer.laid_out(points)
    is_small = area <= CAP_AREA * _hull(flat[:, :2])
    if len(group) > 1:
        # A ring has no mouth to cap by mistake: material shows on both sides of it.
        return is_small
    if _depth_behind(surface, outer) > CAP_DEPTH * outer.width_mm:
        return False
    vertices, faces = with_walls
    volume = abs(_volume(vertices, np.concatenate([faces, cap.triangles])))
    return volume <= (CAP_SOLID if is_small else CAP_HOLLOW) * _hull(points)


def _depth_behind(surface: _Surface, rim: Rim) -> float:
    """Depth of the material behind the middle of a flat opening, mm; infinite where there is none.

    Rays run along the opening's normal; the deep ones count, as a flared mouth is shallow at its
    sides.
    """
    flat = rim.laid_out(surface.vertices)
    a, b, c = (flat[surface.faces[:, k]] for k in range(3))
    spot = 0.4 * rim.laid_out(rim.points)[:, :2]
    spots = np.concatenate([spot[:: max(1, len(spot) // DEPTH_RAYS)], [[0.0, 0.0]]])
    # Triangles are sorted out by their boxes once for all rays, then for each.
    low, high = spots.min(axis=0), spots.max(axis=0)
    least = np.minimum(np.minimum(a, b), c)[:, :2]
    most = np.maximum(np.maximum(a, b), c)[:, :2]
    near = ((least <= high) & (most >= low)).all(axis=1)
    a, b, c, least, most = (values[near] for values in (a, b, c, least, most))
    depths = []
    for point in spots:
        hit = ((least <= point) & (most >= point)).all(axis=1)
        height = _heights_at(point, a[hit], b[hit], c[hit])
        # The rim's own neighbours lie in the plane and say nothing.
        height = height[height > rim.flat_mm]
        depths.append(float(height.min()) if len(height) else np.inf)
    return float(np.quantile(depths, 0.8, method="nearest"))


def _heights_at(point: FloatArray, a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Distance from a point of the plane to the triangles above and below it, mm."""
    ab, ac, ap = b - a, c - a, point - a[:, :2]
    twice = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    upright = twice == 0.0
    twice = np.where(upright, 1.0, twice)
    u = (ap[:, 0] * ac[:, 1] - ap[:, 1] * ac[:, 0]) / twice
    v = (ab[:, 0] * ap[:, 1] - ab[:, 1] * ap[:, 0]) / twice
    height = a[:, 2] + u * ab[:, 2] + v * ac[:, 2]
    distance: FloatArray = np.abs(height[~upright & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)])
    return distance


def _hull(points: FloatArray) -> float:
    """Area (in the plane) or volume of the convex hull; 0 where it has none."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        return float(ConvexHull(points).volume)
    except QhullError:
        return 0.0


def _volume(vertices: FloatArray, faces: IntArray) -> float:
    a, b, c = (vertices[faces[:, k]] - vertices.mean(axis=0) for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def _joined(surface: _Surface, patches: list[Patch]) -> tuple[FloatArray, IntArray]:
    vertices, faces = [surface.vertices], [surface.faces]
    n_vertices = len(surface.vertices)
    for patch in patches:
        triangles = patch.triangles
        faces.append(
            np.where(triangles < 0, n_vertices - 1 - triangles, triangles).astype(np.int32)
        )
        vertices.append(patch.points)
        n_vertices += len(patch.points)
    return np.concatenate(vertices), np.concatenate(faces)
