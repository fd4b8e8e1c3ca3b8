"""A record as one HTML file that needs nothing beside it: no script, no outside address.

Pictures lie in it as data, at their size in millimetres, so that a print of it at 100 % is as true
to scale as the PDF. Every word is escaped; all marks are written here and nowhere else.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from html import escape

from lossfill.drawing.words import plain
from lossfill.record.document import (
    Block,
    Bullets,
    Document,
    Entries,
    Entry,
    Paragraph,
    Picture,
    Pictures,
    Section,
    Signatures,
    Subheading,
    Table,
)
from lossfill.record.scale import CAPTION_MM, GAP_MM, MARGIN_MM

_STYLE = f"""
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0 auto; padding: 1rem; max-width: 62rem; background: #fff; color: #111;
  font: 16px/1.45 "DejaVu Sans", Verdana, sans-serif; overflow-wrap: anywhere; }}
h1 {{ font-size: 1.7rem; line-height: 1.2; margin: 0.5rem 0; }}
h2 {{ font-size: 1.3rem; margin: 2.4rem 0 0.8rem; border-bottom: 2px solid #111; }}
h3 {{ font-size: 1.05rem; margin: 1.6rem 0 0.5rem; }}
.quiet {{ color: #555; font-size: 0.85rem; }}
.strong {{ border: 2px solid #111; padding: 0.5rem; }}
nav ol {{ columns: 18rem; padding-left: 1.6rem; }}
a {{ color: #123c6b; }}
dl {{ display: grid; grid-template-columns: minmax(8rem, 14rem) 1fr; gap: 0.45rem 1rem; }}
dt {{ color: #555; }}
dd {{ margin: 0; }}
.ticked {{ list-style: "\\2610\\a0\\a0"; }}
dd p {{ margin: 0 0 0.3rem; }}
.write {{ display: block; min-height: 1.9rem; border-bottom: 1px solid #555; }}
.wide {{ overflow-x: auto; }}
table {{ border-collapse: collapse; width: 100%; font-size: 0.85rem; }}
.wide > table {{ min-width: 34rem; overflow-wrap: break-word; }}
caption {{ text-align: left; font-weight: bold; padding: 0.7rem 0 0.3rem; }}
caption span {{ display: block; position: sticky; left: 0; max-width: calc(100vw - 2rem); }}
th, td {{ text-align: left; vertical-align: top; padding: 0.25rem 0.5rem;
  border-bottom: 1px solid #999; font-weight: normal; }}
thead th {{ border-bottom: 2px solid #111; font-weight: bold; }}
.right {{ text-align: right; }}
.blank {{ min-width: 6rem; }}
.pictures {{ display: flex; flex-wrap: wrap; gap: {GAP_MM:g}mm; align-items: flex-start;
  margin-bottom: {GAP_MM:g}mm; }}
figure {{ margin: 0; max-width: 100%; }}
figure img {{ display: block; max-width: 100%; }}
figcaption {{ font-size: 0.8rem; margin-top: 0.3rem; }}
@media (max-width: 34rem) {{
  dl {{ grid-template-columns: 1fr; gap: 0.1rem; }}
  dd {{ margin-bottom: 0.6rem; }}
}}
@media print {{
  @page {{ margin: {MARGIN_MM:g}mm; }}
  body {{ font-size: 9.5pt; padding: 0; max-width: none; }}
  nav {{ display: none; }}
  h2, h3, caption {{ break-after: avoid; }}
  figure, tr {{ break-inside: avoid; }}
  thead {{ display: table-header-group; }}
  figure, figure img {{ max-width: none; }}
  .wide {{ overflow: visible; }}
}}
"""

_WRITE = '<span class="write" role="img" aria-label="to be written in by hand"></span>'


def html_of(document: Document) -> bytes:
    """Set a record as one HTML file; the same record gives the same bytes."""
    title, subject = _words(document.title), _words(document.subject)
    date = f"{document.day}" if document.day is not None else _WRITE
    lines = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{title}: {subject}</title>",
        f"<style>{_STYLE}</style>",
        "</head>",
        "<body>",
        "<header>",
        f"<h1>{title}</h1>",
        f"<p>{subject}</p>",
        f"<dl><dt>Date of this record</dt><dd>{date}</dd></dl>",
        f'<p class="quiet">{_words(document.made_by)}</p>',
        "</header>",
        '<nav aria-label="Sections"><ol>',
        *(
            f'<li><a href="#section-{number}">{_words(section.title)}</a></li>'
            for number, section in enumerate(document.sections, start=1)
        ),
        "</ol></nav>",
        "<main>",
        *(
            line
            for number, section in enumerate(document.sections, start=1)
            for line in _section(number, section)
        ),
        "</main>",
        "</body>",
        "</html>",
    ]
    return ("\n".join(lines) + "\n").encode()


def _words(words: str) -> str:
    return escape(plain(words))


def _section(number: int, section: Section) -> Iterator[str]:
    yield f'<section aria-labelledby="section-{number}">'
    yield f'<h2 id="section-{number}">{number} {_words(section.title)}</h2>'
    for block in section.blocks:
        yield from _block(block)
    yield "</section>"


def _block(block: Block) -> Iterator[str]:
    match block:
        case Paragraph():
            mark = "" if block.tone == "plain" else f' class="{block.tone}"'
            yield f"<p{mark}>{_words(block.words)}</p>"
        case Subheading():
            yield f"<h3>{_words(block.words)}</h3>"
        case Bullets():
            yield '<ul class="ticked">' if block.ticked else "<ul>"
            yield from (f"<li>{_words(item)}</li>" for item in block.items)
            yield "</ul>"
        case Entries():
            yield "<dl>"
            for row in block.rows:
                yield f"<dt>{_words(row.label)}</dt><dd>{_value(row)}</dd>"
            yield "</dl>"
        case Table():
            yield from _table(block)
        case Pictures():
            yield '<div class="pictures">'
            for picture in block.pictures:
                yield from _picture(picture)
            yield "</div>"
        case Signatures():
            yield from _signatures(block)


def _value(row: Entry) -> str:
    lines = [line for line in row.value.splitlines() if line.strip()]
    if not lines:
        return _WRITE * row.lines
    return "".join(f"<p>{_words(line)}</p>" for line in lines)


def _table(block: Table) -> Iterator[str]:
    marks = [' class="right"' if column.align == "right" else "" for column in block.columns]
    caption = _words(block.caption)
    yield f'<div class="wide" role="group" tabindex="0" aria-label="{caption}">'
    yield f"<table><caption><span>{caption}</span></caption>"
    yield "<thead><tr>"
    for column, mark in zip(block.columns, marks, strict=True):
        yield f'<th scope="col"{mark}>{_words(column.head)}</th>'
    yield "</tr></thead>"
    yield "<tbody>"
    for row in block.rows:
        cells = [f'<th scope="row"{marks[0]}>{_words(row[0])}</th>']
        for cell, mark in zip(row[1:], marks[1:], strict=True):
            empty = ' class="blank" aria-label="to be written in by hand"'
            cells.append(f"<td{mark if cell else empty}>{_words(cell)}</td>")
        yield f"<tr>{''.join(cells)}</tr>"
    yield "</tbody></table>"
    yield "</div>"


def _picture(picture: Picture) -> Iterator[str]:
    data = base64.b64encode(picture.png).decode("ascii")
    width = f"{picture.width_mm:g}mm"
    room = f"{max(picture.width_mm, CAPTION_MM):g}mm"
    yield f'<figure style="width:{room}">'
    yield (
        f'<img style="width:{width}" alt="{escape(plain(picture.alt))}" '
        f'src="data:image/png;base64,{data}">'
    )
    yield f"<figcaption>{_words(picture.caption)}</figcaption>"
    yield "</figure>"


def _signatures(block: Signatures) -> Iterator[str]:
    yield '<div class="wide">'
    yield "<table><caption>Signatures</caption>"
    heads = "".join(
        f'<th scope="col">{head}</th>' for head in ("Role", "Name", "Signature", "Date")
    )
    yield f"<thead><tr>{heads}</tr></thead>"
    yield "<tbody>"
    for role, name in block.rows:
        known = f"<td>{_words(name)}</td>" if name else f"<td>{_WRITE}</td>"
        blank = f"<td>{_WRITE}</td>" * 2
        yield f'<tr><th scope="row">{_words(role)}</th>{known}{blank}</tr>'
    yield "</tbody></table>"
    yield "</div>"
