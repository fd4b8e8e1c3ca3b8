"""A solid whose folds nowhere touch along an edge, so that a file's 32-bit numbers hold it.

Where the shadows of a rough break meet, two walls of a mould may come together along one edge.
In the modeller they stay apart by name; a file knows places only, and there it would be pinched.
"""

from __future__ import annotations

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.body.topology import edges_of
from lossfill.errors import BooleanError
from lossfill.fill.make import storable
from lossfill.mesh import FloatArray
from lossfill.scan.weld import weld
from lossfill.solids import Solid, checked, mesh_from_solid


def opened(solid: Solid) -> Solid:
    """Cut a hair away about every edge at which a solid touches itself.

    Taking away is the safe side for a mould: no half can lock by it.

    Returns
    -------
    It on coordinates that 32-bit floats hold exactly.

    Raises
    ------
    BooleanError
        Where it does not become sound by that.
    """
    for _ in range(tol.MOULD_OPENINGS):
        edges = _pinched(solid)
        if not len(edges):
            break
        hairs = [_hair(start, end) for start, end in edges]
        whole = manifold3d.Manifold.batch_boolean([solid, *hairs], manifold3d.OpType.Subtract)
        parts = sorted(whole.decompose(), key=lambda part: float(part.volume()))
        if not parts or any(part.volume() > tol.MOULD_CRUMB_MM3 for part in parts[:-1]):
            raise BooleanError("a half of the mould falls apart where its walls touch")
        solid = checked(parts[-1], "a half of the mould could not be opened where its walls touch")
    return storable(solid)[0]


def _pinched(solid: Solid) -> FloatArray:
    """Ends of the edges at which more than two triangles meet once rounded, (E, 2, 3)."""
    mesh = mesh_from_solid(solid.simplify(tol.COLLAPSE_MM[0]))
    places, index = weld(mesh.vertices.astype(np.float32))
    faces = index[mesh.faces]
    a, b, c = faces.T
    edges = edges_of(faces[(a != b) & (b != c) & (c != a)])
    bad = edges.uses > 2
    return places.astype(np.float64)[np.stack([edges.low[bad], edges.high[bad]], axis=1)]


def _hair(start: FloatArray, end: FloatArray) -> Solid:
    """A slim rod about an edge."""
    knob = manifold3d.Manifold.sphere(tol.MOULD_HAIR_MM, 8).rotate((17.0, 29.0, 41.0))
    points = mesh_from_solid(knob).vertices
    return manifold3d.Manifold.hull_points(np.concatenate([points + start, points + end]))
