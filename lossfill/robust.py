"""How far most of the residuals stray, and how much to believe each of them."""

from __future__ import annotations

import numpy as np

from lossfill.mesh import FloatArray

REACH = 3.0
"""Spreads at which a residual is believed a quarter as much as one of none."""


def spread_of(residual: FloatArray) -> float:
    """Robust standard deviation about zero: right for Gaussian noise, little moved by outliers.

    From the median of the sizes, which for a Gaussian is 0.6745 = 1 / 1.4826 of the deviation.
    """
    return 1.4826 * float(np.median(np.abs(residual)))


def belief(residual: FloatArray, spread: float, *, reach: float = REACH) -> FloatArray:
    """Geman–McClure weights, 0 … 1: outliers lose all say, so a refit forgets them."""
    weights: FloatArray = 1.0 / (1.0 + (residual / (reach * spread)) ** 2) ** 2
    return weights
