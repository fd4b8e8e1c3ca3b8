"""Plain dimensions of the vessel, from its profile and its skin."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.frame.frame import Roundness
from lossfill.frame.outline import Outline
from lossfill.frame.profile import Profile, Projection, at
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray
from lossfill.robust import belief, spread_of


def capacity_ml(profile: Profile) -> float:
    """Volume of the hollow up to the lip, ml: π ∫ r² dz along the inside (disk integration)."""
    inside = profile.points[: profile.lip + 1]
    r, dz = inside[:, 0], np.diff(inside[:, 1])
    # The mean of r² over a straight piece of profile, exact for a frustum.
    mean_square = (r[:-1] ** 2 + r[:-1] * r[1:] + r[1:] ** 2) / 3
    return float(np.pi * (mean_square * dz).sum()) / 1000.0


def rim_diameter_mm(profile: Profile) -> float:
    """Diameter over the outside of the lip, where it is widest within a wall's width below it."""
    # By height alone: on a broad flat rim any of its points may be the highest.
    near = profile.points[:, 1] > profile.points[profile.lip, 1] - wall_mm(profile)
    return 2 * float(profile.points[near, 0].max())


def foot_diameter_mm(profile: Profile) -> float:
    """Diameter over the line on which the vessel stands, mm."""
    below = profile.points[profile.lip :]
    standing = below[:, 1] < tol.STANDING_MM
    return 2 * float(below[standing, 0].max())


def wall_mm(profile: Profile) -> float:
    """Median thickness of the wall above the floor, mm."""
    inside, outside = profile.points[: profile.lip], profile.points[profile.lip + 1 :]
    thickness = np.asarray(cKDTree(outside).query(inside)[0])
    rise = profile.points[profile.lip, 1] - inside[:, 1]
    height = float(np.ptp(inside[:, 1]))
    # Away from the floor, where the foot thickens it, and from the lip, where it rounds off.
    wall = (rise > 0.15 * height) & (rise < 0.85 * height)
    return float(np.median(thickness[wall] if wall.any() else thickness))


def roundness_by_height(
    profile: Profile,
    samples: Samples,
    drop: Projection,
    outline: Outline | None,
    *,
    n_heights: int = 5,
) -> tuple[Roundness, ...]:
    """Amplitudes of the radius's 2nd to 4th harmonic at heights from foot to rim, mm."""
    top = float(profile.points[profile.lip, 1])
    band = 0.5 * top / n_heights
    rounds = []
    _, normals = at(profile, drop.along)
    skin = (drop.agreement > tol.SKIN_AGREEMENT) & (np.abs(normals[:, 0]) > 0.5)
    skin &= drop.along > profile.lip
    radius = np.hypot(samples.points[:, 0], samples.points[:, 1])
    # Slope is taken out: the radial deviation is that from the profile, not from the ring's mean.
    deviation = drop.offset_mm / np.where(skin, normals[:, 0], 1.0)
    real = samples.points
    if outline is not None:
        real = outline.from_round(samples.points, drop.along)
    angle = np.arctan2(real[:, 1], real[:, 0])
    for k in range(n_heights):
        middle = (k + 0.5) * top / n_heights
        ring = skin & (np.abs(samples.points[:, 2] - middle) < band)
        if ring.sum() < tol.RING_SAMPLES_MIN:
            continue
        answer = fit_harmonics(angle[ring], deviation[ring], order=4)
        if outline is not None:
            answer = answer + _outline_harmonics(
                outline, profile, float(np.median(drop.along[ring]))
            )
        amplitudes = np.hypot(answer[1::2], answer[2::2])
        two, three, four = (float(a) for a in amplitudes[1:4])
        mean = float(np.median(radius[ring]))
        rounds.append(Roundness(middle, mean, (two, three, four)))
    return tuple(rounds)


def _outline_harmonics(outline: Outline, profile: Profile, along: float) -> FloatArray:
    """Harmonics of an outline's radius at one place along the profile, as in `fit_harmonics`.

    Of the whole turn, which an outline knows: over a gap the lobes' own waves, which are none of
    these, would be taken for a large sum of them.
    """
    turn = np.linspace(0.0, 2 * np.pi, tol.ROUNDNESS_PLACES, endpoint=False)
    places = np.full(len(turn), along)
    r, z = at(profile, places[:1])[0][0]
    round_ring = np.stack([r * np.cos(turn), r * np.sin(turn), np.full(len(turn), z)], axis=1)
    real = outline.from_round(round_ring, places)
    angle = np.arctan2(real[:, 1], real[:, 0])
    return fit_harmonics(angle, np.hypot(real[:, 0], real[:, 1]) - r, order=4)


def fit_harmonics(angle: FloatArray, value: FloatArray, *, order: int) -> FloatArray:
    """Robust least squares of a0 + Σ (a_m cos mθ + b_m sin mθ), m = 1 … order.

    Returns
    -------
    (2 order + 1,) : a0, a1, b1, a2, b2, …; with even angles and no outliers these are the
    coefficients of a discrete Fourier transform.
    """
    columns = [np.ones_like(angle)]
    for m in range(1, order + 1):
        columns += [np.cos(m * angle), np.sin(m * angle)]
    design = np.stack(columns, axis=1)
    weights = np.ones(len(value))
    for _ in range(6):
        weighted = design * weights[:, None]
        # A whisper of ridge keeps a ring with a gap from swinging out in it.
        matrix = weighted.T @ design + 1e-6 * len(value) * np.eye(design.shape[1])
        answer = np.asarray(np.linalg.solve(matrix, weighted.T @ value), dtype=np.float64)
        residual = value - design @ answer
        weights = belief(residual, spread_of(residual) + 1e-9, reach=4.0)
    return answer
