"""What is printed: blocks of lines for people, or one document for programs."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import Any

from lossfill.cli.document import to_json


def print_document(content: dict[str, Any]) -> None:
    """Print one JSON document."""
    print(to_json(content))


def print_blocks(*blocks: Iterable[str]) -> None:
    """Print blocks of lines, a blank line between them; headings stand out on a terminal."""
    from rich.console import Console

    # Rich must not fold, colour or interpret anything: paths hold brackets, pipes want plain text.
    console = Console(highlight=False, markup=False, emoji=False, soft_wrap=True, file=sys.stdout)
    first = True
    for lines in map(list, blocks):
        if lines and not first:
            console.print()
        for line in lines:
            console.print(line, style=None if line.startswith(" ") else "bold")
            first = False
