"""The place to drop a scan on, wherever one is asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from lossfill.page.receive import KINDS, MOST_MB
from lossfill.page.view import DropPlace
from lossfill.page.words import start as words


def scan_place(url: str, label: str, on_received: Callable[[str], Any]) -> None:
    """A place to drop a scan on; see `DropPlace`."""
    DropPlace(
        url,
        kinds=KINDS,
        most_bytes=MOST_MB * 1_000_000,
        label=label,
        says=words.KINDS.format(most=MOST_MB),
        sending=words.SENDING,
        too_large=words.TOO_LARGE.replace("{most}", str(MOST_MB)),
        not_sent=words.NOT_SENT,
        not_taken=words.NOT_TAKEN,
        on_received=on_received,
    )
