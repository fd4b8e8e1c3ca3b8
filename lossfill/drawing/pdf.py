"""Drawings as pages of a PDF, set by typst: lines and words at their exact places.

Everything reaches typst as data and never as its language, so that no name can be mistaken for it.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Sequence
from typing import Any

from lossfill.drawing.model import Drawing, Line, Text
from lossfill.drawing.pages import Sheet, lay_on_paper
from lossfill.drawing.paper import USUAL_PAPER, PaperSettings
from lossfill.drawing.pens import PENS
from lossfill.drawing.typesetting import typeset
from lossfill.drawing.words import FAMILY, before_share, plain, printable
from lossfill.errors import InputError
from lossfill.mesh import FloatArray

# Base lines serve as the edges of a text, so that it is put by its base line; without kerning and
# ligatures its width is the sum that `words.width_mm` takes (kerning: see `_text`). A path's points
# count from where it is placed: the paper's upper left corner. Round joins: a mitre would reach
# past a sharp point.
_TEMPLATE = """
#let given = json(bytes(sys.inputs.given))
#set document(title: given.title, date: none)
#set text(
  font: given.family, fallback: false, ligatures: false, hyphenate: false,
  top-edge: "baseline", bottom-edge: "baseline", lang: "en",
)
#let at(x, y, body) = place(top + left, dx: x * 1mm, dy: y * 1mm, body)
#let pen(kind) = {
  let dash = if kind.dash.len() == 0 { none } else { kind.dash.map(length => length * 1mm) }
  (paint: black, thickness: kind.width * 1mm, dash: dash, join: "round")
}
#let drawn(line) = {
  let (first, ..others) = line.points.map(point => point.map(value => value * 1mm))
  let end = if line.closed { (curve.close(mode: "straight"),) } else { () }
  curve(stroke: pen(given.pens.at(line.pen)), curve.move(first), ..others.map(curve.line), ..end)
}
#let written(words) = at(words.x, words.y, context {
  let body = text(size: words.size * 1mm, kerning: words.kerning, words.words)
  let before = words.before * measure(body).width
  rotate(-words.turned * 1deg, origin: top + left, move(dx: -before, box(width: 9000mm, body)))
})
#for sheet in given.sheets {
  page(width: sheet.width * 1mm, height: sheet.height * 1mm, margin: 0mm, {
    for line in sheet.lines { at(0, 0, drawn(line)) }
    for words in sheet.texts { written(words) }
    if sheet.cut.len() > 0 {
      let (x, y, width, height) = sheet.window
      at(x, y, box(width: width * 1mm, height: height * 1mm, clip: true, {
        for words in sheet.cut { written(words) }
      }))
    }
  })
}
"""

_LEFTWARDS = re.compile(
    "[\u0590-\u08ff\u200f\u202b\u202e\u2067\u2068\ufb1d-\ufdff\ufe70-\ufeff"
    "\U00010800-\U00010fff\U0001e800-\U0001efff]"
)
"""Unicode's blocks of scripts that run leftwards, with their marks, and what turns others so."""


def pdf_bytes(
    drawings: Sequence[Drawing],
    *,
    paper: PaperSettings = USUAL_PAPER,
    date: dt.date | None = None,
) -> bytes:
    """Lay drawings on paper, one after the other, and set the sheets as a PDF at 1:1.

    Parameters
    ----------
    date : printed on each sheet; None leaves a line to write on

    Returns
    -------
    The file; the same drawings give the same bytes.

    Raises
    ------
    InputError
        Where there is no drawing, or one cannot be laid on the paper.
    ExportError
        Where the pages could not be set.
    """
    if not drawings:
        raise InputError("there is no drawing to print; name one thing to make at least")
    sheets = [
        sheet for drawing in drawings for sheet in lay_on_paper(drawing, settings=paper, date=date)
    ]
    given = {
        "title": plain(drawings[0].title),
        "family": FAMILY,
        "pens": {
            layer.value: {"width": pen.width_mm, "dash": pen.dash_mm} for layer, pen in PENS.items()
        },
        "sheets": [_sheet(sheet) for sheet in sheets],
    }
    return typeset(_TEMPLATE, json.dumps(given), tagged=False)


def _sheet(sheet: Sheet) -> dict[str, Any]:
    """A sheet as typst is given it: mm from its upper left corner, y down."""
    (left, low), (right, high) = sheet.window.tolist()
    tall = sheet.height_mm
    return {
        "width": sheet.width_mm,
        "height": tall,
        "window": [left, tall - high, right - left, high - low],
        "lines": [_line(line, tall) for line in sheet.lines],
        "texts": [_text(text, 0.0, tall) for text in sheet.texts],
        "cut": [_text(text, left, high) for text in sheet.cut_texts],
    }


def _line(line: Line, top_mm: float) -> dict[str, Any]:
    points: FloatArray = line.points * [1.0, -1.0] + [0.0, top_mm]
    return {"pen": line.layer.value, "closed": line.closed, "points": points.tolist()}


def _text(text: Text, left_mm: float, top_mm: float) -> dict[str, Any]:
    words = printable(text.words)
    return {
        "x": text.at_mm[0] - left_mm,
        "y": top_mm - text.at_mm[1],
        "words": words,
        # typst 0.15.2 breaks down over words that run leftwards where kerning is switched off.
        "kerning": bool(_LEFTWARDS.search(words)),
        "size": text.height_mm,
        "before": before_share(text.anchor),
        "turned": text.turned_deg,
    }
