"""Rays cast at a mesh and distances to it, by the one engine that the scripts share."""

from __future__ import annotations

from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lossfill.mesh import FloatArray, Mesh

__all__ = ["Surface"]


class Surface:
    """A mesh made ready for many questions; positions are kept in 32 bits by the engine.

    Parameters
    ----------
    mesh : any triangles, mm; it need not be closed
    """

    def __init__(self, mesh: Mesh) -> None:
        self._engine: Any = import_module("open3d")
        self._scene: Any = self._engine.t.geometry.RaycastingScene()
        # Near the origin 32 bits resolve best.
        self._origin: FloatArray = mesh.bounds.mean(axis=0)
        self._scene.add_triangles(
            np.ascontiguousarray(mesh.vertices - self._origin, dtype=np.float32),
            np.ascontiguousarray(mesh.faces, dtype=np.uint32),
        )

    def cast(self, origins: ArrayLike, directions: ArrayLike) -> FloatArray:
        """Distance to the first hit of each ray, (N,) mm along unit directions; inf for none."""
        start, along = np.broadcast_arrays(np.asarray(origins) - self._origin, directions)
        rays = np.concatenate([start, along], axis=-1)
        hits = self._scene.cast_rays(self._tensor(rays))
        return np.asarray(hits["t_hit"].numpy(), dtype=np.float64)

    def distance(self, points: ArrayLike) -> FloatArray:
        """Distance from each point, (N, 3) mm, to the nearest triangle, (N,) mm, unsigned."""
        found = self._scene.compute_distance(self._tensor(np.asarray(points) - self._origin))
        return np.asarray(found.numpy(), dtype=np.float64)

    def inside(self, points: ArrayLike) -> NDArray[np.bool_]:
        """Whether each point, (N, 3) mm, lies inside the (closed) mesh."""
        # Three rays vote: one alone may graze an edge.
        shifted = self._tensor(np.asarray(points) - self._origin)
        return np.asarray(self._scene.compute_occupancy(shifted, nsamples=3).numpy() > 0.5)

    def _tensor(self, array: FloatArray) -> Any:
        return self._engine.core.Tensor(np.ascontiguousarray(array, dtype=np.float32))
