"""Layers of a stack laid on sheets of board, and the drawing of each sheet."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import manifold3d
import numpy as np

from lossfill.drawing.model import Anchor, Drawing, Layer, Line, Text
from lossfill.errors import InputError
from lossfill.make.section import Area
from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a layer lies on its sheet.

    Parameters
    ----------
    layer : its index, from the lowest
    shift_mm : what moves it there from where it is glued
    """

    layer: int
    shift_mm: tuple[float, float]


def place_on_sheets(
    layers: tuple[Area, ...], sheet_mm: tuple[float, float], gap_mm: float
) -> list[list[Placed]]:
    """Lay layers on sheets in rows, the deepest first, a gap between them and along the edge.

    All keep their turn, so that the grain runs the same way in each.

    Raises
    ------
    InputError
        Where the largest layer is larger than a sheet.
    """
    boxes = [np.asarray(layer.bounds()).reshape(2, 2) for layer in layers]
    sizes = [box[1] - box[0] for box in boxes]
    largest = np.max(sizes, axis=0) + 2 * gap_mm
    if (largest > np.asarray(sheet_mm)).any():
        raise InputError(
            f"a sheet of {sheet_mm[0]:g} × {sheet_mm[1]:g} mm is smaller than the largest layer: "
            f"give {np.ceil(largest[0]):.0f} × {np.ceil(largest[1]):.0f} mm or more"
        )
    sheets: list[list[Placed]] = [[]]
    x = y = gap_mm
    row = 0.0
    for k in sorted(range(len(layers)), key=lambda k: (-sizes[k][1], k)):
        wide, deep = sizes[k]
        if x + wide + gap_mm > sheet_mm[0]:
            x, y, row = gap_mm, y + row + gap_mm, 0.0
        if y + deep + gap_mm > sheet_mm[1]:
            sheets.append([])
            x, y, row = gap_mm, gap_mm, 0.0
        shift = np.array([x, y]) - boxes[k][0]
        sheets[-1].append(Placed(k, (float(shift[0]), float(shift[1]))))
        x, row = x + wide + gap_mm, max(row, deep)
    return sheets


def overlap_mm2(sheets: list[list[Placed]], layers: tuple[Area, ...], gap_mm: float) -> float:
    """Area that layers grown by nearly half the gap share with each other on their sheets, mm²."""
    grow = 0.49 * gap_mm
    shared = 0.0
    for sheet in sheets:
        laid = [
            layers[put.layer]
            .translate(put.shift_mm)
            .offset(grow, manifold3d.JoinType.Round, 2.0, 32)
            for put in sheet
        ]
        shared += sum((a ^ b).area() for a, b in combinations(laid, 2))
    return float(shared)


def sheet_drawing(
    sheet: list[Placed],
    layers: tuple[Area, ...],
    *,
    name: str,
    title: str,
    part: str,
    grain_deg: float,
    alternating: bool,
    sheet_mm: tuple[float, float],
) -> Drawing:
    """Draw one sheet: outlines and holes to cut, the next layer's outline, grain and number."""
    wide, high = sheet_mm
    corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], dtype=float)
    lines = [Line(corners, Layer.SCALE, closed=True)]
    texts = []
    for put in sheet:
        own = layers[put.layer]
        lines += _rings(own.translate(put.shift_mm), Layer.CUT)
        if put.layer + 1 < len(layers):
            # Only what lies on this layer can be marked on it; its holes are cut already.
            above = layers[put.layer + 1]
            seen = own.offset(-0.3, manifold3d.JoinType.Round) ^ _filled(above)
            lines += _rings(_filled(seen).translate(put.shift_mm), Layer.MARK)
        box = np.asarray(own.translate(put.shift_mm).bounds()).reshape(2, 2)
        turn = grain_deg + (90.0 if alternating and put.layer % 2 else 0.0)
        lines += _grain(box, np.radians(turn))
        x, y, room = _roomiest(own.translate(put.shift_mm))
        size = float(np.clip(0.8 * room, 1.5, 5.0))
        at = (x, y + 0.3)
        texts.append(Text(at, str(put.layer + 1), size, Anchor.MIDDLE))
    return Drawing(name, title, part, tuple(lines), tuple(texts), notes=(_HOW,))


_HOW = (
    "Numbers count from the bottom of the stack; the inner line is where the next layer is glued; "
    "the arrow is the grain; the frame is the sheet."
)


def _roomiest(area: Area) -> tuple[float, float, float]:
    """A place as far from the edge as can be, and how far, mm: where its number is written."""
    low, high = 0.0, 0.5 * float(np.sqrt(area.area()))
    ring = np.asarray(area.to_polygons()[0])
    for _ in range(12):
        room = 0.5 * (low + high)
        inner = area.offset(-room, manifold3d.JoinType.Miter).to_polygons()
        low, high = (room, high) if inner else (low, room)
        ring = np.asarray(inner[0]) if inner else ring
    middle = ring.mean(axis=0)
    return float(middle[0]), float(middle[1]), low


def _filled(area: Area) -> Area:
    """The same without its holes."""
    outer = [ring for ring in area.to_polygons() if _area(np.asarray(ring)) > 0]
    return Area(outer, manifold3d.FillRule.Positive) if outer else Area()


def _rings(area: Area, layer: Layer) -> list[Line]:
    return [Line(np.asarray(ring), layer, closed=True) for ring in area.to_polygons()]


def _grain(box: FloatArray, turn_rad: float) -> list[Line]:
    """An arrow through the middle, half as long as the layer is that way."""
    ahead = np.array([np.cos(turn_rad), np.sin(turn_rad)])
    size = box[1] - box[0]
    half = 0.25 * float(np.min(size / np.maximum(np.abs(ahead), 1e-9)))
    middle = box.mean(axis=0) - [0.0, 0.5]
    tip, tail = middle + half * ahead, middle - half * ahead
    across = np.array([-ahead[1], ahead[0]])
    head = min(2.0, 0.5 * half)
    barbs = np.array([tip - head * ahead + 0.5 * head * across, tip,
                      tip - head * ahead - 0.5 * head * across])  # fmt: skip
    return [Line(np.array([tail, tip]), Layer.AXIS), Line(barbs, Layer.AXIS)]


def _area(ring: FloatArray) -> float:
    """Signed area of a ring, mm²: negative for a hole."""
    x, y = ring[:, 0], ring[:, 1]
    return 0.5 * float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
