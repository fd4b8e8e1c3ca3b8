"""The half-plane curve: spacing, normals, and dropping points on it."""

from __future__ import annotations

import numpy as np
import pytest
from frame.frame_checks import turned
from numpy.testing import assert_allclose

from lossfill.errors import NoAxisError
from lossfill.frame.profile import (
    Profile,
    Projection,
    at,
    make_profile,
    on_skin,
    project,
    to_half_plane,
)
from lossfill.mesh import FloatArray


def shell_profile(inner: float = 46.0, outer: float = 50.0, spacing: float = 0.05) -> Profile:
    """Hemispherical shell opening upward, middle of the ball at the origin."""
    rise = np.linspace(0.0, np.pi / 2, 4000)
    down = rise[::-1]
    inside = inner * np.stack([np.sin(rise), -np.cos(rise)], axis=1)
    outside = outer * np.stack([np.sin(down), -np.cos(down)], axis=1)
    return make_profile(np.vstack([inside, outside]), spacing_mm=spacing)


SHELL = shell_profile()


def on_ball(radius: float, fraction: FloatArray, angle: FloatArray) -> tuple[FloatArray, ...]:
    """Points of the lower half ball and the directions away from its middle."""
    rise = fraction * np.pi / 2
    out = np.stack(
        [np.sin(rise) * np.cos(angle), np.sin(rise) * np.sin(angle), -np.cos(rise)], axis=1
    )
    return radius * out, out


def test_points_are_even_and_the_ends_lie_on_the_axis() -> None:
    steps = np.linalg.norm(np.diff(SHELL.points, axis=0), axis=1)
    # Chords across the two corners of the lip are shorter than the curve, by 1/√2 at most.
    assert_allclose(np.median(steps), 0.05, rtol=2e-3)
    assert steps.max() < 1.001 * np.median(steps)
    assert steps.min() > 0.7 * np.median(steps)
    assert SHELL.points[0, 0] == SHELL.points[-1, 0] == 0.0
    assert_allclose(SHELL.spacing_mm, steps.mean(), rtol=1e-12)
    assert_allclose(SHELL.points[SHELL.lip, 1], 0.0, atol=0.05, rtol=0)


def test_normals_point_out_of_the_material() -> None:
    r = np.linalg.norm(SHELL.points, axis=1)
    inside, outside = r < 46.01, r > 49.99
    away = (SHELL.points * SHELL.normals).sum(axis=1) / r
    clear = np.abs(np.arange(len(r)) - SHELL.lip) * SHELL.spacing_mm > 5.0
    # Into the hollow on the inside; the angle between neighbours is 0.05/46 rad.
    assert_allclose(away[inside & clear], -1.0, atol=1e-5, rtol=0)
    assert_allclose(away[outside & clear], 1.0, atol=1e-5, rtol=0)


def test_repeated_points_of_a_curve_do_no_harm() -> None:
    rise = np.linspace(0.0, np.pi / 2, 40)
    curve = 30.0 * np.stack([np.sin(rise), -np.cos(rise)], axis=1)
    doubled = np.repeat(curve, 3, axis=0)
    assert_allclose(
        make_profile(doubled, spacing_mm=1.0).points, make_profile(curve, spacing_mm=1.0).points
    )


@pytest.mark.parametrize("offset", [-0.7, 0.0, 0.4])
def test_projection_measures_distance_along_the_normal(offset: float) -> None:
    rng = np.random.default_rng(0)
    fraction, angle = rng.uniform(0.05, 0.95, 500), rng.uniform(0, 2 * np.pi, 500)
    for radius, sign in ((46.0, -1.0), (50.0, 1.0)):
        points, out = on_ball(radius + sign * offset, fraction, angle)
        drop = project(SHELL, points, sign * out)
        # Chords of 0.05 mm lie within 0.05²/8/46 = 7e-6 mm of the ball.
        assert_allclose(drop.offset_mm, offset, atol=1e-5, rtol=0)
        assert_allclose(drop.agreement, 1.0, atol=1e-5, rtol=0)
        at_foot, _ = at(SHELL, drop.along)
        assert_allclose(np.arctan2(at_foot[:, 0], -at_foot[:, 1]), fraction * np.pi / 2, atol=1e-5)


def test_each_skin_of_a_thin_wall_keeps_its_own_points() -> None:
    # A millimetre of wall, and points pushed out of round by two walls' thickness.
    thin = shell_profile(inner=49.0, outer=50.0, spacing=0.1)
    rng = np.random.default_rng(1)
    fraction, angle = rng.uniform(0.1, 0.9, 500), rng.uniform(0, 2 * np.pi, 500)
    points, out = on_ball(52.0, fraction, angle)
    assert (project(thin, points, out).along > thin.lip).all()
    assert (project(thin, points, -out).along < thin.lip).all()
    assert_allclose(project(thin, points, -out).offset_mm, -3.0, atol=1e-3, rtol=0)


def test_places_between_points_are_straight() -> None:
    along = np.array([0.0, 3.25, 100.5, len(SHELL.points) - 1.0])
    points, normals = at(SHELL, along)
    assert_allclose(points[1], 0.75 * SHELL.points[3] + 0.25 * SHELL.points[4], rtol=1e-12)
    assert_allclose(points[3], SHELL.points[-1], atol=1e-12)
    assert_allclose(np.linalg.norm(normals, axis=1), 1.0, rtol=1e-12)


def test_half_plane_keeps_radius_height_and_slope() -> None:
    z = np.linspace(0.0, 60.0, 50)
    points, normals = turned(10.0 + 0.5 * z, np.full(50, 0.5), z, np.linspace(0.0, 6.0, 50))
    flat, facing = to_half_plane(points, normals)
    assert_allclose(flat, np.stack([10.0 + 0.5 * z, z], axis=1), rtol=1e-12)
    assert_allclose(facing, np.tile([1.0, -0.5], (50, 1)) / np.sqrt(1.25), rtol=1e-12)


def test_skin_is_near_and_faces_the_same_way() -> None:
    drop = Projection(
        np.zeros(4), np.array([0.5, -0.5, 1.5, 0.5]), np.array([0.95, 0.95, 0.95, 0.5])
    )
    assert on_skin(drop, reach_mm=1.0).tolist() == [True, True, False, False]


def test_no_skin_at_all_is_no_axis() -> None:
    with pytest.raises(NoAxisError, match="no axis of revolution: none of the surface"):
        on_skin(Projection(np.zeros(2), np.full(2, 9.0), np.ones(2)), reach_mm=1.0)
