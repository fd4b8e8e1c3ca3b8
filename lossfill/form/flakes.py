"""Shallow spalls: a few tenths of a millimetre gone from one skin, within a steep edge.

Such a place faces as the skin does and lies no lower than a pot may be out of round. What tells it
is that its edge is steep where dents and the marks of fingers run out gently, that it is larger
than texture, and that it lies lower than texture and relief do in a tenth of their rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, areas_of, grow, label_around
from lossfill.form.conform import blur
from lossfill.frame.profile import Profile
from lossfill.mesh import BoolArray, FloatArray
from lossfill.robust import spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Flakes:
    """What may be shallow spalls.

    Parameters
    ----------
    core : (R, C) cells that certainly lie low
    whole : (R, C) these and the edges about them, of which the form must not be taken
    """

    core: BoolArray
    whole: BoolArray

    def without(self, plain_gap: BoolArray, gap: BoolArray) -> Flakes:
        """Take for whole all that is a gap by these alone, not a plain one besides."""
        return Flakes(self.core, gap & ~plain_gap)


def find_flakes(cells: Cells, profile: Profile, seen: Skin, gap: BoolArray) -> Flakes:
    """Look for shallow spalls.

    Their slope is only seen coarsely here: `loss.find_losses` judges it on the whole scan.

    Parameters
    ----------
    profile : what the cells lie on
    seen : what all samples that face as the skin does lie off a first form, (R, C) mm
    gap : (R, C) where the vessel shows no skin anyway
    """
    sunk = _below_surroundings(cells, seen, gap)
    there = seen.weight > 0
    # Of the size of the smallest flake, so that single samples and cells say little.
    mean = blur(cells, sunk, there, tol.FLAKE_BLUR_MM)
    limit = _limit(cells, mean, there & ~gap)[:, None]
    # Over a sharp lip single cells err by as much as a flake is deep.
    lip = np.abs(cells.along - profile.lip) * profile.spacing_mm < tol.FLAKE_LIP_MM
    labels, n = label_around((mean < -tol.FLAKE_SHARE * limit) & there & ~lip[:, None])
    lowest = _deepest(labels, mean, n)
    flake = _deepest(labels, mean / limit, n) < -1.0
    flake &= areas_of(cells, labels, n) >= tol.FLAKE_AREA_MM2
    flake &= _steepness(cells, labels, sunk, there, n) > tol.FLAKE_SLOPE
    flake[0] = False
    # About a deep one relief of the pot's own may hang on to it, which is shallow beside it.
    core: BoolArray = flake[labels] & (mean < tol.FLAKE_DEEP_SHARE * lowest[labels])
    # The mean alone would blur the edge over the skin beside it.
    low = np.maximum(mean, sunk) < -tol.FLAKE_EDGE_SHARE * limit
    core &= low | ~grow(cells, ~core, tol.CELL_MM)
    # The edge of what is a gap without this is looked for by single samples.
    known = np.bincount(labels[gap], minlength=n + 1) > 0
    edge = grow(cells, core & ~known[labels], tol.CELL_MM) & low
    return Flakes(core, core | edge)


def _below_surroundings(cells: Cells, seen: Skin, gap: BoolArray) -> FloatArray:
    """How far each cell lies above (or below, negative) the skin about it, (R, C) mm."""
    there = seen.weight > 0
    level = np.zeros(cells.shape[0])
    for row in range(cells.shape[0]):
        if there[row].sum() > tol.FLAKE_ROW_CELLS:
            level[row] = np.median(seen.offset_mm[row, there[row]])
    offset = np.where(there, seen.offset_mm - level[:, None], 0.0)
    trusted = there & ~gap
    for _ in range(tol.FLAKE_ROUNDS):
        sunk = offset - blur(cells, offset, trusted, tol.FLAKE_SURROUNDINGS_MM)
        # What sticks out of the surroundings or lies below them has no say in where they are.
        trusted = there & ~gap & (np.abs(sunk) < tol.FLAKE_ASIDE * spread_of(sunk[trusted]))
    return np.where(there, sunk, 0.0)


def _limit(cells: Cells, mean: FloatArray, there: BoolArray) -> FloatArray:
    """How low a place of each row must lie to be no texture, relief or misfit, (R,) mm."""
    strays = np.zeros(cells.shape[0])
    for row in range(cells.shape[0]):
        values = mean[row, there[row]]
        if len(values) > tol.FLAKE_ROW_CELLS:
            # By the low side: glaze may stand on the skin in drips, and a drip is no dip.
            low, middle = np.quantile(values, [0.1, 0.5])
            strays[row] = tol.FLAKE_SPREADS * (float(middle - low) / 1.28 - tol.FLAKE_SMOOTH_MM)
    result: FloatArray = np.maximum(tol.FLAKE_SEEN_MM, maximum_filter1d(strays, 5))
    return result


def _deepest(labels: NDArray[np.int32], value: FloatArray, n: int) -> FloatArray:
    lowest = np.zeros(n + 1)
    np.minimum.at(lowest, labels.ravel(), value.ravel())
    return lowest


def _steepness(
    cells: Cells, labels: NDArray[np.int32], sunk: FloatArray, there: BoolArray, n: int
) -> FloatArray:
    """Mean slope across the edge of each labelled place, (n + 1,) mm of depth per mm of way."""
    width = np.maximum(cells.radius_mm, 0.25 * cells.row_mm)[:, None] * cells.column_rad
    rise, count = np.zeros(n + 1), np.zeros(n + 1)
    for axis, shift, way in ((1, 1, width), (1, -1, width), (0, 1, None), (0, -1, None)):
        beside = np.roll(labels, shift, axis=axis)
        outside = np.roll(sunk, shift, axis=axis)
        edge = (labels > 0) & (beside == 0) & there & np.roll(there, shift, axis=axis)
        if way is None:
            edge[0 if shift > 0 else -1] = False
        step = (outside - sunk) / (cells.row_mm if way is None else way)
        rise += np.bincount(labels[edge], step[edge], minlength=n + 1)
        count += np.bincount(labels[edge], minlength=n + 1)
    result: FloatArray = rise / np.maximum(count, 1.0)
    return result
