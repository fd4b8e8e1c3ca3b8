"""Where a whole vessel's handle is, and a cutter that takes a piece out of its middle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from rays import Surface
from scanning import smooth_noise
from vessels import on_grid, stitched_rings

from lossfill.mesh import FloatArray, Mesh, signed_volume_mm3

__all__ = ["Loop", "wedge"]

_OFF_WALL_MM = 1.5
"""Distance off the wall at which a handle's roots are looked for: past rings and glaze."""
_EDGE_MM = 0.8
"""Edge length on break faces: it carries roughness of 1.5 mm and more."""
_EYE_MM = 3.0
"""Distance from the middle of the eye at which a cutter begins, in free air."""


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """A handle that goes out from the wall and comes back to it.

    Parameters
    ----------
    eye : (3,) on the wall, half-way between the roots, mm
    roots : (2, 3) where the bar meets the wall, the lower first
    axes : (3, 3) rows: around the vessel, up, and outwards
    reach_mm : from the eye to the farthest of the bar
    root_half_mm : (3,) half the size of a root along the axes, some more than the bar's own
    """

    eye: FloatArray
    roots: FloatArray
    axes: FloatArray
    reach_mm: float
    root_half_mm: FloatArray

    @classmethod
    def of(cls, surface: Surface, vertices: FloatArray, angle: float) -> Loop:
        """Find the handle at an angle about the axis, radians.

        Raises
        ------
        ValueError
            Where nothing at that angle leaves the wall and comes back.
        """
        out = np.array([np.cos(angle), np.sin(angle), 0.0])
        around, up = np.array([-out[1], out[0], 0.0]), np.array([0.0, 0.0, 1.0])
        heights = np.arange(2.0, float(vertices[:, 2].max()) - 2.0, 0.25)
        wall = _wall_radius(surface, heights, 1.0 + float(np.hypot(*vertices[:, :2].T).max()))
        beside = (wall + _OFF_WALL_MM)[:, None] * out + heights[:, None] * up
        inside = surface.inside(beside)
        starts = np.flatnonzero(inside[1:] & ~inside[:-1]) + 1
        ends = np.flatnonzero(~inside[1:] & inside[:-1]) + 1
        if len(starts) != 2 or len(ends) != 2:
            raise ValueError(f"no handle at {np.degrees(angle):.0f} degrees")
        middles = (starts + ends - 1) // 2
        roots = wall[middles, None] * out + heights[middles, None] * up
        eye = roots.mean(axis=0)
        near = vertices[(np.abs(vertices @ around) < 15.0) & (vertices @ out > 0.0)]
        reach = float(np.linalg.norm(near - eye, axis=1)[near @ out > roots[:, :2].max()].max())
        thick = 0.25 * float(np.max(ends - starts))
        half = np.array([thick + 4.0, 0.5 * thick + 4.0, 9.0])
        return cls(eye, roots, np.stack([around, up, out]), reach, half)


def wedge(
    loop: Loop, low: float, high: float, rng: np.random.Generator, *, rough_mm: float
) -> Mesh:
    """Closed cutter between two angles about the eye, radians above level; its faces are rough.

    What lies between two rays from the eye is cut out, on both sides of the handle's plane.
    """
    across = 20.0
    far = loop.reach_mm + 8.0
    middle = np.array([0.5 * (_EYE_MM + far), 0.0])
    outline = _box_outline(0.5 * (far - _EYE_MM), across)
    steps = max(3, round(float(np.abs(outline).max()) / _EDGE_MM))
    rough = smooth_noise(rng, scales_mm=(1.5, 6.0), rms_mm=rough_mm)
    # Breaks seldom stand square to the bar.
    leans = rng.uniform(-0.2, 0.2, (2, 2))
    scales = np.linspace(0.0, 1.0, steps)
    inner = np.linspace(low, high, max(3, round((high - low) * far / 2.0)))[1:-1]
    rings = [(s, k, end) for k, end in ((0, low),) for s in scales]
    rings += [(1.0, -1, phi) for phi in inner]
    rings += [(s, 1, high) for s in scales[::-1]]
    points, counts = [], []
    for scale, face, phi in rings:
        flat = middle + scale * outline if scale > 0.0 else middle[None]
        turn = np.full(len(flat), phi)
        if face >= 0:
            flat_3d = np.pad(flat, ((0, 0), (0, 1)), constant_values=50.0 * face)
            by_mm = rough(flat_3d) + (flat - [0.8 * loop.reach_mm, 0.0]) @ leans[face]
            turn = turn + by_mm / flat[:, 0]
        radial = np.cos(turn)[:, None] * loop.axes[2] + np.sin(turn)[:, None] * loop.axes[1]
        points.append(loop.eye + flat[:, :1] * radial + flat[:, 1:] * loop.axes[0])
        counts.append(len(flat))
    faces = stitched_rings(np.array(counts), np.zeros(len(counts)))
    mesh = Mesh(on_grid(np.concatenate(points)), faces)
    return mesh if signed_volume_mm3(mesh) > 0.0 else Mesh(mesh.vertices, faces[:, ::-1])


def _box_outline(half_out: float, half_across: float) -> FloatArray:
    """Points round a rectangle about the origin at even steps, (N, 2)."""
    corners = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1], [1, 1]]) * [half_out, half_across]
    s = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(corners, axis=0)).sum(axis=1))])
    at = np.linspace(0.0, s[-1], round(s[-1] / _EDGE_MM), endpoint=False)
    return np.stack([np.interp(at, s, corners[:, k]) for k in range(2)], axis=1)


def _wall_radius(surface: Surface, heights: FloatArray, reach: float) -> FloatArray:
    """Outer radius at each height, (N,): the median over the turn passes over the handles."""
    angle = np.radians(np.arange(0.0, 360.0, 5.0))
    out = np.stack([np.cos(angle), np.sin(angle), np.zeros_like(angle)], axis=1)
    levels = np.zeros((len(heights), 1, 3))
    levels[:, 0, 2] = heights
    radius = np.median(reach - surface.cast(levels + reach * out, -out[None]), axis=1)
    return np.asarray(radius)
