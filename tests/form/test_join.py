"""The skin right at the join: carried over it, and let go of beyond."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from lossfill import tolerances as tol
from lossfill.form.join import JoinSkin, join_places
from lossfill.frame.profile import make_profile
from lossfill.mesh import FloatArray

CURVE = np.array([[0, 4.0], [37, 4.0], [37, 60.0], [40, 60.0], [40, 0.0], [0, 0.0]])
PROFILE = make_profile(CURVE, spacing_mm=0.4)
OUTSIDE = 37 + 56 + 3 + 30.0
"""mm along the profile to the outside, halfway up."""


def places(along_mm: FloatArray, around_mm: FloatArray, *, at_mm: float = OUTSIDE) -> FloatArray:
    along = (at_mm + along_mm) / PROFILE.spacing_mm
    return join_places(PROFILE, along, around_mm / 40.0)


def skin(residual, noise_mm: float = 0.01, at_mm: float = OUTSIDE) -> JoinSkin:
    """Samples every 0.7 mm on one side of a join that runs along the wall at 0 mm."""
    up, around = (x.ravel() for x in np.meshgrid(np.arange(-6, 6, 0.7), np.arange(-6, 0, 0.7)))
    where = places(up, around, at_mm=at_mm)
    return JoinSkin(where, residual(around), tol.JOIN_LENGTH_MM, noise_mm)


def test_the_fill_starts_at_the_skin_and_comes_back_to_the_form() -> None:
    found = skin(lambda around: np.full_like(around, 0.1))
    off = found.beyond_form_mm(places(np.zeros(3), np.array([-0.3, 0.3, 6.0])))
    assert_allclose(off[0], 0.1, atol=0.01)
    assert 0.07 < off[1] < 0.11
    assert abs(off[2]) < 0.005


def test_it_slopes_as_the_skin_does() -> None:
    found = skin(lambda around: 0.05 * (around + 3.0))
    off = found.beyond_form_mm(places(np.zeros(2), np.array([-0.7, 0.0])))
    # 0.15 mm at the join, 0.05 more for each millimetre.
    assert_allclose(off, [0.115, 0.15], atol=0.02)
    # The last sample, 0.4 mm before the join, is at 0.13 mm: what lies beyond is higher.
    assert off[1] > 0.131


def test_the_other_skin_of_a_thin_wall_is_not_asked() -> None:
    found = skin(lambda around: np.full_like(around, 0.1))
    inside = 37 + 26.0
    off = found.beyond_form_mm(places(np.zeros(1), np.array([-2.0]), at_mm=inside))
    assert abs(off[0]) < 0.005


def test_noise_is_averaged_out() -> None:
    rng = np.random.default_rng(4)
    found = skin(lambda around: rng.normal(0.0, 0.05, around.shape), noise_mm=0.05)
    off = found.beyond_form_mm(found.places)
    assert np.sqrt(np.mean(off**2)) < 0.75 * 0.05


def test_where_hardly_any_skin_is_left_the_form_stands() -> None:
    few = JoinSkin(places(np.zeros(3), np.arange(3.0)), np.ones(3), 1.0, 0.01)
    assert_allclose(few.beyond_form_mm(places(np.zeros(2), np.zeros(2))), 0.0)
