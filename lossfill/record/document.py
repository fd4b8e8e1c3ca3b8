"""What stands in a record, told once: the PDF and the HTML are two settings of this one content.

A text is plain words; neither typst nor HTML is ever written here. An empty value is a line for a
pen. Pictures know how large they are on paper, so that both settings keep their scale.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from lossfill.errors import InputError

Tone = Literal["plain", "quiet", "strong"]
"""How a paragraph is set: as usual, smaller and grey, or in a frame since it must be seen."""

Align = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Words that run on."""

    words: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; each item has a box to tick where `ticked` by hand."""

    items: tuple[str, ...]
    ticked: bool = False


@dataclass(frozen=True, slots=True)
class Subheading:
    """Begins a part of a section."""

    words: str


@dataclass(frozen=True, slots=True)
class Entry:
    """A name and what is known of it.

    Parameters
    ----------
    label : what it is
    value : in words, each line of it a paragraph; empty leaves lines to write on
    lines : how many to leave then
    """

    label: str
    value: str
    lines: int = 1


@dataclass(frozen=True, slots=True)
class Entries:
    """Names on the left, what is known of them on the right."""

    rows: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Parameters
    ----------
    head : its heading, with the unit where all its numbers share one
    share : of the table's width; those of a table are scaled to fill it
    align : numbers to the right
    """

    head: str
    share: float
    align: Align = "left"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells under headings; the first cell of a row says what the row is about.

    Raises
    ------
    InputError
        Where a row has not as many cells as there are columns.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise InputError(
                    f"{self.caption}: a row has {len(row)} cells for {len(self.columns)} columns"
                )


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture as it is printed.

    Parameters
    ----------
    png : the file
    width_mm, height_mm : on paper
    caption : what is seen, and at which scale
    alt : the same for those who cannot see it
    """

    png: bytes
    width_mm: float
    height_mm: float
    caption: str
    alt: str


@dataclass(frozen=True, slots=True, eq=False)
class Pictures:
    """Pictures side by side, as many to a row as there is room for."""

    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True)
class Signatures:
    """A line for each person: role, name, signature, date; a name that is known stands there."""

    rows: tuple[tuple[str, str], ...]


Block = Paragraph | Bullets | Subheading | Entries | Table | Pictures | Signatures


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """A numbered part of the record."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Document:
    """The whole record.

    Parameters
    ----------
    title : what kind of paper it is
    subject : of which object, in words
    day : of the record, or None for a line to write on
    made_by : program and version
    sections : in order
    """

    title: str
    subject: str
    day: dt.date | None
    made_by: str
    sections: tuple[Section, ...]

    def pictures(self) -> Iterator[Picture]:
        """All pictures in the order in which they stand."""
        for section in self.sections:
            for block in section.blocks:
                if isinstance(block, Pictures):
                    yield from block.pictures
