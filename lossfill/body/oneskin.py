"""What an open scan shows: one skin or two, which openings are edges, how thick the wall is.

An opening of a scan of one skin is a pinhole, the bottom that was never scanned, or an edge where
the wall really ends: the mouth and the losses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.flatmesh import refine
from lossfill.body.patch import Patch, Rim, flat_patch, least_area_patch, rim_of
from lossfill.body.topology import boundary_loops, edges_of
from lossfill.mesh import BoolArray, FloatArray, IntArray, Mesh, unit
from lossfill.nearest import Surface

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

RAYS = 4_000
"""Places from which the other skin is looked for: enough for a share and a median."""


@dataclass(frozen=True, slots=True, eq=False)
class OpenSkin:
    """One skin, outward, closed but for its real edges.

    Parameters
    ----------
    vertices, faces : triangles; the last `n_patched` close pinholes and the bottom
    n_patched : see there
    edges : rims of the openings at which the wall ends
    is_break : (F,) True for scanned break faces: a strip square to the skin along an edge
    is_inner : (F,) True along an edge for the part of the inner skin that was seen
    n_pinholes : pinholes closed
    bottom : the opening that was taken for the bottom and closed, or None
    diagonal_mm : of the scan
    """

    vertices: FloatArray
    faces: IntArray
    n_patched: int
    edges: tuple[Rim, ...]
    is_break: BoolArray
    is_inner: BoolArray
    n_pinholes: int
    bottom: Rim | None
    diagonal_mm: float

    def inward(self, wall_mm: float) -> FloatArray:
        """Unit direction in which the wall's end runs from each edge vertex, (V, 3).

        Square to the skin about the edge, which is smoothed over a wall's thickness; where some of
        the inner skin was seen, onward from it.
        """
        from scipy.spatial import cKDTree

        result = np.zeros((len(self.vertices), 3))
        centre, vector = _centres(self.vertices, self.faces)
        outer = ~(self.is_break | self.is_inner)
        tree = cKDTree(centre[outer])
        vectors = vector[outer]
        for rim in self.edges:
            along, on_inner = _onward(self, rim)
            nearest, _ = tree.query(rim.points)
            for k, found in enumerate(tree.query_ball_point(rim.points, nearest + 1.2 * wall_mm)):
                result[rim.loop[k]] = -vectors[found].sum(axis=0)
            result[rim.loop[on_inner]] = along[on_inner]
            result[rim.loop] = unit(_smoothed(unit(result[rim.loop]), rim, wall_mm))
        return result

    def calm_vertices(self) -> FloatArray:
        """Vertices with the scan's noise smoothed away, (V, 3) mm; those on edges stay.

        Of a noisy skin the peaks alone would tell the distance. Steps to and fro, the latter a
        little longer, smooth without shrinking (Taubin, "A signal processing approach to fair
        surface design", SIGGRAPH 1995).
        """
        from scipy.sparse import coo_array

        tail, head = self.faces.ravel(), np.roll(self.faces, -1, axis=1).ravel()
        n = len(self.vertices)
        ones = np.ones(2 * len(tail))
        pairs = np.concatenate([tail, head]), np.concatenate([head, tail])
        neighbours = coo_array((ones, pairs), shape=(n, n)).tocsr()
        count = np.maximum(np.asarray(neighbours.sum(axis=1)).ravel(), 1.0)[:, None]
        moves = np.ones((n, 1))
        for rim in self.edges:
            moves[rim.loop] = 0.0
        calm = np.array(self.vertices)
        for _ in range(tol.CALM_ROUNDS):
            for step in tol.CALM_STEPS:
                middle = np.asarray(neighbours @ calm, np.float64) / count
                calm += step * moves * (middle - calm)
        return calm


def opposite_mm(mesh: Mesh) -> tuple[FloatArray, FloatArray]:
    """Find the other skin of the wall.

    Returns
    -------
    places : (N, 3) mm, spread evenly over the surface
    distance : (N,) mm through the wall to its other skin; infinite where there is none
    """
    centre, vector = _centres(mesh.vertices, mesh.faces)
    running = np.cumsum(np.linalg.norm(vector, axis=1))
    some = np.searchsorted(running, (np.arange(RAYS) + 0.5) / RAYS * running[-1])
    some = np.minimum(some, len(centre) - 1)
    inward = -unit(vector[some])
    # Started a hair inside, or a ray would meet its own triangle.
    start = centre[some] + tol.RAY_START * mesh.diagonal_mm * inward
    distance, facing = Surface(mesh).along_rays(start, inward)
    # Skins of one wall run alongside each other; a floor across a corner is no other skin.
    return centre[some], np.where(facing > tol.SKINS_ALONGSIDE, distance, np.inf)


def share_of_two_skins(distance_mm: FloatArray, diagonal_mm: float) -> float:
    """Share of the places behind which the other skin lies as near as a wall is thick."""
    return float((distance_mm < tol.WALL_MOST * diagonal_mm).mean())


def open_skin(vertices: FloatArray, faces: IntArray, *, wall_mm: float) -> OpenSkin:
    """Sort the openings of an outward skin and close those that are no edges.

    Parameters
    ----------
    wall_mm : the wall's thickness; it says how wide a strip of break may be
    """
    diagonal = float(np.linalg.norm(np.ptp(vertices[np.unique(faces)], axis=0)))
    rims = [rim_of(vertices, loop) for loop in boundary_loops(faces, edges_of(faces))]
    small = [rim for rim in rims if rim.width_mm <= tol.PINHOLE_WIDTH * diagonal]
    wide = [rim for rim in rims if rim.width_mm > tol.PINHOLE_WIDTH * diagonal]
    bottom = _bottom(vertices, faces, wide)
    patches = [_small_patch(rim) for rim in small]
    if bottom is not None:
        patches.append(_fine_flat_patch(bottom))
    edges = tuple(rim for rim in wide if rim is not bottom)
    n_patched = sum(len(patch.triangles) for patch in patches)
    added, n_vertices = [faces], len(vertices)
    for patch in patches:
        named = np.where(patch.triangles < 0, n_vertices - 1 - patch.triangles, patch.triangles)
        added.append(named.astype(np.int32))
        n_vertices += len(patch.points)
    faces = np.concatenate(added)
    vertices = np.concatenate([vertices, *(patch.points for patch in patches)])
    is_break, is_inner = _edge_faces(vertices, faces, edges, tol.BREAK_REACH * wall_mm)
    return OpenSkin(
        vertices, faces, n_patched, edges, is_break, is_inner, len(small), bottom, diagonal
    )


def wall_between_skins(mesh: Mesh, places: FloatArray, distance_mm: FloatArray) -> float | None:
    """Median thickness where the scan shows both skins next to an edge, mm, or None.

    Only there is the other skin the inner one: a foot ring has two sides as well.
    """
    from scipy.spatial import cKDTree

    near_mm = tol.WALL_MOST * mesh.diagonal_mm
    rims = [
        rim_of(mesh.vertices, loop) for loop in boundary_loops(mesh.faces, edges_of(mesh.faces))
    ]
    wide = [rim.points for rim in rims if rim.width_mm > tol.PINHOLE_WIDTH * mesh.diagonal_mm]
    if not wide:
        return None
    from_edge = np.asarray(cKDTree(np.concatenate(wide)).query(places)[0], np.float64)
    both = (distance_mm < near_mm) & (from_edge < near_mm)
    return float(np.median(distance_mm[both])) if both.sum() >= tol.TWO_SKINS_PLACES else None


def wall_from_breaks(vertices: FloatArray, faces: IntArray) -> float | None:
    """Median width of the strips of break along the edges, mm, or None where none were scanned.

    A strip is looked for within ever longer reach, until skin begins well inside of it.
    """
    diagonal = float(np.linalg.norm(np.ptp(vertices[np.unique(faces)], axis=0)))
    longest = tol.BREAK_REACH_SHARE * diagonal
    reach, before = tol.BREAK_REACH_MM, np.nan
    while reach <= longest:
        skin = open_skin(vertices, faces, wall_mm=reach / tol.BREAK_REACH)
        width = _strip_width(skin)
        if width is not None and width <= tol.BREAK_WITHIN * reach:
            # Two reaches must agree: noise looks like a strip to a short one.
            if abs(width - before) <= tol.BREAK_AGREEMENT * width:
                return width
            before = width
        reach *= 1.3
    return None


def _strip_width(skin: OpenSkin) -> float | None:
    from scipy.spatial import cKDTree

    on_skin = ~(skin.is_break | skin.is_inner)
    if not skin.is_break.any() or not on_skin.any():
        return None
    outer = Surface(Mesh(skin.vertices, skin.faces[on_skin]))
    centre, vector = _centres(skin.vertices, skin.faces[on_skin])
    tree = cKDTree(centre)
    widths, n_points = [], 0
    for rim in skin.edges:
        about = unit(vector[np.asarray(tree.query(rim.points)[1], np.int64)])
        if rim.is_flat and float((about @ rim.axes[2]).mean()) < tol.HOLE_FACING:
            continue  # the mouth: its lip is square to the skin too, but rounded
        on_break = skin.is_break[_border_faces(skin.faces, rim)]
        n_points += len(on_break)
        widths.append(outer.distance(rim.points[on_break]))
    width = np.concatenate(widths) if widths else np.empty(0)
    return float(np.median(width)) if len(width) > tol.BREAK_SHARE * n_points else None


def is_lip(vertices: FloatArray, faces: IntArray, rim: Rim) -> bool:
    """Tell whether the skin turns over a lip towards the opening's middle."""
    _, vector = _centres(vertices, faces[_border_faces(faces, rim)])
    to_middle = unit(rim.centre - rim.points)
    return bool((unit(vector) * to_middle).sum(axis=1).mean() > tol.LIP_TURN)


def fan(n: int) -> IntArray:
    """Triangles from each side of a loop of n points to a middle point, which is number n."""
    k = np.arange(n, dtype=np.int32)
    return np.stack([k, np.roll(k, -1), np.full(n, n, dtype=np.int32)], axis=1)


def outward(vertices: FloatArray, faces: IntArray) -> IntArray:
    """Turn an inside-out skin over: by its volume once each opening is closed by a fan."""
    total = _six_volumes(vertices, faces)
    for loop in boundary_loops(faces, edges_of(faces)):
        points = np.concatenate([vertices[loop], vertices[loop].mean(axis=0)[None]])
        total += _six_volumes(points, fan(len(loop)), vertices.mean(axis=0))
    return faces if total >= 0.0 else np.ascontiguousarray(faces[:, ::-1])


def _six_volumes(vertices: FloatArray, faces: IntArray, origin: FloatArray | None = None) -> float:
    middle = vertices.mean(axis=0) if origin is None else origin
    a, b, c = (vertices[faces[:, k]] - middle for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)))


