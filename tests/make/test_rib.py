from __future__ import annotations

from dataclasses import replace
from functools import cache
from io import BytesIO

import numpy as np
import pdfplumber
import pytest
from make.briefs import bowl_rim, cylinder_hole
from shapes import bowl_profile

from lossfill.drawing import pdf_bytes
from lossfill.drawing.model import Drawing, Layer
from lossfill.errors import InputError, UnsuitedError
from lossfill.frame.profile import Profile, make_profile
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief, Side
from lossfill.make.rib import RibSettings, make_rib
from lossfill.mesh import FloatArray


def cut(drawing: Drawing) -> FloatArray:
    (line,) = (line for line in drawing.lines if line.layer is Layer.CUT)
    return line.points


def edge(drawing: Drawing, sphere_mm: float, low: float, high: float) -> FloatArray:
    """Distance of the board's corners between two heights from the sphere's middle, less radius."""
    points = cut(drawing)
    between = (points[:, 1] > low) & (points[:, 1] < high)
    reach = np.hypot(points[:, 0], points[:, 1] - middle_of_bowl())[between]
    return reach[reach < sphere_mm + 5.0] - sphere_mm


def middle_of_bowl() -> float:
    """Height of the bowl's centre: its radius above the hollow of a foot 3 mm high."""
    return 60.0 - bowl_profile()[:, 1].min()


@cache
def turned_bowl() -> Brief:
    points = bowl_profile(spacing_mm=0.5)
    points[:, 1] -= points[:, 1].min()
    return replace(bowl_rim(), profile=make_profile(points[::-1], spacing_mm=0.5))


def test_the_boards_of_a_straight_cup_are_rectangles() -> None:
    made = make_rib(cylinder_hole())
    outer, inner = made.drawings
    assert [d.name for d in made.drawings] == ["loss_1_rib_outer", "loss_1_rib_inner"]
    # A facet of 180 lies 40 (1 - cos 1°) = 0.006 mm inside the circle.
    assert np.ptp(cut(outer), axis=0) == pytest.approx([30.0, 70.0], abs=0.01)
    assert cut(outer).min(axis=0) == pytest.approx([40.0, 0.0], abs=0.01)
    assert cut(inner).min(axis=0) == pytest.approx([0.0, 4.0], abs=0.01)
    assert cut(inner).max(axis=0) == pytest.approx([36.0, 70.0], abs=0.01)
    assert all(one.passed for one in made.proved)
    assert len(made.proved) == 2


@pytest.mark.parametrize("section", ["here", "round"])
def test_the_edges_follow_the_spheres_of_a_bowl(section: str) -> None:
    outer, inner = make_rib(turned_bowl(), RibSettings(section=section)).drawings
    # Chords of 1 mm on 60 mm lie 0.002 mm inside; the lip and the foot are left out.
    for drawing, radius in ((outer, 60.0), (inner, 56.0)):
        off = edge(drawing, radius, 12.0, 60.0)
        assert len(off) > 30
        assert np.abs(off).max() < 0.04  # the facets of 128 slices: 60 (1 - cos 1.4°) = 0.018


def test_the_foot_ring_is_not_cut_under() -> None:
    outer = make_rib(turned_bowl()).drawings[0]
    foot = cut(outer)[:, 0][cut(outer)[:, 1] < 1e-6]
    assert foot.min() == pytest.approx(28.0, abs=0.02)


def test_numbers_along_the_back_stand_at_their_heights() -> None:
    outer = make_rib(cylinder_hole()).drawings[0]
    for words in ("10", "60"):
        (text,) = (text for text in outer.texts if text.words == words)
        ticks = [line.points for line in outer.lines if line.layer is Layer.SCALE]
        assert min(abs(t[0, 1] - float(words)) for t in ticks) < 1e-9
        assert abs(text.at_mm[1] - float(words)) < 1.5


def test_oversize_is_even() -> None:
    plain = make_rib(cylinder_hole(), RibSettings(board_mm=30.0)).drawings[0]
    large = make_rib(cylinder_hole(), RibSettings(board_mm=33.0, scale=1.1)).drawings[0]
    assert cut(large) == pytest.approx(1.1 * cut(plain), abs=1e-6)
    assert any("1.1000 times" in note for note in large.notes)


def test_marks_show_where_the_loss_ends() -> None:
    outer = make_rib(cylinder_hole(low_mm=25.0, high_mm=45.0)).drawings[0]
    marks = [line.points for line in outer.lines if line.layer is Layer.MARK]
    # Found between places 0.25 mm apart.
    ends = sorted(mark[0, 1] for mark in marks if len(mark) == 2)
    assert ends == pytest.approx([25.0, 45.0], abs=0.15)
    (along,) = (mark for mark in marks if len(mark) > 2)
    # The line along the loss runs inside the board, beside the loss and nowhere else.
    assert along[:, 0] == pytest.approx(np.full(len(along), 41.5), abs=0.05)
    assert (along[:, 1].min(), along[:, 1].max()) == pytest.approx((25.0, 45.0), abs=0.5)


