"""Both skins of a sheet as plates that bend as little as they may.

The thin-plate spline minimises ∫ |D²f|² plus Λ times what it leaves of the samples. With the
kernel r² log r the energy is 8π aᵀKa for coefficients a, so that the ridge on the kernel matrix is
8πΛ; with n samples per mm², Λ = n ℓ⁴ evens out what is shorter than ℓ. Planes, or where hidden
patches say so quadrics, bend for nothing: an edge is then not pulled straight.

Reference: G. Wahba, Spline Models for Observational Data (SIAM, 1990), section 2.4; from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator

from lossfill import tolerances as tol
from lossfill.mesh import FloatArray
from lossfill.robust import spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Plates:
    """Two heights over the plan.

    Parameters
    ----------
    spline : from (N, 2) mm to (N, 2) mm, lower and upper skin
    centre : (2,) mm, taken off the plan first
    residual_mm : robust spread of the samples about it
    """

    spline: RBFInterpolator
    centre: FloatArray
    residual_mm: float

    def at(self, plan: FloatArray) -> FloatArray:
        """Heights of both skins, (N, 2) mm."""
        return np.asarray(self.spline(plan - self.centre), np.float64)


def fit_plates(
    plan: FloatArray,
    heights: FloatArray,
    *,
    degree: int,
    rng: np.random.Generator,
    samples: int = tol.PLATE_SAMPLES,
) -> Plates:
    """Fit both skins, leaving out what lies far off them.

    Parameters
    ----------
    plan, heights : (N, 2) places and heights of both skins, mm
    degree : of the polynomials that bend for nothing, 1 or 2
    rng : source of the choice of samples
    samples : of these at most, evenly over the plan
    """
    chosen = _spread_out(plan, samples, rng)
    plan, heights = plan[chosen], heights[chosen]
    centre = plan.mean(axis=0)
    plan = plan - centre
    density = len(plan) / max(float(np.prod(np.ptp(plan, axis=0))), 1e-9)
    ridge = 8.0 * np.pi * density * tol.PLATE_GIVE_MM**4
    keep = np.ones(len(plan), dtype=np.bool_)
    for _ in range(2):
        spline = RBFInterpolator(
            plan[keep],
            heights[keep],
            kernel="thin_plate_spline",
            degree=degree,
            smoothing=ridge,
        )
        left = np.abs(spline(plan) - heights)
        spread = max(spread_of(left[keep]), 1e-6)
        again = left.max(axis=1) < tol.PLATE_OUTLIER * max(spread, tol.PLATE_FLOOR_MM)
        if (again == keep).all() or again.sum() < 0.7 * len(plan):
            break
        keep = again
    return Plates(spline, centre, spread)


def _spread_out(plan: FloatArray, samples: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Choose one point in each cell of a coarse grid, so that all parts have the same say."""
    if len(plan) <= samples:
        return np.arange(len(plan))
    low, span = plan.min(axis=0), np.ptp(plan, axis=0)
    cell = float(np.sqrt(span.prod() / samples))
    order = rng.permutation(len(plan))
    while True:
        key = np.floor((plan[order] - low) / cell).astype(np.int64)
        _, first = np.unique(key[:, 0] * 100_003 + key[:, 1], return_index=True)
        if len(first) <= samples:
            return np.asarray(order[first], np.intp)
        cell *= 1.05
