"""The surface at which two halves of a mould meet, outside of the piece.

Seen along the pull (+z here) the piece has an outline. There the halves meet half-way up its edge;
outwards the surface runs on as evenly as a soap film does, so that it has one height everywhere
and the halves slide off each other.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d
import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.sparse import coo_array, csr_array, diags_array, kron
from scipy.sparse.linalg import spsolve

from lossfill import tolerances as tol
from lossfill.make.section import Area
from lossfill.mesh import FloatArray, Mesh
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh


@dataclass(frozen=True, slots=True, eq=False)
class Parting:
    """Heights of the parting surface over a level grid.

    Parameters
    ----------
    x, y : (X,), (Y,) mm of the grid's lines, even
    height : (X, Y) mm
    outline : of the piece, seen along the pull
    off_edge_mm : the most by which it misses the edge of the piece; a step of that height
    edge_mm : how tall that edge is on the mean
    """

    x: FloatArray
    y: FloatArray
    height: FloatArray
    outline: Area = field(repr=False)
    off_edge_mm: float
    edge_mm: float

    def at(self, points: FloatArray) -> FloatArray:
        """Height at points, (N, 2) to (N,) mm."""
        return np.asarray(_weights(self.x, self.y, points) @ self.height.ravel())

    def within(self, region: Area) -> FloatArray:
        """Heights of the grid within a region, (N,) mm."""
        return np.asarray(self.height.ravel()[is_inside(region, self._nodes())])

    def _nodes(self) -> FloatArray:
        return np.stack(np.meshgrid(self.x, self.y, indexing="ij"), axis=-1).reshape(-1, 2)

    def steepest_deg(self, region: Area) -> float:
        """The steepest that it gets within a region, degrees from level."""
        dx, dy = np.gradient(self.height, self.x, self.y)
        inside = is_inside(region, self._nodes())
        return float(np.degrees(np.arctan(np.hypot(dx, dy).ravel()[inside].max())))

    def below(self, floor_mm: float) -> Solid:
        """All that lies below it, down to a level floor."""
        n_x, n_y = self.height.shape
        node = np.arange(n_x * n_y).reshape(n_x, n_y)
        a, b, c, d = node[:-1, :-1], node[1:, :-1], node[1:, 1:], node[:-1, 1:]
        tops = np.concatenate(
            [np.stack([a, b, c], axis=-1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)]
        )
        # Around the grid, counter-clockwise from above.
        rim = np.concatenate([node[:-1, 0], node[-1, :-1], node[:0:-1, -1], node[0, :0:-1]])
        after = np.roll(rim, -1)
        foot = n_x * n_y + np.arange(len(rim))
        foot_after = np.roll(foot, -1)
        middle = n_x * n_y + len(rim)
        sides = [[after, rim, foot], [after, foot, foot_after]]
        base = [[foot_after, foot, np.full(len(rim), middle)]]
        around = np.concatenate([np.stack(part, axis=1) for part in sides + base])
        xy = self._nodes()
        low = np.concatenate([xy[rim], xy.mean(axis=0)[None]])
        vertices = np.concatenate(
            [np.column_stack([xy, self.height.ravel()]),
             np.column_stack([low, np.full(len(low), floor_mm)])]
        )  # fmt: skip
        return solid_from_mesh(Mesh(vertices, np.concatenate([tops, around]).astype(np.int32)))


def make_parting(cavity: Solid, outline: Area, margin_mm: float) -> Parting:
    """Run the parting surface out from the edge of what is cast.

    Parameters
    ----------
    cavity : what is cast, its pull along +z; nothing of it lies above a gap
    outline : of it, seen along the pull
    margin_mm : how far it must reach past the outline
    """
    low_x, low_y, high_x, high_y = outline.bounds()
    reach = margin_mm + 2 * tol.MOULD_GRID_MM
    longest = max(high_x - low_x, high_y - low_y) + 2 * reach
    cell = max(tol.MOULD_GRID_MM, longest / tol.MOULD_GRID_LINES)
    x, y = (
        low - reach + cell * np.arange(int(np.ceil((high - low + 2 * reach) / cell)) + 1)
        for low, high in ((low_x, high_x), (low_y, high_y))
    )
    points, low, high = _edge(cavity, outline)
    height = _soap_film(x, y, points, _taut(points, low, high))
    off = np.maximum(low - (found := _weights(x, y, points) @ height.ravel()), found - high)
    return Parting(x, y, height, outline, max(0.0, float(off.max())), float((high - low).mean()))


def _edge(cavity: Solid, outline: Area) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points along the outline, (N, 2), and the lowest and highest z of the edge there, (N,)."""
    inset = outline.offset(-tol.MOULD_INSET_MM, manifold3d.JoinType.Miter)
    loops = [spread(np.asarray(loop), tol.MOULD_EDGE_STEP_MM) for loop in inset.to_polygons()]
    points = np.concatenate(loops)
    mesh = mesh_from_solid(cavity)
    bottom, top = mesh.bounds[:, 2]
    surface = Surface(mesh)
    up = np.broadcast_to([0.0, 0.0, 1.0], (len(points), 3))
    from_below, _ = surface.along_rays(
        np.column_stack([points, np.full(len(points), bottom - 1)]), up
    )
    from_above, _ = surface.along_rays(
        np.column_stack([points, np.full(len(points), top + 1)]), -up
    )
    met = np.isfinite(from_below) & np.isfinite(from_above)
    low, high = bottom - 1 + from_below[met], top + 1 - from_above[met]
    return points[met], low, np.maximum(low, high)


