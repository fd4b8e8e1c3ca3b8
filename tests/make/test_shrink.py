"""Shrinkage: how much larger a thing is made."""

import manifold3d
import numpy as np
import pytest

from lossfill.errors import InputError
from lossfill.make.shrink import Shrink, shrink_of_bar

ROUND = 1e-12  # relative: a few roundings of double precision


def test_made_size_of_fired_clay():
    # Printed worked examples: 100 mm wet, 88 mm fired is 12 % (calculatorlib.com); a 250 mm plate
    # at 12 % is made 284.0909 mm, 10 in at 12.5 % 11.4286 in (calculator.city).
    assert shrink_of_bar(100, 88) == pytest.approx(0.12, rel=ROUND)
    assert 250 * Shrink(along=0.12).oversize_along == pytest.approx(284.0909, abs=5e-5)
    assert 10 * Shrink(across=0.125).oversize_across == pytest.approx(11.4286, abs=5e-5)
    # The trap: adding 12 % instead is short by 4.09 mm.
    assert 250 * Shrink(along=0.12).oversize_along - 250 * 1.12 == pytest.approx(4.0909, abs=5e-5)


def test_volume_factor_of_even_shrinkage():
    # 1 / (1 - 0.12)^3, computed.
    assert Shrink(0.12, 0.12).volume_factor == pytest.approx(1.467412, abs=5e-7)


def test_two_stages_multiply_what_is_left():
    # 1 - (1 - 0.06)(1 - 0.064) = 0.12016, and not 0.124.
    both = Shrink(0.06, 0.06).then(Shrink(0.064, 0.064))
    assert both.along == pytest.approx(0.12016, rel=1e-10)
    assert both.across == pytest.approx(0.12016, rel=1e-10)
    mixed = Shrink(0.1, 0.0).then(Shrink(0.0, 0.2))
    assert (mixed.along, mixed.across) == (pytest.approx(0.1), pytest.approx(0.2))


def test_matrix_scales_along_and_across_about_its_point():
    shrink = Shrink(along=0.2, across=0.1)
    axis, about = np.array([1.0, 2.0, 2.0]) / 3, np.array([5.0, -3.0, 2.0])
    matrix = shrink.matrix(3 * axis, about)
    across = np.cross(axis, [0.0, 0.0, 1.0])
    for way, factor in ((axis, 1.25), (across, 1 / 0.9)):
        moved = matrix[:3, :3] @ (about + way) + matrix[:3, 3]
        np.testing.assert_allclose(moved, about + factor * way, rtol=0, atol=1e-12)
    box = manifold3d.Manifold.cube((3.0, 4.0, 5.0))
    grown = box.transform(matrix[:3]).volume() / box.volume()
    assert grown == pytest.approx(shrink.volume_factor, rel=1e-12)


def test_nothing_shrinks_by_default():
    np.testing.assert_array_equal(Shrink().matrix(np.array([0, 1.0, 0]), np.ones(3)), np.eye(4))


@pytest.mark.parametrize("name", ["along", "across"])
@pytest.mark.parametrize(
    ("share", "words"), [(-0.01, "-1 %"), (1.0, "100 %"), (12.0, "1200 %"), (np.nan, "nan %")]
)
def test_a_share_out_of_range_is_refused_in_one_line(name, share, words):
    with pytest.raises(InputError, match=words) as caught:
        Shrink(**{name: share})
    assert name in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("made", "finished"), [(0, 1), (100, 0), (100, 101), (-5, -6)])
def test_a_test_bar_that_cannot_be_is_refused(made, finished):
    with pytest.raises(InputError, match="test bar"):
        shrink_of_bar(made, finished)
