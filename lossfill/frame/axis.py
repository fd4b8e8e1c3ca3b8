"""The axis of revolution from surface normals, robust against breaks, handles and relief.

On a surface of revolution every normal line meets the axis. A line through x along n has Plücker
coordinates (n, x × n); it belongs to the linear complex (c, c̄) where c̄·n + c·(x × n) = 0. The
axis is the complex that the normals fit best, a 6 × 6 eigenproblem.

Reference: H. Pottmann, M. Hofer, B. Odehnal, J. Wallner, "Line geometry for 3D shape
understanding and reconstruction", ECCV 2004, LNCS 3021; equations from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import AlignmentError
from lossfill.mesh import FloatArray
from lossfill.robust import spread_of


@dataclass(frozen=True, slots=True, eq=False)
class AxisFit:
    """A line and the evidence for it.

    Parameters
    ----------
    point : (3,) the point of the axis nearest to the samples' middle, mm
    direction : (3,) unit; its sign means nothing yet
    residual_mm : robust distance of the normals from meeting the axis
    support : fraction of normals that pass within three residuals of the axis
    """

    point: FloatArray
    direction: FloatArray
    residual_mm: float
    support: float


def fit_axis(points: FloatArray, normals: FloatArray, *, rng: np.random.Generator) -> AxisFit:
    """Find the axis that most normals meet.

    Parameters
    ----------
    points, normals : (N, 3) mm and unit
    rng : picks the random starts

    Raises
    ------
    AlignmentError
        Where all points coincide. A ball, a plane or a box has some line that its normals fit
        best, too: whether it is an axis is for the section and the profile to say.
    """
    middle = points.mean(axis=0)
    centred = points - middle
    size = float(np.sqrt((centred**2).sum(axis=1).mean()))
    if not size > 0:
        raise AlignmentError("all points of the scan coincide: no axis can be found")
    lines = np.hstack([np.cross(centred / size, normals), normals])
    best: tuple[float, FloatArray] | None = None
    for weights in _starts(lines, rng):
        complex_, score = _iterate(lines, weights)
        if best is None or score < best[0]:
            best = (score, complex_)
    assert best is not None  # the full-set start always exists
    c, moment = _as_line(best[1])
    residuals = np.abs(lines @ best[1]) * size
    spread = spread_of(residuals)
    support = float((residuals < 3 * spread + 1e-9 * size).mean())
    return AxisFit(middle + size * np.cross(c, moment), c, spread, support)


def _starts(lines: FloatArray, rng: np.random.Generator) -> list[FloatArray]:
    """Weights to begin from: all normals, then small random sets, of which some miss the faults."""
    n = len(lines)
    starts = [np.ones(n)]
    for _ in range(tol.AXIS_STARTS):
        weights = np.zeros(n)
        weights[rng.choice(n, size=min(n, 40), replace=False)] = 1.0
        starts.append(weights)
    return starts


def _iterate(lines: FloatArray, weights: FloatArray) -> tuple[FloatArray, float]:
    """Reweight until settled (Geman–McClure weights); return the complex and its robust score."""
    for _ in range(tol.AXIS_ITERATIONS):
        complex_ = _best_complex(lines, weights)
        squared = (lines @ complex_) ** 2
        # The scale may shrink only to what out-of-round pots do anyway.
        scale = max(float(np.median(squared)) * 6.0, tol.AXIS_SCALE_FLOOR**2)
        weights = 1.0 / (1.0 + squared / scale) ** 2
    # Truncated squares at a fixed scale make the starts comparable.
    cap = tol.AXIS_SCORE_CAP**2
    return complex_, float(np.minimum(squared, cap).mean())


def _best_complex(lines: FloatArray, weights: FloatArray) -> FloatArray:
    """Minimise Σ w (c̄·n + c·n̄)² under |c| = 1; returns (c, c̄)."""
    M = (lines * weights[:, None]).T @ lines / weights.sum()
    A, B, C = M[:3, :3], M[:3, 3:], M[3:, 3:]
    # A cylinder has no normal along its axis: C is singular there and the shift along the axis
    # is free, which the pseudo-inverse sets to zero.
    C_inverse = np.linalg.pinv(C, rcond=1e-6, hermitian=True)
    _, vectors = np.linalg.eigh(A - B @ C_inverse @ B.T)
    c = vectors[:, 0]
    return np.concatenate([c, -C_inverse @ B.T @ c])


def _as_line(complex_: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Split a complex into direction and moment; its pitch, 0 for a revolution, is dropped."""
    c, c_bar = complex_[:3], complex_[3:]
    return c, c_bar - (c @ c_bar) * c
