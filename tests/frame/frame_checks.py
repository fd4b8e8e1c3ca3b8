"""What several tests of the frame need."""

from __future__ import annotations

import manifold3d
import numpy as np
from shapes import as_scan

from lossfill.body import make_body
from lossfill.frame import Frame, find_frame
from lossfill.frame.axis import AxisFit
from lossfill.mesh import FloatArray, Mesh
from lossfill.solids import mesh_from_solid, solid_from_mesh


def framed(mesh: Mesh, *, seed: int = 1) -> Frame:
    """The frame of a mesh in millimetres."""
    return find_frame(make_body(as_scan(mesh)), rng=np.random.default_rng(seed))


def axis_shift(frame: Frame, true_from_scan: FloatArray) -> tuple[float, float, float]:
    """How far a frame's axis is from the z axis of the true frame: degrees, mm at foot and rim."""
    true_from_vessel = true_from_scan @ np.linalg.inv(frame.vessel_from_scan)
    tilt = np.degrees(np.arctan2(np.hypot(*true_from_vessel[:2, 2]), true_from_vessel[2, 2]))
    foot = true_from_vessel @ [0.0, 0.0, 0.0, 1.0]
    rim = true_from_vessel @ [0.0, 0.0, frame.height_mm, 1.0]
    return float(tilt), float(np.hypot(*foot[:2])), float(np.hypot(*rim[:2]))


def tilt_deg(fit: AxisFit) -> float:
    """Angle between a fitted axis, of either sign, and z."""
    x, y, z = fit.direction
    return float(np.degrees(np.arctan2(np.hypot(x, y), abs(z))))


def miss_mm(fit: AxisFit, point: FloatArray) -> float:
    """Distance of a point from a fitted axis."""
    away = np.asarray(point) - fit.point
    return float(np.linalg.norm(away - (away @ fit.direction) * fit.direction))


def turned(
    radius: FloatArray, slope: FloatArray, z: FloatArray, angle: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points and unit normals of a surface of revolution about z, slope = dr/dz."""
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle), z], axis=1)
    normals = np.stack([np.cos(angle), np.sin(angle), -slope], axis=1)
    return points, normals / np.linalg.norm(normals, axis=1, keepdims=True)


def without_rim(mesh: Mesh, *, share: float, depth_mm: float) -> Mesh:
    """An upright vessel without its topmost `depth_mm` over a share of the turn."""
    top_mm = float(mesh.bounds[1, 2])
    reach = 2.0 * float(np.abs(mesh.bounds[:, :2]).max())
    angle = np.linspace(0.0, 2.0 * np.pi * share, 64)
    fan = reach * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    sector = manifold3d.CrossSection([np.vstack([[[0.0, 0.0]], fan])])
    block = sector.extrude(depth_mm + 10.0).translate((0.0, 0.0, top_mm - depth_mm))
    left = solid_from_mesh(mesh) - block
    assert left.volume() < 0.999 * solid_from_mesh(mesh).volume()
    return mesh_from_solid(left)
