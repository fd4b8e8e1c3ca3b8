"""Ribs: boards whose working edge is the vessel's profile, to turn plaster, clay or putty to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import manifold3d
import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.drawing.model import Anchor, Drawing, Layer, Line, Text
from lossfill.errors import InputError, UnsuitedError
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief, Side
from lossfill.make.joins import on_piece, skin_of_piece
from lossfill.make.made import Made, Proved
from lossfill.make.section import Area, upright_plane, whole_section
from lossfill.make.sweep import (
    Outwards,
    box,
    in_vessel,
    loss_angle_rad,
    outline,
    sampled,
    swept_in,
    whole_surface,
)
from lossfill.mesh import BoolArray, FloatArray, Mesh
from lossfill.nearest import Surface

LOSS_LINE_MM = 1.5
"""How far inside the edge the line runs that shows where the loss is."""

OUT = Outwards(None, np.array([1.0, 0.0]))
"""In an upright section, out is away from the axis."""


@dataclass(frozen=True, slots=True)
class RibSettings:
    """What may be chosen of ribs.

    Parameters
    ----------
    side : which skin they turn
    section : "here" cuts the vessel where the loss is, since old pots are not round; "round" takes
        the section of the round vessel, for turning the whole on the wheel
    board_mm : width of the outer board beyond the vessel's largest radius: a hand's hold
    scale : oversize of everything, 1 for none; for clay that shrinks by a share s it is 1 / (1 - s)
    """

    side: Literal["both", "outer", "inner"] = "both"
    section: Literal["here", "round"] = "here"
    board_mm: float = 30.0
    scale: float = 1.0

    def __post_init__(self) -> None:
        if self.side not in ("both", "outer", "inner"):
            raise InputError(f"a rib's side is both, outer or inner, not {self.side!r}")
        if self.section not in ("here", "round"):
            raise InputError(f"a rib's section is here or round, not {self.section!r}")
        if not 20.0 <= self.board_mm <= 200.0:
            raise InputError(
                f"a rib's board of {self.board_mm:g} mm is too narrow to hold or too wide to cut: "
                "choose 20 to 200 mm"
            )
        if not 0.5 <= self.scale <= 2.0:
            raise InputError(
                f"a rib drawn {self.scale:g} times the size is a slip: choose 0.5 to 2, and "
                "1 / (1 - s) for clay that shrinks by the share s"
            )


@dataclass(frozen=True, slots=True, eq=False)
class _Board:
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


def make_rib(brief: Brief, settings: RibSettings | None = None) -> Made:
    """Draw the ribs for a loss.

    Raises
    ------
    InputError
        For a thing without an axis, a handle, or a vessel without a hollow.
    """
    settings = settings or RibSettings()
    if brief.profile is None:
        raise UnsuitedError(
            "a rib needs an axis to turn about, and this thing has none: use gauges instead"
        )
    if brief.kind is LossKind.HANDLE and settings.section == "here":
        raise UnsuitedError(
            "a handle is not turned: use gauges for it, or a rib of the round section for the wall"
        )
    angle = loss_angle_rad(brief)
    area, surface = _cut(brief, settings, angle)
    drawings, proved = [], []
    for side in _sides_asked(brief, settings):
        board = (_outer if side == "outer" else _inner)(area, settings.board_mm / settings.scale)
        off, bridge = _measured(board, surface, angle if settings.section == "here" else 0.0)
        marked = _loss_run(board, brief, angle if settings.section == "here" else None)
        drawings.append(
            _drawn(board, brief, settings, marked, _notes(brief, settings, board, bridge))
        )
        what = f"distance of the {side} rib's edge from the vessel's skin, mm"
        proved.append(Proved(what, off, tol.TEMPLATE_EDGE_MM))
    # Both share most of their notes; each is told once.
    notes = tuple(dict.fromkeys(note for drawing in drawings for note in drawing.notes))
    return Made("rib", brief.number, drawings=tuple(drawings), proved=tuple(proved), notes=notes)


def _sides_asked(brief: Brief, settings: RibSettings) -> tuple[Literal["outer", "inner"], ...]:
    """The sides to draw; of a loss on one side alone only that one, unless all is turned anew."""
    if settings.side != "both":
        return (settings.side,)
    here = settings.section == "here"
    has_outer, has_inner = (
        bool((brief.lost.side == int(side)).any()) for side in (Side.OUTER, Side.INNER)
    )
    if here and not has_inner:
        return ("outer",)
    return ("inner",) if here and not has_outer else ("outer", "inner")


def _cut(brief: Brief, settings: RibSettings, angle: float) -> tuple[Area, Surface]:
    """The section to the right of the axis, and the skin to measure from."""
    if settings.section == "here":
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


def _outer(area: Area, board_mm: float) -> _Board:
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
    return _Board(corners, *_sides(corners, straight), back, True)


def _inner(area: Area, _board_mm: float) -> _Board:
    _, low, widest, high = area.bounds()
    # Turned about the axis from within, the board reaches all of the hollow that the axis does.
    hollow: Area = box((0.0, low), (widest, high)) - area
    near = tol.TEMPLATE_ROUNDING_MM
    parts = [p for p in hollow.decompose() if p.bounds()[3] > high - near and p.bounds()[0] < near]
    if not parts:
        raise UnsuitedError("the vessel is not open above: it has no inside that a rib could turn")
    corners = outline(max(parts, key=lambda part: part.area()))
    return _Board(corners, *_sides(corners, [(0, 0.0), (1, high)]), 0.0, False)


def _sides(corners: FloatArray, straight: list[tuple[int, float]]) -> tuple[BoolArray, BoolArray]:
    """Which sides of a board are working edge, and which are level."""
    ends = np.roll(corners, -1, axis=0)
    working: BoolArray = np.ones(len(corners), dtype=np.bool_)
    for axis, value in straight:
        on = np.abs(corners[:, axis] - value) < tol.TEMPLATE_ROUNDING_MM
        working &= ~(on & np.roll(on, -1))
    level: BoolArray = np.abs(ends[:, 1] - corners[:, 1]) < tol.TEMPLATE_ROUNDING_MM
    return working, level


def _measured(board: _Board, surface: Surface, angle: float) -> tuple[float, float]:
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


def _drawn(
    board: _Board,
    brief: Brief,
    settings: RibSettings,
    marked: list[FloatArray],
    notes: tuple[str, ...],
) -> Drawing:
    side = "outer" if board.outer else "inner"
    scale = settings.scale
    lines = [Line(board.corners, Layer.CUT, closed=True)]
    texts: list[Text] = []
    low, high = board.corners[:, 1].min(), board.corners[:, 1].max()
    _rule(board, low, high, lines, texts)
    _datum(board, high, scale, lines, texts)
    lines += [Line(mark, Layer.MARK) for mark in marked]
    along = 0.5 * (low + high)
    name = f"loss {brief.number} {side}"
    size = float(np.clip(0.8 * (high - low) * scale / (0.6 * len(name)), 1.5, 3.5))
    at = board.back_mm - 16.0 if board.outer else 16.0
    texts.append(Text((at, along), name, size, Anchor.MIDDLE, 90.0))
    return Drawing(
        name=f"{brief.stem}_rib_{side}",
        title=f"rib for the {side} side",
        part=brief.part,
        lines=tuple(Line(scale * line.points, line.layer, line.closed) for line in lines),
        texts=tuple(_scaled(text, scale) for text in texts),
        notes=notes,
    )


def _way_in(board: _Board) -> tuple[float, float]:
    """Width of an inner board at its widest, and of the vessel at its narrowest above that, mm."""
    edge = _from_below(board)
    widest = int(np.argmax(edge[:, 0]))
    return float(edge[widest, 0]), 2.0 * float(edge[widest:, 0].min())


def _scaled(text: Text, scale: float) -> Text:
    at = (text.at_mm[0] * scale, text.at_mm[1] * scale)
    return Text(at, text.words, text.height_mm, text.anchor, text.turned_deg)


def _rule(board: _Board, low: float, high: float, lines: list[Line], texts: list[Text]) -> None:
    """Heights above the foot along the back edge, every 5 mm, with numbers every 10."""
    way = -1.0 if board.outer else 1.0
    x = board.back_mm
    on_back = np.abs(board.corners[:, 0] - x) < tol.TEMPLATE_ROUNDING_MM
    for height in np.arange(5.0 * np.ceil(low / 5.0), high + 1e-9, 5.0):
        tens = height % 10.0 == 0.0
        tick = np.array([[x, height], [x + way * (5.0 if tens else 3.0), height]])
        lines.append(Line(tick, Layer.SCALE))
        # Not at the very ends, where the number would hang over the board's edge.
        # Nor where the board is no wider than its number.
        beside = np.abs(board.corners[:, 1] - height) < 5.0
        room = np.abs(board.corners[beside & ~on_back, 0] - x).min(initial=np.inf)
        if tens and low + 1.5 < height < high - 1.5 and room > 14.0:
            anchor = Anchor.RIGHT if board.outer else Anchor.LEFT
            texts.append(Text((x + way * 6.0, height - 0.9), f"{height:.0f}", 2.5, anchor))


def _datum(board: _Board, high: float, scale: float, lines: list[Line], texts: list[Text]) -> None:
    """Axis and foot line, and for the outer board the distance between axis and back edge."""
    right = board.back_mm if board.outer else board.corners[:, 0].max()
    lines.append(Line(np.array([[0.0, -12.0], [0.0, high + 8.0]]), Layer.AXIS))
    lines.append(Line(np.array([[-8.0, 0.0], [right + 8.0, 0.0]]), Layer.AXIS))
    texts.append(Text((-2.0, 0.5 * high), "axis", 3.0, Anchor.MIDDLE, 90.0))
    texts.append(Text((right + 2.0, 1.5), "foot", 3.0))
    y = -6.0
    lines.append(Line(np.array([[0.0, y], [right, y]]), Layer.SCALE))
    for x in (0.0, right):
        lines.append(Line(np.array([[x, y - 1.5], [x, y + 1.5]]), Layer.SCALE))
    what = "axis to back edge" if board.outer else "axis to widest"
    words = f"{what} {right * scale:.1f} mm"
    size = float(np.clip(right * scale / (0.6 * len(words)), 1.8, 3.0))
    texts.append(Text((0.5 * right, y - 4.5), words, size, Anchor.MIDDLE))


def _loss_run(board: _Board, brief: Brief, angle: float | None) -> list[FloatArray]:
    """Marks on the working edge where the loss begins and ends, and a line along it.

    Without an angle the section is not the loss's own: there the loss's lowest and highest count.
    """
    corners = _from_below(board)
    points = sampled(corners[:-1], corners[1:])
    if angle is None:
        low, high = brief.lost.mesh.bounds[:, 2]
        piece = (points[:, 1] > low) & (points[:, 1] < high)
    else:
        skin = Surface(skin_of_piece(brief.lost, Side.OUTER if board.outer else Side.INNER))
        piece = on_piece(points, in_vessel(points, upright_plane(angle)), skin)
    marks = []
    for k in np.flatnonzero(piece[1:] != piece[:-1]):
        at = 0.5 * (points[k] + points[k + 1])
        marks.append(np.stack([at, at + np.array([4.0 if board.outer else -4.0, 0.0])]))
    return marks + _along(board, points, piece)


def _along(board: _Board, points: FloatArray, piece: BoolArray) -> list[FloatArray]:
    """Lines inside a board along that part of its edge that belongs to the piece."""
    area = Area([board.corners]).offset(-LOSS_LINE_MM, manifold3d.JoinType.Miter)
    if area.is_empty():
        return []
    ring = outline(area)
    ring = sampled(ring, np.roll(ring, -1, axis=0))
    reach, nearest = cKDTree(points).query(ring)
    shown = piece[nearest] & (reach < 1.1 * LOSS_LINE_MM)
    if not shown.any() or shown.all():
        return []
    first = int(np.flatnonzero(~shown)[0])
    ring, shown = np.roll(ring, -first, axis=0), np.roll(shown, -first)
    runs = np.split(np.arange(len(ring)), np.flatnonzero(shown[1:] != shown[:-1]) + 1)
    return [ring[run] for run in runs if shown[run[0]] and len(run) > 2]


def _from_below(board: _Board) -> FloatArray:
    """The working edge in one run, (N, 2), from its lowest end to the rim."""
    n = len(board.corners)
    first = int(np.flatnonzero(board.working & ~np.roll(board.working, 1))[0])
    order = (first + np.arange(n)) % n
    count = int(np.argmin(board.working[order]))
    run = board.corners[order[np.arange(count + 1) % n]]
    return run if run[0, 1] < run[-1, 1] else run[::-1]


def _notes(brief: Brief, settings: RibSettings, board: _Board, bridge: float) -> tuple[str, ...]:
    notes = [
        "The drawn line is the sharp face, which lies in the plane of the axis: bevel the edge "
        "behind it by about 45°, away from the side that turns against it.",
        "Stand the board on the foot line, keep its back edge parallel to the axis, and turn the "
        "work, or the board, about the axis; the line along the edge shows where the loss is.",
        "Cut the line smooth: wiggles finer than a pencil's line are the scan's noise.",
        "Wear a dust mask where plaster or putty is scraped dry; a cut metal edge is sharp: break "
        "its ends. Safety data sheets and local rules come first.",
    ]
    if settings.section == "here":
        notes.append(
            "It is the vessel's section at the middle of the loss: an old pot is not round, so "
            "scrape only about there; for turning the whole, ask for the round section."
        )
    if settings.scale != 1.0:
        notes.append(
            f"Drawn {settings.scale:.4f} times the size for what shrinks; the numbers along the "
            "back are heights of the finished vessel, so do not check them with a ruler."
        )
    if bridge > tol.BRIDGED_MM:
        notes.append(
            f"An undercut up to {bridge:.1f} mm deep cannot be reached from the side: the edge "
            "runs level across it; work it by hand."
        )
    wide, mouth = _way_in(board)
    if not board.outer and wide > mouth:
        notes.append(
            f"This board is {wide * settings.scale:.0f} mm wide and the vessel only "
            f"{mouth * settings.scale:.0f} mm at its narrowest above: it does not go in. Turn the "
            "inside before the piece or the vessel is put together, or work it by hand."
        )
    if settings.side == "both" and len(_sides_asked(brief, settings)) == 1:
        other = "inner" if board.outer else "outer"
        notes.append(f"The loss does not reach the {other} side, so that there is no rib for it.")
    return tuple(notes)