def _bottom(vertices: FloatArray, faces: IntArray, rims: list[Rim]) -> Rim | None:
    """Find the opening that is a bottom never scanned: flat, no lip, with the other end open too.

    Of two plain ends the wider one is the bottom, as inside a narrow neck no scanner sees.
    """
    for rim in sorted((rim for rim in rims if rim.is_flat), key=lambda rim: -rim.width_mm):
        laid = rim.laid_out(vertices)
        across = float(np.ptp(laid[:, :2], axis=0).max())
        if rim.width_mm < tol.BOTTOM_WIDTH * across or is_lip(vertices, faces, rim):
            continue
        depth = float(laid[:, 2].min())
        for other in rims:
            faces_away = float(other.axes[2] @ rim.axes[2]) < -tol.BOTTOM_FACING
            is_end = float(rim.laid_out(other.points)[:, 2].min()) <= tol.BOTTOM_DEPTH * depth
            plain = other.is_flat and not is_lip(vertices, faces, other)
            narrower = other.width_mm < rim.width_mm
            if other is not rim and faces_away and is_end and (narrower or not plain):
                return rim
    return None


def _small_patch(rim: Rim) -> Patch:
    if rim.is_flat or len(rim.loop) > tol.SHORT_RIM_EDGES:
        return flat_patch([rim])
    return least_area_patch(rim)