def test_what_has_no_axis_is_refused() -> None:
    with pytest.raises(UnsuitedError, match="a rib needs an axis to turn about"):
        make_rib(bowl_rim())
    with pytest.raises(UnsuitedError, match="a handle is not turned"):
        make_rib(replace(cylinder_hole(), kind=LossKind.HANDLE))


@pytest.mark.parametrize(
    "wrong", [{"side": "top"}, {"section": "there"}, {"board_mm": 1.0}, {"scale": np.nan}]
)
def test_bad_settings_are_one_line(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError) as refusal:
        RibSettings(**wrong)  # type: ignore[arg-type]
    assert "\n" not in str(refusal.value)


def bottle_profile() -> Profile:
    """A bottle 4 mm thick: 100 wide and 80 tall, its neck 28 wide inside up to 120."""
    inside = [(0, 4), (46, 4), (46, 80), (14, 90), (14, 120)]
    outside = [(18, 120), (18, 94), (50, 84), (50, 0), (0, 0)]
    return make_profile(np.array([*inside, *outside], dtype=float)[::-1], spacing_mm=0.5)


def test_a_board_that_does_not_pass_the_mouth_is_told_of() -> None:
    bottle = replace(cylinder_hole(), profile=bottle_profile())
    made = make_rib(bottle, RibSettings(section="round"))
    outer, inner = made.drawings
    (told,) = (note for note in inner.notes if "does not go in" in note)
    assert "46 mm wide" in told
    assert "28 mm at its narrowest" in told
    assert not any("does not go in" in note for note in outer.notes)
    assert not any("does not go in" in note for note in make_rib(cylinder_hole()).notes)
    # A neck 14 mm wide has no room for numbers beside its ticks.
    heights = {float(t.words) for t in inner.texts if t.words.isdigit()}
    assert max(heights) < 95.0


def test_a_domed_floor_is_followed_inside() -> None:
    # A floor 3 mm higher in the middle is no undercut for a board that turns about the axis.
    points = np.array(
        [(0, 0), (40, 0), (40, 60), (36, 60), (36, 4), (18, 5.5), (0, 7)], dtype=float
    )
    domed = replace(cylinder_hole(), profile=make_profile(points, spacing_mm=0.5))
    inner = make_rib(domed, RibSettings(section="round", side="inner"))
    edge = cut(inner.drawings[0])
    near = edge[np.abs(edge[:, 0] - 18.0) < 2.0]
    floor = near[near[:, 1] < 10.0]
    assert floor[:, 1] == pytest.approx(7.0 - floor[:, 0] / 12.0, abs=0.05)
    assert not any("undercut" in note for note in inner.notes)
    assert inner.proved[0].passed


def test_a_loss_on_the_outside_alone_has_an_outer_rib_alone() -> None:
    hole = cylinder_hole()
    side = hole.lost.side.copy()
    side[side == Side.INNER] = Side.BREAK
    spall = replace(hole, lost=replace(hole.lost, side=side))
    made = make_rib(spall)
    assert [drawing.name for drawing in made.drawings] == ["loss_1_rib_outer"]
    assert any("does not reach the inner side" in note for note in made.notes)
    with pytest.raises(UnsuitedError):
        make_rib(spall, RibSettings(side="inner"))


def test_heights_on_the_printed_page_are_true() -> None:
    pdf = pdf_bytes(make_rib(turned_bowl()).drawings[:1])
    with pdfplumber.open(BytesIO(pdf)) as pages:
        (page,) = pages.pages
        level = [s for s in (*page.lines, *page.curves) if abs(s["top"] - s["bottom"]) < 1e-3]
        mm = 25.4 / 72.0
        ends: dict[float, list[float]] = {}
        for line in level:
            if abs((line["x1"] - line["x0"]) * mm - 5.0) < 0.02:
                ends.setdefault(round(line["x1"], 1), []).append(line["top"] * mm)
    # The board's own ticks of full tens; the ruler's are of other lengths or elsewhere.
    heights = np.sort(max(ends.values(), key=len))
    assert len(heights) >= 6
    # 0.05 mm on 100 mm is what an office printer's drum keeps.
    assert heights[5] - heights[0] == pytest.approx(50.0, abs=0.025)
    assert np.diff(heights) == pytest.approx(np.full(len(heights) - 1, 10.0), abs=0.01)
