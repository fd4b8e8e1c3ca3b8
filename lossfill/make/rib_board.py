"""A rib's board: the part of an upright half plane whose working edge is the vessel's skin."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import UnsuitedError
from lossfill.make.brief import Brief
from lossfill.make.section import Area, upright_plane, whole_section
from lossfill.make.sweep import Outwards, box, in_vessel, outline, sampled, swept_in, whole_surface
from lossfill.mesh import BoolArray, FloatArray, Mesh
from lossfill.nearest import Surface

OUT = Outwards(None, np.array([1.0, 0.0]))
"""In an upright section, out is away from the axis."""


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """A rib in the upright half plane, mm of the finished vessel.

    Parameters
    ----------
    corners : (N, 2) its outline
    working : (N,) whether the side from each corner to the next belongs to the working edge
    level : (N,) whether it is level, which on the outside may be the bridge across an undercut
    back_mm : distance of the back edge from the axis
    outer : which skin it turns
    """

    corners: FloatArray
    working: BoolArray
    level: BoolArray
    back_mm: float
    outer: bool


def section_of(brief: Brief, angle: float, *, here: bool) -> tuple[Area, Surface]:
    """The section to the right of the axis, and the skin to measure from.

    Parameters
    ----------
    angle : of the half plane, rad
    here : cut the vessel at that angle; else take the round vessel's section

    Raises
    ------
    UnsuitedError
        Where there is no wall.
    """
    if here:
        area, surface = whole_section(brief, upright_plane(angle)), whole_surface(brief)
    else:
        assert brief.profile is not None
        points = brief.profile.points
        area = Area([points], manifold3d.FillRule.NonZero)
        surface = Surface(_ribbon(points))
    _, low_z, high_x, high_z = area.bounds()
    kept: Area = area ^ box((0.0, low_z - 1.0), (max(high_x, 1.0), high_z + 1.0))
    if kept.is_empty():
        raise UnsuitedError("the vessel has no wall where the loss is: use the round section")
    return kept, surface


def _ribbon(points: FloatArray) -> Mesh:
    """The section at angle 0 as a strip 2 mm wide, so that one measure serves for both sections."""
    sides = [np.column_stack([points[:, 0], np.full(len(points), y), points[:, 1]])
             for y in (-1.0, 1.0)]  # fmt: skip
    n = len(points)
    a = np.arange(n - 1)
    faces = np.concatenate([np.stack([a, a + 1, a + n], 1), np.stack([a + 1, a + n + 1, a + n], 1)])
    return Mesh(np.concatenate(sides), faces)


def outer_board(area: Area, board_mm: float) -> Board:
    """The board that turns the outside, `board_mm` wider than the vessel at its widest."""
    _, low, widest, high = area.bounds()
    back = widest + board_mm
    behind = swept_in(area, OUT, back)
    if low > 0.0:
        # A foot that does not touch the ground here would leave a tongue below it.
        foot = outline(area)
        reach = foot[foot[:, 1] < low + 2.0 * tol.SECTION_HAIR_MM, 0].max()
        behind = behind + box((0.0, -1.0), (float(reach), low + tol.SECTION_HAIR_MM))
    board: Area = box((0.0, 0.0), (back, high)) - behind
    corners = outline(max(board.decompose(), key=lambda part: part.area()))
    straight = [(0, back), (1, high), (1, 0.0)]
    return Board(corners, *_sides(corners, straight), back, True)


def inner_board(area: Area, _board_mm: float) -> Board:
    """The board that turns the inside: all of the hollow that opens above.

    Raises
    ------
    UnsuitedError
        Where the hollow does not open above.
    """
    _, low, widest, high = area.bounds()
    # Turned about the axis from within, the board reaches all of the hollow that the axis does.
    hollow: Area = box((0.0, low), (widest, high)) - area
    near = tol.TEMPLATE_ROUNDING_MM
    parts = [p for p in hollow.decompose() if p.bounds()[3] > high - near and p.bounds()[0] < near]
    if not parts:
        raise UnsuitedError("the vessel is not open above: it has no inside that a rib could turn")
    corners = outline(max(parts, key=lambda part: part.area()))
    return Board(corners, *_sides(corners, [(0, 0.0), (1, high)]), 0.0, False)


def _sides(corners: FloatArray, straight: list[tuple[int, float]]) -> tuple[BoolArray, BoolArray]:
    """Which sides of a board are working edge, and which are level."""
    ends = np.roll(corners, -1, axis=0)
    working: BoolArray = np.ones(len(corners), dtype=np.bool_)
    for axis, value in straight:
        on = np.abs(corners[:, axis] - value) < tol.TEMPLATE_ROUNDING_MM
        working &= ~(on & np.roll(on, -1))
    level: BoolArray = np.abs(ends[:, 1] - corners[:, 1]) < tol.TEMPLATE_ROUNDING_MM
    return working, level


def measured(board: Board, surface: Surface, angle: float) -> tuple[float, float]:
    """Largest distance of the working edge from the skin, and of bridges over undercuts, mm."""
    starts, ends = board.corners, np.roll(board.corners, -1, axis=0)
    plane = upright_plane(angle)
    points, depth = sampled(starts[board.working], ends[board.working]), 0.0
    if board.outer:
        level = board.working & board.level
        if level.any():
            across = surface.distance(in_vessel(sampled(starts[level], ends[level]), plane))
            depth = float(across.max())
        points = sampled(starts[board.working & ~board.level], ends[board.working & ~board.level])
    return float(surface.distance(in_vessel(points, plane)).max()), depth


def way_in(board: Board) -> tuple[float, float]:
    """Width of an inner board at its widest, and of the vessel at its narrowest above that, mm."""
    edge = from_below(board)
    widest = int(np.argmax(edge[:, 0]))
    return float(edge[widest, 0]), 2.0 * float(edge[widest:, 0].min())


def from_below(board: Board) -> FloatArray:
    """The working edge in one run, (N, 2), from its lowest end to the rim."""
    n = len(board.corners)
    first = int(np.flatnonzero(board.working & ~np.roll(board.working, 1))[0])
    order = (first + np.arange(n)) % n
    count = int(np.argmin(board.working[order]))
    run = board.corners[order[np.arange(count + 1) % n]]
    return run if run[0, 1] < run[-1, 1] else run[::-1]
