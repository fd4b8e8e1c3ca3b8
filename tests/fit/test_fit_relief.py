"""What is taken off a dovetail so that it goes straight in: closed forms, and the proof of it."""

from __future__ import annotations

import numpy as np
import pytest
from fill.fill_checks import vtk_volume_and_area
from fit.fit_cases import UP, Slot, box, one_way

from lossfill import tolerances as tol
from lossfill.fit.entry import turn_to
from lossfill.fit.fit import Obstacle, Seat, fit_along
from lossfill.fit.fitted import SweepProof
from lossfill.fit.overlap import NO_OVERLAP, Overlap
from lossfill.fit.sweep import body_on_the_way, overlap_on_the_way, prove_sweep
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid

DOVETAIL = Slot()

# The columns reach inward of the slot's upper edge by the ring, 0.04 mm rounded up to one cell of
# 0.05 mm, and by the cell that the edge itself lies in, any part of one.
LEAST_MM, MOST_MM = tol.RELIEF_RING_MM, 2.0 * tol.SWEEP_CELLS_MM[0]


def relieved_mm3(slot: Slot, inward_mm: float) -> float:
    """Volume of the piece that lies outward of the slot's upper edges, less a distance."""
    # A triangle on either side: level side at the bottom, upright side at the cut, and the piece's
    # own side, which rises 1 / lean for each mm inward.
    wide = slot.reach_mm + inward_mm
    return 2.0 * slot.long_mm * wide**2 / (2.0 * slot.lean)


def lost_mm2(slot: Slot, inward_mm: float) -> float:
    """Area of the seat outward of there: of both sides, and of the bottom."""
    wide = slot.reach_mm + inward_mm
    return 2.0 * slot.long_mm * (wide / slot.lean * float(np.hypot(1.0, slot.lean)) + wide)


@pytest.mark.parametrize(
    "slot", [DOVETAIL, Slot(bottom_mm=6.5), Slot(bottom_mm=9.0, clearance_mm=0.3)]
)
def test_a_dovetail_loses_its_two_undercuts(slot: Slot) -> None:
    made = slot.fit()
    assert made.proof.passed
    assert made.proof.shared_mm3 == 0.0
    # Rounding to 32-bit numbers moves walls of some 40 mm² by up to 5e-7 mm.
    assert relieved_mm3(slot, LEAST_MM) <= made.relieved_mm3
    assert made.relieved_mm3 <= relieved_mm3(slot, MOST_MM) + 1e-4
    by_vtk, _ = vtk_volume_and_area(made.mesh)
    assert slot.piece.volume() - by_vtk == pytest.approx(made.relieved_mm3, abs=1e-3)


def test_a_dovetails_lost_seat_is_its_sides_and_the_edges_of_its_bottom() -> None:
    made = DOVETAIL.fit()
    side = DOVETAIL.height_mm * float(np.hypot(1.0, DOVETAIL.lean))
    bottom = DOVETAIL.top_mm - DOVETAIL.inset_mm + DOVETAIL.lean * DOVETAIL.height_mm
    assert made.seat_mm2 == pytest.approx(2.0 * DOVETAIL.long_mm * (side + bottom), rel=1e-4)
    # Of the strips of side that are left, 0.1 to 0.3 mm high, triangles count whole or not at all.
    assert lost_mm2(DOVETAIL, LEAST_MM) <= made.seat_lost_mm2 <= lost_mm2(DOVETAIL, MOST_MM) + 6.0


@pytest.mark.parametrize("bottom_mm", [4.0, 5.5])
def test_a_slot_that_opens_upwards_needs_no_relief(bottom_mm: float) -> None:
    slot = Slot(bottom_mm=bottom_mm)
    made = slot.fit()
    assert made.relieved_mm3 == 0.0
    assert made.seat_lost_mm2 == 0.0
    assert made.solid.volume() == slot.piece.volume()
    assert made.mesh.vertices.shape == mesh_from_solid(slot.piece).vertices.shape
    assert made.proof.passed


def test_straight_sides_with_a_clearance_need_none_either() -> None:
    made = Slot(bottom_mm=6.0).fit()
    assert made.relieved_mm3 == 0.0
    assert made.proof.passed


@pytest.mark.parametrize("clearance_mm", [0.05, 0.08, 0.1])
def test_a_small_clearance_alone_is_no_cause_for_relief(clearance_mm: float) -> None:
    # Off the cells' borders, so that a cell too wide would hold both sides of the gap.
    made = Slot(top_mm=6.021, bottom_mm=6.021, clearance_mm=clearance_mm).fit()
    assert made.relieved_mm3 == 0.0
    assert made.proof.passed


def test_a_dovetail_goes_in_along_its_slot_as_it_is() -> None:
    made = DOVETAIL.fit(np.array([0.0, 1.0, 0.0]))
    assert made.relieved_mm3 == 0.0
    assert made.proof.passed
    assert made.entry.travel_mm == pytest.approx(DOVETAIL.long_mm + tol.SWEEP_FREE_MM, abs=1e-6)


