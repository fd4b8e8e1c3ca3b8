"""A record as a PDF, set by typst with our own font inside it.

Words and pictures reach typst as data and never as its language, so that no name can be mistaken
for it. Its order and its tables are marked for those who have it read to them. With a date it
follows PDF/A-2a (ISO 19005-2), the form of PDF for archives, in which a date must stand.
"""

from __future__ import annotations

import json
import unicodedata
from typing import Any

from lossfill.drawing.paper import Paper
from lossfill.drawing.typesetting import Standard, typeset
from lossfill.drawing.words import FAMILY, printable, width_mm
from lossfill.record.document import (
    Block,
    Bullets,
    Document,
    Entries,
    Paragraph,
    Picture,
    Pictures,
    Signatures,
    Subheading,
    Table,
)
from lossfill.record.scale import CAPTION_MM, GAP_MM, MARGIN_MM, text_width_mm

STANDARD: Standard = "a-2a"

SIZE_PT, SMALL_PT = 9.0, 7.5
MM_PER_PT = 25.4 / 72.0

LABEL_MM = 50.0
"""Room for the names on the left of entries."""

INSET_MM = 1.4
"""Kept free at the sides of a cell."""

TOGETHER_MM = 70.0
"""A block no taller than this is never parted: at most a quarter of a page is left bare for it."""

INDENT_MM = 7.0
"""Room for the mark of a list."""

BOLD_SHARE = 1.16
"""Bold words are wider than plain ones by this at most (DejaVu Sans, mean over small letters 1.11,
the widest 1.16 for ordinary words)."""

BREAK = "\N{ZERO WIDTH SPACE}"
"""Where a word that is too wide may be broken; it leaves no mark."""

_TEMPLATE = r"""
#let given = json(bytes(sys.inputs.given))
#set document(title: given.title, date: if given.day.len() == 0 { none } else {
  let (year, month, day) = given.day
  datetime(year: year, month: month, day: day)
})
#set text(
  font: given.family, fallback: false, ligatures: false, hyphenate: false, lang: "en",
  size: given.size * 1pt,
)
#set par(leading: 0.62em, spacing: 0.85em, justify: false)
#let grey = luma(90)
#let hair = 0.4pt + luma(120)
#let small(body) = text(size: given.small * 1pt, body)
#let writing = block(width: 100%, height: 6.5mm, spacing: 0pt, align(bottom,
  line(length: 100%, stroke: hair)))
#set page(
  width: given.width * 1mm, height: given.height * 1mm,
  margin: (x: given.margin * 1mm, top: 22mm, bottom: 20mm),
  header-ascent: 5mm, footer-descent: 5mm,
  header: context if here().page() > 1 {
    small(text(fill: grey, [#given.header #v(-0.6em) #line(length: 100%, stroke: hair)]))
  },
  footer: context small(text(fill: grey, grid(
    columns: (1fr, auto), given.date,
    [page #counter(page).display("1 of 1", both: true)],
  ))),
)
#show heading.where(level: 1): it => block(above: 1.9em, below: 0.9em, sticky: true, {
  text(size: 12.5pt, weight: "bold", it.body)
  v(-0.75em)
  line(length: 100%, stroke: 0.8pt)
})
#show heading.where(level: 2): it => block(above: 1.4em, below: 0.7em, sticky: true,
  text(size: 10pt, weight: "bold", it.body))
#let room = given.width - 2 * given.margin
// What is short enough stays on one page; an unbreakable block taller than a page would be cut off.
#let whole(tall, above, body) = context {
  if measure(block(width: room * 1mm, body)).height > tall { body }
  else { block(width: 100%, breakable: false, above: above, body) }
}
#let told(words) = for (index, one) in words.enumerate() {
  if index > 0 { parbreak() }
  one
}
#let paragraph(it) = {
  let body = if it.tone == "quiet" { par(small(text(fill: grey, it.words))) }
    else if it.tone == "strong" { block(width: 100%, stroke: 0.8pt, inset: 2mm, it.words) }
    else { par(it.words) }
  if it.leads { block(width: 100%, sticky: true, body) } else { body }
}
#let bullets(it) = whole(given.together * 1mm, 0.85em, list(
  indent: 1mm, marker: if it.ticked { "\u{2610}" } else { "\u{2022}" }, ..it.items
))
#let entries(it) = whole(given.together * 1mm, 0.85em, grid(
  columns: (given.label * 1mm, 1fr), inset: (y: 1.3mm), align: top,
  ..for row in it.rows {
    (box(width: (given.label - 4) * 1mm, text(fill: grey, row.label)),
     if row.value.len() > 0 { told(row.value) }
     else { grid.cell(breakable: false, for _ in range(row.lines) { writing }) })
  }
))
#let listing(it) = whole(given.together * 1mm, 1.2em, {
  block(sticky: true, above: 1.2em, below: 0.6em, small(text(weight: "bold", it.caption)))
  set par(leading: 0.5em)
  show table.cell.where(y: 0): set text(weight: "bold")
  small(table(
    columns: it.shares.map(share => share * 1fr),
    align: it.aligns.map(name => (if name == "right" { right } else { left }) + top),
    inset: (x: given.inset * 1mm, y: 1.1mm),
    stroke: (x, y) => (bottom: if y == 0 { 0.8pt } else { hair }),
    table.header(..it.head),
    ..it.cells.flatten(),
  ))
})
#let pictured(it) = block(width: it.room * 1mm, breakable: false, {
  image(bytes(it.png), width: it.width * 1mm, height: it.height * 1mm, alt: it.alt, fit: "stretch")
  block(above: 0.5em, small(it.caption))
})
#let pictures(it) = for row in it.rows {
  block(breakable: false, above: 1em, grid(
    columns: row.map(one => one.room * 1mm), column-gutter: given.gap * 1mm, align: top,
    ..row.map(pictured)
  ))
}
#let signatures(it) = block(breakable: false, table(
  columns: (1.1fr, 1.6fr, 1.6fr, 1fr), stroke: none, align: bottom + left,
  inset: (x: given.inset * 1mm, y: 1mm),
  table.header(..it.head.map(cell => small(text(weight: "bold", cell)))),
  ..for row in it.rows {
    (row.role, if row.name == "" { writing } else { row.name }, writing, writing)
  }
))
#let kinds = (
  paragraph: paragraph, bullets: bullets, entries: entries, table: listing, pictures: pictures,
  signatures: signatures, subheading: it => heading(level: 2, it.words),
)
#text(size: 17pt, weight: "bold", given.title)
#v(-0.6em)
#text(size: 12pt, given.subject)
#v(-0.4em)
#small(text(fill: grey, given.made_by))
#for section in given.sections {
  heading(level: 1, section.title)
  for it in section.blocks { (kinds.at(it.kind))(it) }
}
"""


