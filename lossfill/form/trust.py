"""The error to expect in each gap: hide patches like it, predict them, and allow for its width.

A patch can only be as wide as what is left allows, and the error of a form grows with the width
of what it spans. By how much follows from the elastic model: the variance that is left to the field
once the skin is known, over the gap and over the patches. So the measured error of the patches
is stated times the ratio of these two.
"""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, label_around
from lossfill.form.choose import Elastic, field_of, without
from lossfill.form.conform import conform
from lossfill.form.elastic import mean_variance
from lossfill.form.hide import choose_patches, rms_on
from lossfill.form.rings import with_rings
from lossfill.mesh import BoolArray, FloatArray


def expect_errors(
    cells: Cells, skin: Skin, gap: BoolArray, elastic: Elastic, *, noise_mm: float
) -> tuple[FloatArray, float]:
    """State the RMS error to expect in each gap and in the largest.

    Returns
    -------
    (R, C) mm, the error of the gap that holds a cell or, outside of those tested, of the largest;
    and that of the largest, or of a patch hidden from a whole vessel
    """
    labels, n = label_around(gap)
    area = np.broadcast_to(cells.area_mm2[:, None], cells.shape)
    size = np.bincount(labels.ravel(), area.ravel(), minlength=n + 1)[1:]
    order = 1 + np.argsort(-size)[: tol.GAPS_TESTED]
    result = np.zeros(cells.shape)
    first: float | None = None
    for k in order.tolist():
        own = labels == k
        # The form was chosen by patches like the largest gap, which therefore are there already.
        patches = list(elastic.hidden) if first is None else choose_patches(cells, skin, gap, own)
        error = _error(cells, skin, gap, elastic, patches, own, noise_mm=noise_mm)
        if first is None:
            first = error
            result[:] = error
        else:
            result[own] = error
    if first is None:
        first = _error(cells, skin, gap, elastic, list(elastic.hidden), None, noise_mm=noise_mm)
        result[:] = first
    return result, first


def _error(
    cells: Cells,
    skin: Skin,
    gap: BoolArray,
    elastic: Elastic,
    patches: list[BoolArray],
    own: BoolArray | None,
    *,
    noise_mm: float,
) -> float:
    """RMS error of predicting some of the patches, carried over to the width of the gap."""
    # A few patches, spread round the turn, tell the error of the whole chain well enough.
    few = patches[:: max(1, round(len(patches) / tol.PATCHES_CONFORMED))]
    if not few:
        return noise_mm
    squares, variances = [], []
    for patch in few:
        rest = without(elastic.model, elastic.data, skin, patch)
        field = field_of(elastic.model, rest, elastic.stiffness)
        shape = conform(
            cells,
            skin,
            with_rings(cells, skin, field, patch),
            gap=gap | patch,
            noise_mm=noise_mm,
            about=patch,
        )
        squares.append(rms_on(patch, skin, shape, cells) ** 2)
        variances.append(mean_variance(elastic.model, rest, patch))
    growth = 1.0
    if own is not None:
        growth = max(1.0, mean_variance(elastic.model, elastic.data, own) / np.mean(variances))
    return float(np.sqrt(np.mean(squares) * growth))
