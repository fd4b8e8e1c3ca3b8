"""Putting tables on paper: for a terminal, and between the marks in the README."""

from __future__ import annotations

import os
import platform
import re
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from lossfill import __version__

__all__ = ["Table", "as_markdown", "as_text", "machine", "with_part", "write_part"]


@dataclass(frozen=True, slots=True)
class Table:
    """A heading, column names and rows of text.

    Parameters
    ----------
    title, columns, rows : what it holds
    words : columns that hold words and stand to the left; the others hold numbers
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: tuple[int, ...] = (0,)


def as_text(table: Table) -> str:
    """Lay a table out for a terminal."""
    lines = [table.columns, *table.rows]
    widths = [max(len(line[k]) for line in lines) for k in range(len(table.columns))]
    laid = [
        "  ".join(
            cell.ljust(width) if k in table.words else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    ]
    return "\n".join([table.title, *laid])


def as_markdown(table: Table) -> str:
    """Lay a table out for the README."""
    rule = ["---" if k in table.words else "--:" for k in range(len(table.columns))]
    laid = ["| " + " | ".join(line) + " |" for line in (table.columns, *table.rows)]
    return "\n".join([f"**{table.title}**", "", laid[0], "|" + "|".join(rule) + "|", *laid[1:]])


def machine(now: datetime | None = None) -> str:
    """Version, date and kind of machine; no name and no place of it."""
    now = datetime.now(UTC) if now is None else now
    system = f"{platform.system()} {platform.machine()}"
    with suppress(OSError):
        system = f"{platform.freedesktop_os_release()['PRETTY_NAME']}, {platform.machine()}"
    memory = ""
    with suppress(AttributeError, ValueError, OSError):
        bytes_ = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
        memory = f", {bytes_ / 2**30:.0f} GiB of memory"
    return (
        f"lossfill {__version__}, {now:%Y-%m-%d}, {os.cpu_count()} cores{memory}, "
        f"Python {platform.python_version()}, {system}"
    )


def with_part(text: str, part: str) -> str:
    """Put a part between the bench's two marks.

    Parameters
    ----------
    text : of the README
    part : what goes between the marks, in place of what is there

    Raises
    ------
    ValueError
        Where the marks are not there once each, in their order.
    """
    pattern = re.compile(r"(<!-- bench: begin[^>]*-->\n).*?(<!-- bench: end -->)", re.DOTALL)
    if len(pattern.findall(text)) != 1 or text.count("<!-- bench: ") != 2:
        raise ValueError("the README must hold the marks of the bench once, begin before end")
    return pattern.sub(lambda found: found[1] + "\n" + part.strip() + "\n\n" + found[2], text)


def write_part(readme: Path, part: str) -> None:
    """Write a part into the README, whole or not at all."""
    text = with_part(readme.read_text(encoding="utf-8"), part)
    handle, name = tempfile.mkstemp(dir=readme.parent, prefix=".readme-")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        Path(name).chmod(readme.stat().st_mode)
        Path(name).replace(readme)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
