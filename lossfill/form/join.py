"""The skin right at the join, finer than the form's cells show it.

A cell averages the skin over 1.5 mm. What single samples near a gap lie off the form is carried
over the join by the best linear prediction from the nearest of them, which fades out within two or
three millimetres: so the fill's skin starts at the body's, and slopes as it does.

Reference: M. L. Stein, "Interpolation of Spatial Data", Springer 1999, section 2.7 (the covariance
(1 + x + x²/3) e⁻ˣ of a field that has a slope everywhere), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.frame.profile import Profile, at
from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class JoinSkin:
    """Samples of skin near the gaps.

    Parameters
    ----------
    places : (N, 6) place on the round profile, mm, and its normal times a length, so that the two
        skins of a wall lie apart
    residual_mm : (N,) how far the skin lies off the form there, positive outwards
    length_mm : over which the residual forgets itself
    noise_mm : scatter of single samples
    """

    places: FloatArray
    residual_mm: FloatArray
    length_mm: float
    noise_mm: float

    def beyond_form_mm(self, places: FloatArray) -> FloatArray:
        """Most likely distance of the skin from the form at (M, 6) places, (M,) mm."""
        if len(self.places) < tol.JOIN_SAMPLES:
            return np.zeros(len(places))
        found = cKDTree(self.places).query(places, k=tol.JOIN_SAMPLES)
        distance, nearest = np.asarray(found[0], dtype=np.float64), np.asarray(found[1])
        known = self.places[nearest]
        # Squared lengths and products give all mutual distances without a large array.
        square = (known**2).sum(axis=2)
        apart = square[:, :, None] + square[:, None, :] - 2 * known @ known.transpose(0, 2, 1)
        deviation = max(float(np.sqrt(np.mean(self.residual_mm**2))), tol.RESIDUAL_FLOOR_MM)
        ratio = (max(self.noise_mm, tol.JOIN_NOISE_MM) / deviation) ** 2
        matrix: FloatArray = _alike(np.sqrt(np.maximum(apart, 0.0)) / self.length_mm)
        matrix += ratio * np.eye(tol.JOIN_SAMPLES)
        shared = _alike(distance / self.length_mm)[:, :, None]
        weight = np.asarray(np.linalg.solve(matrix, shared)[:, :, 0], dtype=np.float64)
        result: FloatArray = (weight * self.residual_mm[nearest]).sum(axis=1)
        return result


def join_places(profile: Profile, along: FloatArray, angle: FloatArray) -> FloatArray:
    """Where places along the profile and around lie for `JoinSkin`, (N, 6)."""
    points, normals = at(profile, along)
    turn = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.hstack(
        [
            points[:, :1] * turn,
            points[:, 1:],
            tol.PROJECT_NORMAL_MM * normals[:, :1] * turn,
            tol.PROJECT_NORMAL_MM * normals[:, 1:],
        ]
    )


def _alike(ratio: FloatArray) -> FloatArray:
    """Correlation at a distance in lengths."""
    result: FloatArray = (1.0 + ratio + ratio**2 / 3.0) * np.exp(-ratio)
    return result
