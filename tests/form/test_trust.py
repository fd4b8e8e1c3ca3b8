"""The error that is stated for each gap, against the error that is really there."""

from __future__ import annotations

import numpy as np
from form.form_checks import cells_on, rms
from numpy.testing import assert_allclose

from lossfill import tolerances as tol
from lossfill.form.cells import Skin
from lossfill.form.choose import choose_elastic
from lossfill.form.conform import conform
from lossfill.form.hide import choose_patches
from lossfill.form.sources import REVOLVE, Source
from lossfill.form.trust import choose_sources, chosen_field
from lossfill.frame.profile import at, make_profile
from lossfill.mesh import BoolArray, FloatArray

CURVE = np.array([[0, 4.0], [36, 4.0], [38, 60.0], [42, 60.0], [40, 0.0], [0, 0.0]])
CELLS = cells_on(make_profile(CURVE, spacing_mm=0.4))
HEIGHT = at(make_profile(CURVE, spacing_mm=0.4), CELLS.along)[0][:, 1]


def wedge(width_deg: float, middle_deg: float) -> BoolArray:
    away = np.mod(np.degrees(CELLS.angles) - middle_deg + 180.0, 360.0) - 180.0
    result: BoolArray = (np.abs(away) < 0.5 * width_deg)[None, :] & (HEIGHT > 25.0)[:, None]
    return result


def uneven(seed: int) -> FloatArray:
    """Offsets of a wall out of round by 0.4 mm and less, with 0.02 mm of texture."""
    rng = np.random.default_rng(seed)
    share = np.clip(HEIGHT / 60.0, 0, 1)[:, None]
    radial = np.zeros(CELLS.shape)
    for order, amplitude in ((1, 0.1), (2, 0.4), (3, 0.15), (4, 0.05)):
        wave = np.cos(order * CELLS.angles + rng.uniform(0, 2 * np.pi))
        radial = radial + amplitude * rng.normal() * share * wave
    return np.asarray(radial * CELLS.normal_r[:, None] + rng.normal(0.0, 0.02, CELLS.shape))


def stated_and_true(gap: BoolArray, seed: int) -> tuple[FloatArray, FloatArray]:
    """Error stated in every cell, and the true one."""
    truth = uneven(seed)
    skin = Skin(np.where(gap, 0.0, truth), np.where(gap, 0.0, 3.0))
    patches = choose_patches(CELLS, skin, gap)
    elastic = choose_elastic(CELLS, skin, patches, size_mm=84.0, tries=tol.STIFFNESSES)
    revolve = Source(REVOLVE, None, "the profile")
    choices = choose_sources(CELLS, skin, gap, elastic, (revolve,), noise_mm=0.02)
    stated = np.zeros(CELLS.shape)
    for choice in choices:
        stated[choice.gap] = choice.error_mm
        assert choice.source == REVOLVE
        assert choice.bound_mm > choice.error_mm
    assert (stated[gap] > 0).all()
    shape, _ = chosen_field(CELLS, skin, gap, elastic, (revolve,), choices)
    return stated, conform(CELLS, skin, shape, gap=gap, noise_mm=0.02) - truth


def test_a_wide_loss_is_stated_to_err_more_than_a_narrow_one() -> None:
    wide, narrow = wedge(150.0, 90.0), wedge(30.0, 270.0)
    stated, _ = stated_and_true(wide | narrow, 1)
    # One figure for a gap, and more than that of any patch for what is wider than a patch.
    assert np.ptp(stated[wide]) == np.ptp(stated[narrow]) == 0.0
    assert stated[wide][0] > 1.2 * stated[narrow][0]
    # The texture alone is 0.02 mm.
    assert 0.015 < stated[narrow][0] < 0.06


def test_what_is_stated_holds() -> None:
    gap = wedge(150.0, 90.0)
    ratio = []
    for seed in range(10):
        stated, error = stated_and_true(gap, seed)
        ratio.append(rms(error[gap]) / stated[gap].mean())
    # Nine in ten within twice what is stated, and what is stated is no empty fear.
    assert np.sort(ratio)[-2] < 2.0
    assert np.median(ratio) > 0.4


def test_two_skins_of_a_hole_are_stated_alike() -> None:
    hole = wedge(40.0, 90.0) & (HEIGHT < 45.0)[:, None]
    stated, _ = stated_and_true(hole, 3)
    assert_allclose(stated[hole], stated[hole][0])


def test_lobes_are_stated_to_err_more_over_a_wider_loss_than_any_patch() -> None:
    revolve = Source(REVOLVE, None, "the profile")

    def stated(gap: BoolArray, *, lobed: bool) -> tuple[float, float]:
        truth = uneven(3)
        skin = Skin(np.where(gap, 0.0, truth), np.where(gap, 0.0, 3.0))
        patches = choose_patches(CELLS, skin, gap)
        elastic = choose_elastic(CELLS, skin, patches, size_mm=84.0, tries=tol.STIFFNESSES)
        first = choose_sources(CELLS, skin, gap, elastic, (revolve,), noise_mm=0.02, lobed=lobed)[0]
        return first.error_mm, first.bound_mm

    wide, narrow = wedge(120.0, 90.0), wedge(45.0, 90.0)
    plain = np.array(stated(wide, lobed=False))
    assert_allclose(stated(wide, lobed=True), tol.LOBES_GROWTH * plain, rtol=1e-12)
    assert stated(narrow, lobed=True) == stated(narrow, lobed=False)
