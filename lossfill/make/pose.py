"""How a solid stands best on a printer's bed."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.fit.entry import even_directions, turn_to
from lossfill.mesh import BoolArray, FloatArray, Mesh, face_vectors
from lossfill.solids import Solid, mesh_from_solid


def best_up(mesh: Mesh, visible: BoolArray) -> FloatArray:
    """The direction that should point up while printing, (3,) unit.

    Faces that lean out over the bed by more than 45° need supports, and these leave marks: least
    of them is wanted, and on skin that will be seen least of all. Of directions that are alike, the
    one in which the piece stands lowest: it prints quickest and tips least.

    Parameters
    ----------
    mesh : closed triangles, mm
    visible : (F,) True for triangles that will be seen
    """
    vectors = face_vectors(mesh)
    areas = np.linalg.norm(vectors, axis=1)
    directions = even_directions(tol.POSE_DIRECTIONS)
    weights = np.where(visible, tol.POSE_SKIN_WEIGHT, 1.0) * areas
    normals = vectors / np.maximum(areas, 1e-300)[:, None]
    overhang = np.array([float(weights[normals @ up < -np.sqrt(0.5)].sum()) for up in directions])
    heights = np.ptp(mesh.vertices @ directions.T, axis=0)
    scale = float(weights.sum())
    score = overhang / scale + tol.POSE_HEIGHT_WEIGHT * heights / float(heights.max())
    best: FloatArray = directions[int(np.argmin(score))]
    return best


def stood(solid: Solid, up: FloatArray) -> Solid:
    """The solid turned so that a direction points up, its lowest point on z = 0 at the origin."""
    turned = solid.transform(np.column_stack([turn_to(up), np.zeros(3)]))
    low, high = mesh_from_solid(turned).bounds
    middle = 0.5 * (low + high)
    return turned.translate((-float(middle[0]), -float(middle[1]), -float(low[2])))
