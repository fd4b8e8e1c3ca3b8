"""The gap's figures, against VTK's distances, on a rough break; they see a gap that is wrong."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from breaking import break_vessel
from fill.fill_checks import spread_over, vtk_signed_distance
from fill.wedges import Wedged
from vessels import plain_cup

from lossfill.errors import InputError
from lossfill.fill import FillSettings, make_fill
from lossfill.fill.gap import gap_figures
from lossfill.mesh import Mesh
from lossfill.solids import solid_from_mesh


@cache
def chipped() -> tuple[Wedged, Mesh]:
    whole = plain_cup(edge_mm=2.0)
    broken = break_vessel(whole, "chip", rng=np.random.default_rng(5))
    original = solid_from_mesh(whole).as_original()
    piece = original ^ solid_from_mesh(broken.chunks[0])
    return Wedged(original, piece, solid_from_mesh(broken.body)), whole


@pytest.mark.parametrize("clearance_mm", [0.0, 0.05, 0.15, 0.5, 1.0])
def test_the_gap_of_a_rough_break_is_what_vtk_measures(clearance_mm: float) -> None:
    shells, whole = chipped()
    made = make_fill(shells.loss, FillSettings(clearance_mm=clearance_mm))
    found = gap_figures(made.solid, shells.body, skin=whole, clearance_mm=clearance_mm)
    points = spread_over(made.mesh, 20_000, seed=7)
    off_skin = np.abs(vtk_signed_distance(whole)(points)) > clearance_mm + 0.01
    error = np.abs(vtk_signed_distance(shells.body_mesh)(points[off_skin]) - clearance_mm)
    # What was promised, by the outside judge: 95 % of the break within 0.02 mm.
    assert np.quantile(error, 0.95) < 0.02
    # Other points, so that both know the share to about 0.3 % and the quantile to a tenth.
    assert found.error_p95_mm == pytest.approx(np.quantile(error, 0.95), rel=0.15, abs=1e-5)
    assert found.share_within == pytest.approx((error <= 0.02).mean(), abs=0.01)
    assert found.seat_share == pytest.approx(off_skin.mean(), abs=0.02)


def test_a_gap_of_another_width_is_seen() -> None:
    shells, whole = chipped()
    made = make_fill(shells.loss, FillSettings(clearance_mm=0.5))
    found = gap_figures(made.solid, shells.body, skin=whole, clearance_mm=0.4)
    assert found.error_p50_mm == pytest.approx(0.1, abs=0.005)
    assert found.gap_median_mm == pytest.approx(0.5, abs=0.005)
    assert found.share_within < 0.01


def test_a_piece_without_a_seat_has_no_gap() -> None:
    shells, whole = chipped()
    with pytest.raises(InputError, match="no part of the piece lies 40 mm from its skin"):
        gap_figures(shells.piece, shells.body, skin=whole, clearance_mm=0.1, rim_mm=40.0)
