"""What a mould is cut from: the piece with fewer triangles, by a measured distance."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.mesh import FloatArray, centres, face_vectors, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, checked, mesh_from_solid


def simpler(wanted: Solid) -> Solid:
    """Leave out triangles, as many as keep to MOULD_CAST_OFF_MM from the piece.

    What the modeller keeps to at each step adds up over several, so that it is measured.
    """
    places = reached_places(wanted)
    for tolerance_mm in tol.MOULD_SIMPLER_MM:
        cast = checked(wanted.simplify(tolerance_mm), "the piece could not be made simpler")
        if Surface(mesh_from_solid(cast)).distance(places).max() <= tol.MOULD_CAST_OFF_MM:
            return cast
    return wanted


def reached_places(wanted: Solid) -> FloatArray:
    """Middles of the piece's triangles that one of two halves along z can shape, (N, 3) mm.

    Left out is what has another part of the piece straight above it, where it looks up, or below
    it, where it looks down; and slivers, which no paste fills.
    """
    mesh = mesh_from_solid(wanted)
    surface = Surface(mesh)
    middles = centres(mesh)
    normals = unit(face_vectors(mesh))
    side = np.where(normals[:, 2] < 0, -1.0, 1.0)
    hair = tol.MOULD_RAY_START_MM * normals
    ahead, _ = surface.along_rays(middles + hair, side[:, None] * np.array([0.0, 0.0, 1.0]))
    thick, _ = surface.along_rays(middles - hair, -normals)
    return np.asarray(middles[~np.isfinite(ahead) & (thick > tol.MOULD_SLIVER_MM)])