def _fine_flat_patch(rim: Rim) -> Patch:
    """Close a flat opening by triangles as fine as its rim: what they cover is told by corners."""
    outline = rim.laid_out(rim.points)[:, :2]
    step = np.linalg.norm(rim.points - np.roll(rim.points, -1, axis=0), axis=1)
    laid, triangles = refine(outline, rim.flat, float(np.median(step)))
    new = laid[len(outline) :]
    points = rim.centre + np.column_stack([new, np.zeros(len(new))]) @ rim.axes
    number = np.concatenate([rim.loop, -1 - np.arange(len(new), dtype=np.int32)])
    return Patch(points, number[triangles].astype(np.int32))


def _edge_faces(
    vertices: FloatArray, faces: IntArray, edges: tuple[Rim, ...], reach_mm: float
) -> tuple[BoolArray, BoolArray]:
    """Find, near the edges, the scanned break faces and the part of the inner skin seen, (F,) each.

    Judged against the nearest skin that lies out of reach of every edge.
    """
    from scipy.sparse import coo_array
    from scipy.spatial import cKDTree

    none = np.zeros(len(faces), dtype=np.bool_)
    if not edges:
        return none, none.copy()
    centre, vector = _centres(vertices, faces)
    rims: cKDTree = cKDTree(np.concatenate([rim.points for rim in edges]))
    distance = np.asarray(rims.query(centre, distance_upper_bound=reach_mm)[0], np.float64)
    near: BoolArray = distance < reach_mm
    if near.all() or not near.any():
        return none, none.copy()
    far = cKDTree(centre[~near])
    _, nearest = far.query(centre[near], k=min(12, int((~near).sum())))
    reference = unit(vector[~near][np.atleast_2d(nearest)].sum(axis=1))
    # Break faces are rough, and a fine mesh is noisy: what counts is the lie of the land.
    tree = cKDTree(centre[near])
    links = tree.sparse_distance_matrix(tree, tol.BREAK_CALM * reach_mm, output_type="coo_matrix")
    calm = coo_array((np.ones(links.nnz), (links.row, links.col)), shape=links.shape).tocsr()
    cosine = (unit(np.asarray(calm @ vector[near], np.float64)) * reference).sum(axis=1)
    is_break, is_inner = none, none.copy()
    is_break[near] = np.abs(cosine) <= tol.BREAK_COSINE
    is_inner[near] = cosine < -tol.BREAK_COSINE
    # A single face of a break that passed for skin would thicken the wall about it.
    own = np.ones(len(faces))
    own[near] = (unit(vector[near]) * reference).sum(axis=1)
    touched = np.zeros(len(vertices), dtype=np.bool_)
    touched[faces[is_break]] = True
    is_break |= touched[faces].any(axis=1) & (np.abs(own) < tol.BREAK_BESIDE)
    on_break = [rim.points[is_break[_border_faces(faces, rim)]] for rim in edges]
    ends = np.concatenate(on_break)
    if len(ends):
        depth_mm = tol.BREAK_INNER / tol.BREAK_REACH * reach_mm
        inner_end = cKDTree(ends).query(centre, distance_upper_bound=depth_mm)[0] < depth_mm
        is_break |= np.asarray(inner_end) & ~is_inner
    return is_break, is_inner & ~is_break


def _onward(skin: OpenSkin, rim: Rim) -> tuple[FloatArray, BoolArray]:
    """Direction in which the skin would run on over its edge, (N, 3), and where it is inner."""
    border = _border_faces(skin.faces, rim)
    _, vector = _centres(skin.vertices, skin.faces[border])
    side = np.roll(rim.points, -1, axis=0) - rim.points
    # The loop runs against the border's triangles, hence normal × side points over the edge.
    return unit(np.cross(unit(vector), unit(side))), skin.is_inner[border]


def _border_faces(faces: IntArray, rim: Rim) -> IntArray:
    """Triangle on each side of a loop, from its vertex to the next, (N,)."""
    stride = int(faces.max()) + 1
    key = faces.astype(np.int64) * stride + np.roll(faces, -1, axis=1)
    flat = key.ravel()
    wanted = np.roll(rim.loop, -1).astype(np.int64) * stride + rim.loop
    order = np.argsort(flat, kind="stable")
    found = order[np.searchsorted(flat[order], wanted)]
    return np.asarray(found // 3, dtype=np.int32)


def _smoothed(values: FloatArray, rim: Rim, length_mm: float) -> FloatArray:
    """Mean along a closed loop over about `length_mm` on either side."""
    from scipy.ndimage import gaussian_filter1d

    step = np.linalg.norm(np.roll(rim.points, -1, axis=0) - rim.points, axis=1)
    width = 0.5 * length_mm / max(float(step.mean()), 1e-9)
    smooth: FloatArray = gaussian_filter1d(values, max(width, 0.5), axis=0, mode="wrap")
    return smooth


def _centres(vertices: FloatArray, faces: IntArray) -> tuple[FloatArray, FloatArray]:
    """Middle and area vector of each triangle, (F, 3) each."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return (a + b + c) / 3.0, 0.5 * np.cross(b - a, c - a)
