"""Size, layers and words of the SVG, parsed back."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from drawing.drawing_cases import HOSTILE, length_mm, rib, square

from lossfill.drawing import Drawing, Layer, Text, svg_bytes
from lossfill.errors import InputError
from lossfill.mesh import FloatArray

SVG = "{http://www.w3.org/2000/svg}"

# Coordinates are written to 1e-4 mm: each end of a segment is off by up to 0.7e-4.
WRITTEN_MM = 1.5e-4


def shapes(root: ET.Element, layer: Layer) -> list[tuple[FloatArray, bool]]:
    """Lines of a layer, y down, and whether each is closed."""
    (group,) = [item for item in root.findall(f"{SVG}g") if item.get("id") == layer.value]
    found = []
    for item in group:
        if item.tag in (f"{SVG}polyline", f"{SVG}polygon"):
            numbers = np.array(re.findall(r"-?[\d.]+", item.get("points") or ""), dtype=float)
            found.append((numbers.reshape(-1, 2), item.tag == f"{SVG}polygon"))
    return found


@pytest.mark.parametrize("drawing", [square(), square(321.5), rib()], ids=["40", "321", "rib"])
def test_one_unit_is_one_millimetre(drawing: Drawing) -> None:
    # CHECKS 3.11: with width and height in mm and the viewBox of the same numbers, 1 unit = 1 mm.
    root = ET.fromstring(svg_bytes(drawing))
    left, top, width, height = (float(value) for value in (root.get("viewBox") or "").split())
    assert (left, top) == (0, 0)
    assert root.get("width") == f"{width:g}mm"
    assert float((root.get("height") or "").removesuffix("mm")) == height
    for layer in Layer:
        own = [line for line in drawing.lines if line.layer is layer]
        for line, (points, closed) in zip(own, shapes(root, layer), strict=False):
            assert closed == line.closed
            wanted = length_mm(line.points, closed=line.closed)
            assert length_mm(points, closed=closed) == pytest.approx(
                wanted, abs=WRITTEN_MM * len(points)
            )
            # Turned over and moved, nothing else: y runs down.
            upright = points * [1, -1]
            np.testing.assert_allclose(
                upright - upright[0], line.points - line.points[0], atol=WRITTEN_MM
            )
            assert (points >= 0).all()
            assert (points <= [width, height]).all()


def test_layers_are_groups_with_fine_strokes() -> None:
    root = ET.fromstring(svg_bytes(rib()))
    groups = root.findall(f"{SVG}g")
    assert [group.get("id") for group in groups] == ["cut", "mark", "axis", "scale", "words"]
    looks = {group.get("id"): group for group in groups}
    assert looks["cut"].get("stroke-width") == "0.1"
    assert looks["axis"].get("stroke-dasharray")
    assert {group.get("stroke") for group in groups[:4]} == {"black"}
    assert {group.get("fill") for group in groups[:4]} == {"none"}


def test_rulers_lie_outside_the_drawing_and_measure_100_mm() -> None:
    drawing = square()
    root = ET.fromstring(svg_bytes(drawing))
    (cut,) = [points for points, _ in shapes(root, Layer.CUT)]
    hundreds = [
        points
        for points, _ in shapes(root, Layer.SCALE)
        if length_mm(points) == pytest.approx(100, abs=WRITTEN_MM)
    ]
    assert len(hundreds) == 2
    for points, _ in shapes(root, Layer.SCALE):
        below = points[:, 1].min() > cut[:, 1].max()
        on_the_left = points[:, 0].max() < cut[:, 0].min()
        assert below or on_the_left


def test_title_stands_above_the_drawing() -> None:
    root = ET.fromstring(svg_bytes(rib()))
    top = min(points[:, 1].min() for layer in Layer for points, _ in shapes(root, layer))
    texts = {item.text: float(item.get("y") or "nan") for item in root.iter(f"{SVG}text")}
    for words in ("Rib of the outer wall", "tea bowl, loss 1", "• Keep it dry."):
        assert texts[words] < top


@pytest.mark.parametrize("name", [*HOSTILE, "志野茶碗 ü"])
def test_names_come_out_letter_by_letter_in_svg(name: str) -> None:
    drawing = square(title=name, part=name, texts=(Text((5.0, 5.0), name + "\x00\n"),))
    texts = [item.text for item in ET.fromstring(svg_bytes(drawing)).iter(f"{SVG}text")]
    assert texts.count(name) == 3


def test_same_drawing_same_svg() -> None:
    assert svg_bytes(rib()) == svg_bytes(rib())
    assert svg_bytes(square()) != svg_bytes(square(40.001))


def test_an_empty_drawing_has_no_svg() -> None:
    with pytest.raises(InputError, match="is empty"):
        svg_bytes(square(lines=()))
