"""Planes and repeats of a wall whose symmetry is known, with a third of it gone.

Walls are laid out straight on the grid of cells, with noise of 0.03 mm and their axis left askew.
"""

from __future__ import annotations

import numpy as np
import pytest
from form.form_checks import drum, rms
from numpy.testing import assert_allclose

from lossfill.form.cells import Skin
from lossfill.form.copies import Copy, find_mirrors, find_turn, image, register, together, turns
from lossfill.mesh import BoolArray, FloatArray

WALL = drum(40, 240)
UP = (np.arange(40) / 40)[:, None]
NOISE_MM = 0.03
PLANE_DEG = 40.1


def turned(angle: FloatArray | float) -> FloatArray:
    return np.asarray(WALL.angles[None, :] - angle)


def askew() -> FloatArray:
    """What a shift of 0.1 mm and a tilt of 0.15 mm over the height do to the wall."""
    return np.asarray(0.1 * np.cos(turned(2.0)) + 0.15 * (UP - 0.5) * np.sin(turned(1.0)))


def two_sided() -> FloatArray:
    """Wall alike on both sides of a plane, but on no other."""
    t = turned(np.radians(PLANE_DEG))
    return np.asarray(0.5 * np.cos(2 * t) * UP + 0.3 * np.cos(3 * t) + 0.2 * np.cos(5 * t))


def fluted(n: int) -> FloatArray:
    t = turned(0.2)
    return np.asarray(0.6 * np.cos(n * t) * UP + 0.2 * np.cos(2 * n * t) + 0.4 * UP)


def seen(truth: FloatArray, gone: BoolArray, *, seed: int = 0) -> Skin:
    noise = np.random.default_rng(seed).normal(0.0, NOISE_MM, WALL.shape)
    return Skin(np.where(gone, 0.0, truth + noise), np.where(gone, 0.0, 3.0))


def sector(first_deg: float, wide_deg: float) -> BoolArray:
    away = np.mod(np.degrees(WALL.angles) - first_deg, 360.0) < wide_deg
    return np.broadcast_to(away[None, :], WALL.shape)


NOTHING = sector(0.0, 0.0)


@pytest.mark.parametrize("first_deg", [0.0, 60.0, 170.0, 300.0])
def test_the_plane_is_found_with_a_third_gone(first_deg: float) -> None:
    truth = two_sided() + askew()
    gone = sector(first_deg, 110.0)
    plane = find_mirrors(WALL, seen(truth, gone))[0]
    away = np.mod(np.degrees(plane.turn_rad) / 2 - PLANE_DEG + 90.0, 180.0) - 90.0
    assert abs(away) < 0.2
    # Skin against its image: two noises.
    assert_allclose(plane.residual_mm, np.sqrt(2.0) * NOISE_MM, rtol=0.25)


def test_the_image_of_what_is_left_is_what_was_there() -> None:
    truth = two_sided() + askew()
    # Clear of the plane, so that the other side is whole.
    gone = sector(PLANE_DEG + 20.0, 60.0)
    skin = seen(truth, gone)
    shown = image(WALL, skin, find_mirrors(WALL, skin)[0])
    assert (shown.weight[gone] > 0).all()
    assert rms((shown.offset_mm - truth)[gone]) < 1.3 * NOISE_MM


@pytest.mark.parametrize("n", [3, 5, 6, 12, 20])
def test_repeats_are_counted_with_a_third_gone(n: int) -> None:
    found = find_turn(WALL, seen(fluted(n) + askew(), sector(40.0, 110.0)))
    assert found is not None
    assert found[0] == n


def test_a_wall_without_repeats_has_none() -> None:
    assert find_turn(WALL, seen(two_sided(), NOTHING)) is None
    assert find_turn(WALL, seen(np.zeros(WALL.shape) + UP, NOTHING)) is None


def test_a_number_that_is_given_is_kept() -> None:
    found = find_turn(WALL, seen(fluted(6), NOTHING), n=3)
    assert found is not None
    assert found[0] == 3


def test_repeats_laid_over_each_other_show_what_is_gone() -> None:
    truth, gone = fluted(6) + askew(), sector(40.0, 50.0)
    skin = seen(truth, gone)
    copies = turns(WALL, skin, 6)
    assert len(copies) == 5
    shown = together([(image(WALL, skin, one), one.residual_mm) for one in copies])
    assert (shown.weight[gone] > 0).all()
    # A mean of several is quieter than one.
    assert rms((shown.offset_mm - truth)[gone]) < NOISE_MM


def test_a_copy_is_laid_on_by_its_motion() -> None:
    truth = two_sided()
    # The other wall is this one, turned by 0.5 and moved as in `askew`.
    columns = round(0.5 / WALL.column_rad)
    other = Skin(np.roll(truth + askew(), -columns, axis=1), np.full(WALL.shape, 3.0))
    near = Copy(False, columns * WALL.column_rad + 0.02, np.zeros(6))
    laid = register(WALL, seen(truth, NOTHING), near, other=other)
    assert_allclose(laid.turn_rad, columns * WALL.column_rad, atol=np.radians(0.2))
    shown = image(WALL, other, laid)
    assert rms(shown.offset_mm - truth) < 0.1 * NOISE_MM + 0.01


def test_a_dent_does_not_pull_the_plane() -> None:
    truth = two_sided()
    dent = sector(100.0, 25.0) & (UP > 0.5)
    plane = find_mirrors(WALL, seen(truth - 2.0 * dent, NOTHING))[0]
    away = np.mod(np.degrees(plane.turn_rad) / 2 - PLANE_DEG + 90.0, 180.0) - 90.0
    assert abs(away) < 0.2


def test_too_little_skin_gives_no_plane() -> None:
    planes = find_mirrors(WALL, seen(two_sided(), sector(3.0, 356.0)))
    assert all(plane.overlap <= 1.0 for plane in planes)
    lone = Skin(np.zeros(WALL.shape), np.zeros(WALL.shape))
    laid = register(WALL, lone, Copy(True, 0.0, np.zeros(6)))
    assert not np.isfinite(laid.residual_mm)
