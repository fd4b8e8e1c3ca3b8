"""Layers of a stack laid on sheets of board, and the drawing of each sheet."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import manifold3d
import numpy as np
from scipy.spatial import cKDTree

from lossfill.drawing.model import Anchor, Drawing, Layer, Line, Text
from lossfill.errors import UnsuitedError
from lossfill.make.section import Area
from lossfill.mesh import FloatArray, ring_area_mm2


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
    UnsuitedError
        Where the largest layer is larger than a sheet.
    """
    boxes = [np.asarray(layer.bounds()).reshape(2, 2) for layer in layers]
    sizes = [box[1] - box[0] for box in boxes]
    largest = np.max(sizes, axis=0) + 2 * gap_mm
    if (largest > np.asarray(sheet_mm)).any():
        raise UnsuitedError(
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


def page_for(layers: tuple[Area, ...], gap_mm: float) -> tuple[float, float]:
    """A sheet that prints on one page of the usual papers, or one that holds the largest layer."""
    boxes = np.array([layer.bounds() for layer in layers])
    need = np.ceil((boxes[:, 2:] - boxes[:, :2]).max(axis=0) + 2.0 * gap_mm)
    wide, high = np.maximum(PAGE_MM, need)
    return float(wide), float(high)


def sheet_drawing(
    sheet: list[Placed],
    layers: tuple[Area, ...],
    *,
    name: str,
    title: str,
    part: str,
    grain_deg: float,
    alternating: bool,
    sheet_mm: tuple[float, float] | None,
    notes: tuple[str, ...] = (),
) -> Drawing:
    """Draw one sheet: outlines and holes to cut, where the next layer ends, grain and number.

    Parameters
    ----------
    sheet_mm : the board that is drawn as a frame; None for no frame
    notes : further ones for the sheet
    """
    lines, texts = [], []
    if sheet_mm is not None:
        wide, high = sheet_mm
        corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], dtype=float)
        lines.append(Line(corners, Layer.SCALE, closed=True))
    for put in sheet:
        own = layers[put.layer]
        shift = np.asarray(put.shift_mm)
        lines += _rings(own.translate(put.shift_mm), Layer.CUT)
        if put.layer + 1 < len(layers):
            ends = _next_ends(own, layers[put.layer + 1])
            lines += [Line(run + shift, Layer.MARK) for run in ends]
        turn = np.radians(grain_deg + (90.0 if alternating and put.layer % 2 else 0.0))
        for one in own.translate(put.shift_mm).decompose():
            grain, number = _grain_and_number(one, float(turn), str(put.layer + 1))
            lines += grain
            texts.append(number)
    frame = () if sheet_mm is None else ("The frame is the sheet of board.",)
    return Drawing(name, title, part, tuple(lines), tuple(texts), notes=(_HOW, *notes, *frame))


PAGE_MM = (175.0, 200.0)
"""What a page of A4 or of letter paper holds upright beside its margins, rulers and heading."""

NEXT_INSIDE_MM = 0.3
"""The next layer's outline is drawn where it runs farther than this inside the layer's own."""

_HOW = (
    "Numbers count from the bottom of the stack, printed sides up; a thin line inside shows where "
    "the next layer ends; the arrow is the grain. Glue the print on the board and saw along the "
    "outlines."
)


def _next_ends(own: Area, above: Area) -> list[FloatArray]:
    """Where the next layer ends inside this one, as lines: along the common edge nothing is drawn.

    Only what lies on this layer can be marked on it; the next layer's holes are cut already.
    """
    seen = own.offset(-NEXT_INSIDE_MM, manifold3d.JoinType.Round) ^ _filled(above)
    edge = np.concatenate([_dense(np.asarray(ring), 0.05) for ring in own.to_polygons()])
    tree = cKDTree(edge)
    lines: list[FloatArray] = []
    for ring in _filled(seen).to_polygons():
        points = _dense(np.asarray(ring), 0.5)
        inside = np.asarray(tree.query(points)[0]) > NEXT_INSIDE_MM + 0.05
        if inside.all():
            lines.append(np.concatenate([points, points[:1]]))
            continue
        first = int(np.flatnonzero(~inside)[0])
        points, inside = np.roll(points, -first, axis=0), np.roll(inside, -first)
        runs = np.split(np.arange(len(points)), np.flatnonzero(inside[1:] != inside[:-1]) + 1)
        lines += [points[run] for run in runs if inside[run[0]] and len(run) > 4]
    return lines


