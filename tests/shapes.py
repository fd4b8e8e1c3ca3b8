"""Shapes whose volume is known exactly, both smooth and as the polygons that a mesh makes of them.

A body of revolution cut into n equal slices has sin(t)/t, t = 2 pi / n, times the volume of the
smooth one, whatever its profile: each horizontal section is a regular n-gon of the circle's radius,
whose area is (n/2) sin(t) r² instead of pi r².
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from lossfill.mesh import FloatArray, IntArray, Mesh
from lossfill.scan.scan import Scan, Unit


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A closed mesh and the volume that it must have.

    Parameters
    ----------
    mesh : outward triangles, mm
    volume_mm3 : exact volume of the mesh
    smooth_volume_mm3 : exact volume of the round body that the mesh is inscribed in
    """

    mesh: Mesh
    volume_mm3: float
    smooth_volume_mm3: float


def slice_factor(n: int) -> float:
    """Volume of an n-slice revolve next to the smooth one."""
    turn = 2.0 * np.pi / n
    return float(np.sin(turn) / turn)


def revolve(profile: FloatArray, n: int) -> Shape:
    """Revolve a polyline (N, 2) of r, z about z in n slices.

    The polyline either starts and ends on the axis or is closed by its last segment. It runs
    counter-clockwise in the (r, z) plane: up the outside, down the inside.
    """
    r, z = np.asarray(profile, dtype=np.float64).T
    on_axis = r == 0.0
    angle = 2.0 * np.pi * np.arange(n) / n
    rings, points = [], []
    count = 0
    for radius, height, pole in zip(r, z, on_axis, strict=True):
        if pole:
            points.append([[0.0, 0.0, height]])
            rings.append(np.full(n, count))
            count += 1
        else:
            ring = [radius * np.cos(angle), radius * np.sin(angle), np.full(n, height)]
            points.append(np.stack(ring, axis=1))
            rings.append(count + np.arange(n))
            count += n
    ends = list(zip(range(len(r)), range(1, len(r)), strict=False))
    if not on_axis[0]:
        ends.append((len(r) - 1, 0))
    faces = []
    for low, high in ends:
        a, b = rings[low], rings[high]
        a_next, b_next = np.roll(a, -1), np.roll(b, -1)
        if not on_axis[low]:
            faces.append(np.stack([a, a_next, b_next], axis=1))
        if not on_axis[high]:
            faces.append(np.stack([a, b_next, b], axis=1))
    r0, r1 = r[[low for low, _ in ends]], r[[high for _, high in ends]]
    z0, z1 = z[[low for low, _ in ends]], z[[high for _, high in ends]]
    # Frusta, pi h (R² + R r + r²) / 3 each (summacalculator.com), negative on the way down.
    smooth = float((np.pi / 3.0 * (r0 * r0 + r0 * r1 + r1 * r1) * (z1 - z0)).sum())
    mesh = Mesh(np.concatenate([np.array(p) for p in points]), np.concatenate(faces))
    return Shape(mesh, smooth * slice_factor(n), smooth)


def bowl_profile(
    radius_mm: float = 60.0,
    wall_mm: float = 4.0,
    *,
    foot_radius_mm: float = 28.0,
    foot_height_mm: float = 3.0,
    spacing_mm: float = 2.0,
) -> FloatArray:
    """Half a hemispherical bowl's section with a foot ring and a round lip, (N, 2) r and z.

    It runs counter-clockwise from the axis under the foot over the lip to the axis inside.
    """
    inner_foot = foot_radius_mm - 5.0
    # The hollow under the foot is level with the sphere's lowest point, at z = 0.
    z_sphere = radius_mm - np.sqrt(radius_mm**2 - foot_radius_mm**2)
    n_wall = max(int(radius_mm * 1.2 / spacing_mm), 8)
    start = np.arcsin(foot_radius_mm / radius_mm)
    out = np.linspace(start, np.pi / 2, n_wall)
    outside = np.stack([radius_mm * np.sin(out), radius_mm * (1.0 - np.cos(out))], axis=1)
    inner = radius_mm - wall_mm
    back = np.linspace(np.pi / 2, 0.0, n_wall)
    inside = np.stack([inner * np.sin(back), radius_mm - inner * np.cos(back)], axis=1)
    turn = np.linspace(0.0, np.pi, max(int(wall_mm / spacing_mm * 1.5), 4) + 2)[1:-1]
    middle = radius_mm - 0.5 * wall_mm
    lip = np.stack(
        [middle + 0.5 * wall_mm * np.cos(turn), radius_mm + 0.5 * wall_mm * np.sin(turn)], axis=1
    )
    bottom = -foot_height_mm
    corners = [
        [0.0, 0.0],
        [inner_foot, 0.0],
        [inner_foot, bottom],
        [foot_radius_mm, bottom],
        [foot_radius_mm, z_sphere],
    ]
    foot = np.concatenate([_evenly(np.array([a, b]), spacing_mm) for a, b in pairwise(corners)])
    inside[-1, 0] = 0.0
    return np.concatenate([foot, outside, lip, inside])


