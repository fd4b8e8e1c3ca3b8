"""Which patches are hidden to test the form, and how their error is counted."""

from __future__ import annotations

import numpy as np
import pytest
from form.form_checks import cells_on, drum
from numpy.testing import assert_allclose

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin
from lossfill.form.hide import choose_patches, rms_on
from lossfill.frame.profile import make_profile
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


def cup() -> Cells:
    """Straight cup 60 mm high: floor, wall 4 mm thick, foot; its lip is a corner."""
    corners = [(0.0, 5.0), (34.0, 5.0), (36.0, 60.0), (40.0, 60.0), (38.0, 0.0), (0.0, 0.0)]
    return cells_on(make_profile(np.array(corners), spacing_mm=0.5))


def through(cells: Cells, low_mm: float, high_mm: float) -> BoolArray:
    """A tenth of the turn gone on both skins of the wall between two heights."""
    rows = (cells.height_mm > low_mm) & (cells.height_mm < high_mm) & (cells.radius_mm > 30.0)
    columns = np.arange(cells.shape[1]) < cells.shape[1] // 10
    return np.asarray(rows[:, None] & columns)


def heights_of(cells: Cells, patch: BoolArray) -> tuple[float, float]:
    height = cells.height_mm[patch.any(axis=1)]
    return float(height.min()), float(height.max())


def test_a_hole_in_the_wall_is_also_tried_above_and_below() -> None:
    cells = cup()
    missing = through(cells, 25.0, 37.0)
    seen = Skin(np.zeros(cells.shape), np.where(missing, 0.0, 3.0))
    patches = choose_patches(cells, seen, missing)
    middles = [float(np.mean(heights_of(cells, patch))) for patch in patches]
    assert len(patches) >= 7
    assert sum(abs(middle - 31.0) < 2.0 for middle in middles) >= 3
    assert sum(middle > 36.0 for middle in middles) >= 1
    assert sum(middle < 26.0 for middle in middles) >= 1
    inner = len(cells.across)
    for patch in patches:
        low, high = heights_of(cells, patch)
        # As high as the loss, on both skins at one height, and off the lip, the floor and the foot.
        assert_allclose(high - low, 12.0, atol=3.5)
        sides = [
            float(cells.height_mm[s][patch[s].any(axis=1)].mean())
            for s in (slice(inner), slice(inner, None))
        ]
        assert_allclose(sides[0], sides[1], atol=2.5)
        assert high < 60.0 - 0.7 * tol.PATCH_CLEAR_MM
        assert low > 0.7 * tol.PATCH_CLEAR_MM


@pytest.mark.parametrize(("low_mm", "high_mm"), [(40.0, 70.0), (-1.0, 20.0)], ids=["rim", "foot"])
def test_a_loss_that_meets_rim_or_foot_is_tried_at_its_own_height_only(
    low_mm: float, high_mm: float
) -> None:
    cells = cup()
    missing = through(cells, low_mm, high_mm)
    seen = Skin(np.zeros(cells.shape), np.where(missing, 0.0, 3.0))
    patches = choose_patches(cells, seen, missing)
    assert len(patches) >= 3
    rows = missing.any(axis=1)
    assert all((patch.any(axis=1) == rows).all() for patch in patches)


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
