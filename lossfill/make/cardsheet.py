"""Cards laid out side by side on one drawing, with their numbers and marks."""

from __future__ import annotations

import numpy as np

from lossfill.drawing.model import Anchor, Drawing, Layer, Line, Text
from lossfill.make.brief import Brief
from lossfill.make.cards import Card, skin_sides
from lossfill.make.facing import Facing
from lossfill.make.joins import on_piece
from lossfill.make.sweep import in_vessel, sampled
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface

ROW_MM = 250.0
"""Cards start a new row past this width, so that a sheet stays handy."""

GAP_MM = 8.0
"""Between cards, for the knife."""

CAPTION_MM = 2.5
"""Size of the words under a card."""

PIECE_LINE_MM = 1.2
"""How far inside the edge the line runs that shows where the piece lies."""


def sheet(
    brief: Brief,
    cards: list[Card],
    view: Facing,
    lost: Surface,
    reach_mm: float,
    slot_mm: float,
    side: str,
    notes: tuple[str, ...],
) -> Drawing:
    """Draw cards of one sort."""
    lines: list[Line] = []
    texts: list[Text] = []
    x = y = row = 0.0
    for card in cards:
        shape, words = _drawn(card, view, lost, reach_mm, slot_mm)
        low, high = card.corners.min(axis=0), card.corners.max(axis=0)
        width, height = high - low
        width = max(width, _width(words[-1]))
        if x > 0.0 and x + width > ROW_MM:
            x, y, row = 0.0, y - row, 0.0
        move = np.array([x - low[0], y - high[1]])
        lines += [Line(line.points + move, line.layer, line.closed) for line in shape]
        texts += [_moved(text, move) for text in words]
        x += width + GAP_MM
        row = max(row, height + 3.0 * CAPTION_MM + GAP_MM)
    sort, kind = ("levels", "level ones") if cards[0].level else ("uprights", "upright ones")
    return Drawing(
        name=f"{brief.stem}_gauges_{side}_{sort}",
        title=f"gauge cards, {kind}, {side} side",
        part=brief.part,
        lines=tuple(lines),
        texts=tuple(texts),
        notes=notes,
    )


def _width(text: Text) -> float:
    """Width of a text, from an ordinary typeface's mean letter of 0.6 of its size, mm."""
    return 0.6 * text.height_mm * len(text.words)


def _moved(text: Text, move: FloatArray) -> Text:
    at = (float(text.at_mm[0] + move[0]), float(text.at_mm[1] + move[1]))
    return Text(at, text.words, text.height_mm, text.anchor, text.turned_deg)


def _drawn(
    card: Card, view: Facing, lost: Surface, reach_mm: float, slot_mm: float
) -> tuple[list[Line], list[Text]]:
    """Outline, join marks and words of one card; its caption comes last."""
    corners = card.corners
    lines = [Line(corners, Layer.CUT, closed=True)]
    lines += [Line(mark, Layer.MARK) for mark in _join_marks(card, lost, reach_mm, slot_mm)]
    low = corners.min(axis=0)
    texts = [_slot_number(card, slot_at, mate) for slot_at, mate in _slot_places(card)]
    texts.append(_name(card, reach_mm))
    caption = f"{card.name}: {_place(card, view)}"
    texts.append(Text((low[0], low[1] - 2.0 * CAPTION_MM), caption, CAPTION_MM))
    return lines, texts


def _place(card: Card, view: Facing) -> str:
    if card.level:
        if view.about_axis:
            return f"{_tenths(card.place)} mm above the foot"
        if _tenths(card.place) == "0.0":
            return "in the middle of the loss"
        way = "above" if card.place > 0.0 else "below"
        return f"{_tenths(abs(card.place))} mm {way} the middle"
    # Turning counter-clockwise about the axis is to the right, seen from outside.
    right = np.degrees(card.place) if view.about_axis else -card.place
    unit_words = "°" if view.about_axis else " mm"
    if _tenths(right) == "0.0":
        return "in the middle of the loss"
    way = "right" if right > 0.0 else "left"
    return f"{_tenths(abs(right))}{unit_words} {way} of the middle"


def _tenths(value: float) -> str:
    # Adding nought takes the sign from a nought.
    return f"{round(value, 1) + 0.0:.1f}"


