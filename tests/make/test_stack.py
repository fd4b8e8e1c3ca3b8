"""Stacks of pieces whose every measure is known."""

from dataclasses import replace
from itertools import pairwise

import manifold3d
import numpy as np
import pytest
from make.briefs import bowl_rim, cylinder_hole

from lossfill.drawing.model import Layer
from lossfill.drawing.pages import lay_on_paper
from lossfill.errors import InputError, UnsuitedError
from lossfill.make.brief import BriefPiece
from lossfill.make.stack import StackSettings, make_stack, stack_of
from lossfill.make.stack_sheet import (
    PAGE_MM,
    Placed,
    overlap_mm2,
    place_on_sheets,
    sheet_drawing,
)

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
    # Layers of one outline have no line of their own for the next: their edges meet.
    assert names.count(Layer.MARK) == 0


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


def test_usual_sheets_print_on_one_page(block_brief):
    made = make_stack(block_brief)
    for drawing in made.drawings:
        assert (drawing.bounds[1] - drawing.bounds[0] <= PAGE_MM).all()
        assert len(lay_on_paper(drawing, date=None)) == 1
    # A layer larger than a page still has a sheet.
    long = manifold3d.Manifold.cube((260.0, 10.0, 20.0))
    large = replace(block_brief, pieces=(BriefPiece("1", long, DOWN),))
    assert all(proof.passed for proof in make_stack(large).proved)
    with pytest.raises(UnsuitedError, match="smaller than the largest layer"):
        make_stack(large, StackSettings(sheet_mm=(200.0, 200.0)))


@pytest.mark.parametrize("grain_deg", [0.0, 90.0, 30.0])
def test_the_grain_and_the_number_lie_on_the_wood(grain_deg):
    # A ring and a block apart from it: the roomiest places of both are not in the middle.
    ring = manifold3d.CrossSection.circle(20.0, 90) - manifold3d.CrossSection.circle(12.0, 90)
    layer = ring + manifold3d.CrossSection.square((8.0, 30.0)).translate((25.0, -15.0))
    drawing = sheet_drawing(
        [Placed(0, (30.0, 30.0))], (layer,), name="a", title="a", part="a", grain_deg=grain_deg,
        alternating=False, sheet_mm=None,
    )  # fmt: skip
    placed = layer.translate((30.0, 30.0))
    arrows = [line.points for line in drawing.lines if line.layer is Layer.AXIS]
    assert len(arrows) == 4
    for points in arrows:
        for start, end in pairwise(points):
            assert np.linalg.norm(end - start) > 0.5
            aside = 0.001 * np.array([start[1] - end[1], end[0] - start[0]])
            thin = manifold3d.CrossSection([np.stack([start - aside, end - aside, end + aside])])
            assert (thin - placed).area() < 1e-9
    assert [text.words for text in drawing.texts] == ["1", "1"]
    for text in drawing.texts:
        spot = manifold3d.CrossSection.circle(0.2, 16).translate(text.at_mm)
        assert (spot - placed).area() < 1e-9


def test_the_next_layer_is_drawn_where_it_ends_inside_alone():
    below = manifold3d.CrossSection.square((40.0, 20.0))
    above = manifold3d.CrossSection.square((25.0, 20.0))
    drawing = sheet_drawing(
        [Placed(0, (0.0, 0.0))], (below, above), name="a", title="a", part="a", grain_deg=0.0,
        alternating=False, sheet_mm=None,
    )  # fmt: skip
    (line,) = (line.points for line in drawing.lines if line.layer is Layer.MARK)
    # Its fourth side alone, less the width along the common edge in which nothing is drawn.
    assert line[:, 0] == pytest.approx(np.full(len(line), 25.0), abs=1e-6)
    assert np.ptp(line[:, 1]) == pytest.approx(20.0 - 0.7, abs=1.1)


@pytest.mark.parametrize(("side", "where"), [("outer", "outside"), ("inner", "inside")])
def test_layer_1_is_said_to_lie_where_it_lies(side, where):
    hole = cylinder_hole()
    # Slid in from outside, the stack begins outside; from inside, inside.
    entry = np.array([-1.0 if side == "outer" else 1.0, 0.0, 0.0])
    brief = replace(hole, pieces=(replace(hole.pieces[0], entry=entry),))
    made = make_stack(brief, StackSettings(direction="entry"))
    (told,) = (note for note in made.notes if "layer 1 lies" in note)
    assert where in told
    assert told in made.drawings[0].notes
