"""Numbers and lists as a repairer reads them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from lossfill.figures import millilitres, rounded, whole_mm

__all__ = ["LINE_WIDTH", "millilitres", "one_line", "rounded", "whole_mm", "wrapped"]

LINE_WIDTH = 96
"""Characters before a sentence is broken; paths are never broken."""


def one_line(text: str) -> str:
    """Collapse line breaks and runs of blanks: an error is one line."""
    return " ".join(text.split())


def wrapped(text: str, indent: str, hanging: str | None = None) -> Iterator[str]:
    """Break a sentence over lines; `hanging` indents those after the first."""
    yield from textwrap.wrap(
        one_line(text),
        width=LINE_WIDTH,
        initial_indent=indent,
        subsequent_indent=indent if hanging is None else hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )
