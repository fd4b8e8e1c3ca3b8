"""The step along the join, on shapes whose step is known."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from fill.wedges import Wedged, cylinder, hemisphere, take_wedge, wedge
from make.briefs import brief_of
from scanning import random_pose

from lossfill import tolerances as tol
from lossfill.fill import FillSettings, make_fill
from lossfill.fill.step import JoinStep, step_along_join
from lossfill.loss.loss import LossKind
from lossfill.mesh import FloatArray, Mesh, transformed

N = 120
OUTER_MM, INNER_MM = 40.0, 36.0
WINDOW = {"wide_deg": 42.0, "middle_deg": 0.0, "low_mm": 20.0, "high_mm": 50.0}

BENT_MM = 0.004
"""Of a polygon of 120 sides, 2.1 mm long, a place of the join may lie this far off the level
between its neighbours: looked at 0.5 mm to either side of an edge, 0.5 sin(pi / 120) / 4."""


@cache
def window(outer_mm: float = OUTER_MM, inner_mm: float = INNER_MM) -> Wedged:
    return take_wedge(cylinder(outer_mm, inner_mm, 70.0, N), **WINDOW)


def away_from_corners(step: JoinStep) -> FloatArray:
    """Steps more than 3 mm from the window's four corners, where the line turns."""
    x, y, z = step.places_mm.T
    angle = np.degrees(np.arctan2(y, x))
    on_side = np.abs(np.abs(angle) - 21.0) < 0.5
    on_end = np.minimum(np.abs(z - 20.0), np.abs(z - 50.0)) < 0.3
    clear = (on_side & (np.abs(z - 35.0) < 12.0)) | (on_end & (np.abs(angle) < 16.0))
    return step.step_mm[clear]


@pytest.mark.parametrize(("outer_mm", "inner_mm"), [(40.0, 36.0), (40.2, 36.2), (39.7, 36.0)])
def test_a_piece_that_stands_proud_by_so_much_steps_by_so_much(
    outer_mm: float, inner_mm: float
) -> None:
    # Radii of an n-gon's corners: its flats lie cos(pi / n) of that out, a share of 3e-4 less.
    hole, piece = window(), window(outer_mm, inner_mm).piece_mesh
    steps = step_along_join(hole.loss, piece, hole.body_mesh, clearance_mm=0.0)
    assert len(steps) == 2
    for step in steps:
        outer = float(np.hypot(*step.places_mm[0, :2])) > 38.0
        # Inside, what lies farther from the axis lies lower.
        truth = outer_mm - OUTER_MM if outer else INNER_MM - inner_mm
        found = away_from_corners(step)
        assert len(found) > 100
        np.testing.assert_allclose(found, truth, atol=BENT_MM, rtol=0)
        assert np.isnan(step.step_mm).mean() < 0.05


def test_the_join_of_a_window_is_as_long_as_its_edges() -> None:
    hole = window()
    steps = step_along_join(hole.loss, hole.piece_mesh, hole.body_mesh, clearance_mm=0.0)
    # Two uprights and two arcs of 42 degrees, corners cut by smoothing: 0.4 mm at each at most.
    for step, radius in zip(steps, (OUTER_MM, INNER_MM), strict=True):
        around = 2.0 * (30.0 + np.radians(42.0) * radius)
        assert step.length_mm == pytest.approx(around, abs=4 * 0.6)
        assert np.all(np.diff(step.along_mm) > 0)


@pytest.mark.parametrize("lifted_mm", [0.0, 0.25])
def test_a_patch_of_a_sphere_lifted_off_it_steps_by_the_lift(lifted_mm: float) -> None:
    shell = {"wide_deg": 40.0, "middle_deg": 10.0, "low_mm": 12.0, "high_mm": 24.0}
    hole = take_wedge(hemisphere(30.0, 26.0, 96), **shell)
    larger = take_wedge(hemisphere(30.0 + lifted_mm, 26.0 + lifted_mm, 96), **shell).piece_mesh
    # The larger ball stands on z = 0 too: its middle is brought back to where the other's is.
    piece = Mesh(larger.vertices - [0.0, 0.0, lifted_mm], larger.faces)
    outer, *_ = step_along_join(hole.loss, piece, hole.body_mesh, clearance_mm=0.0)
    found = outer.step_mm[np.isfinite(outer.step_mm)]
    # Triangles of 2 mm on a ball of 30 mm: their middles lie 2² / (8 · 30) = 0.017 mm deep.
    np.testing.assert_allclose(found, lifted_mm, atol=0.017, rtol=0)


@pytest.mark.parametrize("edge", ["step", "fade"])
@pytest.mark.parametrize("clearance_mm", [0.0, 0.15])
def test_a_setback_is_the_step_at_the_join(edge: str, clearance_mm: float) -> None:
    hole = window()
    brief = brief_of(hole, kind=LossKind.THROUGH, entry=np.array([-1.0, 0.0, 0.0]), wall_mm=4.0)
    shape = FillSettings(
        clearance_mm=clearance_mm,
        setback_outside_mm=0.4,
        setback_edge=edge,  # type: ignore[arg-type]
    )
    fill = make_fill(hole.loss, shape, side=brief.lost.side)
    steps = step_along_join(fill.loss, fill.mesh, hole.body_mesh, clearance_mm=clearance_mm)
    outer, inner = (away_from_corners(step) for step in steps)
    # A step is as deep as asked, to the 0.03 mm promised of a lowered skin. A fade over 3 mm is
    # looked at clearance + 0.35 mm from the join: x²(3 - 2x) of 0.4 mm.
    x = (clearance_mm + tol.STEP_ASIDE_MM) / 3.0
    truth = -0.4 if edge == "step" else -0.4 * x * x * (3.0 - 2.0 * x)
    np.testing.assert_allclose(np.median(outer), truth, atol=0.01, rtol=0)
    assert np.mean(np.abs(outer - truth) < 0.03) > 0.95
    # The skin that is not set back is flush.
    np.testing.assert_allclose(inner, 0.0, atol=BENT_MM, rtol=0)


def test_the_pose_does_not_matter() -> None:
    matrix = random_pose(np.random.default_rng(5))
    hole, piece = window(), window(40.2, 36.2).piece_mesh
    form = hole.whole.transform(matrix[:3]).as_original()
    part, _ = form.split(wedge(**WINDOW).transform(matrix[:3]))
    turned = replace(hole.loss, solid=part, form_here=form)
    still = step_along_join(hole.loss, piece, hole.body_mesh, clearance_mm=0.0)
    moved = step_along_join(
        turned, transformed(piece, matrix), transformed(hole.body_mesh, matrix), clearance_mm=0.0
    )
    for one, other in zip(still, moved, strict=True):
        # A closed run may begin elsewhere, and its corners be cut at other places.
        assert other.length_mm == pytest.approx(one.length_mm, abs=0.5)
        assert np.nanmedian(other.step_mm) == pytest.approx(np.nanmedian(one.step_mm), abs=1e-3)


def test_a_piece_without_a_break_has_no_join() -> None:
    hole = window()
    loose = replace(hole.loss, form_here=hole.piece, solid=hole.piece.as_original())
    whole = replace(loose, form_here=loose.solid)
    assert step_along_join(whole, hole.piece_mesh, hole.body_mesh, clearance_mm=0.0) == ()
