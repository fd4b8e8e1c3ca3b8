"""A donor led onto the skin about a gap, on shapes whose skin is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold
from numpy.testing import assert_allclose
from scipy.spatial.transform import Rotation

from lossfill import tolerances as tol
from lossfill.donor.lead import Led, lead, skin_above, smooth_field
from lossfill.mesh import FloatArray, Mesh
from lossfill.nearest import Surface
from lossfill.solids import mesh_from_solid

RADIUS_MM, WALL_MM = 40.0, 4.0
GAP_MM = 10.0
"""Half the width of the gap, at the top of the shell."""


def shell() -> Manifold:
    # Inscribed with edges of 0.8 mm: an arrow of 0.8²/(8 · 40) = 0.002 mm.
    outer, inner = Manifold.sphere(RADIUS_MM, 320), Manifold.sphere(RADIUS_MM - WALL_MM, 320)
    return outer - inner


def bent(points: FloatArray, turn: FloatArray, shift: FloatArray, swell_mm: float) -> FloatArray:
    """Move rigidly, and swell slowly from one side to the other, as another of the set might."""
    out = points / np.linalg.norm(points, axis=1, keepdims=True)
    slow = swell_mm * np.sin(points[:, 0] / RADIUS_MM + 0.4)
    return (points + slow[:, None] * out) @ turn.T + shift


def led_shell(swell_mm: float, shift_mm: float, turn_deg: float) -> Led:
    """The shell without its top, and a whole one led onto it from aside."""
    whole = shell()
    body = whole - Manifold.cylinder(60.0, GAP_MM, GAP_MM, 128)
    turn = Rotation.from_rotvec(np.radians(turn_deg) * np.array([0.6, 0.8, 0.0])).as_matrix()
    shift = shift_mm * np.array([0.5, -0.3, 0.8])
    near_top = whole ^ Manifold.cube((50.0, 50.0, 40.0), True).translate((0.0, 0.0, 42.0))
    crop = mesh_from_solid(near_top.refine_to_length(tol.DONOR_EDGE_MM))
    donor = Mesh(bent(crop.vertices, turn, shift, swell_mm), crop.faces)
    off = np.hypot(*crop.vertices[:, :2].T)
    gap_points = donor.vertices[off < GAP_MM - 1.0]
    return lead(donor, Surface(mesh_from_solid(body)), gap_points, reach_mm=13.0)


def strays(led: Led) -> FloatArray:
    """Distance of the led skin from the spheres, well within the gap, mm."""
    points = led.mesh.vertices
    radius = np.linalg.norm(points, axis=1)
    over = led.gap & (np.hypot(*points[:, :2].T) < GAP_MM - 2.0)
    assert over.sum() > 200
    outer = np.abs(radius - RADIUS_MM) < np.abs(radius - RADIUS_MM + WALL_MM)
    return np.where(outer, radius - RADIUS_MM, radius - RADIUS_MM + WALL_MM)[over]


@pytest.mark.parametrize(("shift_mm", "turn_deg"), [(0.0, 0.0), (0.3, 0.4), (0.6, 0.8)])
def test_a_donor_that_was_moved_comes_back_to_the_skin(shift_mm: float, turn_deg: float) -> None:
    assert np.abs(strays(led_shell(0.0, shift_mm, turn_deg))).max() < 0.01


def test_a_donor_that_is_bent_besides_comes_back_too() -> None:
    # Over a gap of 20 mm a sine of 40 mm has an arrow of 0.2 · 10²/(2 · 40²) = 0.006 mm.
    off = strays(led_shell(0.2, 0.3, 0.4))
    assert np.sqrt(np.mean(off**2)) < 0.01
    # Before it was led, it lay off by far more.
    assert 20 * np.sqrt(np.mean(off**2)) < 0.3 * 0.8


def test_beyond_the_join_the_led_donor_lies_under_the_skin() -> None:
    led = led_shell(0.0, 0.3, 0.4)
    points = led.mesh.vertices
    aside, radius = np.hypot(*points[:, :2].T), np.linalg.norm(points, axis=1)
    beyond = (aside > GAP_MM + 2.0) & (aside < GAP_MM + 8.0)
    outer = beyond & (radius > RADIUS_MM - 0.5 * WALL_MM)
    inner = beyond & (radius < RADIUS_MM - 0.5 * WALL_MM)
    assert outer.sum() > 100
    assert inner.sum() > 100
    assert (radius[outer] < RADIUS_MM).all()
    assert (radius[inner] > RADIUS_MM - WALL_MM).all()
    assert led.spread_mm < 0.02


def slab_edge() -> Surface:
    """A slab of which all beyond x = 0 is lost, its top at z = 0."""
    slab = Manifold.cube((60.0, 60.0, 6.0)).translate((-60.0, -30.0, -6.0))
    return Surface(mesh_from_solid(slab))


@pytest.mark.parametrize("above_mm", [-0.1, 0.0, 0.1, 0.8])
def test_skin_tells_backed_from_unbacked_at_a_straight_join(above_mm: float) -> None:
    x = np.linspace(-3.0, 3.0, 601)
    points = np.stack([x, np.zeros_like(x), np.full_like(x, above_mm)], axis=1)
    rise, backed = skin_above(points, np.tile([0.0, 0.0, 1.0], (len(x), 1)), slab_edge())
    assert rise.shape == backed.shape == x.shape
    assert backed.dtype == np.bool_
    # In the material and over it alike, the skin is where the slab's is.
    assert_allclose(rise[x < -1.0], -above_mm, atol=1e-6)
    assert backed[x < -1.0].all()
    assert not backed[x > 1.0].any()
    # One change, at the join; further off the skin, the reach to the side grows on purpose.
    assert (np.diff(backed.astype(int)) <= 0).all()
    at = x[backed].max()
    assert abs(at) <= tol.LEAD_BESIDE_MM + tol.LEAD_BESIDE_SHARE * abs(above_mm) + 0.02
    assert abs(at) <= 0.3 or abs(above_mm) > 0.5


def test_skin_that_faces_away_or_lies_far_off_is_none() -> None:
    points = np.array([[-20.0, 0.0, 0.1], [-20.0, 0.0, 0.1], [-20.0, 0.0, 2.5]])
    normals = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0], [0.0, 0.0, 1.0]])
    assert skin_above(points, normals, slab_edge())[1].tolist() == [True, False, False]


def test_a_field_of_millimetres_stays_the_same_in_other_places_and_turns() -> None:
    rng = np.random.default_rng(3)
    points = np.column_stack([rng.uniform(-15.0, 15.0, (2000, 2)), np.zeros(2000)])
    normals = np.tile([0.0, 0.0, 1.0], (2000, 1))
    shown = 0.1 + 0.004 * points[:, 0]
    known = np.hypot(*points[:, :2].T) > 6.0
    field = smooth_field(points, normals, shown, known, span_mm=12.0)
    assert field.shape == (2000,)
    # A tilt is carried on: 0.004 a mm over 6 mm would else be 0.024 mm.
    assert np.abs(field - shown)[~known].max() < 0.01
    turn = Rotation.from_rotvec([0.3, -0.2, 0.9]).as_matrix()
    again = smooth_field(points @ turn.T + 50.0, normals @ turn.T, shown, known, span_mm=12.0)
    assert_allclose(again, field, atol=1e-8)


def test_two_skins_of_a_wall_have_a_field_each() -> None:
    rng = np.random.default_rng(4)
    flat = rng.uniform(-15.0, 15.0, (3000, 2))
    top = np.arange(3000) % 2 == 0
    points = np.column_stack([flat, np.where(top, 0.0, -3.0)])
    normals = np.column_stack([np.zeros((3000, 2)), np.where(top, 1.0, -1.0)])
    shown = np.where(top, 0.2, -0.1)
    known = np.hypot(*flat.T) > 6.0
    field = smooth_field(points, normals, shown, known, span_mm=12.0)
    assert np.abs(field - shown)[~known].max() < 0.01


def test_where_no_skin_is_known_the_donor_stays() -> None:
    points = np.zeros((50, 3))
    none = np.zeros(50, dtype=bool)
    assert (smooth_field(points, points, np.ones(50), none, span_mm=8.0) == 0.0).all()
