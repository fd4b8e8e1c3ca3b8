from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from make.briefs import bowl_rim, cylinder_hole, tile_corner
from make.test_rib import turned_bowl

from lossfill.drawing.model import Drawing, Layer
from lossfill.errors import InputError, UnsuitedError
from lossfill.make.brief import Brief
from lossfill.make.gauges import GaugeSettings, make_gauges
from lossfill.mesh import FloatArray


def outlines(drawing: Drawing) -> list[FloatArray]:
    return [line.points for line in drawing.lines if line.layer is Layer.CUT]


def test_as_many_cards_as_asked_for_each_with_its_number() -> None:
    made = make_gauges(cylinder_hole(), GaugeSettings(levels=2, uprights=4))
    levels, uprights = made.drawings
    assert len(outlines(levels)) == 2
    assert len(outlines(uprights)) == 4
    words = [text.words for text in levels.texts]
    # Each mate's number once on every card that it goes into.
    assert [words.count(f"U{k}") for k in range(1, 5)] == [2] * 4
    assert [words.count(f"L{k}") for k in range(1, 3)] == [1] * 2


def test_level_cards_follow_the_circle_of_a_straight_cup() -> None:
    settings = GaugeSettings(depth_mm=25.0, margin_mm=15.0)
    made = make_gauges(cylinder_hole(wide_deg=40.0), settings)
    card = outlines(made.drawings[0])[0]
    # Centre of the back's arc, which is 40 + 25 from the axis: its highest point is above it.
    centre = np.array([0.5 * (card[:, 0].min() + card[:, 0].max()), card[:, 1].max() - 65.0])
    reach = np.hypot(*(card - centre).T)
    assert reach.min() == pytest.approx(40.0, abs=0.02)
    turns = np.degrees(np.arctan2(*(card - centre).T))
    # 20° of loss and 15 mm of margin on a radius of 40.
    assert turns.max() == pytest.approx(20.0 + np.degrees(15.0 / 40.0), abs=0.1)
    skin = card[reach < 40.5]
    assert np.hypot(*(skin - centre).T) == pytest.approx(np.full(len(skin), 40.0), abs=0.02)


def test_slots_are_half_as_deep_as_the_cards_and_as_wide_as_asked() -> None:
    settings = GaugeSettings(card_mm=2.0, play_mm=0.2, levels=2, uprights=2)
    upright = outlines(make_gauges(cylinder_hole(), settings).drawings[1])[0]
    left = upright[:, 0].min()
    ends = upright[np.abs(upright[:, 0] - left - 12.5) < 0.1]
    assert len(ends) == 4
    heights = np.sort(ends[:, 1])
    assert np.diff(heights)[[0, 2]] == pytest.approx([2.2, 2.2], abs=1e-3)
    # Two levels stand at a quarter and three quarters of 20 mm.
    assert heights[2] - heights[0] == pytest.approx(10.0, abs=1e-3)


@pytest.mark.parametrize("make_brief", [cylinder_hole, turned_bowl, bowl_rim, tile_corner])
def test_what_was_measured_is_proved(make_brief: Callable[[], Brief]) -> None:
    made = make_gauges(make_brief())
    assert len(made.proved) == 2
    assert all(one.passed for one in made.proved)


def test_a_card_off_the_skin_would_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    from lossfill.make import gauges

    whole = gauges.whole_surface

    def swollen(brief: Brief) -> object:
        return whole(replace(brief, body=brief.body.scale((1.01, 1.01, 1.0)), others=()))

    monkeypatch.setattr(gauges, "whole_surface", swollen)
    assert not make_gauges(cylinder_hole()).proved[0].passed


def test_marks_stand_where_vessel_and_piece_meet() -> None:
    uprights = make_gauges(cylinder_hole(low_mm=25.0, high_mm=45.0)).drawings[1]
    lines = [line.points for line in uprights.lines if line.layer is Layer.MARK]
    marks = np.sort([points[0, 1] for points in lines if len(points) == 2])
    assert len(marks) == 10
    # 20 mm apart on each card, and found to the sampling of 0.25 mm.
    assert marks[5:].mean() - marks[:5].mean() == pytest.approx(20.0, abs=0.3)


