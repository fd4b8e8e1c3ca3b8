"""A surface through the points of a scan that was saved without triangles.

Screened Poisson reconstruction (Kazhdan and Hoppe, "Screened Poisson surface reconstruction", ACM
Transactions on Graphics 32, 2013) as Open3D has it. It closes every opening by a bubble; what no
point supports is cut off again, so that an open scan stays open.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.errors import InputError
from lossfill.mesh import BoolArray, FloatArray, Mesh


def mesh_points(
    points: FloatArray,
    *,
    normals: FloatArray | None = None,
    colours: NDArray[np.uint8] | None = None,
) -> tuple[Mesh, str]:
    """Lay a surface through points.

    Parameters
    ----------
    points : (N, 3) mm
    normals : (N, 3) out of the material, of any length, or None to find them from the points
    colours : (N, 3) sRGB or None

    Returns
    -------
    Mesh
        Open where there are no points; the same points give the same triangles.
    str
        A sentence that says what was done, with the point spacing.

    Raises
    ------
    InputError
        For too few points, or points that make no surface.
    """
    from scipy.spatial import cKDTree

    if not np.isfinite(points).all():
        bad = int((~np.isfinite(points).all(axis=1)).sum())
        raise InputError(
            f"{bad} of {len(points)} points have no finite position (NaN or infinity): export the "
            "scan again"
        )
    points, first = np.unique(points, axis=0, return_index=True)
    if len(points) < tol.POINTS_MIN:
        raise InputError(
            f"it is a point cloud of {len(points)} points, too few for a surface (at least "
            f"{tol.POINTS_MIN}): export the scan again, as a surface mesh or with all its points"
        )
    tree = cKDTree(points)
    spacing = point_spacing(points, tree)
    if not spacing > 0.0:
        raise InputError("its points lie in too few places for a surface: export the scan again")
    directions = _usable(normals[first] if normals is not None else None)
    cloud = _cloud(points, directions)
    _turn_outward(cloud, points)
    surface, density = _poisson(cloud, points, spacing)
    vertices = np.array(surface.vertices)
    faces = np.array(surface.triangles, dtype=np.int32)
    found = tree.query(vertices)
    distance, nearest = np.asarray(found[0], np.float64), np.asarray(found[1], np.int64)
    kept = _supported(distance / spacing, density)
    faces = faces[kept[faces].all(axis=1)]
    if len(faces) == 0:
        raise InputError("no surface runs through its points: export the scan as a surface mesh")
    used = np.zeros(len(vertices), dtype=np.bool_)
    used[faces] = True
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    shown = None if colours is None else colours[first][nearest[used]]
    how = "found from the points" if directions is None else "from the file"
    told = (
        f"MESHED FROM POINTS: the file holds {len(points)} points and no triangles; a surface was "
        f"laid through them (about {spacing:.2f} mm apart, normals {how}) and edges are rounded by "
        "about as much: a surface mesh from the scanner's own program is better"
    )
    return Mesh(vertices[used], number[faces], shown), told


def point_spacing(points: FloatArray, tree: Any) -> float:
    """Side of the square that one point stands for, median over the points, mm."""
    some = points[:: max(1, len(points) // tol.SPACING_POINTS)]
    k = tol.SPACING_NEIGHBOURS
    distance, _ = tree.query(some, k=k + 1)
    # k points and half of the last one share a disc of the farthest one's distance.
    return float(np.median(distance[:, -1])) * float(np.sqrt(np.pi / (k + 0.5)))


def _usable(normals: FloatArray | None) -> FloatArray | None:
    """Unit normals, or None where some are missing."""
    if normals is None or not np.isfinite(normals).all():
        return None
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    return normals / length if (length > 0.0).all() else None


def _cloud(points: FloatArray, normals: FloatArray | None) -> Any:
    import open3d

    cloud = open3d.geometry.PointCloud(open3d.utility.Vector3dVector(points))
    if normals is not None:
        cloud.normals = open3d.utility.Vector3dVector(normals)
        return cloud
    neighbours = tol.NORMAL_NEIGHBOURS
    cloud.estimate_normals(open3d.geometry.KDTreeSearchParamKNN(neighbours))
    # Across a wall the nearest points have the opposite normal; along it they agree.
    cloud.orient_normals_consistent_tangent_plane(neighbours)
    return cloud


def _turn_outward(cloud: Any, points: FloatArray) -> None:
    """Turn all normals over where those of the outermost points look inward."""
    import open3d

    normals = np.asarray(cloud.normals)
    steps = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    directions = steps[np.abs(steps).sum(axis=1) > 0]
    outermost = np.argmax(points @ directions.T, axis=0)
    if float((normals[outermost] * directions).sum()) < 0.0:
        cloud.normals = open3d.utility.Vector3dVector(-normals)


def _poisson(cloud: Any, points: FloatArray, spacing_mm: float) -> tuple[Any, FloatArray]:
    import open3d

    extent = tol.POISSON_BOX * float(np.ptp(points, axis=0).max())
    low, high = tol.POISSON_DEPTHS
    depth = int(np.clip(np.ceil(np.log2(extent / spacing_mm)), low, high))
    # One thread: sums in another order would change the last digits from run to run.
    surface, density = open3d.geometry.TriangleMesh.create_from_point_cloud_poisson(
        cloud, depth=depth, scale=tol.POISSON_BOX, linear_fit=True, n_threads=1
    )
    return surface, np.array(density)


def _supported(spacings: FloatArray, density: FloatArray) -> BoolArray:
    """Vertices that points support, (V,): near some, and nearer where the points are thin."""
    thin = density < np.median(density) - tol.POISSON_THIN
    limit = np.where(thin, tol.SUPPORT_THIN_SPACINGS, tol.SUPPORT_SPACINGS)
    supported: BoolArray = spacings <= limit
    return supported
