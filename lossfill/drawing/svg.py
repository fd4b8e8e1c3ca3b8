"""A drawing as one SVG of its own size: one unit is one millimetre, each layer a group."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np

from lossfill.drawing import rulers
from lossfill.drawing.heading import PRINT_WORDS, heading_rows
from lossfill.drawing.model import Anchor, Drawing, Layer, Line, Text
from lossfill.drawing.pens import PENS
from lossfill.drawing.words import FAMILY, extent_of, plain, stacked, total_mm
from lossfill.mesh import FloatArray

BORDER_MM = 5.0
"""Free all round, so that nothing touches the edge of the stock or the screen."""

_NAMESPACE = "http://www.w3.org/2000/svg"
_ANCHORS = {Anchor.LEFT: "start", Anchor.MIDDLE: "middle", Anchor.RIGHT: "end"}


def svg_bytes(drawing: Drawing) -> bytes:
    """Write a drawing as an SVG at 1:1, with rulers, title and notes outside of it.

    Returns
    -------
    The file; the same drawing gives the same bytes. Names keep letters that our own font lacks:
    whatever shows the file finds a font for them.

    Raises
    ------
    InputError
        Where the drawing holds no line.
    """
    inner = extent_of(drawing)
    lines, texts, outer = _surrounded(drawing, inner)
    width, height = outer[1] - outer[0]
    root = ET.Element(
        "svg",
        {
            "xmlns": _NAMESPACE,
            "version": "1.1",
            "width": f"{_number(width)}mm",
            "height": f"{_number(height)}mm",
            "viewBox": f"0 0 {_number(width)} {_number(height)}",
        },
    )
    ET.SubElement(root, "title").text = plain(f"{drawing.title}: {drawing.part}")
    corner = np.array([outer[0, 0], outer[1, 1]])
    for layer in Layer:
        group = ET.SubElement(root, "g", _group(layer))
        for line in lines:
            if line.layer is layer:
                _add_line(group, line, corner)
        if layer is Layer.WORDS:
            for text in texts:
                _add_text(group, text, corner)
    ET.indent(root)
    made: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return made + b"\n"


def _surrounded(
    drawing: Drawing, inner: FloatArray
) -> tuple[tuple[Line, ...], tuple[Text, ...], FloatArray]:
    """Lines and words with rulers, heading and border about them, and the whole sheet's corners."""
    low = inner[0]
    size = np.maximum(inner[1] - low, rulers.ROOM_MM)
    corner = (float(low[0]), float(low[1]))
    level_lines, level_texts = rulers.level_ruler(corner)
    upright_lines, upright_texts = rulers.upright_ruler(corner)
    room = float(size[0]) + rulers.BAND_MM
    rows = heading_rows(drawing, room, PRINT_WORDS)
    top = float(low[1] + size[1]) + BORDER_MM + total_mm(rows)
    heading = stacked(rows, corner[0] - rulers.BAND_MM, top)
    outer = np.array(
        [low - rulers.BAND_MM - BORDER_MM, [low[0] + size[0] + BORDER_MM, top + BORDER_MM]]
    )
    lines = drawing.lines + level_lines + upright_lines
    return lines, drawing.texts + heading + level_texts + upright_texts, outer


def _group(layer: Layer) -> dict[str, str]:
    """Attributes that all of a layer share."""
    if layer is Layer.WORDS:
        # No line of its own, or letters would grow fat; lines in this layer say theirs themselves.
        return {"id": layer.value, "fill": "black", "font-family": f"{FAMILY}, sans-serif"}
    return {"id": layer.value, **_stroke(layer)}


def _stroke(layer: Layer) -> dict[str, str]:
    pen = PENS[layer]
    look = {"fill": "none", "stroke": "black", "stroke-width": _number(pen.fine_width_mm)}
    if pen.dash_mm:
        look["stroke-dasharray"] = " ".join(_number(length) for length in pen.dash_mm)
    return look


def _add_line(group: ET.Element, line: Line, corner: FloatArray) -> None:
    points = (line.points - corner) * [1.0, -1.0]
    places = " ".join(f"{_number(x)},{_number(y)}" for x, y in points)
    look = _stroke(line.layer) if line.layer is Layer.WORDS else {}
    ET.SubElement(group, "polygon" if line.closed else "polyline", {"points": places, **look})


def _add_text(group: ET.Element, text: Text, corner: FloatArray) -> None:
    x = _number(text.at_mm[0] - corner[0])
    y = _number(corner[1] - text.at_mm[1])
    look = {"x": x, "y": y, "font-size": _number(text.height_mm)}
    if text.anchor is not Anchor.LEFT:
        look["text-anchor"] = _ANCHORS[text.anchor]
    if text.turned_deg:
        look["transform"] = f"rotate({_number(-text.turned_deg)} {x} {y})"
    ET.SubElement(group, "text", look).text = plain(text.words)


def _number(value: float) -> str:
    """Tenths of a micrometre; no trailing zeros, no minus before nought."""
    return f"{round(float(value), 4) + 0.0:.4f}".rstrip("0").rstrip(".")
