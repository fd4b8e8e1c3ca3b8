"""The consensus section of the vessel: one closed half-plane curve from axis to axis."""

from __future__ import annotations

from dataclasses import dataclass

from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Polyline in the (r, z) half plane, from the axis inside, over the lip, to the axis below.

    Parameters
    ----------
    points : (N, 2) r and z, mm; r >= 0, evenly spaced along the curve
    normals : (N, 2) unit, pointing out of the material
    lip : index of the highest point
    """

    points: FloatArray
    normals: FloatArray
    lip: int
