"""Made-up scans of pieces whose every fault is known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from lossfill.make.brief import Brief
from lossfill.mesh import FloatArray, Mesh, transformed
from lossfill.scan.scan import Scan, Unit
from lossfill.solids import Solid, mesh_from_solid


def scan_of(mesh: Mesh, *, unit_source: str = "asked") -> Scan:
    """A scan in memory."""
    return Scan(mesh, Path("made.ply"), "PLY (binary)", Unit.MILLIMETRE, unit_source, "0" * 64)


def somewhere(seed: int = 1) -> FloatArray:
    """A rigid motion, (4, 4), that leaves nothing where it was."""
    rng = np.random.default_rng(seed)
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.random(random_state=seed).as_matrix()
    matrix[:3, 3] = rng.uniform(-80.0, 80.0, 3)
    return matrix


def dense(solid: Solid, edge_mm: float = 1.0) -> Mesh:
    """The same surface in triangles as small as a scanner's."""
    return mesh_from_solid(solid.refine_to_length(edge_mm))


def with_noise(mesh: Mesh, noise_mm: float, seed: int = 1) -> Mesh:
    """Each place off by noise that runs in waves of 2 to 4 mm, as a scanner's evened noise does.

    Neighbours move alike, so the surface does not run through itself where triangles are thin.
    """
    rng = np.random.default_rng(seed)
    n = 200
    waves = rng.standard_normal((n, 3))
    waves *= (2 * np.pi / rng.uniform(2.0, 4.0, n) / np.linalg.norm(waves, axis=1))[:, None]
    phase = mesh.vertices @ waves.T + rng.uniform(0.0, 2 * np.pi, n)
    # Each wave has a variance of one half in each direction.
    off = np.cos(phase) @ rng.standard_normal((n, 3)) * noise_mm * np.sqrt(2.0 / n)
    return Mesh(mesh.vertices + off, mesh.faces)


def piece_mesh(brief: Brief) -> Mesh:
    return mesh_from_solid(brief.pieces[0].solid)


def off_mm(mesh: Mesh, matrix: FloatArray, found: FloatArray) -> float:
    """How far the worst vertex of a design ends from where it began, mm."""
    there = transformed(transformed(mesh, matrix), found)
    return float(np.linalg.norm(there.vertices - mesh.vertices, axis=1).max())
