"""A progress bar for people; silence for pipes and files."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_bar() -> Iterator[Callable[[str, float], None] | None]:
    """Give the callback that the road reports to, or None where nobody watches.

    The bar goes to standard error, so that standard output holds the result alone.
    """
    if not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TaskProgressColumn(),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)

        def report(stage_words: str, fraction: float) -> None:
            bar.update(task, description=stage_words, completed=fraction)

        yield report
