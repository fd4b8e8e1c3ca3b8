"""Grids of skin points closed to solids, against the volumes of frusta."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from lossfill.form.close import close_turn, close_wedge
from lossfill.mesh import FloatArray, signed_volume_mm3
from lossfill.solids import solid_from_mesh

# From the hollow's floor over the lip to the underside, with a foot ring.
PROFILE = np.array(
    [
        [0.0, 8.0],
        [20.0, 8.5],
        [30.0, 20.0],
        [36.0, 50.0],
        [38.0, 51.0],
        [40.0, 50.0],
        [33.0, 15.0],
        [25.0, 3.0],
        [24.0, 0.0],
        [20.0, 0.0],
        [19.0, 3.0],
        [0.0, 3.5],
    ]
)


def smooth_volume(profile: FloatArray) -> float:
    """Frusta, π h (R² + R r + r²)/3 each (printed at summacalculator.com); up is negative here."""
    r, z = profile.T
    parts = (r[:-1] ** 2 + r[:-1] * r[1:] + r[1:] ** 2) * np.diff(z)
    return float(-np.pi / 3.0 * parts.sum())


def grid(angles: FloatArray) -> FloatArray:
    r, z = PROFILE.T
    x, y = np.outer(r, np.cos(angles)), np.outer(r, np.sin(angles))
    return np.stack([x, y, np.broadcast_to(z[:, None], x.shape)], axis=2)


@pytest.mark.parametrize("n", [8, 48, 200])
def test_a_full_turn_has_the_volume_of_its_polygon(n: int) -> None:
    mesh = close_turn(grid(2.0 * np.pi * np.arange(n) / n))
    t = 2.0 * np.pi / n
    # Each level section is a regular n-gon: sin(t)/t of the circle.
    exact = smooth_volume(PROFILE) * np.sin(t) / t
    assert exact > 0
    assert_allclose(signed_volume_mm3(mesh), exact, rtol=1e-9)
    assert_allclose(solid_from_mesh(mesh).volume(), exact, rtol=1e-9)


@pytest.mark.parametrize(("start", "width"), [(0.0, 0.7), (2.0, 3.0), (5.5, 1.6), (-0.3, 6.1)])
def test_a_wedge_has_its_share_of_the_volume(start: float, width: float) -> None:
    m = 41
    mesh = close_wedge(grid(start + np.linspace(0.0, width, m)))
    t = width / (m - 1)
    exact = smooth_volume(PROFILE) * (m - 1) * np.sin(t) / (2.0 * np.pi)
    assert_allclose(signed_volume_mm3(mesh), exact, rtol=1e-9)
    assert_allclose(solid_from_mesh(mesh).volume(), exact, rtol=1e-9)
    # All 40 wedges of one step: V Δφ/2π each, but for the polygon.
    assert_allclose(exact, smooth_volume(PROFILE) * width / (2 * np.pi), rtol=t**2)


def test_a_wedge_points_outwards_everywhere() -> None:
    # Cut out of the full turn, nothing of it may be left outside.
    angles = 2.0 * np.pi * np.arange(96) / 96
    whole = solid_from_mesh(close_turn(grid(angles)))
    part = solid_from_mesh(close_wedge(grid(angles[10:31])))
    assert abs((part - whole).volume()) < 1e-6 * part.volume()
    assert_allclose((whole - part).volume(), whole.volume() - part.volume(), rtol=1e-9)


def test_an_uneven_grid_is_closed_too() -> None:
    rng = np.random.default_rng(0)
    points = grid(np.linspace(0.0, 1.2, 30))
    points[1:-1] += 0.2 * rng.normal(size=points[1:-1].shape) * [0.3, 0.3, 0.3]
    assert solid_from_mesh(close_wedge(points)).volume() > 0
