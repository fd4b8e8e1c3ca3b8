"""Drawings whose measures are known, and what can be measured of a page."""

from __future__ import annotations

import io
import itertools
from typing import Any

import numpy as np
import pdfplumber

from lossfill.drawing import Anchor, Drawing, Layer, Line, Text
from lossfill.mesh import FloatArray

MM_PER_POINT = 25.4 / 72

# typst works in float64 and writes float32 points: 842 pt to 2^-14 pt, 2e-5 mm. Ten times that.
WRITTEN_MM = 2e-4

HOSTILE = (
    "#set x [*_$ \\ `code` @ref <label> // note",
    "<a>&\"' ]]> &amp; <!--",
    "%%d %%% 50 % ^I ^ \\P {\\fArial;x} \\U+2300",
)


def square(side_mm: float = 40.0, **changes: Any) -> Drawing:
    """A square and a diagonal, so that all lengths are known."""
    corners = np.array([(0, 0), (side_mm, 0), (side_mm, side_mm), (0, side_mm)], dtype=float)
    given: dict[str, Any] = {
        "name": "square",
        "title": "Square",
        "part": "tea bowl, loss 1",
        "lines": (Line(corners, Layer.CUT, closed=True), Line(corners[::2], Layer.AXIS)),
    }
    return Drawing(**{**given, **changes})


def rib(radius_mm: float = 150.0) -> Drawing:
    """Half a ring with ticks and numbers all along it, and an axis."""
    angles = np.radians(np.linspace(0, 180, 361))
    arc = radius_mm * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    ticks = tuple(Line(np.stack([arc[k], 1.03 * arc[k]]), Layer.SCALE) for k in range(0, 361, 20))
    numbers = tuple(
        Text((1.04 * x, 1.04 * y), f"{k / 2:.0f} deg", 3.0, Anchor.MIDDLE, k / 2 - 90)
        for k, (x, y) in enumerate(arc)
        if k % 20 == 0
    )
    outline = Line(np.concatenate([arc, 0.8 * arc[::-1]]), Layer.CUT, closed=True)
    axis = Line(np.array([(0.0, 0.0), (0.0, radius_mm + 5)]), Layer.AXIS)
    return Drawing(
        "rib",
        "Rib of the outer wall",
        "tea bowl, loss 1",
        (outline, axis, Line(0.7 * arc, Layer.MARK), *ticks),
        numbers,
        ("Cut the outline, and hold it against the wall as you scrape.", "Keep it dry."),
    )


def length_mm(points: FloatArray, *, closed: bool = False) -> float:
    """Length of a polyline."""
    if closed:
        points = np.concatenate([points, points[:1]])
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def opened(pdf: bytes) -> list[Any]:
    """Pages of a PDF."""
    return list(pdfplumber.open(io.BytesIO(pdf)).pages)


def paths_mm(page: Any) -> list[FloatArray]:
    """All paths drawn on a page, mm from its lower left corner, a closed one back to its start."""
    drawn = page.lines + page.curves + page.rects
    paths = []
    for item in drawn:
        points = np.array(item["pts"], dtype=float)
        steps = [step[0] for step in item["path"]]
        if steps[-1] == "h" and not np.array_equal(points[0], points[-1]):
            points = np.concatenate([points, points[:1]])
        paths.append(MM_PER_POINT * np.stack([points[:, 0], page.height - points[:, 1]], axis=1))
    return paths


def page_words(page: Any) -> str:
    """All letters of a page in the order in which they were set."""
    return "".join(letter["text"] for letter in page.chars)


def distances_mm(points: FloatArray, paths: list[FloatArray]) -> FloatArray:
    """Distance of each point from the nearest of some polylines."""
    nearest = np.full(len(points), np.inf)
    for path in paths:
        a, ahead = path[:-1], np.diff(path, axis=0)
        squared = np.maximum((ahead**2).sum(axis=1), 1e-30)
        share = ((points[:, None] - a) * ahead).sum(axis=2) / squared
        foot = a + np.clip(share, 0, 1)[..., None] * ahead
        nearest = np.minimum(nearest, np.linalg.norm(points[:, None] - foot, axis=2).min(axis=1))
    return nearest


def along(line: Line, spacing_mm: float = 0.7) -> FloatArray:
    """Points along a line, its corners among them."""
    points = np.concatenate([line.points, line.points[:1]]) if line.closed else line.points
    found = [points]
    for a, b in itertools.pairwise(points):
        n = int(np.linalg.norm(b - a) // spacing_mm)
        found.append(a + np.linspace(0, 1, n + 2)[1:-1, None] * (b - a))
    return np.concatenate(found)
