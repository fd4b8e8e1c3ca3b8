"""Along which way the two halves of a mould part, so that the piece holds them least."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.mesh import FloatArray, Mesh, centres, face_vectors, unit
from lossfill.nearest import Surface


@dataclass(frozen=True, slots=True, eq=False)
class Pull:
    """The way along which the upper half is drawn off; the lower one goes against it.

    Parameters
    ----------
    direction : (3,) unit vector
    locked_mm3 : estimate of what lies between parts of the piece one behind the other, mm³
    n_tried : directions that were tried
    """

    direction: FloatArray
    locked_mm3: float
    n_tried: int


def find_pull(mesh: Mesh, wished: FloatArray) -> Pull:
    """Find the pull that locks least.

    A direction and its opposite lock the same, so that only its line is sought; among lines that
    lock alike, the piece lies flattest in the mould, and one wished for goes before all.

    Parameters
    ----------
    mesh : the piece, closed
    wished : (K, 3) directions to be tried before all others, the best first; the result is on the
        side of the first
    """
    ways = np.concatenate([unit(wished), _half_ball(tol.MOULD_PULLS)])
    probe = _Probe(mesh)
    locked = probe.locked_mm3(ways)
    best = ways[int(np.argmin(locked))]
    near = _about(best, tol.MOULD_PULL_STEP_DEG, tol.MOULD_PULLS_NEAR)
    ways = np.concatenate([ways, near])
    locked = np.concatenate([locked, probe.locked_mm3(near)])
    alike = locked <= locked.min() + tol.MOULD_LOCK_SHARE * probe.volume_mm3
    flat = np.where(alike, probe.seen_mm2(ways), -np.inf)
    chosen = int(np.argmax(flat))
    if alike[: len(wished)].any():
        chosen = int(np.argmax(alike[: len(wished)]))
    direction = ways[chosen]
    if direction @ wished[0] < 0:
        direction = -direction
    return Pull(direction, float(locked[chosen]), len(ways))


class _Probe:
    """Points strewn evenly over the piece, from which rays look along a pull."""

    __slots__ = ("_normals", "_points", "_share_mm2", "_surface", "_vectors", "volume_mm3")

    def __init__(self, mesh: Mesh) -> None:
        self._vectors: FloatArray = face_vectors(mesh) / 2
        self._surface = Surface(mesh)
        areas = np.linalg.norm(self._vectors, axis=1)
        n = tol.MOULD_PROBES
        self._share_mm2 = float(areas.sum()) / n
        # The same number from each equal share of the area, at seeded places in their triangles.
        along = (np.arange(n) + 0.5) * self._share_mm2
        chosen = np.searchsorted(np.cumsum(areas), along).clip(max=len(areas) - 1)
        weights = np.random.default_rng(0).dirichlet(np.ones(3), n)
        corners = mesh.vertices[mesh.faces[chosen]]
        self._points: FloatArray = (weights[:, :, None] * corners).sum(axis=1)
        self._normals: FloatArray = unit(self._vectors[chosen])
        middles = centres(mesh)
        self.volume_mm3 = abs(float((self._vectors * middles).sum())) / 3

    def locked_mm3(self, ways: FloatArray) -> FloatArray:
        """Volume between the surface and what it meets next along each way, (N,) mm³."""
        return np.array([self._locked_along(way) for way in ways])

    def _locked_along(self, way: FloatArray) -> float:
        facing = self._normals @ way
        looks = facing > tol.MOULD_GRAZING
        # A hair off the surface, so that a ray does not meet the triangle that it left.
        starts = self._points[looks] + tol.MOULD_RAY_START_MM * self._normals[looks]
        ahead = np.broadcast_to(way, starts.shape)
        gap, met = self._surface.along_rays(starts, ahead)
        # From behind is a ray that slipped through an edge: no gap.
        open_gap = np.isfinite(gap) & (met < 0)
        return float((facing[looks] * np.where(open_gap, gap, 0.0)).sum()) * self._share_mm2

    def seen_mm2(self, ways: FloatArray) -> FloatArray:
        """Area that the piece covers seen along each way, (N,) mm²; folds count twice."""
        return np.asarray(0.5 * np.abs(self._vectors @ ways.T).sum(axis=0))


def _half_ball(n: int) -> FloatArray:
    """Directions spread evenly over half a ball, (n, 3): a spiral of equal steps in height."""
    z = (np.arange(n) + 0.5) / n
    turn = np.pi * (3 - np.sqrt(5)) * np.arange(n)
    wide = np.sqrt(1 - z**2)
    return np.stack([wide * np.cos(turn), wide * np.sin(turn), z], axis=1)


def _about(way: FloatArray, wide_deg: float, n: int) -> FloatArray:
    """Directions within an angle of one, (n, 3)."""
    side = unit(np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))]))
    other = np.cross(way, side)
    turn = np.pi * (3 - np.sqrt(5)) * np.arange(n)
    lean = np.tan(np.radians(wide_deg)) * np.sqrt((np.arange(n) + 0.5) / n)
    off = lean[:, None] * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * other)
    return unit(way + off)
