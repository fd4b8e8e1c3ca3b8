"""A drawing as DXF in millimetres, each layer with its own line width and grey."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from lossfill.drawing.heading import heading_rows
from lossfill.drawing.model import Anchor, Drawing, Layer, Text
from lossfill.drawing.pens import PENS
from lossfill.drawing.rulers import ROOM_MM
from lossfill.drawing.words import CAPITAL_SHARE, extent_of, plain, stacked, total_mm
from lossfill.errors import ExportError

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts.layout import Modelspace

VERSION = "R2010"

_SIZE_WORDS = "true size, in millimetres"

_GAP_MM = 5.0
"""Free space between the drawing and the words above it."""

_MILLIMETRES = 4
"""$INSUNITS; ezdxf sets metres otherwise."""

_METRIC = 1
"""$MEASUREMENT."""

_STYLE = "words"
_LINE_WEIGHTS = {
    Layer.CUT: 25, Layer.MARK: 13, Layer.AXIS: 18, Layer.SCALE: 9, Layer.WORDS: 15
}  # fmt: skip
"""Hundredths of a mm, out of the few that DXF knows."""


def dxf_bytes(drawing: Drawing) -> bytes:
    """Write a drawing as DXF, its title and notes above it.

    Returns
    -------
    The file; the same drawing gives the same bytes.

    Raises
    ------
    InputError
        Where the drawing holds no line.
    ExportError
        Where the file has a fault.
    """
    from ezdxf.filemanagement import new

    with _fixed_stamps():
        document = new(VERSION, setup=False)
        _set_up(document)
        space = document.modelspace()
        for line in drawing.lines:
            space.add_lwpolyline(
                line.points.tolist(), close=line.closed, dxfattribs={"layer": line.layer.value}
            )
        for text in (*drawing.texts, *_heading(drawing)):
            _add_text(space, text)
        faults = document.audit().errors
        if faults:
            raise ExportError(f"the DXF of {drawing.name} has a fault: {faults[0].message}")
        stream = io.StringIO()
        document.write(stream)
    return stream.getvalue().encode(document.output_encoding, errors="dxfreplace")


def _set_up(document: Document) -> None:
    """Units, layers, line types and the type of the words."""
    document.header["$INSUNITS"] = _MILLIMETRES
    document.header["$MEASUREMENT"] = _METRIC
    document.styles.new(_STYLE, dxfattribs={"font": "DejaVuSans.ttf"})
    for layer, pen in PENS.items():
        line_type = "CONTINUOUS"
        if pen.dash_mm:
            line_type = f"{layer.value}_dashes"
            signed = [length * (-1) ** k for k, length in enumerate(pen.dash_mm)]
            document.linetypes.add(line_type, [sum(pen.dash_mm), *signed])
        document.layers.add(
            layer.value, color=pen.grey, linetype=line_type, lineweight=_LINE_WEIGHTS[layer]
        )


def _heading(drawing: Drawing) -> tuple[Text, ...]:
    """Title, part and notes above the drawing."""
    (left, _), (right, top) = extent_of(drawing).tolist()
    room = max(right - left, ROOM_MM)
    rows = heading_rows(drawing, room, _SIZE_WORDS)
    return stacked(rows, left, top + _GAP_MM + total_mm(rows))


def _add_text(space: Modelspace, text: Text) -> None:
    """DXF gives the height of capitals, not the type size."""
    from ezdxf.enums import TextEntityAlignment

    alignments = {
        Anchor.LEFT: TextEntityAlignment.LEFT,
        Anchor.MIDDLE: TextEntityAlignment.CENTER,
        Anchor.RIGHT: TextEntityAlignment.RIGHT,
    }
    space.add_text(
        _literal(text.words),
        height=CAPITAL_SHARE * text.height_mm,
        rotation=text.turned_deg,
        dxfattribs={"layer": Layer.WORDS.value, "style": _STYLE},
    ).set_placement(text.at_mm, align=alignments[text.anchor])


def _literal(words: str) -> str:
    """Words that DXF takes as they are: %%d would be a degree sign and ^I a tab."""
    without_codes = re.sub("%{2,}", lambda run: "%%%" * len(run.group()), plain(words))
    return without_codes.replace("^", "^ ")


@contextmanager
def _fixed_stamps() -> Iterator[None]:
    """Have ezdxf write fixed times and identifiers, and set its switch back afterwards."""
    from ezdxf import options  # type: ignore[attr-defined]  # exported, though not by a list

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
