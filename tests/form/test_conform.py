"""The field that runs from the skin into the gap, against a dense solve and known covariances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from form.form_checks import drum, rms
from numpy.testing import assert_allclose
from scipy.special import k1

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin
from lossfill.form.conform import _Grid, conform, split_scales
from lossfill.mesh import BoolArray, FloatArray

CONE = drum(12, 20, radius_mm=np.linspace(2.0, 9.0, 12))


def dense(
    cells: Cells,
    region: BoolArray,
    values: FloatArray,
    precision: FloatArray,
    length_mm: float,
    deviation_mm: float,
) -> FloatArray:
    """The same field by loops over pairs of cells and a full matrix.

    Energy τ² Σ (κ² A e + Σ w (e - e'))² / A over the region, with w = border / distance between
    middles for each pair of neighbours, and τ² from the variance 1/(4πκ²τ²).
    """
    places = [tuple(p) for p in np.argwhere(region)]
    number = {p: k for k, p in enumerate(places)}
    width = cells.radius_mm * cells.column_rad
    area = np.array([width[i] * cells.row_mm for i, _ in places])
    operator = np.diag(area / length_mm**2)
    for (i, j), k in number.items():
        for near, w in (
            ((i + 1, j), 0.5 * (width[i] + width[min(i + 1, len(width) - 1)]) / cells.row_mm),
            ((i, (j + 1) % cells.shape[1]), cells.row_mm / width[i]),
        ):
            if near in number:
                other = number[near]
                operator[k, k] += w
                operator[other, other] += w
                operator[k, other] -= w
                operator[other, k] -= w
    tau_squared = length_mm**2 / (4 * np.pi * deviation_mm**2)
    matrix = tau_squared * operator.T @ np.diag(1.0 / area) @ operator
    data = np.array([precision[p] for p in places])
    found = np.linalg.solve(matrix + np.diag(data), data * np.array([values[p] for p in places]))
    result = np.zeros(cells.shape)
    for p, k in number.items():
        result[p] = found[k]
    return result


@pytest.mark.parametrize("seed", [0, 1])
def test_the_field_is_that_of_a_dense_solve(seed: int) -> None:
    rng = np.random.default_rng(seed)
    region = rng.random(CONE.shape) < (1.0 if seed == 0 else 0.7)
    values = rng.normal(size=CONE.shape)
    precision = np.where(rng.random(CONE.shape) < 0.5, rng.uniform(1, 100, CONE.shape), 0.0)
    found = _Grid.over(CONE, region).continue_field(
        values, precision, length_mm=4.0, deviation_mm=0.3
    )
    wanted = dense(CONE, region, values, precision, 4.0, 0.3)
    assert rms(wanted) > 0.05
    # The condition of the matrix, some 1e5, times rounding.
    assert_allclose(found, wanted, atol=1e-9, rtol=0)
    assert (found[~region] == 0).all()


def covariances(length_mm: float, deviation_mm: float) -> tuple[Cells, FloatArray]:
    """Covariance of the middle cell of a large drum with all others, seen through one datum."""
    cells = drum(61, 60)
    grid = _Grid.over(cells, np.ones(cells.shape, dtype=bool))
    value, precision = np.zeros(cells.shape), np.zeros(cells.shape)
    value[30, 30], precision[30, 30] = 1.0, deviation_mm**-2
    field = grid.continue_field(value, precision, length_mm=length_mm, deviation_mm=deviation_mm)
    # With one datum v of precision p the field is S p v / (1 + S₀ p), S the prior's covariance.
    middle = field[30, 30]
    variance = middle / (precision[30, 30] * (1.0 - middle))
    return cells, field / middle * variance


def test_the_fields_variance_is_the_one_asked_for() -> None:
    # (4πκ²τ²)⁻¹ of the continuous field (Lindgren, Rue, Lindström 2011); on cells of a quarter of
    # its length the second differences blunt it by about (h κ)²/12·… = 3 %.
    _, covariance = covariances(6.0, 0.2)
    assert_allclose(covariance[30, 30], 0.2**2, rtol=0.05)


def test_the_variance_is_exact_for_the_grid() -> None:
    # The same on an endless grid, by its spectrum; ten lengths from the ends nothing is left of
    # them. 60 columns are the period round the drum, 4000 rows stand for endless.
    cells, covariance = covariances(4.5, 0.2)
    kappa, h = 1.0 / 4.5, cells.row_mm
    tau_squared = 1.0 / (4 * np.pi * kappa**2 * 0.2**2)
    f, g = np.meshgrid(
        2 * np.pi * np.arange(4000) / 4000, 2 * np.pi * np.arange(60) / 60, indexing="ij"
    )
    symbol = kappa**2 * h**2 + 4.0 - 2.0 * np.cos(f) - 2.0 * np.cos(g)
    spectrum = h**2 / (tau_squared * symbol**2)
    assert_allclose(covariance[30, 30], spectrum.mean(), rtol=1e-5)
    assert_allclose(covariance[33, 30], (spectrum * np.cos(3 * f)).mean(), rtol=1e-5)


def test_the_field_forgets_as_a_matern_field_does() -> None:
    # Correlation κd K₁(κd); the grid is 1.5 mm, so not at less than two cells.
    cells, covariance = covariances(6.0, 0.2)
    for steps in (2, 4, 8, 12):
        distance = steps * cells.row_mm / 6.0
        wanted = distance * k1(distance)
        assert_allclose(covariance[30 + steps, 30] / covariance[30, 30], wanted, atol=0.02)
        assert_allclose(covariance[30, 30 - steps] / covariance[30, 30], wanted, atol=0.02)


def dented(cells: Cells) -> FloatArray:
    """A dent 0.4 mm deep and 20 mm wide, its middle on the seam of the turn."""
    up = (np.arange(cells.shape[0]) - 40) * cells.row_mm
    turn = np.mod(cells.angles + np.pi, 2 * np.pi) - np.pi
    across = turn * cells.radius_mm[0]
    return np.asarray(-0.4 * np.exp(-(up[:, None] ** 2 + across[None, :] ** 2) / (2 * 20.0**2)))


WALL = drum(80, 160)
GAP = np.zeros(WALL.shape, dtype=bool)
GAP[np.ix_(np.arange(34, 47), np.r_[153:160, 0:6])] = True


def conformed(offset: FloatArray, noise_mm: float = 0.01, gap: BoolArray = GAP) -> FloatArray:
    skin = Skin(np.where(gap, 0.0, offset), np.where(gap, 0.0, 3.0))
    return conform(WALL, skin, np.zeros(WALL.shape), gap=gap, noise_mm=noise_mm)


def edge_of(gap: BoolArray) -> BoolArray:
    """Skin cells with a gap cell beside them."""
    beside = np.zeros_like(gap)
    beside[1:] |= gap[:-1]
    beside[:-1] |= gap[1:]
    beside |= np.roll(gap, 1, axis=1) | np.roll(gap, -1, axis=1)
    result: BoolArray = beside & ~gap
    return result


def test_the_form_lies_on_the_skin_at_the_join() -> None:
    truth = dented(WALL)
    found = conformed(truth)
    # A smooth dent and next to no noise: a hundredth of the dent at most.
    assert_allclose(found[edge_of(GAP)], truth[edge_of(GAP)], atol=0.004, rtol=0)
    # Across the gap, 20 mm wide, the dent is carried on; not at all would err by 0.37 mm.
    assert rms((found - truth)[GAP]) < 0.05


def test_texture_is_followed_at_the_join_alone() -> None:
    rng = np.random.default_rng(0)
    texture = 0.1 * rng.normal(size=WALL.shape)
    found = conformed(texture, noise_mm=0.02)
    edge = edge_of(GAP)
    # No step: the form keeps to each cell of the skin at the join, within part of its texture.
    assert rms((found - texture)[edge]) < 0.4 * rms(texture[edge])
    # Three texture lengths in nothing of it may be left: the middle of the gap is smooth.
    middle = np.zeros_like(GAP)
    middle[np.ix_(np.arange(39, 42), np.r_[158:160, 0:2])] = True
    assert np.abs(found[middle]).max() < 0.3 * 0.1


def test_the_field_has_no_kink_at_the_join() -> None:
    # A ramp that runs into the gap: the field must leave the skin along the ramp, then fade.
    ramp = np.broadcast_to(0.02 * (np.arange(80) - 34.0)[:, None], WALL.shape)
    gap = np.zeros(WALL.shape, dtype=bool)
    gap[34:] = True
    found = conformed(np.array(ramp), noise_mm=0.01, gap=gap)[:, 80]
    slope = np.diff(found)
    assert_allclose(slope[26:33], 0.02, atol=0.003)
    # First cells of the gap: the slope changes by a part of itself from cell to cell.
    assert np.abs(np.diff(slope[28:44])).max() < 0.4 * 0.02
    assert slope[34] > 0.5 * 0.02
    # Three and a half lengths in, the field is gone.
    far = 34 + round(3.5 * tol.CONFORM_LENGTH_MM / WALL.row_mm)
    assert np.abs(found[far:]).max() < 0.03


def test_far_from_the_gap_the_elastic_field_stands() -> None:
    truth = dented(WALL)
    skin = Skin(truth, np.full(WALL.shape, 3.0))
    field = 0.1 * np.cos(2 * WALL.angles)[None, :] * np.ones((80, 1))
    found = conform(WALL, skin, field, gap=GAP, noise_mm=0.01)
    far = np.zeros_like(GAP)
    far[:, 40:120] = True
    assert (found[far] == field[far]).all()


def test_without_skin_near_the_gap_the_field_stands() -> None:
    field = np.ones(WALL.shape)
    nothing = Skin(np.zeros(WALL.shape), np.zeros(WALL.shape))
    assert (conform(WALL, nothing, field, gap=GAP, noise_mm=0.01) == field).all()


def test_one_gap_of_two_can_be_asked_for() -> None:
    other = np.roll(GAP, 80, axis=1)
    truth = dented(WALL) + np.roll(dented(WALL), 80, axis=1)
    skin = Skin(np.where(GAP | other, 0.0, truth), np.where(GAP | other, 0.0, 3.0))
    zero = np.zeros(WALL.shape)
    both = conform(WALL, skin, zero, gap=GAP | other, noise_mm=0.01)
    one = conform(WALL, skin, zero, gap=GAP | other, noise_mm=0.01, about=other)
    # The expected size of the residual is taken from the skin about the gaps in question.
    assert rms((one - both)[other]) < 0.01
    assert (one[GAP] == 0).all()


def test_scales_are_split() -> None:
    rng = np.random.default_rng(1)
    slow = 0.3 * np.cos(2 * WALL.angles)[None, :] * np.ones((80, 1))
    texture = 0.05 * rng.normal(size=WALL.shape)
    smooth, variance = split_scales(WALL, Skin(slow + texture, np.ones(WALL.shape)))
    # Averaged over 4π (4/1.5)² = 90 cells the texture is a tenth; its variance, over 360, 7 %.
    assert rms(smooth - slow) < 0.2 * 0.05
    assert_allclose(np.median(variance), 0.05**2, rtol=0.1)


def test_a_wall_that_stands_elsewhere_is_smooth_over_its_lip_too() -> None:
    # Half a ring of 6 mm radius, from a wall's inside over its lip to its outside, moved outwards
    # by 1 mm: its offsets run from -1 to 1 mm within a few cells, yet nothing of it is texture.
    rows = 80
    turn = np.pi * np.clip((np.arange(rows) - 34) / 12.0, 0.0, 1.0)
    wall = replace(WALL, normal_r=-np.cos(turn), normal_z=np.sin(turn))
    shifted = np.broadcast_to(wall.normal_r[:, None], wall.shape).copy()
    smooth, variance = split_scales(wall, Skin(shifted, np.ones(wall.shape)))
    # All but the hold on a shift, 1 %, and as much again where the normals begin to turn.
    assert np.abs(smooth - shifted).max() < 0.03
    assert variance.max() < 0.03**2
