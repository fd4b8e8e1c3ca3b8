"""Orthographic pictures by casting one parallel ray a pixel: true to scale, no display needed.

The scale is the same all over a picture, so a ruler laid on it measures the vessel::

           up
            |          camera looks along `forward`, from outside the box of what it shows
            o---right  pixel (row 0, column 0) is top left
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import FloatArray, Mesh, vertex_normals

Image = NDArray[np.float64]
"""(H, W, 3) linear light, 0–1."""

SAMPLES_PER_PIXEL_SIDE = 2
"""Rays a pixel, each way: enough to smooth the edges of a picture at screen size."""

BACKGROUND = 247
"""sRGB grey of the paper."""

CREASE_COS = np.cos(np.deg2rad(25.0))
"""Past this angle between a face and the average about its corner the edge is drawn sharp; the
corners of a break lie at 45 degrees to both faces, those of a coarse wall within 15."""

CUT_COLOUR = (150, 146, 140)
"""sRGB of material that the near plane of a view cuts through."""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """Where a picture is taken from, in vessel coordinates (mm, z up).

    Parameters
    ----------
    centre : (3,) what lies in the middle of the picture, mm
    right, up : (3,) unit vectors of the picture's axes
    px_per_mm : scale
    width_px, height_px : size of the picture
    near_mm : material nearer to the camera than this, measured from `centre` towards it, is cut
        away; None shows all
    """

    centre: FloatArray
    right: FloatArray
    up: FloatArray
    px_per_mm: float
    width_px: int
    height_px: int
    near_mm: float | None = None

    @property
    def forward(self) -> FloatArray:
        """Unit vector along which the camera looks."""
        return np.cross(self.up, self.right)

    def pixel(self, point: FloatArray) -> tuple[float, float]:
        """Column and row (from the top) at which a point of the vessel appears."""
        offset = np.asarray(point) - self.centre
        return (
            self.width_px / 2 + float(offset @ self.right) * self.px_per_mm,
            self.height_px / 2 - float(offset @ self.up) * self.px_per_mm,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """A mesh made ready to be seen, in vessel coordinates.

    Parameters
    ----------
    mesh : triangles, mm
    vertex_normals : (V, 3) unit, area-weighted
    scene : the ray caster that holds it
    colour : sRGB where the mesh has no colours of its own
    """

    mesh: Mesh
    vertex_normals: FloatArray
    scene: Any
    colour: tuple[int, int, int]


@dataclass(frozen=True, slots=True, eq=False)
class Hits:
    """What the rays of a view met first; all arrays (H, W, ...) at the ray resolution.

    Parameters
    ----------
    depth_mm : along the view from its start plane; infinite where nothing was met
    subject : index into the subjects that were cast at, -1 for none
    triangle : index of the triangle, -1 for none
    weights : (H, W, 3) of the triangle's corners
    """

    depth_mm: FloatArray
    subject: NDArray[np.int64]
    triangle: NDArray[np.int64]
    weights: FloatArray


def looking(
    toward_camera: FloatArray,
    *,
    centre: FloatArray,
    px_per_mm: float,
    size_px: tuple[int, int],
    up: tuple[float, float, float] = (0.0, 0.0, 1.0),
    near_mm: float | None = None,
) -> View:
    """Make the view from a direction, turned so that `up` (vessel coordinates) is up."""
    back = np.asarray(toward_camera, dtype=np.float64)
    back = back / np.linalg.norm(back)
    right = np.cross(up, back)
    if np.linalg.norm(right) < 1e-6:  # straight from above or below: 12 o'clock is up
        right = np.cross((1.0, 0.0, 0.0), back)
    right = right / np.linalg.norm(right)
    return View(
        np.asarray(centre, dtype=np.float64),
        right,
        np.cross(back, right),
        px_per_mm,
        size_px[0],
        size_px[1],
        near_mm,
    )


def make_subject(mesh: Mesh, colour: tuple[int, int, int]) -> Subject:
    """Build the ray caster and the corner normals of a mesh."""
    import open3d as o3d

    scene = o3d.t.geometry.RaycastingScene()
    scene.add_triangles(
        o3d.core.Tensor.from_numpy(mesh.vertices.astype(np.float32)),
        o3d.core.Tensor.from_numpy(mesh.faces.astype(np.uint32)),
    )
    return Subject(mesh, vertex_normals(mesh), scene, colour)


def cast(view: View, subjects: tuple[Subject, ...]) -> Hits:
    """Send the rays of a view at some meshes and keep what is met first."""
    import open3d as o3d

    height, width = (n * SAMPLES_PER_PIXEL_SIDE for n in (view.height_px, view.width_px))
    step_mm = 1.0 / (view.px_per_mm * SAMPLES_PER_PIXEL_SIDE)
    across = (np.arange(width) + 0.5 - width / 2) * step_mm
    down = (np.arange(height) + 0.5 - height / 2) * step_mm
    rays = np.empty((height, width, 6), dtype=np.float32)
    start = view.centre - view.forward * _start_mm(view, subjects)
    rays[..., :3] = start + across[None, :, None] * view.right - down[:, None, None] * view.up
    rays[..., 3:] = view.forward
    tensor = o3d.core.Tensor.from_numpy(rays)
    depth = np.full((height, width), np.inf)
    which = np.full((height, width), -1, dtype=np.int64)
    triangle = np.full((height, width), -1, dtype=np.int64)
    weights = np.zeros((height, width, 3))
    for index, subject in enumerate(subjects):
        answer = subject.scene.cast_rays(tensor)
        t_hit = answer["t_hit"].numpy().astype(np.float64)
        nearer = t_hit < depth
        uv = answer["primitive_uvs"].numpy()[nearer]
        depth[nearer] = t_hit[nearer]
        which[nearer] = index
        triangle[nearer] = answer["primitive_ids"].numpy()[nearer]
        weights[nearer, 0] = 1.0 - uv[:, 0] - uv[:, 1]
        weights[nearer, 1:] = uv
    return Hits(depth, which, triangle, weights)


def photograph(
    view: View,
    subjects: tuple[Subject, ...],
    *,
    paint: NDArray[np.uint8] | None = None,
    hits: Hits | None = None,
    contrast: float = 1.0,
) -> NDArray[np.uint8]:
    """Take a picture in soft light, (height_px, width_px, 3) sRGB.

    Parameters
    ----------
    view : where from
    subjects : what of
    paint : sRGB colour at each ray, (H, W, 3), instead of the subjects' own colours
    hits : of the same view and subjects, where the caller has cast them already
    contrast : strength of the shading, 0–1; lower where the colours themselves must be read
    """
    from lossfill.pack.shade import lit, to_srgb

    hits = cast(view, subjects) if hits is None else hits
    image = lit(view, subjects, hits, paint=paint, contrast=contrast)
    n = SAMPLES_PER_PIXEL_SIDE
    small = image.reshape(view.height_px, n, view.width_px, n, 3).mean(axis=(1, 3))
    return to_srgb(small)


def _start_mm(view: View, subjects: tuple[Subject, ...]) -> float:
    if view.near_mm is not None:
        return view.near_mm
    reach = 0.0
    for subject in subjects:
        corners = np.abs(subject.mesh.bounds - view.centre).max(axis=0)
        reach = max(reach, float(np.linalg.norm(corners)))
    return reach + 1.0
