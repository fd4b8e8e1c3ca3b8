"""Which triangles meet at which edge, which hang together, and where the surface ends.

Half-edge ``3 * f + k`` runs from corner ``k`` of triangle ``f`` to corner ``(k + 1) % 3``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from lossfill.mesh import BoolArray, IntArray

Int64Array = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """Every edge of a triangle list once, whichever way its triangles run along it.

    Parameters
    ----------
    low, high : (E,) the two vertices, low < high
    uses : (E,) number of triangles on the edge
    balance : (E,) triangles that run low to high, less those that run high to low; 0 where closed
    halves : (3F,) half-edges, sorted by edge
    first : (E,) where the half-edges of an edge begin in `halves`
    """

    low: Int64Array
    high: Int64Array
    uses: Int64Array
    balance: Int64Array
    halves: Int64Array
    first: Int64Array

    def edge_of_half(self) -> Int64Array:
        """Edge of each half-edge, (3F,)."""
        edge = np.empty(len(self.halves), dtype=np.int64)
        edge[self.halves] = np.repeat(np.arange(len(self.uses)), self.uses)
        return edge

    def pairs(self) -> tuple[Int64Array, Int64Array, BoolArray]:
        """Return both triangles of each edge that has two, and whether they agree in winding."""
        two = np.flatnonzero(self.uses == 2)
        start = self.first[two]
        return self.halves[start] // 3, self.halves[start + 1] // 3, self.balance[two] == 0


def edges_of(faces: IntArray) -> Edges:
    """Build the edge table of (F, 3) triangles, none of which names a vertex twice."""
    tail = faces.ravel().astype(np.int64)
    head = np.roll(faces, -1, axis=1).ravel().astype(np.int64)
    stride = int(faces.max()) + 1
    key = np.minimum(tail, head) * stride + np.maximum(tail, head)
    halves = np.argsort(key, kind="stable")
    key = key[halves]
    first = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]]))
    uses = np.diff(np.append(first, len(key)))
    sign = np.where(tail < head, 1, -1)[halves]
    low, high = np.divmod(key[first], stride)
    return Edges(low, high, uses, np.add.reduceat(sign, first), halves, first)


def label_faces(faces: IntArray, n_vertices: int) -> tuple[int, IntArray]:
    """Label triangles that hang together, also by a single vertex: count, (F,) labels from 0."""
    # Two sides of a triangle join its three corners; the third side would tell nothing new.
    tail = np.concatenate([faces[:, 0], faces[:, 1]])
    head = np.concatenate([faces[:, 1], faces[:, 2]])
    label = _connected(n_vertices, tail, head)[faces[:, 0]]
    # Vertices that no triangle uses have labels of their own, which must not count.
    used = np.zeros(n_vertices, dtype=np.int32)
    used[label] = 1
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    return int(number[-1]) + 1, number[label]


def label_patches(n_faces: int, edges: Edges) -> tuple[int, IntArray]:
    """Label triangles joined across edges that just two of them share: count, (F,) labels."""
    one, other, _ = edges.pairs()
    label = _connected(n_faces, one, other)
    return int(label.max()) + 1, label


def label_sheets(n_faces: int, edges: Edges) -> tuple[int, IntArray]:
    """Label triangles joined across edges, however many share one: count, (F,) labels from 0.

    Unlike `label_faces` it parts what hangs by a vertex only, as flakes of a scan often do.
    """
    same = np.ones(len(edges.halves), dtype=np.bool_)
    same[edges.first] = False
    later = np.flatnonzero(same)
    label = _connected(n_faces, edges.halves[later - 1] // 3, edges.halves[later] // 3)
    return int(label.max()) + 1, label


def label_windings(n_faces: int, edges: Edges) -> IntArray:
    """Label each triangle as wound and, in the second half, as turned over: (2F,) labels.

    Triangles with one label can be wound alike. A surface with a single side, such as a Möbius
    strip, has the same label in both halves.
    """
    one, other, agree = edges.pairs()
    turned = np.where(agree, other, other + n_faces)
    upright = np.where(agree, other + n_faces, other)
    return _connected(
        2 * n_faces, np.concatenate([one, one + n_faces]), np.concatenate([turned, upright])
    )


def boundary_loops(faces: IntArray, edges: Edges) -> list[IntArray]:
    """Walk the rims of all openings: one array of vertices each, in the winding a patch needs.

    The triangles must be consistently wound. Where rims touch at a vertex, each loop that closes
    there is cut off as a loop of its own.
    """
    border = edges.halves[edges.first[edges.uses == 1]]
    face, corner = np.divmod(border, 3)
    # A patch runs against the triangles that it meets.
    start = faces[face, (corner + 1) % 3].tolist()
    end = faces[face, corner].tolist()
    onward: dict[int, list[int]] = {}
    for tail, head in sorted(zip(start, end, strict=True), reverse=True):
        onward.setdefault(tail, []).append(head)
    loops = []
    for origin in sorted(onward):
        while onward[origin]:
            loops.extend(_walk(origin, onward))
    return loops


def _walk(origin: int, onward: dict[int, list[int]]) -> list[IntArray]:
    path, place, loops = [origin], {origin: 0}, []
    while True:
        vertex = onward[path[-1]].pop()
        if vertex not in place:
            place[vertex] = len(path)
            path.append(vertex)
            continue
        at = place[vertex]
        loops.append(np.array(path[at:], dtype=np.int32))
        for passed in path[at + 1 :]:
            del place[passed]
        del path[at + 1 :]
        if vertex == origin:
            return loops


def _connected(n_nodes: int, tail: NDArray[np.integer], head: NDArray[np.integer]) -> IntArray:
    links = coo_array((np.ones(len(tail), dtype=np.int8), (tail, head)), shape=(n_nodes, n_nodes))
    label: IntArray = connected_components(links.tocsr(), directed=False)[1]
    return label


def used_vertices(faces: IntArray, n_vertices: int) -> BoolArray:
    """True for each vertex that a triangle names, (V,)."""
    used = np.zeros(n_vertices, dtype=np.bool_)
    used[faces.ravel()] = True
    return used
