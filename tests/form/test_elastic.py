"""The elastic field: known deformations come back where they were hidden."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from form.form_checks import cells_on, rms
from numpy.testing import assert_allclose

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin
from lossfill.form.elastic import (
    ElasticModel,
    NormalEquations,
    find_repeat,
    gather_normal_equations,
    make_model,
    mean_variance,
    solve,
)
from lossfill.form.rings import add_rings
from lossfill.frame.profile import at, make_profile
from lossfill.mesh import BoolArray, FloatArray

CURVE = np.array([[0, 4.0], [36, 4.0], [38, 60.0], [42, 60.0], [40, 0.0], [0, 0.0]])
PROFILE = make_profile(CURVE, spacing_mm=0.4)
CELLS = cells_on(PROFILE)
HEIGHT = at(PROFILE, CELLS.along)[0][:, 1]
SIZE = 84.0


def wedge(width_deg: float, middle_deg: float = 0.0) -> BoolArray:
    """Everything above 15 mm in a sector over the seam of the turn."""
    away = np.mod(np.degrees(CELLS.angles) - middle_deg + 180.0, 360.0) - 180.0
    result: BoolArray = (np.abs(away) < 0.5 * width_deg)[None, :] & (HEIGHT > 15.0)[:, None]
    return result


def out_of_round(cells: Cells) -> FloatArray:
    """Offsets of a wall whose radius grows a second and third harmonic with height."""
    share = np.clip(HEIGHT / 60.0, 0, 1)[:, None]
    radial = share * (0.7 * np.cos(2 * cells.angles + 0.5) + 0.25 * np.cos(3 * cells.angles - 1.0))
    # A point moved by ρ along the radius is moved by n·ρ off the profile.
    return np.asarray(radial * cells.normal_r[:, None])


def equations(model: ElasticModel, offset: FloatArray, weight: FloatArray) -> NormalEquations:
    return gather_normal_equations(model, offset, weight / (0.15**2 * 20.0))


def fitted(offset: FloatArray, hidden: BoolArray, stiffness: float, **options) -> FloatArray:
    model = make_model(CELLS, size_mm=SIZE, **options)
    return solve(model, equations(model, offset, (~hidden).astype(float)), stiffness=stiffness)


@pytest.mark.parametrize("width_deg", [30.0, 60.0])
def test_an_out_of_round_wall_is_recovered_where_it_is_hidden(width_deg: float) -> None:
    truth, hidden = out_of_round(CELLS), wedge(width_deg)
    noise = 0.05 * np.random.default_rng(0).normal(size=CELLS.shape)
    found = fitted(truth + noise, hidden, 0.1)
    plain = rms(truth[hidden])
    # A plain revolve errs by half a mm here; what is left is the noise, carried over the gap.
    assert plain > 0.25
    assert rms((found - truth)[hidden]) < 0.1 * plain
    assert rms((found - truth)[~hidden]) < 0.05


@pytest.mark.parametrize("dropped", [2, 3])
def test_each_harmonic_is_needed(dropped: int) -> None:
    # Guards the test above: a model without one of the harmonics fails it.
    truth, hidden = out_of_round(CELLS), wedge(60.0)
    model = make_model(CELLS, size_mm=SIZE)
    kept = [0, *[2 * m - 1 + k for m in (1, 2, 3, 4) if m != dropped for k in (0, 1)]]
    less = ElasticModel(model.orders, model.waves[:, kept], model.shapes, model.prior[:, :, kept])
    found = solve(less, equations(less, truth, (~hidden).astype(float)), stiffness=0.1)
    assert rms((found - truth)[hidden]) > 0.2 * rms(truth[hidden])


def test_a_stiffer_field_bends_less_until_it_is_flat() -> None:
    truth, hidden = out_of_round(CELLS), wedge(60.0)
    sizes = [rms(fitted(truth, hidden, s)) for s in (0.1, 10.0, 1e3, 1e5, 1e12)]
    assert all(more > less for more, less in pairwise(sizes))
    assert sizes[-1] < 1e-6


def test_the_field_does_not_care_where_the_seam_is() -> None:
    truth, hidden = out_of_round(CELLS), wedge(60.0)
    for shift in (3, 60):
        turned = fitted(np.roll(truth, shift, axis=1), np.roll(hidden, shift, axis=1), 0.5)
        here = np.roll(fitted(truth, hidden, 0.5), shift, axis=1)
        assert_allclose(turned, here, atol=1e-9)


def test_both_skins_move_together_over_the_lip() -> None:
    # Known outside only: the inside follows, with the sign of its own normal.
    truth = out_of_round(CELLS)
    inside = (np.arange(CELLS.shape[0]) < CELLS.shape[0] // 2)[:, None] & (HEIGHT > 40.0)[:, None]
    hidden = np.broadcast_to(inside, CELLS.shape)
    found = fitted(truth, hidden, 0.1)
    assert rms((found - truth)[hidden]) < 0.35 * rms(truth[hidden])


def test_the_data_add_up() -> None:
    model = make_model(CELLS, size_mm=SIZE)
    rng = np.random.default_rng(2)
    offset, weight = rng.normal(size=CELLS.shape), rng.random(CELLS.shape)
    hidden = wedge(50.0)
    whole = gather_normal_equations(model, offset, weight)
    part = gather_normal_equations(model, offset, weight * hidden)
    rest = gather_normal_equations(model, offset, weight * ~hidden)
    scale = np.abs(whole.matrix).max()
    assert_allclose(whole.matrix - part.matrix, rest.matrix, atol=1e-12 * scale)
    assert_allclose(whole.right - part.right, rest.right, atol=1e-9)


def test_the_normal_equations_are_those_of_the_dense_model() -> None:
    model = make_model(CELLS, size_mm=SIZE)
    rng = np.random.default_rng(3)
    offset, weight = rng.normal(size=CELLS.shape), rng.random(CELLS.shape)
    few = rng.permutation(CELLS.shape[1])[:9]
    weight[:, np.setdiff1d(np.arange(CELLS.shape[1]), few)] = 0.0
    design = np.vstack([np.kron(model.shapes, model.waves[c][None, :]) for c in few])
    w, d = weight[:, few].T.ravel(), offset[:, few].T.ravel()
    found = gather_normal_equations(model, offset, weight)
    assert_allclose(found.matrix, design.T @ (w[:, None] * design), atol=1e-9)
    assert_allclose(found.right, design.T @ (w * d), atol=1e-9)


def prior_of_a_tall_cylinder(order: int) -> tuple[FloatArray, FloatArray]:
    """Covariance of the knots for a harmonic, and what the knots halfway up do, inside and out."""
    # Tall against the field's length, so that the free ends of either skin are far away.
    tall = np.array([[0, 4.0], [36, 4.0], [38, 500.0], [42, 500.0], [40, 0.0], [0, 0.0]])
    cells = cells_on(make_profile(tall, spacing_mm=1.0), cell_mm=3.0)
    model = make_model(cells, size_mm=SIZE)
    half = np.array([cells.shape[0] // 4, cells.across[cells.shape[0] // 4]])
    # Moved out by one millimetre; a normal of the inside points inwards.
    seen = model.shapes[half] * np.array([[-1.0], [1.0]])
    return np.linalg.inv(model.prior[:, :, max(2 * order - 1, 0)]), seen


@pytest.mark.parametrize("order", range(5))
def test_the_prior_has_the_deviations_it_is_given(order: int) -> None:
    covariance, seen = prior_of_a_tall_cylinder(order)
    deviation = np.sqrt(np.diag(seen @ covariance @ seen.T))
    wanted = SIZE * tol.ELASTIC_DEVIATIONS[order]
    if order == 0:
        # The mean of either skin is free of the other's; between knots a field varies less.
        assert_allclose(deviation, wanted, rtol=0.15)
        return
    # Two skins that are nearly one field, each with its own prior: the precisions add up.
    assert_allclose(deviation, wanted / np.sqrt(2.0), rtol=0.2)
    apart = (seen[1] - seen[0]) @ covariance @ (seen[1] - seen[0])
    given = (SIZE * tol.THICKNESS_DEVIATIONS[order]) ** 2
    # 2 σ² of two skins on their own, and τ²: again the precisions add up.
    assert_allclose(apart, 1.0 / (1.0 / given + 0.5 / wanted**2), rtol=0.25)


def test_one_skin_tells_of_the_other() -> None:
    truth, hidden = out_of_round(CELLS), wedge(120.0)
    # Both skins lost; then the inside alone, while the outside still stands.
    inside = hidden & (np.arange(CELLS.shape[0]) < len(CELLS.across))[:, None]
    both = rms((fitted(truth, hidden, 1.0) - truth)[inside])
    one = rms((fitted(truth, inside, 1.0) - truth)[inside])
    assert one < 0.6 * both


def test_variance_left_is_that_of_the_dense_model() -> None:
    model = make_model(CELLS, size_mm=SIZE)
    hidden = wedge(60.0)
    data = equations(model, np.zeros(CELLS.shape), (~hidden).astype(float))
    rows, columns = np.array([60, 61]), np.array([3, 9])
    few = np.zeros(CELLS.shape, dtype=bool)
    few[rows, columns] = True
    size = data.matrix.shape[0]
    prior = np.zeros((size, size))
    n = model.waves.shape[1]
    for wave in range(n):
        prior[wave::n, wave::n] = model.prior[:, :, wave]
    covariance = np.linalg.inv(data.matrix + prior)
    seen = [np.kron(model.shapes[r], model.waves[c]) for r, c in zip(rows, columns, strict=True)]
    wanted = np.mean([one @ covariance @ one for one in seen])
    assert_allclose(mean_variance(model, data, few), wanted, rtol=1e-6)
    # The wider what is hidden, the less is known of it.
    wide = wedge(150.0)
    less = equations(model, np.zeros(CELLS.shape), (~wide).astype(float))
    assert mean_variance(model, less, wide) > 1.5 * mean_variance(model, data, hidden)


# --- flutes ----------------------------------------------------------------------------------


def fluted(n: int, depth_mm: float) -> FloatArray:
    outside = (np.arange(CELLS.shape[0]) > CELLS.shape[0] // 2)[:, None] & (HEIGHT > 5)[:, None]
    return np.asarray(np.where(outside, depth_mm * np.cos(n * CELLS.angles + 0.7), 0.0))


@pytest.mark.parametrize("n", [8, 12, 24])
def test_flutes_are_counted_with_a_wedge_gone(n: int) -> None:
    residual = fluted(n, 0.3) + 0.05 * np.random.default_rng(n).normal(size=CELLS.shape)
    weight = (~wedge(60.0)).astype(float)
    assert find_repeat(residual, Skin(residual, weight), CELLS) == n


def test_texture_has_no_flutes() -> None:
    rng = np.random.default_rng(1)
    texture = 0.1 * rng.normal(size=CELLS.shape)
    assert find_repeat(texture, Skin(texture, np.ones(CELLS.shape)), CELLS) is None
    nothing = np.zeros(CELLS.shape)
    assert find_repeat(nothing, Skin(nothing, np.ones(CELLS.shape)), CELLS) is None


def test_flutes_run_on_through_a_gap() -> None:
    truth, hidden = fluted(24, 0.3), wedge(40.0)
    outside = np.arange(CELLS.shape[0])[:, None] > CELLS.shape[0] // 2
    deep = hidden & outside
    plain = fitted(truth, hidden, 0.1)
    with_them = fitted(truth, hidden, 0.1, repeats=(24, 48))
    assert rms((plain - truth)[deep]) > 0.9 * rms(truth[deep])
    assert rms((with_them - truth)[deep]) < 0.25 * rms(truth[deep])


# --- throwing rings --------------------------------------------------------------------------


@cache
def spiral(depth_mm: float, pitch_mm: float) -> FloatArray:
    s = np.arange(CELLS.shape[0]) * CELLS.row_mm
    return np.asarray(depth_mm * np.cos(2 * np.pi * s[:, None] / pitch_mm + CELLS.angles[None, :]))


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_a_spiral_runs_on_through_a_gap(turn: float) -> None:
    # Either way round: the potter's wheel may turn to the left or to the right.
    truth = spiral(0.15, 6.0) if turn > 0 else spiral(0.15, 6.0)[:, ::-1]
    hidden = wedge(60.0)
    noise = 0.03 * np.random.default_rng(4).normal(size=CELLS.shape)
    weight = np.where(hidden, 0.0, 3.0)
    base = out_of_round(CELLS)
    found = add_rings(CELLS, Skin(base + truth + noise, weight), base) - base
    assert rms(truth[hidden]) > 0.1
    # The ridge is sized by what the rows show before the rings are known, so it holds back up to a
    # quarter of a deep ring; the noise's share, √(3/150) of it, is small beside that.
    assert rms((found - truth)[hidden]) < 0.3 * rms(truth[hidden])


def test_no_rings_are_made_of_noise() -> None:
    noise = 0.05 * np.random.default_rng(5).normal(size=CELLS.shape)
    found = add_rings(CELLS, Skin(noise, np.ones(CELLS.shape)), np.zeros(CELLS.shape))
    # √(3/168) of the noise, if no ridge held it back.
    assert rms(found) < 0.05 * np.sqrt(3.0 / CELLS.shape[1]) * 1.2


def test_a_row_without_skin_gets_no_rings() -> None:
    truth = spiral(0.15, 6.0)
    weight = np.ones(CELLS.shape)
    weight[100] = 0.0
    found = add_rings(CELLS, Skin(truth, weight), np.zeros(CELLS.shape))
    assert np.abs(found[100]).max() < 1e-12
    assert rms(found[101]) > 0.05
