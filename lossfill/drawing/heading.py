"""The words above a drawing: its title, of what it is, how to print it, and its notes."""

from __future__ import annotations

from lossfill.drawing.model import Drawing
from lossfill.drawing.words import Row, wrapped

PRINT_WORDS = "print at 100 %, no fit to page"

TITLE_HEIGHT_MM = 4.4
WORDS_HEIGHT_MM = 3.0
"""Type sizes: 12.5 and 8.5 points."""


def name_rows(drawing: Drawing, room_mm: float) -> tuple[Row, ...]:
    """Title and part, wrapped."""
    title = wrapped(drawing.title, room_mm, TITLE_HEIGHT_MM)
    return title + wrapped(drawing.part, room_mm, WORDS_HEIGHT_MM)


def note_rows(drawing: Drawing, room_mm: float) -> tuple[Row, ...]:
    """The notes, each on rows of its own."""
    rows: tuple[Row, ...] = ()
    for note in drawing.notes:
        rows += wrapped(f"• {note}", room_mm, WORDS_HEIGHT_MM)
    return rows


def heading_rows(drawing: Drawing, room_mm: float, size_words: str) -> tuple[Row, ...]:
    """Title, part, a word on its size, and all notes."""
    size = wrapped(size_words, room_mm, WORDS_HEIGHT_MM)
    return name_rows(drawing, room_mm) + size + note_rows(drawing, room_mm)
