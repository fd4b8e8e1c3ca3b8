"""Making all triangles face the same way, and clearing edges where more than two meet."""

from __future__ import annotations

import numpy as np

from lossfill.body.debris import triangle_areas_mm2
from lossfill.body.topology import (
    Edges,
    Int64Array,
    edges_of,
    label_patches,
    label_windings,
)
from lossfill.errors import InputError
from lossfill.mesh import BoolArray, FloatArray, IntArray
from lossfill.tolerances import DEBRIS_AREA, DEBRIS_EXTENT


def against_the_rest(vertices: FloatArray, faces: IntArray, edges: Edges) -> BoolArray:
    """Find the triangles that must be turned over for all to agree, (F,) bool.

    In each part the smaller area is turned.

    Raises
    ------
    InputError
        Where a surface has a single side, so that no turning makes it agree.
    """
    n_faces = len(faces)
    _, _, agree = edges.pairs()
    if agree.all():
        return np.zeros(n_faces, dtype=np.bool_)
    label = label_windings(n_faces, edges)
    upright, turned = label[:n_faces], label[n_faces:]
    single = upright == turned
    if single.any():
        place = vertices[faces[single]].mean(axis=(0, 1))
        raise InputError(
            f"a surface of {int(single.sum())} triangles around {place_text(place)} has only one "
            "side, like a strip glued with a twist: clean the mesh in the scanner's program"
        )
    surface = np.minimum(upright, turned)
    is_second = upright > turned
    area = triangle_areas_mm2(vertices, faces)
    size = int(surface.max()) + 1
    second = np.bincount(surface[is_second], area[is_second], size)
    first = np.bincount(surface[~is_second], area[~is_second], size)
    turn: BoolArray = is_second == (second <= first)[surface]
    return turn


def find_fins(vertices: FloatArray, faces: IntArray, edges: Edges) -> BoolArray:
    """Find small sheets that stand on the surface along edges of three triangles, (F,) bool.

    A sheet that ends in the open goes first; where there is none, the smallest sheet between two
    parts of the surface, such as the floor under a bubble.
    """
    drop = np.zeros(len(faces), dtype=np.bool_)
    crowded = np.flatnonzero((edges.uses > 2) & (edges.uses % 2 == 1))
    if len(crowded) == 0:
        return drop
    count, patch = label_patches(len(faces), edges)
    area = np.bincount(patch, triangle_areas_mm2(vertices, faces), count)
    touching = np.unique(patch[_faces_on(edges, crowded)])
    small = [
        p
        for p in touching[np.argsort(area[touching], kind="stable")]
        if _is_small(vertices, faces, patch == p, area[p], float(area.max()))
    ]
    is_open = np.zeros(count, dtype=np.bool_)
    is_open[patch[edges.halves[edges.first[edges.uses == 1]] // 3]] = True
    fins = [p for p in small if is_open[p]] or small[:1]
    drop[np.isin(patch, fins)] = True
    return drop


def check_edges(vertices: FloatArray, edges: Edges) -> None:
    """Refuse edges of more than two triangles that do not pair off.

    Raises
    ------
    InputError
        With their number and the place of the longest run of them.
    """
    bad = np.flatnonzero((edges.uses > 2) & (edges.balance != 0))
    if len(bad) == 0:
        return
    middle = 0.5 * (vertices[edges.low[bad]] + vertices[edges.high[bad]])
    # The one nearest to their median: a place that is really there.
    nearest = np.argmin(np.linalg.norm(middle - np.median(middle, axis=0), axis=1))
    raise InputError(
        f"{len(bad)} edges are shared by three or more triangles (limit 2), for example at "
        f"{place_text(middle[nearest])}: sheets meet there; clean 'non-manifold edges' in the "
        "scanner's program"
    )


def clear_fins(
    vertices: FloatArray, faces: IntArray, edges: Edges
) -> tuple[IntArray, Edges, IntArray]:
    """Drop fins until none is left: triangles, their edges, and the triangles dropped."""
    dropped = [faces[:0]]
    # Each round ends a set of fins, and dropping one may bare the next; scans have one or two.
    for _ in range(8):
        fins = find_fins(vertices, faces, edges)
        if not fins.any():
            break
        dropped.append(faces[fins])
        faces = faces[~fins]
        edges = edges_of(faces)
    return faces, edges, np.concatenate(dropped)


def place_text(place: FloatArray) -> str:
    """Coordinates as text for people."""
    x, y, z = (float(value) + 0.0 for value in np.round(place, 1))
    return f"({x:.1f}, {y:.1f}, {z:.1f}) mm"


def _faces_on(edges: Edges, chosen: Int64Array) -> Int64Array:
    is_chosen = np.zeros(len(edges.uses), dtype=np.bool_)
    is_chosen[chosen] = True
    return edges.halves[np.repeat(is_chosen, edges.uses)] // 3


def _is_small(
    vertices: FloatArray, faces: IntArray, chosen: BoolArray, area: float, largest: float
) -> bool:
    if area >= DEBRIS_AREA * largest:
        return False
    extent = np.linalg.norm(np.ptp(vertices[faces[chosen].ravel()], axis=0))
    diagonal = np.linalg.norm(np.ptp(vertices[faces.ravel()], axis=0))
    return bool(extent < DEBRIS_EXTENT * diagonal)
