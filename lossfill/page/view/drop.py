"""A place to drop a scan file on; the file goes to the server as it is, in one stream."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import events
from nicegui.element import Element


class DropPlace(Element, component="drop.js"):
    """A place to drop a file on, or to choose one from.

    Parameters
    ----------
    url : where it is sent
    kinds : endings that are offered, such as ".stl"
    most_bytes : of a file; the server holds to its limit itself, this only tells sooner
    label, says, sending : what it says; `sending` holds {name} and {percent}
    too_large, not_sent, not_taken : what it says where that happens; `too_large` holds {name}
    on_received : told of the link to go to
    """

    def __init__(
        self,
        url: str,
        *,
        kinds: tuple[str, ...],
        most_bytes: int,
        label: str,
        says: str,
        sending: str,
        too_large: str,
        not_sent: str,
        not_taken: str,
        on_received: Callable[[str], Any],
    ) -> None:
        super().__init__()
        self._props["url"] = url
        self._props["kinds"] = ",".join(kinds)
        self._props["most"] = most_bytes
        self._props["label"] = label
        self._props["says"] = says
        self._props["sending"] = sending
        self._props["tooLarge"] = too_large
        self._props["notSent"] = not_sent
        self._props["notTaken"] = not_taken

        def received(event: events.GenericEventArguments) -> Any:
            return on_received(str(event.args["link"]))

        self.on("received", received)
