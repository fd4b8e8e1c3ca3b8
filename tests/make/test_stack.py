"""Stacks of pieces whose every measure is known."""

from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from make.briefs import bowl_rim, cylinder_hole

from lossfill.drawing.model import Layer
from lossfill.errors import InputError
from lossfill.make.brief import BriefPiece
from lossfill.make.stack import StackSettings, make_stack, stack_of
from lossfill.make.stack_sheet import Placed, overlap_mm2, place_on_sheets

DOWN = np.array([0.0, 0.0, -1.0])
BLOCK = manifold3d.Manifold.cube((40.0, 10.0, 20.0))


@pytest.fixture(scope="module")
def block_brief():
    return replace(cylinder_hole(), pieces=(BriefPiece("1", BLOCK, DOWN),))


@pytest.mark.parametrize(
    ("direction", "tall"), [("thinnest", 10.0), ("entry", 20.0), ("axis", 20.0)]
)
@pytest.mark.parametrize(("board", "allowance"), [(3.0, 1.0), (4.0, 1.0), (5.0, 0.0), (50.0, 0.0)])
def test_there_are_just_enough_layers(direction, tall, board, allowance):
    settings = StackSettings(board_mm=board, allowance_mm=allowance, direction=direction)
    stack = stack_of(BLOCK, DOWN, settings)
    assert len(stack.layers) == int(np.ceil((tall + 2 * allowance) / board))


def test_a_block_is_cut_as_its_outline_with_the_allowance():
    stack = stack_of(BLOCK, DOWN, StackSettings(allowance_mm=1.0, dowel_mm=0.0))
    # Thinnest across its 10 mm: layers are 40 × 20 mm, grown by 1 mm with round corners.
    area = 40.0 * 20.0 + 2.0 * (40.0 + 20.0) * 1.0 + np.pi
    for layer in stack.layers:
        # 0.02 mm is added for the outline's simplification: 122 mm × 0.02.
        assert area < layer.area() < area + 3.0
        box = layer.bounds()
        np.testing.assert_allclose([box[2] - box[0], box[3] - box[1]], [42.0, 22.0], atol=0.05)


@pytest.mark.parametrize("brief", [cylinder_hole, bowl_rim])
@pytest.mark.parametrize("direction", ["thinnest", "entry", "axis"])
def test_the_piece_lies_inside_and_layers_lie_apart(brief, direction):
    made = make_stack(brief(), StackSettings(direction=direction))
    assert [proof.what for proof in made.proved if not proof.passed] == []


def test_the_stack_holds_the_piece_moved_by_its_allowance_any_way():
    settings = StackSettings(dowel_mm=0.0)
    stack = stack_of(cylinder_hole().pieces[0].solid, DOWN, settings)
    ball = manifold3d.Manifold.sphere(settings.allowance_mm, 16)
    for step in ball.to_mesh().vert_properties[::5, :3]:
        assert (stack.piece.translate(tuple(map(float, step))) - stack.solid).volume() < 0.01


def test_dowels_run_through_wood(block_brief):
    stack = stack_of(BLOCK, DOWN)
    assert len(stack.dowelled) == len(stack.layers) == 4
    bare = stack_of(BLOCK, DOWN, StackSettings(dowel_mm=0.0))
    for with_holes, whole in zip(stack.layers, bare.layers, strict=True):
        # Two holes of 3 mm, as 48-gons: 0.3 % less than circles.
        lost = whole.area() - with_holes.area()
        assert lost == pytest.approx(2.0 * np.pi * 1.5**2, rel=0.005)
        for x, y in stack.dowels:
            ring = manifold3d.CrossSection.circle(3.45, 48).translate((x, y))
            assert (ring - whole).area() < 1e-6
    names = [line.layer for line in make_stack(block_brief).drawings[0].lines]
    # Four outlines with two holes each.
    assert names.count(Layer.CUT) == 12
    assert names.count(Layer.MARK) == 3


def test_a_piece_too_small_for_dowels_says_so(block_brief):
    small = BriefPiece("1", manifold3d.Manifold.cube((4.0, 4.0, 4.0)), DOWN)
    made = make_stack(replace(block_brief, pieces=(small,)))
    assert any("too small for two dowels" in note for note in made.notes)


def test_many_layers_fill_several_sheets():
    square = manifold3d.CrossSection.square((50.0, 50.0))
    # Within 120 mm, two of 50 mm and three gaps of 3 mm: four on a sheet.
    sheets = place_on_sheets((square,) * 9, (120.0, 120.0), 3.0)
    assert [len(sheet) for sheet in sheets] == [4, 4, 1]
    assert overlap_mm2(sheets, (square,) * 9, 3.0) == 0.0
    for put in (put for sheet in sheets for put in sheet):
        assert min(put.shift_mm) >= 3.0
        assert max(put.shift_mm) + 50.0 <= 117.0 + 1e-9


def test_overlap_is_seen():
    square = manifold3d.CrossSection.square((50.0, 50.0))
    put = [[Placed(0, (0.0, 0.0)), Placed(1, (40.0, 0.0))]]
    assert overlap_mm2(put, (square, square), 0.0) == pytest.approx(500.0, rel=1e-6)


def test_the_same_piece_gives_the_same_sheets(block_brief):
    first, again = (make_stack(block_brief).drawings[0] for _ in range(2))
    for a, b in zip(first.lines, again.lines, strict=True):
        assert np.array_equal(a.points, b.points)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"board_mm": 0.0}, "board"),
        ({"board_mm": float("nan")}, "board"),
        ({"allowance_mm": -1.0}, "allowance"),
        ({"dowel_mm": -3.0}, "dowel"),
        ({"sheet_mm": (30.0, 200.0)}, "smaller than the largest layer"),
        ({"grain_deg": float("inf")}, "grain"),
    ],
)
def test_stack_settings_that_cannot_be_used_are_refused(block_brief, changed, words):
    with pytest.raises(InputError, match=words) as caught:
        make_stack(block_brief, StackSettings(**changed))
    assert "\n" not in str(caught.value)
