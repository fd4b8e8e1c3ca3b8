"""Rigid motions by which a copy of a vessel's skin lies on it, and planes that they mirror at."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from lossfill.form import Form
from lossfill.form.cells import Skin
from lossfill.form.copies import Copy
from lossfill.mesh import FloatArray


def known_skin(form: Form) -> Skin:
    """What the sources are made from: the skin, without what lies in the gaps."""
    return Skin(form.skin.offset_mm, np.where(form.gap, 0.0, form.skin.weight))


def motion_of(copy: Copy) -> FloatArray:
    """(4, 4) that takes the place that is copied to the one that it stands for, round vessel."""
    start = turn_about_z(copy.turn_rad)
    if copy.mirrored:
        # θ goes to turn - θ: first y is turned over, then all is turned.
        start = start @ np.diag([1.0, -1.0, 1.0, 1.0])
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_rotvec(copy.motion[3:]).as_matrix()
    matrix[:3, 3] = copy.motion[:3]
    return np.asarray(matrix @ start)


def turn_about_z(angle_rad: float) -> FloatArray:
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_rotvec([0.0, 0.0, angle_rad]).as_matrix()
    return matrix


def plane_of(reflection: FloatArray, near: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Unit normal, and a point near `near`, of the plane that a near reflection mirrors at."""
    symmetric = 0.5 * (reflection[:3, :3] + reflection[:3, :3].T)
    values, vectors = np.linalg.eigh(symmetric)
    assert values[0] < -0.99
    image = reflection[:3, :3] @ near + reflection[:3, 3]
    return vectors[:, 0], 0.5 * (near + image)


def angle_between_deg(one: FloatArray, other: FloatArray) -> float:
    """Angle between two planes, by their normals of either sign."""
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(one, other)), abs(one @ other))))
