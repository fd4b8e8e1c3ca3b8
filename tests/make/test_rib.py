from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from make.briefs import bowl_rim, cylinder_hole
from shapes import bowl_profile

from lossfill.drawing.model import Drawing, Layer
from lossfill.errors import InputError
from lossfill.frame.profile import make_profile
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief
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
    marks = sorted(line.points[0, 1] for line in outer.lines if line.layer is Layer.MARK)
    assert marks == pytest.approx([25.0, 45.0], abs=1e-6)


def test_what_has_no_axis_is_refused() -> None:
    with pytest.raises(InputError, match="a rib needs an axis to turn about"):
        make_rib(bowl_rim())
    with pytest.raises(InputError, match="a handle is not turned"):
        make_rib(replace(cylinder_hole(), kind=LossKind.HANDLE))


@pytest.mark.parametrize(
    "wrong", [{"side": "top"}, {"section": "there"}, {"board_mm": 1.0}, {"scale": np.nan}]
)
def test_bad_settings_are_one_line(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError) as refusal:
        RibSettings(**wrong)  # type: ignore[arg-type]
    assert "\n" not in str(refusal.value)