def _join_marks(card: Card, lost: Surface, reach_mm: float, slot_mm: float) -> list[FloatArray]:
    """Short lines into the card where its edge passes from vessel to piece, and lines along it.

    A join that falls into a slot has no short line; the line along the piece ends at the slot.
    """
    starts, ends = card.corners, np.roll(card.corners, -1, axis=0)
    chosen = skin_sides(card, reach_mm, slot_mm)
    # The outline may begin anywhere: walk the skin from where it begins.
    gaps = np.linalg.norm(starts[np.roll(chosen, -1)] - ends[chosen], axis=1)
    chosen = np.roll(chosen, -int(np.argmax(gaps)) - 1)
    points = np.concatenate([sampled(starts[k : k + 1], ends[k : k + 1]) for k in chosen])
    piece = on_piece(points, in_vessel(points, card.plane_from_vessel), lost)
    near = np.linalg.norm(np.diff(points, axis=0), axis=1) < 0.8 * slot_mm
    marks = []
    for k in np.flatnonzero((piece[1:] != piece[:-1]) & near):
        at = 0.5 * (points[k] + points[k + 1])
        marks.append(np.stack([at, at + 3.0 * card.outwards.at(at[None])[0]]))
    inside = points + PIECE_LINE_MM * card.outwards.at(points)
    runs = np.split(np.arange(len(points)), np.flatnonzero(~near | (piece[1:] != piece[:-1])) + 1)
    marks += [inside[run] for run in runs if piece[run[0]] and len(run) > 2]
    return marks


def _slot_places(card: Card) -> list[tuple[FloatArray, str]]:
    """Where the mates' numbers stand: by the closed end of each slot."""
    return [
        (slot.start + (slot.low_mm if card.level else slot.high_mm) * slot.way, slot.mate)
        for slot in card.slots
    ]


def _slot_number(card: Card, at: FloatArray, mate: str) -> Text:
    places = np.array([place for place, _ in _slot_places(card)])
    apart = np.linalg.norm(np.diff(places, axis=0), axis=1).min() if len(places) > 1 else 20.0
    if card.level:
        size = float(np.clip((apart - 0.6) / (0.7 * len(mate)), 1.0, 2.5))
        # Below the slot's closed end, towards the skin, where nothing else is written.
        way = card.outwards.at(at[None])[0]
        below = at - (size + 0.8) * way
        return Text((float(below[0]), float(below[1])), mate, size, Anchor.MIDDLE)
    size = float(np.clip(0.8 * apart, 1.0, 2.5))
    return Text((float(at[0] + 1.0), float(at[1] - 0.36 * size)), mate, size)


def _name(card: Card, reach_mm: float) -> Text:
    """The card's own number, in its margin by the back."""
    corners = card.corners
    if not card.level:
        return Text(
            (reach_mm - 2.0, float(corners[:, 1].min()) + 2.0), card.name, 3.5, Anchor.RIGHT
        )
    slots = [slot.start + reach_mm * slot.way for slot in card.slots]
    if card.outwards.centre is None:
        x = _widest_gap([corners[:, 0].min(), corners[:, 0].max(), *(slot[0] for slot in slots)])
        return Text((x, reach_mm - 5.5), card.name, 3.5, Anchor.MIDDLE)
    ways = np.concatenate(
        [card.outwards.at(corners), np.array([s.way for s in card.slots]).reshape(-1, 2)]
    )
    turns = np.arctan2(-ways[:, 0], ways[:, 1])
    ends, between = turns[: len(corners)], turns[len(corners) :]
    turn = _widest_gap([float(ends.min()), float(ends.max()), *between])
    at = (reach_mm - 6.0) * np.array([-np.sin(turn), np.cos(turn)])
    return Text((float(at[0]), float(at[1])), card.name, 3.5, Anchor.MIDDLE, np.degrees(turn))


def _widest_gap(places: list[float]) -> float:
    """The middle of the widest gap between places; the first of equals."""
    ordered = np.sort(np.asarray(places, dtype=np.float64))
    gaps = np.round(np.diff(ordered), 3)
    widest = int(np.argmax(gaps))
    return float(0.5 * (ordered[widest] + ordered[widest + 1]))
