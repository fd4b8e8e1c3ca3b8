"""The way in against what the seat allows: intersections of half-spaces, known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from fill.wedges import wedge
from fit.fit_cases import Slot, along_y, box
from fit.vessel_cases import fitted, missing, rim_gap

from lossfill.fit.entry import best_way, entry_of, even_directions, find_ways, turn_to
from lossfill.fit.fit import Seat, places_on
from lossfill.fit.fitted import Entry
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


def sides(wide_deg: float, middle_deg: float) -> FloatArray:
    """Normals, into the gap, of its two sides and of its level bottom, (3, 3)."""
    a, b = np.radians(middle_deg + 0.5 * wide_deg * np.array([-1.0, 1.0]))
    return np.array([[-np.sin(a), np.cos(a), 0.0], [np.sin(b), -np.cos(b), 0.0], [0.0, 0.0, 1.0]])


# A gap of 0.15 mm on a seat 4 mm wide lets a piece lean into a side by 2.1° before the whole side
# binds, and 0.4 % of the places may.
LEAN_DEG = 3.0


@pytest.mark.parametrize("wide_deg", [25.0, 60.0, 100.0])
def test_a_gap_in_the_rim_is_entered_within_its_sides(wide_deg: float) -> None:
    (piece,) = fitted(missing(rim_gap(wide_deg))).pieces
    out = -piece.entry.direction
    assert np.linalg.norm(out) == pytest.approx(1.0, abs=1e-9)
    assert (sides(wide_deg, 20.0) @ out).min() >= -np.sin(np.radians(LEAN_DEG))
    # The two sides are alike, so that the best way is midway between them, but the best is a flat
    # top: cos 10° is 0.985, and 1500 places weigh the sides no better than that.
    across = np.array([-np.sin(np.radians(20.0)), np.cos(np.radians(20.0)), 0.0])
    assert abs(np.degrees(np.arcsin(out @ across))) < 10.0
    # It may lean as far as four of a thousand places allow, which are cleared along the borders.
    assert piece.relieved_mm3 < 0.01
    assert piece.proof.passed
    assert piece.entry.from_outside
    assert piece.entry.bound_share <= 0.004
    # Free are azimuths within the sides, from level to straight up: wide / 360 of half a sphere;
    # its borders, half a turn in all, are blurred by the lean.
    blur = (np.pi + np.radians(wide_deg)) * np.radians(LEAN_DEG) / (4.0 * np.pi)
    assert piece.entry.free_share == pytest.approx(wide_deg / 720.0, abs=blur + 0.005)


def test_a_window_in_the_wall_is_entered_from_outside() -> None:
    # Its sides narrow towards the axis, and above and below it are level.
    made = fitted(missing(wedge(50.0, 20.0, 15.0, 35.0)))
    out = -made.pieces[0].entry.direction
    outward = np.array([np.cos(np.radians(20.0)), np.sin(np.radians(20.0)), 0.0])
    assert out @ outward > np.cos(np.radians(10.0))
    assert made.pieces[0].proof.passed


def on_body(body: Solid) -> Seat:
    """A seat that is the body's own surface, for a piece a hundredth of a millimetre off it."""
    return Seat(Surface(mesh_from_solid(body)), 0.01)


def way_in(piece: Solid, body: Solid, seat: Seat) -> Entry:
    places = places_on(mesh_from_solid(piece), seat, seed=1)
    ways = find_ways(places, Surface(mesh_from_solid(body)))
    return entry_of(ways, best_way(ways, places), 0.0)


@pytest.mark.parametrize("angle_deg", [60.0, 90.0, 120.0])
def test_a_groove_is_free_over_the_angle_between_its_sides(angle_deg: float) -> None:
    half = 4.0 * np.tan(np.radians(0.5 * angle_deg))
    block = box((-20, 0, -15), (20, 10, 0))
    cut = along_y([(0, -4), (2 * half, 4), (-2 * half, 4)], 12.0).translate((0, -1, 0))
    # Raised by a hundredth of a millimetre, so that rays start clear of the sides.
    piece = along_y([(0, -4), (half, 0), (-half, 0)], 10.0).translate((0, 0, 0.01))
    entry = way_in(piece, block - cut, on_body(block - cut))
    # A lune of that angle; its rim, a whole turn, is known to half a step of 9°.
    assert entry.free_share == pytest.approx(angle_deg / 360.0, abs=0.02)
    # Of 500 directions about 9° apart the middle one may be off by half a step.
    assert np.degrees(np.arccos(-entry.direction[2])) < 90.0
    assert entry.bound_share <= 0.004


def test_a_flat_notch_is_free_over_half_of_all_directions() -> None:
    piece = box((-3, 2, 0.01), (3, 8, 4))
    body = box((-20, 0, -15), (20, 10, 0))
    entry = way_in(piece, body, on_body(body))
    assert entry.free_share == pytest.approx(0.5, abs=0.02)


def test_a_dovetail_has_no_way_but_along_its_slot() -> None:
    slot = Slot()
    entry = way_in(slot.piece, slot.body, slot.seat)
    # 0.15 mm on 8 mm of half width and 10 mm of length lets it yaw by 0.15 / 5 in all.
    assert abs(entry.direction[1]) > np.cos(np.radians(3.0))
    assert entry.free_share < 0.01
    assert entry.bound_share < 0.02


def test_straight_walls_leave_but_the_way_up_and_along() -> None:
    slot = Slot(bottom_mm=6.0)
    entry = way_in(slot.piece, slot.body, slot.seat)
    # In the plane of the slot half a circle is free, of no area but for the lean of its clearance,
    # 0.15 mm on some 4 mm.
    assert abs(entry.direction[0]) < np.sin(np.radians(3.0))
    assert entry.direction[2] < 0.0
    assert entry.free_share < 0.5 * 2.0 * np.sin(np.radians(3.0))


def test_directions_are_even_and_turns_are_turns() -> None:
    out = even_directions(500)
    np.testing.assert_allclose(np.linalg.norm(out, axis=1), 1.0, atol=1e-12)
    # Evenly spread: no first moment, and a third of the second along each axis.
    np.testing.assert_allclose(out.mean(axis=0), 0.0, atol=2e-3)
    np.testing.assert_allclose(out.T @ out / 500, np.eye(3) / 3.0, atol=2e-3)
    for direction in out[::50]:
        turn = turn_to(direction)
        np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(turn) == pytest.approx(1.0)
        np.testing.assert_allclose(turn[2], direction)
