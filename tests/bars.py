"""Bars along known lines, and the stubs that are left of them once a piece is taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from rays import Surface
from scanning import as_scanned, smooth_noise
from vessels import stitched_rings

from lossfill.donor.span import Bar, span
from lossfill.donor.stub import Stub, find_stub, march
from lossfill.mesh import FloatArray, Mesh, face_vectors, signed_volume_mm3, unit
from lossfill.solids import mesh_from_solid, solid_from_mesh


@dataclass(frozen=True, slots=True)
class Lost:
    """A bar with a piece missing.

    Parameters
    ----------
    whole : the bar, closed
    stubs : what is left at either end, closed
    """

    whole: Mesh
    stubs: tuple[Mesh, Mesh]


def tube(
    path: FloatArray,
    *,
    half_mm: tuple[float, float] = (3.4, 5.5),
    swell: FloatArray | float = 1.0,
    twist: FloatArray | float = 0.0,
) -> Mesh:
    """Bar of elliptic section along points, (N, 3) in the plane y = 0 or near it; flat ends."""
    along = unit(np.gradient(path, axis=0, edge_order=2))
    side = unit(np.array([0.0, 1.0, 0.0]) - along[:, 1:2] * along)
    across = np.cross(along, side)
    n = 96
    turn = 2 * np.pi * np.arange(n) / n
    angle = np.broadcast_to(twist, len(path))
    size = np.broadcast_to(swell, len(path))[:, None, None]
    first = np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * side
    second = np.cos(angle)[:, None] * side - np.sin(angle)[:, None] * across
    rings = path[:, None] + size * (
        half_mm[0] * np.cos(turn)[None, :, None] * first[:, None]
        + half_mm[1] * np.sin(turn)[None, :, None] * second[:, None]
    )
    vertices = np.concatenate([path[:1], rings.reshape(-1, 3), path[-1:]])
    counts = np.array([1, *[n] * len(path), 1])
    mesh = Mesh(vertices, stitched_rings(counts, np.zeros(len(counts))))
    return mesh if signed_volume_mm3(mesh) > 0.0 else Mesh(vertices, mesh.faces[:, ::-1])


def arc(turn_deg: float, radius_mm: float = 25.0) -> FloatArray:
    """Line along a circle in the plane y = 0, centred on the origin, ends alike about +x."""
    n = max(int(np.radians(turn_deg) * radius_mm / 0.5), 8)
    t = np.radians(np.linspace(-0.5, 0.5, n) * turn_deg)
    return radius_mm * np.stack([np.cos(t), np.zeros(n), np.sin(t)], axis=1)


def take_out(
    whole: Mesh, path: FloatArray, low: int, high: int, rng: np.random.Generator, rough_mm: float
) -> Lost:
    """Take out what lies between two places of the path; rough, oblique faces."""
    cutter = solid_from_mesh(_cutter(path[low : high + 1], rng, rough_mm))
    stubs = (solid_from_mesh(whole) - cutter).decompose()
    assert len(stubs) == 2
    meshes = [mesh_from_solid(stub) for stub in stubs]
    meshes.sort(key=lambda mesh: float(np.linalg.norm(mesh.vertices - path[0], axis=1).min()))
    return Lost(whole, (meshes[0], meshes[1]))


def _cutter(path: FloatArray, rng: np.random.Generator, rough_mm: float) -> Mesh:
    """Thick bar over the gap; its ends are cut at up to 15 degrees to the section, and rough."""
    along = unit(np.gradient(path, axis=0, edge_order=2))
    side = unit(np.array([0.0, 1.0, 0.0]) - along[:, 1:2] * along)
    across = np.cross(along, side)
    n, half = 90, 9.0
    turn = 2 * np.pi * np.arange(n) / n
    disc = half * (np.cos(turn)[:, None] * across[:, None] + np.sin(turn)[:, None] * side[:, None])
    rough = smooth_noise(rng, scales_mm=(1.5, 6.0), rms_mm=max(rough_mm, 1e-9))
    ends = []
    for k, sign in ((0, -1.0), (-1, 1.0)):
        lean = rng.uniform(-0.25, 0.25, 2) if rough_mm else np.zeros(2)
        scales = np.linspace(0.0, 1.0, 13)[:, None, None]
        flat = scales * disc[k]
        depth = flat @ (lean[0] * across[k] + lean[1] * side[k])
        if rough_mm:
            depth = depth + rough(flat + 90.0 * sign)
        ends.append(path[k] + flat + depth[..., None] * along[k])
    inner = [path[k] + disc[k] for k in range(6, len(path) - 6)]
    rings = [ends[0][0][:1], *ends[0][1:], *inner, *ends[1][:0:-1], ends[1][0][:1]]
    counts = np.array([len(ring) for ring in rings])
    mesh = Mesh(np.concatenate(rings), stitched_rings(counts, np.zeros(len(counts))))
    return mesh if signed_volume_mm3(mesh) > 0.0 else Mesh(mesh.vertices, mesh.faces[:, ::-1])


def measured(mesh: Mesh, start: FloatArray, out: FloatArray) -> Stub | None:
    """The stub's break and sections, its root being the flat end at `start`."""
    middles = mesh.vertices[mesh.faces].mean(axis=1)
    # The flat end the bar was made with.
    root = (np.abs((middles - start) @ out) < 0.2) & (unit(face_vectors(mesh)) @ out < -0.7)
    assert root.any()
    path = march(mesh, root, start, out)
    return find_stub(mesh, root, path) if path is not None else None


def bridged(
    path: FloatArray,
    low: int,
    high: int,
    *,
    rng: np.random.Generator,
    noise_mm: float = 0.0,
    rough_mm: float = 0.12,
    **how: object,
) -> tuple[Lost, Bar, float, tuple[Stub, Stub]]:
    """Take a piece out, scan what is left, bridge it; the bar and the error it expects."""
    lost = take_out(tube(path, **how), path, low, high, rng, rough_mm)  # type: ignore[arg-type]
    along = unit(np.gradient(path, axis=0, edge_order=2))
    found = []
    for mesh, k, sign in ((lost.stubs[0], 0, 1.0), (lost.stubs[1], -1, -1.0)):
        seen = mesh
        if noise_mm:
            seen, _ = as_scanned(mesh, noise_mm=noise_mm, rng=rng, pose=False)
        stub = measured(seen, path[k], sign * along[k])
        assert stub is not None
        found.append(stub)
    donor, bar = span(found[0], found[1], noise_mm=noise_mm)
    assert donor.error_mm is not None
    return lost, bar, donor.error_mm, (found[0], found[1])


def skin_error_mm(lost: Lost, bar: Bar) -> FloatArray:
    """Distance of a bar's skin over the gap from the bar as it was, at each point."""
    away = bar.rings[bar.first : bar.last + 1]
    return Surface(lost.whole).distance(away.reshape(-1, 3))
