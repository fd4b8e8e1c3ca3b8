"""Pose and profile together, settled on the skin alone.

An out-of-round pot has no exact axis. The one meant here is the line about which the skin's
first angular harmonic vanishes, with the low harmonics that real pots have fitted beside it, so
that a pot with half its rim gone gives the same axis as the whole one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded

from lossfill import tolerances as tol
from lossfill.frame.profile import Profile, at, make_profile, on_skin, project
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray
from lossfill.robust import belief, spread_of

_HARMONICS = (2, 3, 4)


@dataclass(frozen=True, slots=True, eq=False)
class Refined:
    """Outcome of `refine`.

    Parameters
    ----------
    moved : (4, 4) rigid transform from the frame given to the frame found
    profile : the consensus profile in the frame found
    residual_mm : robust spread of the skin about the revolved profile, out of round included
    elastic_residual_mm : the same with the low harmonics allowed for
    coverage : share of samples that are skin
    """

    moved: FloatArray
    profile: Profile
    residual_mm: float
    elastic_residual_mm: float
    coverage: float


def refine(samples: Samples, curve: FloatArray, *, free: bool = True) -> Refined:
    """Settle axis and profile from a first section.

    Parameters
    ----------
    samples : in a frame near the right one, rim up
    curve : (K, 2) first section, from the hollow's floor over the lip to the underside
    free : settle the axis too; else the profile alone
    """
    length = float(np.linalg.norm(np.diff(curve, axis=0), axis=1).sum())
    spacing = length * tol.PROFILE_SPACING
    profile = make_profile(curve, spacing_mm=spacing)
    moved = np.eye(4)
    reach = max(2.0, tol.SKIN_REACH * float(np.hypot(*np.ptp(curve, axis=0))))
    last_round = len(tol.REFINE_SAMPLES) - 1
    for round_, n in enumerate(tol.REFINE_SAMPLES):
        step = _Step.solve(samples.thinned(n).moved(moved), profile, reach_mm=reach)
        if free and round_ < last_round:
            moved = _rigid(step.rigid) @ moved
        grown = profile.points + step.shift[:, None] * profile.normals
        profile = make_profile(grown, spacing_mm=spacing)
    return Refined(moved, profile, step.spread, step.elastic_spread, step.coverage)


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    shift: FloatArray
    rigid: FloatArray
    spread: float
    elastic_spread: float
    coverage: float

    @staticmethod
    def solve(samples: Samples, profile: Profile, *, reach_mm: float) -> _Step:
        """Fit d = shift(s) + rigid motion + low harmonics, robustly, by weighted least squares."""
        drop = project(profile, samples.points, samples.calm_normals)
        keep = on_skin(drop, reach_mm=reach_mm)
        p, along, d = samples.points[keep], drop.along[keep], drop.offset_mm[keep]
        _, normal = at(profile, along)
        extra = _motions_and_harmonics(p, normal)
        hold = _hold(float(np.ptp(profile.points[:, 1])), float(profile.points[:, 0].max()))
        row, n = np.rint(along).astype(np.intp), len(profile.points)
        weights = np.ones(len(d))
        for _ in range(4):
            shift, motion = _least_squares(row, extra, d, weights, n, len(d) * hold)
            residual = d - shift[row] - extra @ motion
            spread = spread_of(residual) + 1e-6
            weights = belief(residual, spread)
        round_only = residual + extra @ motion
        return _Step(
            shift,
            motion[:4],
            spread_of(round_only),
            spread,
            float(keep.mean()),
        )


def _sum_by_row(row: NDArray[np.intp], values: FloatArray, n: int) -> FloatArray:
    """Sum the columns of `values` over the samples of each profile row, (n, columns)."""
    columns = [np.bincount(row, values[:, k], minlength=n) for k in range(values.shape[1])]
    return np.stack(columns, axis=1)


def _motions_and_harmonics(p: FloatArray, normal: FloatArray) -> FloatArray:
    """Columns: shift x, shift y, turn about x, turn about y, then harmonics × powers of height."""
    r = np.maximum(np.hypot(p[:, 0], p[:, 1]), 1e-9)
    cos, sin = p[:, 0] / r, p[:, 1] / r
    n_x, n_y, n_z = normal[:, 0] * cos, normal[:, 0] * sin, normal[:, 1]
    # A turn ω moves p by ω × p; its share along the normal is ω · (p × n).
    columns = [n_x, n_y, p[:, 1] * n_z - p[:, 2] * n_y, p[:, 2] * n_x - p[:, 0] * n_z]
    z = p[:, 2] / max(float(np.ptp(p[:, 2])), 1e-9)
    angle = np.arctan2(p[:, 1], p[:, 0])
    for m in _HARMONICS:
        for wave in (np.cos(m * angle), np.sin(m * angle)):
            columns += [normal[:, 0] * wave * z**power for power in range(3)]
    return np.stack(columns, axis=1)


def _hold(height_mm: float, radius_mm: float) -> FloatArray:
    """What holds the low harmonics to the size that pots have, for each sample; the pose is free.

    Over a wide loss low harmonics and a shift of the axis look much alike.
    """
    size = max(height_mm, 2.0 * radius_mm)
    deviations = size * np.array([tol.ELASTIC_DEVIATIONS[m] for m in _HARMONICS])
    each = tol.HARMONIC_HOLD * (tol.RESIDUAL_TYPICAL_MM / deviations) ** 2
    return np.concatenate([np.zeros(4), np.repeat(each, 6)])


def _least_squares(
    row: NDArray[np.intp],
    extra: FloatArray,
    d: FloatArray,
    weights: FloatArray,
    n: int,
    hold: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Weighted least squares of d = shift[row] + extra · motion.

    The shift is one number a profile row; its block of the normal matrix has five diagonals (its
    weights, and the bending that decides where no sample lies) and is solved first. `hold` is the
    penalty on the square of each number of the motion.
    """
    bands = _bending(n, scale=len(d) / n)
    bands[2] += np.bincount(row, weights, minlength=n)
    weighted = extra * weights[:, None]
    mixed = _sum_by_row(row, weighted, n)
    right = np.bincount(row, weights * d, minlength=n)
    solved = solveh_banded(bands, np.hstack([mixed, right[:, None]]))
    complement = weighted.T @ extra - mixed.T @ solved[:, :-1]
    complement += np.diag(hold) + 1e-9 * len(d) * np.eye(extra.shape[1])
    rest = weighted.T @ d - mixed.T @ solved[:, -1]
    motion = np.asarray(np.linalg.solve(complement, rest), dtype=np.float64)
    shift: FloatArray = solved[:, -1] - solved[:, :-1] @ motion
    return shift, motion


def _bending(n: int, *, scale: float) -> FloatArray:
    """Upper diagonals of the shift's bending penalty, (3, n), as LAPACK stores a banded matrix."""
    bands = np.zeros((3, n))
    # The second difference squared: rows (1, -4, 6, -4, 1), less at the ends.
    bands[2] = 6.0
    bands[2, [0, -1]], bands[2, [1, -2]] = 1.0, 5.0
    bands[1, 1:] = -4.0
    bands[1, [1, -1]] = -2.0
    bands[0, 2:] = 1.0
    bands *= 0.05 * scale
    bands[2] += 1e-4 * scale
    return bands


def _rigid(step: FloatArray) -> FloatArray:
    """Undo the motion found: shift (x, y) and a small turn about x and y, as a (4, 4) matrix."""
    turn = np.array([step[2], step[3], 0.0])
    angle = float(np.linalg.norm(turn))
    matrix = np.eye(4)
    if angle > 0:
        x, y, z = turn / angle
        K = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
        matrix[:3, :3] += np.sin(angle) * K + (1 - np.cos(angle)) * K @ K
    matrix[:2, 3] = step[:2]
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)
