"""Least squares on even knots with linear interpolation between them: each sample knows of two."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Hats:
    """Linear interpolation on even knots, as a design matrix without its zeros.

    Parameters
    ----------
    spans : for each stretch between knots, the samples in it
    pairs : what their columns are at the knot before and at the one after, (K, 2 · D)
    """

    spans: tuple[NDArray[np.intp], ...]
    pairs: tuple[FloatArray, ...]

    @staticmethod
    def over(place: FloatArray, n: int, parts: FloatArray) -> Hats:
        """Samples at places (N,) among n knots, each with its D columns (N, D) of any knot."""
        low = np.minimum(place.astype(np.intp), n - 2)
        past = (place - low)[:, None]
        both = np.hstack([(1.0 - past) * parts, past * parts])
        spans = tuple(np.flatnonzero(low == k) for k in range(n - 1))
        return Hats(spans, tuple(both[mine] for mine in spans))

    def gathered(self, value: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Normal equations of weighted least squares, (n · D, n · D) and (n · D,)."""
        d = self.pairs[0].shape[1] // 2
        size = (len(self.spans) + 1) * d
        matrix, right = np.zeros((size, size)), np.zeros(size)
        for k, (mine, pair) in enumerate(zip(self.spans, self.pairs, strict=True)):
            here = slice(k * d, (k + 2) * d)
            weighted = pair * weights[mine, None]
            matrix[here, here] += weighted.T @ pair
            right[here] += weighted.T @ value[mine]
        return matrix, right

    def at(self, answer: FloatArray) -> FloatArray:
        """What an answer (n · D,) says at each sample, (N,)."""
        d = self.pairs[0].shape[1] // 2
        result = np.zeros(sum(map(len, self.spans)))
        for k, (mine, pair) in enumerate(zip(self.spans, self.pairs, strict=True)):
            result[mine] = pair @ answer[k * d : (k + 2) * d]
        return result
