"""Where on a piece something is, as one would say it with the vessel standing in front."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.loss.measure import clock
from lossfill.loss.sides import Side
from lossfill.make.brief import Lost
from lossfill.mesh import FloatArray, face_vectors, unit


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """How a piece stands in the vessel.

    Parameters
    ----------
    middle : (3,) mm, vessel coordinates
    out : (3,) unit vector out of its outer skin
    left, up : (3,) unit vectors along the wall, as one sees them who looks at it from outside
    reach_mm : (2,) how far it reaches from its middle along them
    level : whether it lies rather than stands, as in a floor, so that it has no upper edge
    """

    middle: FloatArray
    out: FloatArray
    left: FloatArray
    up: FloatArray
    reach_mm: FloatArray
    level: bool

    def where(self, at: FloatArray) -> str:
        """Say a place, such as "upper left, seen from outside (9:00, 62 mm up)"."""
        around = clock(float(np.degrees(np.arctan2(at[1], at[0]))))
        number = f"{around}, {at[2]:.0f} mm up"
        if self.level:
            return f"towards {around}, {np.hypot(at[0], at[1]):.0f} mm from the axis"
        away = at - self.middle
        across, upward = (away @ self.left, away @ self.up) / self.reach_mm
        words = []
        if abs(upward) > tol.CHECK_EDGE_SHARE:
            words.append("upper" if upward > 0 else "lower")
        if abs(across) > tol.CHECK_EDGE_SHARE:
            words.append("left" if across > 0 else "right")
        if not words:
            return f"middle ({number})"
        return f"{' '.join(words)}, seen from outside ({number})"


def standing_of(design: Lost) -> Standing:
    """How a designed piece stands, by its outer skin, or by its inner one where it has no other."""
    points = design.mesh.vertices
    middle = design.mesh.bounds.mean(axis=0)
    vectors = face_vectors(design.mesh)
    out = vectors[design.side == int(Side.OUTER)].sum(axis=0)
    if not out.any():
        out = -vectors[design.side == int(Side.INNER)].sum(axis=0)
    if not out.any():
        out = np.array([middle[0], middle[1], 0.0])
    out = unit(out)
    level = bool(abs(out[2]) > tol.CHECK_LEVEL)
    pole = np.array([1.0, 0.0, 0.0]) if level else np.array([0.0, 0.0, 1.0])
    up = unit(pole - (pole @ out) * out)
    left = np.cross(out, up)
    reach = np.array([np.abs((points - middle) @ axis).max() for axis in (left, up)])
    return Standing(middle, out, left, up, np.maximum(reach, 1e-6), level)
