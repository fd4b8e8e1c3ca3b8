"""A sheet of pictures: a canvas of exact pixels, with lines and words drawn over it.

Scale bars are whole pixels filled in the canvas itself, so that their length is exact; matplotlib
draws only what need not be measured.
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import FloatArray

DPI = 100
FONT = "DejaVu Sans"
"""Comes with matplotlib, so that the same words give the same pixels on every machine."""

INK = "#2b2b2b"
QUIET = "#6a6a6a"
PAPER = 247
BAR_PX = 6
"""Thickness of a scale bar."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A canvas being filled; x runs right and y down from its top left corner, in pixels.

    Parameters
    ----------
    pixels : (H, W, 3) sRGB
    marks : what matplotlib is to draw over it, in order
    """

    pixels: NDArray[np.uint8]
    marks: list[Any] = field(default_factory=list)


def blank(width_px: int, height_px: int) -> Sheet:
    """Make an empty sheet."""
    return Sheet(np.full((height_px, width_px, 3), PAPER, dtype=np.uint8))


def place(sheet: Sheet, image: NDArray[np.uint8], x: int, y: int) -> None:
    """Lay a picture on the sheet with its top left corner at (x, y)."""
    sheet.pixels[y : y + image.shape[0], x : x + image.shape[1]] = image


def write(
    sheet: Sheet,
    text: str,
    x: float,
    y: float,
    *,
    size: float = 10.0,
    colour: str = INK,
    bold: bool = False,
    across: Literal["left", "center", "right"] = "left",
    down: Literal["baseline", "center", "center_baseline"] = "baseline",
) -> None:
    """Write words."""
    from matplotlib.text import Text
    from matplotlib.transforms import IdentityTransform

    words = Text(
        x,
        sheet.pixels.shape[0] - y,
        text,
        color=colour,
        fontsize=size,
        fontfamily=FONT,
        fontweight="bold" if bold else "normal",
        horizontalalignment=across,
        verticalalignment=down,
        transform=IdentityTransform(),
        parse_math=False,
        usetex=False,
    )
    sheet.marks.append(words)


def line(sheet: Sheet, points: Sequence[tuple[float, float]], *, colour: str = INK) -> None:
    """Draw a thin line."""
    from matplotlib.lines import Line2D
    from matplotlib.transforms import IdentityTransform

    x, y = zip(*points, strict=True)
    height = sheet.pixels.shape[0]
    sheet.marks.append(
        Line2D(
            x,
            [height - v for v in y],
            color=colour,
            linewidth=0.8,
            transform=IdentityTransform(),
        )
    )


def ring(sheet: Sheet, x: float, y: float, radius_px: float) -> None:
    """Draw a filled ring for a number to stand in."""
    from matplotlib.patches import Circle
    from matplotlib.transforms import IdentityTransform

    height = sheet.pixels.shape[0]
    sheet.marks.append(
        Circle(
            (x, height - y),
            radius_px,
            facecolor="white",
            edgecolor=INK,
            linewidth=1.0,
            transform=IdentityTransform(),
        )
    )


def region(
    sheet: Sheet,
    outlines: Sequence[FloatArray],
    *,
    middle: tuple[float, float],
    px_per_mm: float,
    box: tuple[int, int, int, int],
    face: str,
    edge: str,
) -> None:
    """Fill the inside of outlines (mm, y up) about `middle`, clipped to a box (x, y, w, h)."""
    from matplotlib.patches import PathPatch, Rectangle
    from matplotlib.path import Path as Outline
    from matplotlib.transforms import IdentityTransform

    if not outlines:
        return
    height = sheet.pixels.shape[0]
    origin = np.array([middle[0], height - middle[1]])
    paths = [
        Outline(np.vstack([ring_mm, ring_mm[:1]]) * px_per_mm + origin, closed=True)
        for ring_mm in outlines
    ]
    patch = PathPatch(
        Outline.make_compound_path(*paths),
        facecolor=face,
        edgecolor=edge,
        linewidth=0.8,
        transform=IdentityTransform(),
    )
    x, y, w, h = box
    patch.set_clip_path(Rectangle((x, height - y - h), w, h, transform=IdentityTransform()))
    sheet.marks.append(patch)


def scale_bar(sheet: Sheet, x: int, y: int, *, length_mm: float, px_per_mm: float) -> int:
    """Fill a scale bar whose top left corner is (x, y), words above it; return its pixels.

    With a scale from `round_scale` the length is a whole number of pixels.
    """
    length_px = round(length_mm * px_per_mm)
    sheet.pixels[y : y + BAR_PX, x : x + length_px] = 0
    write(sheet, f"{length_mm:g} mm", x, y - 5, size=9)
    return length_px


def round_scale(px_per_mm: float) -> float:
    """The next scale below at which 10 mm is a whole number of pixels."""
    return max(math.floor(px_per_mm * 10.0), 1) / 10.0


def bar_length_mm(px_per_mm: float, room_px: int) -> float:
    """The longest of 10, 20, 50, 100 mm that fits in the room."""
    fitting = [n for n in (10.0, 20.0, 50.0, 100.0) if n * px_per_mm <= room_px]
    return fitting[-1] if fitting else 10.0


def png_bytes(sheet: Sheet, *, title: str) -> bytes:
    """Draw the marks over the canvas; the same sheet gives the same bytes."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    height, width = sheet.pixels.shape[:2]
    figure = Figure(figsize=(width / DPI, height / DPI), dpi=DPI)
    FigureCanvasAgg(figure)
    figure.figimage(sheet.pixels, 0, 0, origin="upper")
    for mark in sheet.marks:
        figure.add_artist(mark)
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=DPI, metadata={"Software": "lossfill", "Title": title})
    return buffer.getvalue()