def pdf_of(document: Document, paper: Paper = Paper.A4) -> bytes:
    """Set a record as a PDF; the same record gives the same bytes.

    Raises
    ------
    ExportError
        Where the pages could not be set.
    """
    setter = _Setter(text_width_mm(paper))
    wide, tall = paper.value
    header = _cut(f"{document.title}: {document.subject}", setter.room_mm, SMALL_PT)
    given = {
        "title": printable(document.title),
        "subject": _fitted(document.subject, setter.room_mm, 12.0),
        "header": header,
        "date": "date ____________________" if document.day is None else f"{document.day}",
        "day": [] if document.day is None else [*document.day.timetuple()[:3]],
        "made_by": printable(document.made_by),
        "family": FAMILY,
        "size": SIZE_PT,
        "small": SMALL_PT,
        "width": wide,
        "height": tall,
        "margin": MARGIN_MM,
        "label": LABEL_MM,
        "inset": INSET_MM,
        "together": TOGETHER_MM,
        "gap": GAP_MM,
        "sections": [
            {
                "title": f"{number}  {printable(section.title)}",
                "blocks": setter.blocks(section.blocks),
            }
            for number, section in enumerate(document.sections, start=1)
        ],
    }
    # An archive's PDF must tell its date, and we put in none that was not given.
    standards = [] if document.day is None else [STANDARD]
    return typeset(_TEMPLATE, json.dumps(given), standards=standards)


