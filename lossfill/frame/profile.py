"""The consensus section of the vessel: one half-plane curve from axis to axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.frame.refusals import no_axis
from lossfill.mesh import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Polyline in the (r, z) half plane: from the axis inside, over the lip, to the axis below.

    Material lies to the right of the walking direction, so that the normal (the direction turned
    a quarter to the left) points out of the material:

        inside │←n  n→│ outside
               │      │
               ↑      ↓      (walking direction, seen on the right-hand wall)

    Parameters
    ----------
    points : (N, 2) r and z, mm; r >= 0, evenly spaced along the curve
    normals : (N, 2) unit, pointing out of the material
    lip : index of the highest point
    """

    points: FloatArray
    normals: FloatArray
    lip: int

    @property
    def spacing_mm(self) -> float:
        """Distance between neighbouring points along the curve, mm."""
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).mean())


@dataclass(frozen=True, slots=True, eq=False)
class Projection:
    """Where samples fall on a profile.

    Parameters
    ----------
    along : (N,) place on the profile in units of its index, 0 … len(points) - 1
    offset_mm : (N,) distance from the profile along its normal, positive out of the material
    agreement : (N,) cosine between the sample's normal and the profile's
    """

    along: FloatArray
    offset_mm: FloatArray
    agreement: FloatArray

    @property
    def row(self) -> NDArray[np.intp]:
        """Nearest profile point of each sample."""
        return np.rint(self.along).astype(np.intp)


def make_profile(curve: FloatArray, *, spacing_mm: float) -> Profile:
    """Resample a curve evenly and give it normals.

    Parameters
    ----------
    curve : (K, 2) r and z from the hollow's floor, over the lip, to the underside
    spacing_mm : wanted distance between points
    """
    step = np.linalg.norm(np.diff(curve, axis=0), axis=1)
    keep = np.concatenate([[True], step > 1e-9])
    curve = curve[keep]
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1))])
    n = max(round(along[-1] / spacing_mm), 16) + 1
    even = np.linspace(0.0, along[-1], n)
    points = np.stack([np.interp(even, along, curve[:, k]) for k in range(2)], axis=1)
    points[:, 0] = np.maximum(points[:, 0], 0.0)
    # Both ends lie on the axis by definition of a section.
    points[0, 0] = points[-1, 0] = 0.0
    return Profile(points, _normals(points), int(points[:, 1].argmax()))


def _normals(points: FloatArray) -> FloatArray:
    tangents = np.gradient(points, axis=0)
    # On the axis a smooth revolved surface is level.
    tangents[0], tangents[-1] = (1.0, 0.0), (-1.0, 0.0)
    tangents = gaussian_filter1d(tangents, 0.8, axis=0, mode="nearest")
    normals = np.stack([-tangents[:, 1], tangents[:, 0]], axis=1)
    unit: FloatArray = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    return unit


def project(profile: Profile, points: FloatArray, normals: FloatArray) -> Projection:
    """Drop each point on the part of the profile that faces the same way.

    Nearness is measured in place and direction together; so a thin wall's inner skin is never
    taken for its outer one, even where the pot is further out of round than the wall is thick.

    Parameters
    ----------
    points, normals : (N, 3) in vessel coordinates
    """
    p, n = to_half_plane(points, normals)
    reach = tol.PROJECT_NORMAL_MM
    tree = cKDTree(np.hstack([profile.points, reach * profile.normals]))
    _, nearest = tree.query(np.hstack([p, reach * n]), workers=-1)
    along = np.asarray(nearest, dtype=np.float64)
    spacing = profile.spacing_mm
    for _ in range(2):
        q, m = at(profile, along)
        tangential = (p[:, 0] - q[:, 0]) * m[:, 1] - (p[:, 1] - q[:, 1]) * m[:, 0]
        step = np.clip(tangential / spacing, -1.5, 1.5)
        along = np.asarray(np.clip(along + step, 0, len(profile.points) - 1), dtype=np.float64)
    q, m = at(profile, along)
    offset = ((p - q) * m).sum(axis=1)
    return Projection(along, offset, (n * m).sum(axis=1))


def at(profile: Profile, along: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points and unit normals at fractional places along the profile, each (N, 2)."""
    low = np.minimum(along.astype(np.intp), len(profile.points) - 2)
    t = (along - low)[:, None]
    both = np.hstack([profile.points, profile.normals])
    # One gather for both, for this is what the frame spends most of its time on.
    here = np.take(both, low, axis=0)
    here += t * np.take(np.diff(both, axis=0), low, axis=0)
    normals = here[:, 2:]
    normals /= np.hypot(normals[:, 0], normals[:, 1])[:, None]
    return here[:, :2], normals


def to_half_plane(points: FloatArray, normals: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Turn points and normals about the axis into the half plane: (N, 2) r and z each."""
    r = np.hypot(points[:, 0], points[:, 1])
    safe = np.maximum(r, 1e-12)
    n_r = (points[:, 0] * normals[:, 0] + points[:, 1] * normals[:, 1]) / safe
    return np.stack([r, points[:, 2]], axis=1), np.stack([n_r, normals[:, 2]], axis=1)


def on_skin(projection: Projection, *, reach_mm: float) -> BoolArray:
    """Tell which samples may be skin: near the profile and facing its way.

    Raises
    ------
    AlignmentError
        Where none does: what was taken for the axis is none.
    """
    near = np.abs(projection.offset_mm) < reach_mm
    result: BoolArray = near & (projection.agreement > tol.SKIN_AGREEMENT)
    if not result.any():
        raise no_axis("none of the surface follows one profile")
    return result
