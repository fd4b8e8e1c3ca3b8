"""Every measure of a loss against a wedge cut out of a shell of revolution, where it is known.

A wedge of phi takes phi / 2 pi of a body of revolution (Pappus–Guldin). The form lies up to 0.03 mm
(`tolerances.TUCK_MM`) inside the skin at the join, over a strip a cell wide at most.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from fill.wedges import Wedged, bowl, cylinder, hemisphere, take_wedge
from loss.found import Found, find
from numpy.testing import assert_allclose
from shapes import slice_factor

from lossfill import tolerances as tol
from lossfill.loss import Loss
from lossfill.loss.measure import _edge_share, clock

N = 200
WIDE_DEG = 40.0
OUTER_MM, INNER_MM = 40.0, 36.0
LOW_MM, HIGH_MM, TALL_MM = 20.0, 50.0, 70.0
MIDDLE_DEG = 73.0
SHARE = WIDE_DEG / 360.0


@cache
def window() -> tuple[Wedged, Found]:
    shells = take_wedge(
        cylinder(OUTER_MM, INNER_MM, TALL_MM, N),
        wide_deg=WIDE_DEG, middle_deg=MIDDLE_DEG, low_mm=LOW_MM, high_mm=HIGH_MM,
    )  # fmt: skip
    return shells, find(shells.body_mesh)


@cache
def gate() -> tuple[Wedged, Found]:
    """As `window`, but open to the lip."""
    shells = take_wedge(
        cylinder(OUTER_MM, INNER_MM, TALL_MM, N),
        wide_deg=WIDE_DEG, middle_deg=MIDDLE_DEG, low_mm=LOW_MM,
    )  # fmt: skip
    return shells, find(shells.body_mesh)


def only(found: Found) -> Loss:
    assert len(found.losses) == 1
    return found.losses[0]


def volume_bound_mm3(loss: Loss) -> float:
    """How much tuck and the form's own error may cost."""
    skin = loss.outer_area_mm2 + loss.inner_area_mm2
    strip = loss.join_length_mm * tol.CELL_MM
    return strip * tol.TUCK_MM + skin * (loss.expected_error_mm + 0.002)


def test_volume_of_a_window() -> None:
    shells, found = window()
    loss = only(found)
    exact = np.pi * (OUTER_MM**2 - INNER_MM**2) * (HIGH_MM - LOW_MM) * SHARE
    # First our own shape against the formula: an n-gon of 200 is 1.6e-4 short, and the wedge cuts
    # some of its sides in two.
    assert shells.piece.volume() == pytest.approx(exact * slice_factor(N), rel=2e-4)
    assert 1000.0 * loss.volume_ml == pytest.approx(
        shells.piece.volume(), abs=volume_bound_mm3(loss)
    )
    assert volume_bound_mm3(loss) < 0.01 * exact


def test_skin_areas_of_a_window() -> None:
    loss = only(window()[1])
    tall = HIGH_MM - LOW_MM
    assert loss.outer_area_mm2 == pytest.approx(2 * np.pi * OUTER_MM * tall * SHARE, rel=0.01)
    assert loss.inner_area_mm2 == pytest.approx(2 * np.pi * INNER_MM * tall * SHARE, rel=0.01)


def test_break_area_of_a_window() -> None:
    sides = 2 * (OUTER_MM - INNER_MM) * (HIGH_MM - LOW_MM)
    ends = 2 * np.pi * (OUTER_MM**2 - INNER_MM**2) * SHARE
    assert only(window()[1]).break_area_mm2 == pytest.approx(sides + ends, rel=0.02)


def test_join_length_of_a_window() -> None:
    around = 2 * np.pi * (OUTER_MM + INNER_MM) * SHARE
    wanted = 2 * around + 4 * (HIGH_MM - LOW_MM)
    assert only(window()[1]).join_length_mm == pytest.approx(wanted, rel=0.03)


def test_extents_of_a_window() -> None:
    loss = only(window()[1])
    assert loss.extent_along_mm == pytest.approx(HIGH_MM - LOW_MM, abs=1.0)
    # On the outside, where a repairer lays the tape.
    assert loss.extent_around_mm == pytest.approx(2 * np.pi * OUTER_MM * SHARE, abs=1.0)