def spread(loop: FloatArray, step_mm: float) -> FloatArray:
    """Points along a closed line at even steps, (N, 2)."""
    closed = np.concatenate([loop, loop[:1]])
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    n = max(8, int(np.ceil(run[-1] / step_mm)))
    at = np.linspace(0, run[-1], n, endpoint=False)
    return np.stack([np.interp(at, run, closed[:, k]) for k in range(2)], axis=1)


def _taut(points: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Heights of a line drawn taut around within the edge, (N,).

    From half-way up: so it turns no corner more sharply than the edge makes it, and shows little of
    the roughness of a break, which no two halves could follow.
    """
    ends = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1) > 4 * tol.MOULD_EDGE_STEP_MM
    cuts = np.flatnonzero(ends[:-1]) + 1
    wide = tol.MOULD_EVEN_MM / tol.MOULD_EDGE_STEP_MM
    lines = []
    for least, most in zip(np.split(low, cuts), np.split(high, cuts), strict=True):
        line = 0.5 * (least + most)
        for _ in range(tol.MOULD_EVENINGS):
            line = np.clip(gaussian_filter1d(line, wide, mode="wrap"), least, most)
        lines.append(line)
    return np.concatenate(lines)


def _soap_film(x: FloatArray, y: FloatArray, points: FloatArray, wanted: FloatArray) -> FloatArray:
    """Heights over a grid that keep to those wanted and change least elsewhere, (X, Y)."""
    slopes = [_differences(len(x)), _differences(len(y))]
    along_x = kron(slopes[0].T @ slopes[0], diags_array(np.ones(len(y))))
    along_y = kron(diags_array(np.ones(len(x))), slopes[1].T @ slopes[1])
    weights = _weights(x, y, points)
    middle = float(wanted.mean())  # about the middle, so that no digits are lost
    held = tol.MOULD_HOLD * (weights.T @ weights)
    target = tol.MOULD_HOLD * (weights.T @ (wanted - middle))
    film = spsolve((along_x + along_y + held).tocsc(), target)
    return np.asarray(film).reshape(len(x), len(y)) + middle


def _differences(n: int) -> csr_array:
    return csr_array(
        diags_array([[-1.0] * (n - 1), [1.0] * (n - 1)], offsets=[0, 1], shape=(n - 1, n))
    )


def _weights(x: FloatArray, y: FloatArray, points: FloatArray) -> csr_array:
    """Shares of the grid's nodes in the height at points, by the two triangles of each cell."""
    column = (points - [x[0], y[0]]) / (x[1] - x[0])
    i, j = np.floor(column).astype(int).clip(0, [len(x) - 2, len(y) - 2]).T
    u, v = column[:, 0] - i, column[:, 1] - j
    # A cell's diagonal runs from its low to its high corner.
    shares = np.stack([1 - np.maximum(u, v), np.maximum(u - v, 0), np.minimum(u, v),
                       np.maximum(v - u, 0)], axis=1)  # fmt: skip
    n_y = len(y)
    nodes = np.stack([i * n_y + j, (i + 1) * n_y + j, (i + 1) * n_y + j + 1, i * n_y + j + 1], 1)
    rows = np.repeat(np.arange(len(points)), 4)
    sparse = coo_array((shares.ravel(), (rows, nodes.ravel())), shape=(len(points), len(x) * n_y))
    return csr_array(sparse)


def is_inside(area: Area, points: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which points, (N, 2), lie in an area: where a line to the right crosses its outline oddly."""
    inside = np.zeros(len(points), dtype=np.bool_)
    for loop in area.to_polygons():
        a = np.asarray(loop)
        b = np.roll(a, -1, axis=0)
        for start, end in zip(a, b, strict=True):
            between = (start[1] > points[:, 1]) != (end[1] > points[:, 1])
            if between.any():
                share = (points[between, 1] - start[1]) / (end[1] - start[1])
                right = start[0] + share * (end[0] - start[0]) > points[between, 0]
                inside[np.flatnonzero(between)[right]] ^= True
    return inside