def bowl_shell(n: int = 128, **options: float) -> Shape:
    """A bowl with foot ring and lip; options as for `bowl_profile`."""
    return revolve(bowl_profile(**options), n)


def hemisphere_shell(outer_mm: float, inner_mm: float, n: int, steps: int = 64) -> Shape:
    """A hemispherical shell with a flat lip, opening upward; its profile is a polyline as well."""
    rise = np.linspace(0.0, np.pi / 2, steps + 1)
    outside = np.stack([outer_mm * np.sin(rise), -outer_mm * np.cos(rise)], axis=1)
    inside = np.stack([inner_mm * np.sin(rise), -inner_mm * np.cos(rise)], axis=1)[::-1]
    outside[0, 0] = inside[-1, 0] = 0.0
    outside[-1, 1] = inside[0, 1] = 0.0
    return revolve(np.concatenate([outside, inside]), n)


def sphere(radius_mm: float, n: int, steps: int = 32) -> Shape:
    """A sphere of n slices and `steps` bands."""
    rise = np.linspace(0.0, np.pi, steps + 1)
    profile = np.stack([radius_mm * np.sin(rise), -radius_mm * np.cos(rise)], axis=1)
    profile[[0, -1], 0] = 0.0
    return revolve(profile, n)


def plate(width_mm: float, n: int) -> Mesh:
    """A flat open square sheet of n by n cells in the plane z = 0, facing up."""
    x, y = np.meshgrid(np.linspace(0.0, width_mm, n + 1), np.linspace(0.0, width_mm, n + 1))
    number = np.arange((n + 1) ** 2).reshape(n + 1, n + 1)
    a, b = number[:-1, :-1].ravel(), number[:-1, 1:].ravel()
    c, d = number[1:, 1:].ravel(), number[1:, :-1].ravel()
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return Mesh(np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1), faces)


def combined(*meshes: Mesh) -> Mesh:
    """All triangles of several meshes in one."""
    start = np.cumsum([0] + [len(mesh.vertices) for mesh in meshes])
    faces = [mesh.faces + s for mesh, s in zip(meshes, start, strict=False)]
    return Mesh(np.concatenate([mesh.vertices for mesh in meshes]), np.concatenate(faces))


def moved(mesh: Mesh, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> Mesh:
    """The mesh shifted."""
    return Mesh(mesh.vertices + np.array([x, y, z]), mesh.faces)


def turned_over(mesh: Mesh) -> Mesh:
    """The mesh with every triangle facing the other way."""
    return Mesh(mesh.vertices, mesh.faces[:, ::-1])


def without(mesh: Mesh, drop: IntArray) -> Mesh:
    """The mesh without the triangles that a mask or index array names."""
    return Mesh(mesh.vertices, np.delete(mesh.faces, np.flatnonzero(drop), axis=0))


def soup(mesh: Mesh) -> Mesh:
    """The mesh with three vertices of its own for every triangle, as STL stores it."""
    count = 3 * len(mesh.faces)
    return Mesh(mesh.vertices[mesh.faces.ravel()], np.arange(count).reshape(-1, 3))


def centroids(mesh: Mesh) -> FloatArray:
    """Middle of each triangle, (F, 3)."""
    middle: FloatArray = mesh.vertices[mesh.faces].mean(axis=1)
    return middle


def as_scan(mesh: Mesh) -> Scan:
    """The mesh as if it had been read from a file in millimetres."""
    return Scan(mesh, Path("made.ply"), "PLY (binary)", Unit.MILLIMETRE, "file", "0" * 64)


def _evenly(segment: FloatArray, spacing_mm: float) -> FloatArray:
    steps = max(int(np.ceil(np.linalg.norm(segment[1] - segment[0]) / spacing_mm)), 1)
    share = np.arange(steps)[:, None] / steps
    points: FloatArray = segment[0] + share * (segment[1] - segment[0])
    return points