def test_cards_do_not_overlap_on_the_sheet() -> None:
    for drawing in make_gauges(turned_bowl(), GaugeSettings(levels=5, uprights=9)).drawings:
        boxes = [(c.min(axis=0), c.max(axis=0)) for c in outlines(drawing)]
        for k, (low, high) in enumerate(boxes):
            for other_low, other_high in boxes[:k]:
                assert (high < other_low).any() or (other_high < low).any()


def test_the_inner_side_has_its_own_cards() -> None:
    settings = GaugeSettings(side="inner", uprights=3, depth_mm=12.0, margin_mm=10.0)
    made = make_gauges(cylinder_hole(), settings)
    assert all(one.passed for one in made.proved)
    with pytest.raises(InputError, match="no room"):
        make_gauges(cylinder_hole(), GaugeSettings(side="inner", depth_mm=90.0))


@pytest.mark.parametrize(
    "wrong",
    [{"side": "top"}, {"levels": 1}, {"uprights": 99}, {"card_mm": 0.0}, {"margin_mm": np.nan}],
)
def test_bad_settings_are_one_line(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError) as refusal:
        GaugeSettings(**wrong)  # type: ignore[arg-type]
    assert "\n" not in str(refusal.value)


def test_cards_too_close_to_slot_are_refused() -> None:
    with pytest.raises(UnsuitedError, match="apart"):
        make_gauges(cylinder_hole(), GaugeSettings(levels=20))


def test_a_small_loss_has_fewer_cards_that_stand_past_it() -> None:
    # 3 mm tall and 2.8 mm wide: five cards with slots of 1.6 mm have no room.
    chip = cylinder_hole(wide_deg=4.0, low_mm=40.0, high_mm=43.0)
    settings = GaugeSettings()
    made = make_gauges(chip, settings)
    levels, uprights = made.drawings
    assert (len(outlines(levels)), len(outlines(uprights))) == (2, 2)
    assert all(one.passed for one in made.proved)
    heights = [float(t.words.split()[1]) for t in levels.texts if "above the foot" in t.words]
    assert np.diff(heights) == pytest.approx([settings.apart_mm], abs=0.1)
    assert np.mean(heights) == pytest.approx(41.5, abs=0.1)
    with pytest.raises(UnsuitedError, match="apart"):
        make_gauges(chip, GaugeSettings(levels=3))


def test_both_sides_have_names_of_their_own() -> None:
    names = [
        drawing.name
        for side in ("outer", "inner")
        for drawing in make_gauges(
            cylinder_hole(), GaugeSettings(side=side, uprights=3, depth_mm=12.0, margin_mm=10.0)
        ).drawings
    ]
    assert names == [
        "loss_1_gauges_outer_levels",
        "loss_1_gauges_outer_uprights",
        "loss_1_gauges_inner_levels",
        "loss_1_gauges_inner_uprights",
    ]


def test_cards_of_a_tile_stand_on_its_face_and_not_on_its_edge() -> None:
    levels, uprights = make_gauges(tile_corner(), GaugeSettings(levels=2, uprights=2)).drawings
    for card in outlines(levels) + outlines(uprights):
        # Its working edge is the flat face: the card's lowest or leftmost points lie on a line.
        size = np.ptp(card, axis=0)
        assert size.min() == pytest.approx(25.0, abs=0.02)
    assert {text.words for text in levels.texts} >= {
        "L1: 5.0 mm below the middle",
        "L2: 5.0 mm above the middle",
    }
    assert {text.words for text in uprights.texts} >= {
        "U1: 7.5 mm right of the middle",
        "U2: 7.5 mm left of the middle",
    }
    assert not any("foot" in text.words or "°" in text.words for text in levels.texts)


def test_a_line_along_the_edge_shows_the_piece() -> None:
    levels = make_gauges(cylinder_hole(), GaugeSettings(levels=2, uprights=2)).drawings[0]
    lines = [line.points for line in levels.lines if line.layer is Layer.MARK]
    along = [points for points in lines if len(points) > 2]
    # 40° on 40 mm, drawn 1.2 mm farther out; slots are cut from the back and leave it whole.
    lengths = [np.linalg.norm(np.diff(points, axis=0), axis=1).sum() for points in along]
    assert lengths == pytest.approx([np.radians(40.0) * 41.2] * 2, abs=0.6)