def test_a_ledge_in_the_body_is_cleared_by_the_lift_and_no_more() -> None:
    # The piece reaches 1 mm over a ledge and 0.5 mm into it.
    piece, ledge = box((-5, 0, -0.5), (5, 10, 3)), box((4, -5, -9), (20, 15, 0))
    made = fit_along(
        "1",
        piece,
        mesh_from_solid(piece),
        Obstacle.of(ledge),
        Seat(Surface(mesh_from_solid(ledge)), 0.15),
        one_way(UP),
        0,
        rub=piece,
    )
    high = 0.5 + tol.RELIEF_LIFT_MM
    assert made.proof.passed
    assert (1.0 + LEAST_MM) * 10.0 * high - 1e-4 <= made.relieved_mm3
    assert made.relieved_mm3 <= (1.0 + MOST_MM) * 10.0 * high + 1e-4


# --- the proof -----------------------------------------------------------------------------------


def proof_of(piece: Solid, body: Solid) -> tuple[SweepProof, Overlap]:
    """The proof of a piece that comes straight down, as it is."""
    turn, mesh = turn_to(UP), mesh_from_solid(piece)
    met, travel = body_on_the_way(mesh, body, turn, reach_mm=np.inf)
    left = overlap_on_the_way(mesh, mesh_from_solid(met), turn, finest_mm=0.0125, reach_mm=np.inf)
    proof = prove_sweep(piece, mesh, met, turn, travel_mm=travel, doubtful=left, rub_mm=0.0)
    return proof, left


def test_an_unrelieved_dovetail_is_not_proved() -> None:
    proof, left = proof_of(DOVETAIL.piece, DOVETAIL.body)
    assert not proof.passed
    # Raised by t, it meets the block's corner from t - inset / lean up; the most is shared where
    # a parallelogram of the undercut is past the side and still below the top: a third at least.
    assert proof.shared_mm3 > relieved_mm3(DOVETAIL, 0.0) / 3.0
    # Seen from above it lies under the block by its reach, and the search never says less.
    under = 2.0 * DOVETAIL.long_mm * DOVETAIL.reach_mm
    assert under <= left.area_mm2 <= under * 1.05
    assert proof.doubtful_mm2 == left.area_mm2


def test_a_relieved_dovetail_is_proved_by_a_second_look() -> None:
    proof, left = proof_of(DOVETAIL.fit().solid, DOVETAIL.body)
    assert proof.passed
    assert len(left.cells) == 0


def test_a_bump_between_two_stations_is_seen_all_the_same() -> None:
    # A plate 0.1 mm thick comes down a shaft 20 mm deep, whose wall bears a cap of 0.1 mm.
    shaft = box((-10, -10, -1), (10, 10, 20)) - box((-5, -5, 0), (5, 5, 21))
    plate = box((-4.85, -4.85, 0.15), (4.85, 4.85, 0.25))
    free, _ = proof_of(plate, shaft)
    assert free.passed
    travel = 20.0 - 0.15 + tol.SWEEP_FREE_MM
    stations = np.linspace(0.0, 1.0, tol.SWEEP_STATIONS) ** 2 * travel
    between = 0.5 * (stations[15] + stations[16])
    # There the stations are 0.7 mm apart; plate and cap together are 0.3 mm high.
    assert stations[16] - stations[15] > 0.4
    ball = Solid.sphere(0.1, 32).translate((4.9, 0.0, 0.2 + between))
    proof, left = proof_of(plate, shaft + ball)
    assert proof.shared_mm3 <= proof.shared_limit_mm3
    assert not proof.passed
    # The ball reaches in to x = 4.8 and the plate out to 4.85.
    assert 0.0 < proof.doubtful_mm2 < 0.05
    assert (
        np.abs(left.cells.mean(axis=0) * left.cell_mm - turn_to(UP)[:2] @ [4.83, 0, 0]).max() < 0.1
    )


def test_a_bump_in_the_way_costs_the_piece_no_more_than_a_notch() -> None:
    shaft = box((-10, -10, -1), (10, 10, 20)) - box((-5, -5, 0), (5, 5, 21))
    plate = box((-4.85, -4.85, 0.15), (4.85, 4.85, 0.25))
    ball = Solid.sphere(0.1, 32).translate((4.9, 0.0, 12.0))
    made = fit_along(
        "1",
        plate,
        mesh_from_solid(plate),
        Obstacle.of(shaft + ball),
        Seat(Surface(mesh_from_solid(shaft)), 0.15),
        one_way(UP),
        0,
        rub=plate,
    )
    assert made.proof.passed
    # The notch is the cap's plan, 0.05 by 0.17 mm, and a ring and a cell about it.
    assert 0.0 < made.relieved_mm3 < (0.05 + 0.1) * (0.17 + 0.2) * 0.1


def test_nothing_in_the_way_is_proved_by_nothing() -> None:
    piece, body = box((0, 0, 0), (1, 1, 1)), box((5, 5, 0), (9, 9, 9))
    met, travel = body_on_the_way(mesh_from_solid(piece), body, turn_to(UP), reach_mm=np.inf)
    assert met.is_empty()
    assert travel == tol.SWEEP_FREE_MM
    made = fit_along(
        "1",
        piece,
        mesh_from_solid(piece),
        Obstacle.of(body),
        Seat(Surface(mesh_from_solid(body)), 0.15),
        one_way(UP),
        0,
        rub=piece,
    )
    assert made.proof.passed
    assert made.relieved_mm3 == 0.0
    assert NO_OVERLAP.area_mm2 == 0.0