class _Setter:
    """Turns blocks into what the template is given; words that are too wide get their breaks."""

    def __init__(self, room_mm: float) -> None:
        self.room_mm = room_mm

    def blocks(self, blocks: tuple[Block, ...]) -> list[dict[str, Any]]:
        """Blocks in order; a paragraph that leads to what follows stays with it."""
        followers: tuple[Block | None, ...] = (*blocks[1:], None)
        return [
            self.block(one) | {"leads": isinstance(after, Pictures | Table | Entries)}
            for one, after in zip(blocks, followers, strict=False)
        ]

    def block(self, block: Block) -> dict[str, Any]:
        """One block, as typst is given it."""
        match block:
            case Paragraph():
                room = self.room_mm - 4.0  # a frame's inset at both sides
                words = _fitted(block.words, room, SIZE_PT)
                return {"kind": "paragraph", "words": words, "tone": block.tone}
            case Subheading():
                return {"kind": "subheading", "words": printable(block.words)}
            case Bullets():
                room = self.room_mm - INDENT_MM
                items = [_fitted(item, room, SIZE_PT) for item in block.items]
                return {"kind": "bullets", "items": items, "ticked": block.ticked}
            case Entries():
                return {"kind": "entries", "rows": self._entries(block)}
            case Table():
                return self._table(block)
            case Pictures():
                return {"kind": "pictures", "rows": self._pictures(block.pictures)}
            case Signatures():
                return self._signatures(block)

    def _entries(self, block: Entries) -> list[dict[str, Any]]:
        room = self.room_mm - LABEL_MM
        return [
            {
                "label": _fitted(row.label, LABEL_MM - 4.0, SIZE_PT),
                "value": [
                    _fitted(line, room, SIZE_PT) for line in row.value.splitlines() if line.strip()
                ],
                "lines": row.lines,
            }
            for row in block.rows
        ]

    def _table(self, block: Table) -> dict[str, Any]:
        total = sum(column.share for column in block.columns)
        rooms = [self.room_mm * column.share / total - 2 * INSET_MM for column in block.columns]
        return {
            "kind": "table",
            "caption": _fitted(block.caption, self.room_mm / BOLD_SHARE, SMALL_PT),
            "shares": [column.share for column in block.columns],
            "aligns": [column.align for column in block.columns],
            "head": [
                _fitted(column.head, room / BOLD_SHARE, SMALL_PT)
                for column, room in zip(block.columns, rooms, strict=True)
            ],
            "cells": [
                [_fitted(cell, room, SMALL_PT) for cell, room in zip(row, rooms, strict=True)]
                for row in block.rows
            ],
        }

    def _pictures(self, pictures: tuple[Picture, ...]) -> list[list[dict[str, Any]]]:
        rows: list[list[dict[str, Any]]] = []
        left_mm = 0.0
        for picture in pictures:
            room_mm = max(picture.width_mm, CAPTION_MM)
            if room_mm + GAP_MM > left_mm or not rows:
                rows.append([])
                left_mm = self.room_mm + GAP_MM
            left_mm -= room_mm + GAP_MM
            rows[-1].append(
                {
                    "png": list(picture.png),
                    "room": room_mm,
                    "width": picture.width_mm,
                    "height": picture.height_mm,
                    "caption": _fitted(picture.caption, room_mm, SMALL_PT),
                    "alt": printable(picture.alt),
                }
            )
        return rows

    def _signatures(self, block: Signatures) -> dict[str, Any]:
        share = self.room_mm / 5.3
        return {
            "kind": "signatures",
            "head": ["Role", "Name", "Signature", "Date"],
            "rows": [
                {
                    "role": _fitted(role, 1.1 * share - 2 * INSET_MM, SIZE_PT),
                    "name": _fitted(name, 1.6 * share - 2 * INSET_MM, SIZE_PT),
                }
                for role, name in block.rows
            ],
        }


def _fitted(words: str, room_mm: float, size_pt: float) -> str:
    """Printable words, with places to break in those that are wider than the room."""
    size_mm = size_pt * MM_PER_PT
    return " ".join(
        word if width_mm(word, size_mm) <= room_mm else _with_breaks(word, room_mm, size_mm)
        for word in printable(words).split(" ")
    )


def _with_breaks(word: str, room_mm: float, size_mm: float) -> str:
    """A word with breaks so close that each stretch takes a third of the room at most."""
    if "-" in word.strip("-"):
        # It breaks after its hyphens by itself; only its own parts may be too wide.
        parts = [f"{part}-" for part in word.split("-")]
        parts[-1] = parts[-1][:-1]
        return "".join(
            part if width_mm(part, size_mm) <= room_mm else _with_breaks(part, room_mm, size_mm)
            for part in parts
        )
    stretches, wide_mm = [""], 0.0
    for letter in word:
        wide_mm += width_mm(letter, size_mm)
        # A mark above or below a letter must not be parted from it.
        if wide_mm > room_mm / 3 and stretches[-1] and not unicodedata.combining(letter):
            stretches.append("")
            wide_mm = width_mm(letter, size_mm)
        stretches[-1] += letter
    return BREAK.join(stretches)


def _cut(words: str, room_mm: float, size_pt: float) -> str:
    """Words on one line; what does not fit is left off."""
    words, size_mm = printable(words), size_pt * MM_PER_PT
    if width_mm(words, size_mm) <= room_mm:
        return words
    while words and width_mm(words + "…", size_mm) > room_mm:
        words = words[:-1]
    return words + "…"
