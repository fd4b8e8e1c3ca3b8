"""A dovetail slot that is open at its ends costs the piece next to nothing: it goes in along it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fill.wedges import Wedged
from fit.slots import LONG_MM, slotted

from lossfill.fill import FillSettings, make_fill
from lossfill.fit.fit import Obstacle, fit_fill

CLEARANCE_MM = 0.15


@pytest.mark.parametrize("turn_deg", [0.0, 17.0])
@pytest.mark.parametrize("undercut_mm", [0.5, 2.0, 4.0])
def test_a_way_that_uses_up_the_gap_is_not_taken_for_free(
    undercut_mm: float, turn_deg: float
) -> None:
    plain = slotted(undercut_mm=undercut_mm)
    turned = Wedged(*(s.rotate((0, 0, turn_deg)) for s in (plain.whole, plain.piece, plain.body)))
    fill = make_fill(turned.loss, FillSettings(clearance_mm=CLEARANCE_MM))
    found = fit_fill(fill, Obstacle.of(turned.body))
    piece = found.pieces[0]
    along = np.array([-math.sin(math.radians(turn_deg)), math.cos(math.radians(turn_deg)), 0.0])
    lean_deg = math.degrees(math.acos(min(abs(float(piece.entry.direction @ along)), 1.0)))
    # Up, the slopes leave gap * hypot(depth, undercut) / undercut, and half of it is kept over the
    # slot's length; the search's finest step is 0.7 degrees.
    rise_mm = 0.5 * CLEARANCE_MM * math.hypot(6.0, undercut_mm) / undercut_mm
    assert lean_deg < math.degrees(math.atan2(rise_mm, LONG_MM)) + 0.7
    assert piece.proof.passed
    # Straight along the slot nothing is lost; 5 % is a quarter of what a split is offered from.
    assert piece.seat_lost_share < 0.05
    assert found.warnings == ()