def test_place_of_a_window() -> None:
    loss = only(window()[1])
    assert loss.angle_deg == pytest.approx(MIDDLE_DEG, abs=0.5)
    # 73° counter-clockwise from 12 o'clock is 12 - 73/30 = 9.57 on a dial that runs clockwise.
    assert loss.clock == "9:30"
    assert loss.height_mm == pytest.approx(0.5 * (LOW_MM + HIGH_MM), abs=0.3)
    turn = np.radians(MIDDLE_DEG)
    # Surface centroid: the chord of an arc lies inside it by sin(x)/x.
    radius = 0.5 * (OUTER_MM + INNER_MM) * np.sinc(0.5 * SHARE * 2.0)
    wanted = [radius * np.cos(turn), radius * np.sin(turn), 0.5 * (LOW_MM + HIGH_MM)]
    np.testing.assert_allclose(loss.centre_mm, wanted, atol=0.5, rtol=0)


def test_thickness_and_depth_of_a_window() -> None:
    loss = only(window()[1])
    wall = OUTER_MM - INNER_MM
    assert loss.thickness_mm == pytest.approx((wall, wall), abs=0.1)
    # The deepest place of a loss through the wall is its middle.
    assert loss.depth_mm == pytest.approx(0.5 * wall, abs=0.25)


def test_thickness_of_a_loss_at_the_lip_is_the_walls() -> None:
    # The wall is 4 mm thick up to its flat lip: no less is missing anywhere.
    low, high = only(gate()[1]).thickness_mm
    assert low == pytest.approx(OUTER_MM - INNER_MM, abs=0.5)
    assert high == pytest.approx(OUTER_MM - INNER_MM, abs=0.1)


def test_a_loss_at_the_lip() -> None:
    shells, found = gate()
    loss = only(found)
    assert loss.kind.value == "rim"
    assert 1000.0 * loss.volume_ml == pytest.approx(
        shells.piece.volume(), abs=volume_bound_mm3(loss)
    )
    assert loss.height_mm == pytest.approx(0.5 * (LOW_MM + TALL_MM), abs=1.0)


@pytest.mark.slow
def test_volume_of_a_wedge_down_to_the_pole() -> None:
    # 40/360 of 2 pi (50³ - 46³) / 3 = 57 939.346 mm³ is 6437.706 mm³ (formula).
    shells = take_wedge(hemisphere(50.0, 46.0, 128, spacing_mm=1.5), wide_deg=40.0, middle_deg=30.0)
    assert 2.0 * np.pi * (50.0**3 - 46.0**3) / 3.0 == pytest.approx(57_939.346, abs=1e-3)
    # Chords of 128 sides and of arcs of 1.5 mm: 4e-4 and 2e-4 short.
    assert shells.piece.volume() == pytest.approx(6437.706, rel=8e-4)
    loss = only(find(shells.body_mesh))
    assert 1000.0 * loss.volume_ml == pytest.approx(6437.706, rel=4e-3)
    assert loss.kind.value == "rim"
    # It touches every angle where it meets the axis, yet it lies at 30°.
    assert loss.angle_deg == pytest.approx(30.0, abs=5.0)


def test_volume_of_a_wedge_of_the_bowls_wall() -> None:
    shells = take_wedge(bowl(N), wide_deg=40.0, middle_deg=-10.0, low_mm=25.0)
    loss = only(find(shells.body_mesh))
    assert 1000.0 * loss.volume_ml == pytest.approx(
        shells.piece.volume(), abs=volume_bound_mm3(loss)
    )
    assert loss.angle_deg == pytest.approx(350.0, abs=1.0)
    assert loss.clock == "12:30"


@pytest.mark.parametrize(
    ("angle_deg", "dial"),
    [(0, "12:00"), (359, "12:00"), (330, "1:00"), (270, "3:00"), (180, "6:00"), (90, "9:00"),
     (30, "11:00"), (15, "11:30"), (345, "12:30"), (20, "11:30"), (7, "12:00"), (8, "11:30")],
)  # fmt: skip
def test_the_clock_runs_clockwise_seen_from_above(angle_deg: float, dial: str) -> None:
    assert clock(float(angle_deg)) == dial


@pytest.mark.parametrize("radius_mm", [3.0, 12.0, 60.0])
def test_a_spalls_edge_is_the_ring_along_its_join(radius_mm: float) -> None:
    # A ring of width w along a disk's edge is 2 w / R of it, to first order in w / R.
    share = _edge_share(2 * np.pi * radius_mm, np.pi * radius_mm**2)
    assert_allclose(share, min(1.0, 2 * tol.EDGE_MM / radius_mm), rtol=1e-12)
