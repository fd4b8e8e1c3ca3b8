"""Reading the field between its cells."""

from __future__ import annotations

import numpy as np
from form.form_checks import cells_on
from numpy.testing import assert_allclose

from lossfill.form.form import interpolate
from lossfill.frame.profile import make_profile

CURVE = np.array([[0, 4.0], [36, 4.0], [36, 60.0], [40, 60.0], [40, 0.0], [0, 0.0]])
PROFILE = make_profile(CURVE, spacing_mm=0.4)
CELLS = cells_on(PROFILE)
RNG = np.random.default_rng(3)
ALONG = RNG.uniform(0.1, 0.9, 800) * (len(PROFILE.points) - 1)


def test_a_smooth_field_is_read_as_it_is_across_the_seam_too() -> None:
    rows = np.linspace(0.0, 6.0, CELLS.shape[0])
    values = np.cos(rows)[:, None] * np.cos(3 * CELLS.angles + 1.0)[None, :]
    # Half of the places within three columns of the seam.
    angle = RNG.uniform(-1.0, 1.0, 800) * np.where(np.arange(800) % 2, np.pi, 3 * CELLS.column_rad)
    place = np.interp(ALONG, CELLS.along, rows)
    wanted = np.cos(place) * np.cos(3 * angle + 1.0)
    found = interpolate(CELLS, PROFILE, values, ALONG, angle)
    # A cubic spline on steps of h = 0.11 rad of a cosine: h⁴/384 = 4e-7, ten times that at the
    # ends of a row of columns.
    assert_allclose(found, wanted, atol=1e-5, rtol=0)


def test_rough_fields_do_not_show_the_seam() -> None:
    values = RNG.normal(size=CELLS.shape)
    angle = RNG.uniform(0, 2 * np.pi, 800)
    here = interpolate(CELLS, PROFILE, values, ALONG, angle)
    for shift in (1, 5, 80):
        turned = np.roll(values, shift, axis=1)
        there = interpolate(CELLS, PROFILE, turned, ALONG, angle + shift * CELLS.column_rad)
        # The spline forgets a cell by 0.27 a column: 0.27⁸ = 3e-5 of the values' range of 8.
        assert_allclose(there, here, atol=1e-3, rtol=0)


def test_middles_of_cells_are_kept_and_turns_do_not_count() -> None:
    values = RNG.normal(size=CELLS.shape)
    along, angle = np.meshgrid(CELLS.along, CELLS.angles, indexing="ij")
    assert_allclose(interpolate(CELLS, PROFILE, values, along, angle), values, atol=1e-3)
    turned = interpolate(CELLS, PROFILE, values, along, angle - 2 * np.pi)
    assert_allclose(turned, interpolate(CELLS, PROFILE, values, along, angle), atol=1e-6)


def test_beyond_the_last_rows_the_field_runs_on_level() -> None:
    values = np.broadcast_to(np.linspace(1.0, 2.0, CELLS.shape[0])[:, None], CELLS.shape)
    ends = interpolate(
        CELLS, PROFILE, np.array(values), np.array([0.0, len(PROFILE.points) - 1.0]), np.zeros(2)
    )
    # Half a row of the ramp at most on either side.
    assert_allclose(ends, [1.0, 2.0], atol=1.0 / CELLS.shape[0], rtol=0)
