"""Flat sections through solids: of the body, of what is missing, and of the vessel made whole."""

from __future__ import annotations

from typing import TypeAlias

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.make.brief import Brief
from lossfill.mesh import FloatArray
from lossfill.solids import Solid

Area: TypeAlias = manifold3d.CrossSection


def section(solid: Solid, plane_from_vessel: FloatArray) -> Area:
    """Cut a solid by a plane.

    Parameters
    ----------
    plane_from_vessel : (4, 4) rigid; the plane is where its third coordinate is 0

    Returns
    -------
    The cut area in the plane's first two coordinates, mm; may be empty.
    """
    cut: Area = solid.transform(plane_from_vessel[:3]).slice(0.0)
    return cut


def whole_section(brief: Brief, plane_from_vessel: FloatArray) -> Area:
    """Cut the vessel made whole: the body and all that is missing of it.

    Body and missing material meet exactly along the break, where a cut may leave a hairline of
    rounding between them; it is closed.
    """
    parts = [brief.body, brief.lost.solid, *brief.others]
    areas = [section(part, plane_from_vessel) for part in parts]
    whole = Area.batch_boolean(areas, manifold3d.OpType.Add)
    hair = tol.SECTION_HAIR_MM
    miter = manifold3d.JoinType.Miter
    closed: Area = whole.offset(hair, miter).offset(-hair, miter)
    return closed


def upright_plane(angle_rad: float) -> FloatArray:
    """The half plane through the axis at an angle, (4, 4): x runs outwards there, y upwards.

    x is negative on the other side of the axis.
    """
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    matrix = np.eye(4)
    matrix[:3, :3] = [[c, s, 0.0], [0.0, 0.0, 1.0], [s, -c, 0.0]]
    return matrix


def level_plane(height_mm: float) -> FloatArray:
    """The level plane at a height, (4, 4): x and y are the vessel's."""
    matrix = np.eye(4)
    matrix[2, 3] = -height_mm
    return matrix
