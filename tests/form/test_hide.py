"""Which patches are hidden to test the form, and how their error is counted."""

from __future__ import annotations

import numpy as np
from form.form_checks import drum
from numpy.testing import assert_allclose

from lossfill import tolerances as tol
from lossfill.form.cells import Skin
from lossfill.form.hide import choose_patches, rms_on
from lossfill.mesh import BoolArray

WALL = drum(60, 180)


def gap(width_deg: float, rows: slice = slice(20, 40)) -> BoolArray:
    mask = np.zeros(WALL.shape, dtype=bool)
    mask[rows, : round(width_deg / 2)] = True
    return mask


def skin(missing: BoolArray) -> Skin:
    return Skin(np.zeros(WALL.shape), np.where(missing, 0.0, 3.0))


def test_patches_are_as_wide_and_high_as_the_gap() -> None:
    missing = gap(50.0)
    patches = choose_patches(WALL, skin(missing), missing)
    assert 3 <= len(patches) <= tol.PATCHES_MAX
    for patch in patches:
        assert patch.any(axis=1).nonzero()[0].tolist() == list(range(20, 40))
        assert patch.any(axis=0).sum() == 25
        # Most of it is really there to be compared with.
        assert (patch & ~missing).sum() >= tol.PATCH_SEEN_MIN * patch.sum()


def test_a_wide_loss_is_tested_with_narrower_patches() -> None:
    missing = gap(200.0)
    patches = choose_patches(WALL, skin(missing), missing)
    assert len(patches) >= 3
    for patch in patches:
        width = 2.0 * patch.any(axis=0).sum()
        assert tol.PATCH_WIDTHS_DEG[0] - 2 <= width <= tol.PATCH_WIDTHS_DEG[1] + 2
        # With most of the turn gone, a patch still has to be there to be compared with.
        assert (patch & ~missing).sum() >= tol.PATCH_SEEN_MIN * patch.sum()


def test_where_next_to_nothing_is_left_nothing_is_hidden() -> None:
    missing = gap(345.0)
    assert choose_patches(WALL, skin(missing), missing) == []
    everything = gap(360.0)
    assert choose_patches(WALL, skin(everything), everything) == []


def test_a_whole_vessel_is_tested_too() -> None:
    patches = choose_patches(WALL, skin(gap(0.0)), gap(0.0))
    assert len(patches) == tol.PATCHES_MAX
    # 45° of the middle half of the profile.
    assert_allclose(2.0 * patches[0].any(axis=0).sum(), 45.0, atol=2.0)
    assert patches[0].any(axis=1).sum() == 30


def test_error_is_weighted_by_area_where_there_is_skin() -> None:
    cells = drum(2, 8, radius_mm=np.array([10.0, 30.0]))
    offset, predicted = np.zeros((2, 8)), np.zeros((2, 8))
    predicted[0, 0], predicted[1, 0], predicted[1, 1] = 0.4, 0.2, 9.0
    weight = np.ones((2, 8))
    weight[1, 1] = 0.0
    patch = np.zeros((2, 8), dtype=bool)
    patch[:, :2] = True
    # Areas 1, 3 and 1 (for the cell that agrees): √((0.16 + 3 · 0.04) / 5).
    found = rms_on(patch, Skin(offset, weight), predicted, cells)
    assert_allclose(found, np.sqrt(0.28 / 5.0), rtol=1e-12)
