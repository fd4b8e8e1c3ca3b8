"""The DXF, read back and audited by ezdxf."""

from __future__ import annotations

import io
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from drawing.drawing_cases import HOSTILE, length_mm, rib, square
from ezdxf import recover
from ezdxf.document import Drawing as Document

from lossfill.drawing import Drawing, Layer, Text, dxf_bytes
from lossfill.errors import InputError


def read(made: bytes) -> Document:
    """Read a file that must need no mending."""
    document, auditor = recover.read(io.BytesIO(made))
    assert not auditor.has_errors
    assert not auditor.has_fixes
    return document


@pytest.mark.parametrize("drawing", [square(), square(321.5), rib()], ids=["40", "321", "rib"])
def test_read_back_in_millimetres_with_every_length(drawing: Drawing) -> None:
    document = read(dxf_bytes(drawing))
    # CHECKS 3.9: 4 is millimetres.
    assert document.header["$INSUNITS"] == 4
    found = list(document.modelspace().query("LWPOLYLINE"))
    assert len(found) == len(drawing.lines)
    for line, polyline in zip(drawing.lines, found, strict=True):
        points = np.array(polyline.get_points("xy"))
        assert polyline.dxf.layer == line.layer.value
        assert polyline.closed == line.closed
        # Written with all digits of a float.
        np.testing.assert_allclose(points, line.points, rtol=0, atol=1e-9)
        assert length_mm(points, closed=polyline.closed) == pytest.approx(
            length_mm(line.points, closed=line.closed), rel=1e-12
        )


def test_layers_are_told_apart() -> None:
    document = read(dxf_bytes(rib()))
    layers = [document.layers.get(layer.value) for layer in Layer]
    assert len({layer.dxf.color for layer in layers}) == len(Layer)
    assert len({layer.dxf.lineweight for layer in layers}) == len(Layer)
    assert document.layers.get("axis").dxf.linetype == "axis_dashes"
    assert "axis_dashes" in document.linetypes


def test_words_have_the_size_of_their_capitals() -> None:
    text = Text((3.0, 7.0), "HELLO", 4.0, turned_deg=30.0)
    document = read(dxf_bytes(square(texts=(text,))))
    (found,) = [item for item in document.modelspace().query("TEXT") if item.dxf.text == "HELLO"]
    # A capital of DejaVu Sans is 1493 of 2048 units tall (read from its outline).
    assert found.dxf.height == pytest.approx(4.0 * 1493 / 2048, rel=1e-3)
    assert found.dxf.rotation == 30.0
    assert tuple(found.dxf.insert)[:2] == (3.0, 7.0)


@pytest.mark.parametrize("name", [*HOSTILE[:2], "%%d %%%", "a^Ib ^ c", "志野茶碗 ü", "50 %"])
def test_names_come_out_letter_by_letter_in_dxf(name: str) -> None:
    drawing = square(part=name, texts=(Text((5.0, 5.0), name + "\x00\n"),))
    texts = [item.plain_text() for item in read(dxf_bytes(drawing)).modelspace().query("TEXT")]
    assert texts.count(name) == 2


def test_same_drawing_same_dxf_and_the_switch_is_put_back() -> None:
    before = ezdxf.options.write_fixed_meta_data_for_testing
    assert dxf_bytes(rib()) == dxf_bytes(rib())
    assert dxf_bytes(square()) != dxf_bytes(square(40.001))
    assert ezdxf.options.write_fixed_meta_data_for_testing == before


def test_a_file_of_it_opens(tmp_path: Path) -> None:
    path = tmp_path / "rib.dxf"
    path.write_bytes(dxf_bytes(rib()))
    assert ezdxf.filemanagement.readfile(path).dxfversion == "AC1024"


def test_an_empty_drawing_has_no_dxf() -> None:
    with pytest.raises(InputError, match="is empty"):
        dxf_bytes(square(lines=()))
