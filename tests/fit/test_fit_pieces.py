"""Pieces made to go in: split, order, words, hollow vessels, clearances and laws."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from fill.wedges import cylinder
from fit.fit_cases import box, one_way
from fit.vessel_cases import CUP, SLAB, bar, fitted, keyhole, missing, rim_gap
from scanning import random_pose

from lossfill import tolerances as tol
from lossfill.fit.entry import entry_of
from lossfill.fit.fitted import Entry, Fitted, FittedPiece, SweepProof
from lossfill.fit.order import find_order
from lossfill.fit.words import entry_words
from lossfill.mesh import FloatArray
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh

# --- a gap that no single piece can enter --------------------------------------------------------

DOVETAIL = keyhole(9.0, 14.0, 2.0)


@cache
def dovetail(*, split: bool) -> Fitted:
    return fitted(missing(DOVETAIL, SLAB), split=split)


def test_a_dovetailed_gap_is_told_and_splitting_offered() -> None:
    made = dovetail(split=False)
    (piece,) = made.pieces
    assert piece.seat_lost_share > tol.SEAT_LOST_SHARE
    assert piece.relieved_mm3 > 0.0
    assert piece.proof.passed
    assert len(made.warnings) == 1
    assert "try --split" in made.warnings[0]
    assert f"{100 * piece.seat_lost_share:.0f} %" in made.warnings[0]


def test_split_in_two_both_halves_go_in_and_lose_less() -> None:
    whole, made = dovetail(split=False), dovetail(split=True)
    first, second = made.pieces
    assert (first.name, second.name) == ("1a", "1b")
    assert first.proof.passed
    assert second.proof.passed
    lost = first.seat_lost_mm2 + second.seat_lost_mm2
    assert lost < whole.pieces[0].seat_lost_mm2
    # Together they are the piece, but for the gap between them and what was relieved.
    both = first.solid.volume() + second.solid.volume()
    shaped = made.fill.solid.volume()
    assert both + first.relieved_mm3 + second.relieved_mm3 < shaped
    # A cut across a wall of 4 mm and 10 mm high is no larger than 4 x 12 mm and 0.15 mm wide.
    assert both + first.relieved_mm3 + second.relieved_mm3 > shaped - 0.15 * 26.0 * 12.0


def test_the_second_half_goes_past_the_first() -> None:
    first, second = dovetail(split=True).pieces
    body = missing(DOVETAIL, SLAB).body + first.solid
    for share in np.linspace(0.0, 1.0, 40):
        away = -share * second.entry.travel_mm * second.entry.direction
        there = second.solid.translate(tuple(away))
        assert (there ^ body).volume() <= second.proof.shared_limit_mm3
    assert find_order((first, second)).sequence == ("1a", "1b")


def test_between_the_halves_there_is_the_gap_asked_for() -> None:
    first, second = dovetail(split=True).pieces
    gap = first.solid.min_gap(second.solid, 1.0)
    # Rounding to 32-bit numbers and the collapse before it, and relief only widens it.
    assert gap >= 0.15 - 2.0 * tol.COLLAPSE_MM[0] - 1e-5
    assert gap < 0.15 + 0.1


def test_a_piece_that_goes_in_whole_is_not_split() -> None:
    made = fitted(missing(rim_gap()), split=True)
    assert [piece.name for piece in made.pieces] == ["1"]
    assert made.warnings == ()


# --- clearances ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("clearance_mm", "rub_mm"), [(0.0, 0.05), (0.05, 0.0)])
def test_a_tight_piece_is_proved_less_a_skin(clearance_mm: float, rub_mm: float) -> None:
    (piece,) = fitted(missing(rim_gap()), clearance_mm=clearance_mm).pieces
    assert piece.proof.rub_mm == rub_mm
    assert piece.proof.passed
    # Nothing of a free piece, but along the borders of a seat of 300 mm², where it may lean.
    assert piece.relieved_mm3 < 1.0
    assert piece.seat_lost_share < 0.06


# --- laws ----------------------------------------------------------------------------------------


@cache
def plain() -> Fitted:
    return fitted(missing(rim_gap()))


def angle_deg(one: FloatArray, other: FloatArray) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(one, other)), one @ other)))


@pytest.mark.parametrize("seed", [1, 2])
def test_another_pose_gives_the_same_way_in(seed: int) -> None:
    pose = random_pose(np.random.default_rng(seed))
    (piece,) = fitted(missing(rim_gap(), pose=pose)).pieces
    (same,) = plain().pieces
    here = pose[:3, :3].T @ piece.entry.direction
    # Directions are tried 9° apart, fixed in space, then refined to 0.4³ of it, and the best is a
    # flat top over them.
    assert angle_deg(here, same.entry.direction) < POSE_DEG
    assert piece.proof.passed
    assert max(piece.relieved_mm3, same.relieved_mm3) < 0.01
    assert piece.solid.volume() == pytest.approx(same.solid.volume(), rel=2e-3)


POSE_DEG = 5.0


def test_the_order_of_triangles_does_not_matter() -> None:
    (piece,) = fitted(missing(rim_gap(), seed=5)).pieces
    (same,) = plain().pieces
    assert angle_deg(piece.entry.direction, same.entry.direction) < POSE_DEG
    assert piece.proof.passed
    assert piece.relieved_mm3 < 0.01


def test_the_same_loss_gives_the_same_bytes() -> None:
    loss = missing(DOVETAIL, SLAB)
    one, other = fitted(loss), dovetail(split=False)
    for first, second in zip(one.pieces, other.pieces, strict=True):
        assert first.mesh.vertices.tobytes() == second.mesh.vertices.tobytes()
        assert first.mesh.faces.tobytes() == second.mesh.faces.tobytes()
        assert first.entry.direction.tobytes() == second.entry.direction.tobytes()
        assert first.proof == second.proof


# --- through the hollow --------------------------------------------------------------------------


def test_a_spall_inside_a_closed_jar_comes_from_its_hollow_and_is_warned_of() -> None:
    lid = Solid.cylinder(4.0, 40.0, 40.0, 96).translate((0, 0, 46)) - Solid.cylinder(
        8.0, 4.0, 4.0, 48
    ).translate((0, 0, 44))
    jar = CUP + lid
    made = fitted(missing(bar((4.0, 12.0, 10.0), (36.5, 0.0, 25.0)), jar))
    (piece,) = made.pieces
    assert not piece.entry.from_outside
    # It comes outward, onto the inner side of the wall.
    assert piece.entry.direction[0] > 0.9
    assert piece.proof.passed
    # The piece is about 12 mm across: that much is looked at, not the jar's width.
    assert piece.entry.travel_mm < 25.0
    assert any("hollow of the vessel" in warning for warning in made.warnings)


def test_the_same_spall_in_an_open_cup_is_not_warned_of() -> None:
    wide = solid_from_mesh(cylinder(40.0, 36.0, 20.0, 96, spacing_mm=4.0).mesh)
    made = fitted(missing(bar((4.0, 12.0, 6.0), (36.5, 0.0, 14.0)), wide))
    assert made.pieces[0].entry.from_outside
    assert not any("hollow" in warning for warning in made.warnings)


# --- order ---------------------------------------------------------------------------------------


def standing(name: str, solid: Solid, out: tuple[float, float, float]) -> FittedPiece:
    entry = entry_of(one_way(np.array(out)), 0, 30.0)
    proof = SweepProof(1, 0.0, 0.0, 0.0, 0.05, 0.0)
    return FittedPiece(name, mesh_from_solid(solid), solid, entry, proof, 0.0, 1.0, 0.0)


UP, DOWN, RIGHT, LEFT = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
LOWER, UPPER = box((0, 0, 0), (5, 5, 5)), box((1, 1, 6), (4, 4, 9))


def test_what_lies_below_goes_in_first() -> None:
    upper, lower = standing("1", UPPER, UP), standing("2", LOWER, UP)
    for pieces in ((upper, lower), (lower, upper)):
        order = find_order(pieces)
        assert order.sequence == ("2", "1")
        assert order.before == (("2", "1"),)
        assert order.why_not == ""


def test_pieces_apart_go_in_as_they_are_numbered() -> None:
    upper = standing("2", UPPER, RIGHT)
    order = find_order((standing("1", LOWER, LEFT), upper))
    assert order.sequence == ("1", "2")
    assert order.before == ()


def test_three_in_a_pile_go_in_from_below() -> None:
    top = standing("1", UPPER.translate((0, 0, 5)), UP)
    order = find_order((top, standing("2", UPPER, UP), standing("3", LOWER, UP)))
    assert order.sequence == ("3", "2", "1")


def test_two_that_bar_each_other_are_told() -> None:
    order = find_order((standing("1", LOWER, UP), standing("2", UPPER, DOWN)))
    assert order.sequence == ()
    assert set(order.before) == {("1", "2"), ("2", "1")}
    assert "pieces 1, 2 bar each other's way" in order.why_not
    assert "split one of them" in order.why_not


# --- words ---------------------------------------------------------------------------------------


def words(out: tuple[float, float, float], place: tuple[float, float, float]) -> str:
    ways = one_way(np.array(out) / np.linalg.norm(out))
    entry: Entry = entry_of(ways, 0, 10.0)
    return entry_words(entry, np.eye(4), np.array(place))


@pytest.mark.parametrize(
    ("out", "says"),
    [
        ((0, 0, 1), "from above"),
        ((0, 0, -1), "from below"),
        ((1, 0, 0), "from outside"),
        ((-1, 0, 0), "from inside"),
        # Looking at the loss from +x towards the axis, +y is to the right.
        ((0, 1, 0), "from the right"),
        ((0, -1, 0), "from the left"),
        ((1, 0, 2), "from above and outside"),
        ((2, 0, 1), "from outside and above"),
        ((-1, 0, 1.2), "from above and inside"),
        ((0.2, 0.1, 1), "from above"),
    ],
)
def test_the_way_in_is_said_as_seen_from_outside(
    out: tuple[float, float, float], says: str
) -> None:
    assert words(out, (50.0, 0.0, 20.0)) == says


def test_the_words_turn_with_the_vessel() -> None:
    # The same from the vessel's other side: left and right, in and out change over.
    assert words((1, 0, 0), (-50.0, 0.0, 20.0)) == "from inside"
    assert words((0, 1, 0), (-50.0, 0.0, 20.0)) == "from the left"
    # On its head, above is below.
    flip = np.diag([1.0, -1.0, -1.0, 1.0])
    entry = entry_of(one_way(np.array([0.0, 0.0, 1.0])), 0, 10.0)
    assert entry_words(entry, flip, np.array([50.0, 0.0, 0.0])) == "from below"


def test_in_the_middle_of_a_floor_there_is_but_above_and_below() -> None:
    assert words((0.6, 0, 0.8), (1.0, 0.0, 2.0)) == "from above"
    assert words((0.6, 0, -0.8), (1.0, 0.0, 2.0)) == "from below"
