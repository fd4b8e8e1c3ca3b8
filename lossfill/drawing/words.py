"""Words on a drawing: what can be printed of them, how wide they are, and where they wrap.

The widths are those of DejaVu Sans, which comes with matplotlib and may be passed on freely; the
pages carry it inside them.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from lossfill.drawing.model import Anchor, Drawing, Text
from lossfill.mesh import FloatArray

FAMILY = "DejaVu Sans"

CAPITAL_SHARE = 0.729
"""Height of a capital as a share of the type size (DejaVu Sans: 1493 of 2048 units)."""

ASCENT_SHARE = 0.93
"""How far the font reaches above its base line, as a share of the type size (1901 of 2048)."""

DESCENT_SHARE = 0.24
"""How far it reaches below (483 of 2048)."""

ROW_SHARE = 1.35
"""From base line to base line, as a share of the type size: rows that do not touch."""

BOX = "\N{WHITE SQUARE}"
"""Printed for a letter that the font lacks."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a block of words.

    Parameters
    ----------
    words : as they are printed
    height_mm : type size
    """

    words: str
    height_mm: float

    @property
    def pitch_mm(self) -> float:
        """Height that the row takes up."""
        return ROW_SHARE * self.height_mm


def font_folder() -> Path:
    """Where the font's file lies: in the matplotlib package, which is slow to load and is not."""
    spec = find_spec("matplotlib")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError("the matplotlib package, whose font is printed with, is missing")
    return Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"


def plain(words: str) -> str:
    """Words in one line, without control characters, which no drawing file can hold."""
    spaced = " ".join(words.split())
    return "".join(
        letter
        for letter in spaced
        if unicodedata.category(letter) not in ("Cc", "Cs") and letter not in "\ufffe\uffff"
    )


def printable(words: str) -> str:
    """Plain words, with a box for each letter that the font lacks."""
    widths = _widths_em()
    return "".join(letter if letter in widths else BOX for letter in plain(words))


def width_mm(words: str, height_mm: float) -> float:
    """How wide words are when printed at a type size, mm."""
    widths = _widths_em()
    return height_mm * sum(widths.get(letter, widths[BOX]) for letter in plain(words))


# Each plan of each sheet asks for the same notes.
@lru_cache(maxsize=4096)
def wrapped(words: str, room_mm: float, height_mm: float) -> tuple[Row, ...]:
    """Break words into rows no wider than the room; a word wider than that is broken too."""
    rows: list[str] = []
    for word in plain(words).split():
        joined = f"{rows[-1]} {word}" if rows else word
        if width_mm(joined, height_mm) <= room_mm:
            rows[-1:] = [joined]
        else:
            rows += _broken(word, room_mm, height_mm)
    return tuple(Row(row, height_mm) for row in rows)


def packed(items: tuple[str, ...], room_mm: float, height_mm: float) -> tuple[Row, ...]:
    """Put short items side by side, as many to a row as there is room for."""
    rows: list[str] = []
    for item in items:
        joined = f"{rows[-1]} | {item}" if rows else item
        if rows and width_mm(joined, height_mm) <= room_mm:
            rows[-1] = joined
        else:
            rows += [row.words for row in wrapped(item, room_mm, height_mm)]
    return tuple(Row(row, height_mm) for row in rows)


def total_mm(rows: tuple[Row, ...]) -> float:
    """Height of a block of rows, mm."""
    return sum(row.pitch_mm for row in rows)


def stacked(rows: tuple[Row, ...], left_mm: float, top_mm: float) -> tuple[Text, ...]:
    """Set rows below one another, the first one's top at `top_mm` (y up)."""
    texts = []
    for row in rows:
        # The base line lies so that ascent and descent have the same room above and below.
        above = 0.5 * (row.pitch_mm + (ASCENT_SHARE - DESCENT_SHARE) * row.height_mm)
        texts.append(Text((left_mm, top_mm - above), row.words, row.height_mm))
        top_mm -= row.pitch_mm
    return tuple(texts)


def corners(text: Text) -> FloatArray:
    """Corners of the space that a text takes up, (4, 2) mm."""
    wide = width_mm(text.words, text.height_mm)
    left = -wide * before_share(text.anchor)
    low, high = -DESCENT_SHARE * text.height_mm, ASCENT_SHARE * text.height_mm
    box = np.array([(left, low), (left + wide, low), (left + wide, high), (left, high)])
    c, s = np.cos(np.radians(text.turned_deg)), np.sin(np.radians(text.turned_deg))
    placed: FloatArray = box @ np.array([[c, s], [-s, c]]) + np.array(text.at_mm)
    return placed


def extent_of(drawing: Drawing) -> FloatArray:
    """Lowest and highest corner of a drawing's lines and words together, (2, 2) mm.

    Raises
    ------
    InputError
        Where it holds no line.
    """
    points = np.concatenate([drawing.bounds, *(corners(text) for text in drawing.texts)])
    return np.stack([points.min(axis=0), points.max(axis=0)])


def before_share(anchor: Anchor) -> float:
    """Which share of a text's width lies before its place."""
    return {Anchor.LEFT: 0.0, Anchor.MIDDLE: 0.5, Anchor.RIGHT: 1.0}[anchor]


def _broken(word: str, room_mm: float, height_mm: float) -> list[str]:
    """Break one word into parts that fit; each holds one letter at least."""
    parts = [""]
    for letter in word:
        if parts[-1] and width_mm(parts[-1] + letter, height_mm) > room_mm:
            parts.append("")
        parts[-1] += letter
    return parts


@cache
def _widths_em() -> dict[str, float]:
    """Width of every letter of the font, as a share of the type size."""
    from fontTools.ttLib import TTFont

    with TTFont(font_folder() / "DejaVuSans.ttf") as font:
        units = font["head"].unitsPerEm
        advances = font["hmtx"].metrics
        return {chr(code): advances[name][0] / units for code, name in font.getBestCmap().items()}
