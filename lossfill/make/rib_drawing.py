"""A rib's drawing: its outline, a rule along its back, its datum, and where the loss is."""

from __future__ import annotations

import manifold3d
import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.drawing.model import Anchor, Drawing, Layer, Line, Text
from lossfill.make.brief import Brief, Side
from lossfill.make.joins import on_piece, skin_of_piece
from lossfill.make.rib_board import Board, from_below
from lossfill.make.section import Area, upright_plane
from lossfill.make.sweep import in_vessel, outline, sampled
from lossfill.mesh import BoolArray, FloatArray
from lossfill.nearest import Surface

LOSS_LINE_MM = 1.5
"""How far inside the edge the line runs that shows where the loss is."""


def drawn(
    board: Board,
    brief: Brief,
    scale: float,
    marked: list[FloatArray],
    notes: tuple[str, ...],
) -> Drawing:
    """Draw a board.

    Parameters
    ----------
    scale : oversize of everything
    marked : lines that show where the loss is
    """
    side = "outer" if board.outer else "inner"
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


def _scaled(text: Text, scale: float) -> Text:
    at = (text.at_mm[0] * scale, text.at_mm[1] * scale)
    return Text(at, text.words, text.height_mm, text.anchor, text.turned_deg)


def _rule(board: Board, low: float, high: float, lines: list[Line], texts: list[Text]) -> None:
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


def _datum(board: Board, high: float, scale: float, lines: list[Line], texts: list[Text]) -> None:
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


def loss_run(board: Board, brief: Brief, angle: float | None) -> list[FloatArray]:
    """Marks on the working edge where the loss begins and ends, and a line along it.

    Without an angle the section is not the loss's own: there the loss's lowest and highest count.
    """
    corners = from_below(board)
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


def _along(board: Board, points: FloatArray, piece: BoolArray) -> list[FloatArray]:
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