def _dense(ring: FloatArray, step_mm: float) -> FloatArray:
    """Points along a closed ring no farther apart than a step, its corners among them."""
    ahead = np.roll(ring, -1, axis=0) - ring
    counts = np.maximum(np.ceil(np.linalg.norm(ahead, axis=1) / step_mm).astype(int), 1)
    which = np.repeat(np.arange(len(ring)), counts)
    share = np.concatenate([np.arange(n) / n for n in counts])
    return ring[which] + share[:, None] * ahead[which]


def _roomiest(area: Area) -> tuple[FloatArray, float]:
    """A place as far from the edge as can be, (2,), and how far, mm."""
    low, high = 0.0, 0.5 * float(np.sqrt(area.area()))
    ring = np.asarray(area.to_polygons()[0])
    for _ in range(12):
        room = 0.5 * (low + high)
        inner = area.offset(-room, manifold3d.JoinType.Miter).to_polygons()
        low, high = (room, high) if inner else (low, room)
        ring = np.asarray(inner[0]) if inner else ring
    middle = ring.mean(axis=0)
    # What is left of a ring of wood is a ring, whose middle is its hole.
    spot = Area.circle(0.5 * low, 16).translate((float(middle[0]), float(middle[1])))
    return (middle if (spot - area).is_empty() else ring[0]), low


def _filled(area: Area) -> Area:
    """The same without its holes."""
    outer = [ring for ring in area.to_polygons() if ring_area_mm2(np.asarray(ring)) > 0]
    return Area(outer, manifold3d.FillRule.Positive) if outer else Area()


def _rings(area: Area, layer: Layer) -> list[Line]:
    return [Line(np.asarray(ring), layer, closed=True) for ring in area.to_polygons()]


def _grain_and_number(area: Area, turn_rad: float, number: str) -> tuple[list[Line], Text]:
    """The grain's arrow, all of it on the wood, and the layer's number beside it."""
    middle, room = _roomiest(area)
    ahead = np.array([np.cos(turn_rad), np.sin(turn_rad)])
    across = np.array([-ahead[1], ahead[0]])
    size = float(np.clip(0.7 * room, 1.2, 5.0))
    # The number above the arrow, or to its right where the arrow runs upwards.
    steep = abs(ahead[1]) > 0.7
    start = middle - ([0.4 * size, 0.0] if steep else [0.0, 0.25 * size])
    back, front = _reach(area, start, -ahead), _reach(area, start, ahead)
    tail, tip = start - 0.7 * min(back, 20.0) * ahead, start + 0.7 * min(front, 20.0) * ahead
    head = min(2.0, 0.25 * float(np.linalg.norm(tip - tail)))
    barbs = np.array([tip - head * ahead + 0.5 * head * across, tip,
                      tip - head * ahead - 0.5 * head * across])  # fmt: skip
    at = start + ([0.3 * size, -0.35 * size] if steep else [0.0, 0.15 * size])
    anchor = Anchor.LEFT if steep else Anchor.MIDDLE
    words = Text((float(at[0]), float(at[1])), number, size, anchor)
    return [Line(np.array([tail, tip]), Layer.AXIS), Line(barbs, Layer.AXIS)], words


def _reach(area: Area, start: FloatArray, way: FloatArray) -> float:
    """How far one can go from a place in an area before its edge or a hole, mm."""
    aside = np.array([-way[1], way[0]])
    met = [np.inf]
    for ring in area.to_polygons():
        a = np.asarray(ring) - start
        b = np.roll(a, -1, axis=0)
        low, high = a @ aside, b @ aside
        crossed = (low < 0.0) != (high < 0.0)
        share = low[crossed] / (low[crossed] - high[crossed])
        along = (a[crossed] + share[:, None] * (b - a)[crossed]) @ way
        met += along[along > 0.0].tolist()
    nearest = min(met)
    return nearest if np.isfinite(nearest) else 0.0
