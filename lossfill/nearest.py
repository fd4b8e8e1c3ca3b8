"""The one door to nearest-surface queries and rays."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import BoolArray, FloatArray, Mesh


class Surface:
    """A mesh made ready for queries; distances are good to 32-bit floats about the mesh's middle.

    Parameters
    ----------
    mesh : triangles, mm
    """

    __slots__ = ("_middle", "_scene")

    def __init__(self, mesh: Mesh) -> None:
        import open3d

        # The engine works in 32-bit floats: a scan far from the origin would lose digits.
        self._middle: FloatArray = mesh.bounds.mean(axis=0)
        self._scene: Any = open3d.t.geometry.RaycastingScene()
        vertices = self._local(mesh.vertices)
        self._scene.add_triangles(vertices, _tensor(mesh.faces.astype(np.uint32)))

    def distance(self, points: FloatArray) -> FloatArray:
        """Distance from each point, (N,) mm."""
        return np.asarray(self._scene.compute_distance(self._local(points)).numpy(), np.float64)

    def signed_distance(self, points: FloatArray) -> FloatArray:
        """The same, negative inside; the mesh must be closed."""
        # Three rays vote, for one may graze an edge.
        signed = self._scene.compute_signed_distance(self._local(points), nsamples=3)
        return np.asarray(signed.numpy(), np.float64)

    def inside(self, points: FloatArray) -> BoolArray:
        """Whether each point lies inside, (N,), as `signed_distance` tells; the mesh is closed."""
        held = self._scene.compute_occupancy(self._local(points), nsamples=3)
        return np.asarray(held.numpy() > 0, np.bool_)

    def closest(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The nearest place of the surface to each point, (N, 3) mm, and its unit normal there."""
        found = self._scene.compute_closest_points(self._local(points))
        places = np.asarray(found["points"].numpy(), np.float64) + self._middle
        return places, np.asarray(found["primitive_normals"].numpy(), np.float64)

    def along_rays(
        self, starts: FloatArray, directions: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Follow rays along unit directions to the first triangle met.

        Returns
        -------
        distance : (N,) mm; infinite for none
        facing : (N,) cosine between the ray and that triangle's normal; positive from behind
        """
        local = (starts - self._middle).astype(np.float32)
        ahead = directions.astype(np.float32)
        met = self._scene.cast_rays(_tensor(np.concatenate([local, ahead], axis=1)))
        normals = np.asarray(met["primitive_normals"].numpy(), np.float64)
        distance = np.asarray(met["t_hit"].numpy(), np.float64)
        return distance, np.asarray((normals * directions).sum(axis=1))

    def bars(self, starts: FloatArray, directions: FloatArray, *, reach_mm: float) -> BoolArray:
        """Whether a triangle is met within reach, on each way out of each start, (D, N).

        Parameters
        ----------
        starts : (N, 3) mm
        directions : (D, 3) unit
        reach_mm : how far each is followed; may be infinite
        """
        # The first triangle met ends a ray here, the nearest or not: half of the work.
        rays = np.empty((len(directions), len(starts), 6), np.float32)
        rays[..., :3] = starts - self._middle
        rays[..., 3:] = directions[:, None]
        met = self._scene.test_occlusions(_tensor(rays), tfar=float(reach_mm))
        return np.asarray(met.numpy(), np.bool_)

    def _local(self, points: FloatArray) -> Any:
        return _tensor((points - self._middle).astype(np.float32))


def _tensor(array: NDArray[Any]) -> Any:
    import open3d

    return open3d.core.Tensor.from_numpy(np.ascontiguousarray(array))
