"""The skin as an image: its masks against plain loops, across the seam of the turn too."""

from __future__ import annotations

import numpy as np
import pytest
from form.form_checks import cells_on, drum
from numpy.testing import assert_allclose, assert_array_equal

from lossfill.form.cells import Cells, cell_of, gather, grow, label_around
from lossfill.frame.profile import make_profile
from lossfill.mesh import BoolArray

CONE = drum(30, 40, radius_mm=np.linspace(1.0, 12.0, 30))
"""Columns from 0.16 mm to 1.9 mm wide, rows of 1.5 mm."""


def grown_by_loops(cells: Cells, mask: BoolArray, reach_mm: float) -> BoolArray:
    """Each cell takes the neighbours in its row that the reach holds, then rows up and down."""
    rows, columns = mask.shape
    up = round(reach_mm / cells.row_mm)
    result = mask.copy()
    for i, j in np.argwhere(mask):
        half = min(round(reach_mm / (cells.radius_mm[i] * cells.column_rad)), columns // 2)
        for row in range(max(i - up, 0), min(i + up + 1, rows)):
            for step in range(-half, half + 1):
                result[row, (j + step) % columns] = True
    return result


def spots(seed: int, share: float, cells: Cells = CONE) -> BoolArray:
    return np.random.default_rng(seed).random(cells.shape) < share


@pytest.mark.parametrize("reach_mm", [0.4, 1.6, 4.0, 15.0])
@pytest.mark.parametrize("seed", [0, 1])
def test_grow_is_a_dilation_in_mm(reach_mm: float, seed: int) -> None:
    mask = spots(seed, 0.01)
    mask[20, 0] = mask[25, -1] = True
    assert_array_equal(grow(CONE, mask, reach_mm), grown_by_loops(CONE, mask, reach_mm))


def test_grow_leaves_an_empty_mask_empty_and_its_input_alone() -> None:
    empty = np.zeros(CONE.shape, dtype=bool)
    assert not grow(CONE, empty, 5.0).any()
    mask = spots(2, 0.01)
    before = mask.copy()
    grow(CONE, mask, 5.0)
    assert_array_equal(mask, before)


def labelled_by_flooding(mask: BoolArray) -> list[set[tuple[int, int]]]:
    left = {(int(i), int(j)) for i, j in np.argwhere(mask)}
    groups = []
    while left:
        todo = [left.pop()]
        group = set(todo)
        while todo:
            i, j = todo.pop()
            for di in (-1, 0, 1):
                for dj in (-1, 0, 1):
                    near = (i + di, (j + dj) % mask.shape[1])
                    if near in left:
                        left.remove(near)
                        group.add(near)
                        todo.append(near)
        groups.append(group)
    return groups


@pytest.mark.parametrize("seed", range(6))
def test_labels_join_across_the_seam(seed: int) -> None:
    # From single spots to a sieve that hangs together.
    mask = spots(seed, 0.05 + 0.08 * seed)
    labels, n = label_around(mask)
    groups = labelled_by_flooding(mask)
    assert n == len(groups)
    assert_array_equal(labels > 0, mask)
    assert_array_equal(np.unique(labels[mask]), np.arange(1, n + 1))
    for group in groups:
        assert len({int(labels[place]) for place in group}) == 1


def test_a_spiral_over_the_seam_is_one_piece() -> None:
    mask = np.zeros((30, 12), dtype=bool)
    turn = np.arange(30)
    mask[turn, turn % 12] = True
    assert label_around(mask)[1] == 1
    assert label_around(np.zeros((3, 4), dtype=bool))[1] == 0


def test_gather_averages_cell_by_cell() -> None:
    cells = drum(4, 6)
    where = np.array([0, 0, 3, 23, 23, 23])
    offset = np.array([1.0, 3.0, -1.0, 0.0, 3.0, 6.0])
    skin = gather(cells, where, offset)
    assert_allclose(skin.offset_mm.ravel()[[0, 3, 23]], [2.0, -1.0, 3.0])
    assert_allclose(skin.weight.ravel()[[0, 3, 23, 5]], [2.0, 1.0, 3.0, 0.0])
    assert skin.offset_mm.ravel()[5] == 0.0
    weighted = gather(cells, where, offset, np.array([3.0, 1.0, 1.0, 1.0, 0.0, 1.0]))
    assert_allclose(weighted.offset_mm.ravel()[[0, 23]], [1.5, 3.0])


def test_cells_cover_the_surface_once() -> None:
    # Cup, radius 40, height 60, closed below: floor twice, wall twice, lip.
    curve = np.array([[0, 4.0], [36, 4.0], [36, 60.0], [40, 60.0], [40, 0.0], [0, 0.0]])
    profile = make_profile(curve, spacing_mm=0.3)
    cells = cells_on(profile)
    rows, columns = cells.shape
    area = float((cells.area_mm2 * columns).sum())
    exact = np.pi * (36.0**2 + 2 * 36 * 56.0 + (40.0**2 - 36.0**2) + 2 * 40 * 60.0 + 40.0**2)
    # Corners cut by half a cell, and the rows at the axis count a quarter cell of radius.
    assert_allclose(area, exact, rtol=0.01)
    # Every place on the profile and round belongs to the cell whose middle is nearest.
    rng = np.random.default_rng(1)
    along = rng.uniform(0, len(profile.points) - 1, 500)
    angle = rng.uniform(-7.0, 7.0, 500)
    where = cell_of(cells, profile, along, angle)
    off_row = cells.along[where // columns] - along
    off_angle = np.mod(cells.angles[where % columns] - angle + np.pi, 2 * np.pi) - np.pi
    assert np.abs(off_row).max() <= 0.5 * (len(profile.points) - 1) / rows * (1 + 1e-9)
    assert np.abs(off_angle).max() <= 0.5 * cells.column_rad * (1 + 1e-9)
