"""A lowered skin lies as deep as asked, flush at the join where it fades, and elsewhere untouched.

A straight cup's wedge is cut by the skins of an n-gon, whose flat faces lie between R cos(pi / n)
and R from the axis. Distances are VTK's.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from fill.fill_checks import assert_closed, spread_over, vtk_signed_distance
from fill.wedges import Wedged, cylinder, take_wedge
from make.briefs import brief_of

from lossfill import tolerances as tol
from lossfill.errors import BooleanError, InputError
from lossfill.fill import Fill, FillSettings, make_fill
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Lost, Side
from lossfill.mesh import FloatArray

N = 120
OUTER_MM, INNER_MM, LOW_MM, HIGH_MM, WIDE_DEG = 40.0, 36.0, 20.0, 50.0, 42.0
OFF_MM = 0.03
"""What is promised of the lowered skin."""


@cache
def window() -> tuple[Wedged, Lost]:
    """A window whose sides run to the axis, on edges of the n-gon."""
    wedged = take_wedge(
        cylinder(OUTER_MM, INNER_MM, 70.0, N),
        wide_deg=WIDE_DEG,
        middle_deg=0.0,
        low_mm=LOW_MM,
        high_mm=HIGH_MM,
    )
    return wedged, lost_of(wedged)


@cache
def lip() -> tuple[Wedged, Lost]:
    """A piece of the rim, whose flat lip is parted down its middle between outside and inside."""
    wedged = take_wedge(
        cylinder(OUTER_MM, INNER_MM, 60.0, N), wide_deg=WIDE_DEG, middle_deg=0.0, low_mm=40.0
    )
    lost = lost_of(wedged)
    centres = lost.mesh.vertices[lost.mesh.faces].mean(axis=1)
    radius = np.hypot(centres[:, 0], centres[:, 1])
    on_top = (lost.side != Side.BREAK) & (centres[:, 2] > 60.0 - 1e-9)
    side = np.where(on_top, np.where(radius > 38.0, Side.OUTER, Side.INNER), lost.side)
    return wedged, Lost(lost.mesh, side.astype(np.int8), lost.solid)


def lost_of(wedged: Wedged) -> Lost:
    entry = np.array([-1.0, 0.0, 0.0])
    return brief_of(wedged, kind=LossKind.THROUGH, entry=entry, wall_mm=4.0).lost


@cache
def made(clearance_mm: float, outside_mm: float, inside_mm: float, edge: str) -> Fill:
    wedged, lost = window()
    settings = FillSettings(
        clearance_mm=clearance_mm,
        setback_outside_mm=outside_mm,
        setback_inside_mm=inside_mm,
        setback_edge=edge,  # type: ignore[arg-type]
    )
    return make_fill(wedged.loss, settings, side=lost.side)


def over_the_skin(fill: Fill, *, outside: bool) -> tuple[FloatArray, FloatArray]:
    """Points on one lowered skin and their way from the join, along the wall."""
    points = spread_over(fill.mesh, 30_000)
    turn = np.arctan2(points[:, 1], points[:, 0])
    radius = np.hypot(points[:, 0], points[:, 1])
    skin = OUTER_MM if outside else INNER_MM
    beside = (0.5 * np.radians(WIDE_DEG) - np.abs(turn)) * skin
    way = np.minimum(beside, np.minimum(points[:, 2] - LOW_MM, HIGH_MM - points[:, 2]))
    on = (radius > 38.0) == outside
    # The seat lies one clearance and less than half a mm from the join, and is no skin.
    on &= way > fill.clearance_mm + 0.02
    return points[on], way[on]


@pytest.mark.parametrize(("outside_mm", "inside_mm"), [(0.5, 0.0), (0.0, 0.3), (1.0, 0.5)])
def test_a_step_lowers_the_skin_evenly_up_to_the_join(outside_mm: float, inside_mm: float) -> None:
    fill = made(0.15, outside_mm, inside_mm, "step")
    lost = window()[1]
    for side, depth_mm in ((Side.OUTER, outside_mm), (Side.INNER, inside_mm)):
        points, _ = over_the_skin(fill, outside=side == Side.OUTER)
        depth = np.abs(vtk_signed_distance(lost.faces_of(side))(points))
        assert len(points) > 5_000
        # An untouched skin is where it was, to the file's rounding.
        off = OFF_MM if depth_mm > 0 else 1e-4
        assert (np.abs(depth - depth_mm) < off).mean() > 0.99
        assert np.median(depth) == pytest.approx(depth_mm, abs=0.2 * off)


def test_a_step_takes_the_volume_of_a_ring_sector() -> None:
    # Without clearance: an n-gon's sector between two planes on its corners has the area
    # (k / 2) R² sin(2 pi / n), k sides. Lowered by s, flat faces move in by s: R shrinks by
    # s / cos(pi / n).
    s, k = 0.6, round(WIDE_DEG / 360.0 * N)
    assert k * 360.0 / N == WIDE_DEG
    sector = 0.5 * k * np.sin(2.0 * np.pi / N) * (HIGH_MM - LOW_MM)
    lower = OUTER_MM - s / np.cos(np.pi / N)
    lost_mm3 = sector * (OUTER_MM**2 - lower**2)
    fill = made(0.0, s, 0.0, "step")
    removed = window()[0].piece.volume() - fill.solid.volume()
    # The skin is true to a few hundredths of 0.6 mm where it ends, and better elsewhere.
    assert removed == pytest.approx(lost_mm3, rel=0.01)


def test_a_fade_is_deep_in_the_middle_and_flush_at_the_join() -> None:
    s, fade = 0.6, 3.0
    fill = made(0.0, s, 0.0, "fade")
    points, way = over_the_skin(fill, outside=True)
    depth = np.abs(vtk_signed_distance(window()[1].faces_of(Side.OUTER))(points))
    u = np.clip(way / fade, 0.0, 1.0)
    asked = s * u * u * (3.0 - 2.0 * u)
    assert (np.abs(depth - asked) < OFF_MM).mean() > 0.99
    assert np.abs(depth[way < 0.2]).max() < 0.02
    assert depth[way > fade + 0.1] == pytest.approx(s, abs=OFF_MM)
    inside, _ = over_the_skin(fill, outside=False)
    untouched = np.abs(vtk_signed_distance(window()[1].faces_of(Side.INNER))(inside))
    assert np.quantile(untouched, 0.999) < 1e-4


@pytest.mark.parametrize("edge", ["step", "fade"])
def test_a_lip_is_lowered_by_each_sides_own(edge: str) -> None:
    wedged, lost = lip()
    for outside_mm, inside_mm in ((0.5, 0.0), (0.4, 0.4), (0.6, 0.3)):
        settings = FillSettings(
            setback_outside_mm=outside_mm,
            setback_inside_mm=inside_mm,
            setback_edge=edge,  # type: ignore[arg-type]
        )
        fill = make_fill(wedged.loss, settings, side=lost.side)
        assert_sound(fill, wedged)
        points = spread_over(fill.mesh, 20_000)
        way = 0.5 * np.radians(WIDE_DEG) - np.abs(np.arctan2(points[:, 1], points[:, 0]))
        middle = points[(way * INNER_MM > 3.5) & (points[:, 2] > 50.0)]
        radius = np.hypot(middle[:, 0], middle[:, 1])
        # The lowered lip's corner is an inner one of the cutter, whose grid cuts off a cell of it.
        corner = np.hypot(
            np.abs(radius - 38.0) - 2.0 + outside_mm, middle[:, 2] - 60.0 + outside_mm
        )
        inner_corner = np.hypot(radius - 36.0 - inside_mm, middle[:, 2] - 60.0 + inside_mm)
        clear = np.minimum(corner, inner_corner) > tol.SETBACK_CELL_MM
        middle, radius = middle[clear], radius[clear]
        # Clear of the line down the lip's middle by more than either setback and a cell.
        for on, depth_mm in (
            ((radius > 39.0) & (middle[:, 2] > 59.0), outside_mm),
            ((radius < 37.0) & (middle[:, 2] > 59.0), inside_mm),
        ):
            side = Side.OUTER if radius[on].mean() > 38.0 else Side.INNER
            depth = np.abs(vtk_signed_distance(lost.faces_of(side))(middle[on]))
            assert np.quantile(np.abs(depth - depth_mm), 0.95) < OFF_MM


@pytest.mark.parametrize("edge", ["step", "fade"])
@pytest.mark.parametrize("clearance_mm", [0.0, 0.15, 0.6])
def test_a_lowered_piece_is_one_sound_part(clearance_mm: float, edge: str) -> None:
    assert_sound(made(clearance_mm, 0.6, 0.2, edge), window()[0])


def assert_sound(fill: Fill, wedged: Wedged) -> None:
    assert_closed(fill.mesh)
    assert len(fill.solid.decompose()) == 1
    assert fill.solid.genus() == 0
    # Rounding to 32 bits alone, see `test_no_clearance_gives_the_exact_complement`.
    assert (fill.solid ^ wedged.body).volume() < 0.02
    assert (fill.solid - wedged.piece).volume() < 0.02


def test_no_setback_costs_nothing_and_changes_nothing() -> None:
    wedged, lost = window()
    plain = make_fill(wedged.loss)
    asked = make_fill(wedged.loss, FillSettings(setback_edge="step"), side=lost.side)
    assert np.array_equal(plain.mesh.vertices, asked.mesh.vertices)
    assert np.array_equal(plain.mesh.faces, asked.mesh.faces)


def test_a_setback_without_sides_is_refused() -> None:
    with pytest.raises(InputError, match="which of its skin lies outside") as caught:
        make_fill(window()[0].loss, FillSettings(setback_outside_mm=0.5))
    assert "\n" not in str(caught.value)


def test_a_wall_thinner_than_its_setbacks_is_refused() -> None:
    thin = take_wedge(cylinder(40.0, 38.2, 60.0, 60), wide_deg=30.0, middle_deg=0.0, low_mm=20.0)
    settings = FillSettings(setback_outside_mm=1.0, setback_inside_mm=1.0, setback_edge="step")
    with pytest.raises(BooleanError, match="give smaller ones") as caught:
        make_fill(thin.loss, settings, side=lost_of(thin).side)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("words", "settings"),
    [
        ("setback outside of -0.1 mm", {"setback_outside_mm": -0.1}),
        ("setback inside of 1.01 mm", {"setback_inside_mm": 1.01}),
        ("setback outside of nan mm", {"setback_outside_mm": float("nan")}),
        ("fades of 0.5 mm", {"setback_fade_mm": 0.5}),
        ("edge cannot be 'soft'", {"setback_edge": "soft"}),
        ("fillet of -0.2 mm", {"fillet_mm": -0.2}),
        ("fillet of 1.5 mm", {"fillet_mm": 1.5}),
        ("known for 'steel'", {"process": "steel"}),
    ],
)
def test_settings_that_cannot_be(words: str, settings: dict[str, object]) -> None:
    with pytest.raises(InputError, match=words) as caught:
        FillSettings(**settings)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)
