"""Starting the page: on this computer alone, with a secret in its first link."""

from __future__ import annotations

import secrets
import socket
from pathlib import Path

from lossfill.errors import InputError

LOOPBACK = "127.0.0.1"

LAST_ANSWERS_SECONDS = 1
"""How long answers under way may take once the page is stopped."""


def serve(
    jobs: Path, *, port: int | None = None, show: bool = True, token: str | None = None
) -> None:
    """Serve the page until it is stopped from the keyboard.

    Parameters
    ----------
    jobs : folder of all jobs
    port : to listen on; None takes a free one
    show : open the browser
    token : the secret of the first link; None draws one

    Raises
    ------
    InputError
        Where the port is taken.
    """
    from nicegui import app, core, ui

    from lossfill.page.guard import HOSTS, Guard
    from lossfill.page.receive import clear_left
    from lossfill.page.runner import Runner
    from lossfill.page.shared import Site
    from lossfill.page.site import add_pages

    port = free_port() if port is None else checked_port(port)
    token = secrets.token_urlsafe(24) if token is None else token
    clear_left(jobs)
    runner = Runner()
    add_pages(Site(jobs, runner, demo_scan()))
    # The guard stands before everything, the web socket included. NiceGUI lets any page's origin
    # open that; the name of this setting is internal to it, so a test holds it in place.
    core.sio.eio.cors_allowed_origins = [f"http://{host}:{port}" for host in HOSTS]
    app.add_middleware(Guard, token=token, port=port)
    app.on_shutdown(runner.close)
    link = f"http://{LOOPBACK}:{port}/?token={token}"
    app.on_startup(lambda: _tell(link, show))
    ui.run(
        host=LOOPBACK,
        port=port,
        title="lossfill",
        language="en-US",
        show=False,
        reload=False,
        gzip_middleware_factory=None,
        show_welcome_message=False,
        endpoint_documentation="none",
        # The other reader of requests that may be installed takes headers without an end.
        http="h11",
        # An open page would otherwise hold the end up for as long as its browser likes.
        timeout_graceful_shutdown=LAST_ANSWERS_SECONDS,
    )


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as held:
        held.bind((LOOPBACK, 0))
        return int(held.getsockname()[1])


def checked_port(port: int) -> int:
    """The port, where nobody listens on it yet.

    Raises
    ------
    InputError
        Where somebody does.
    """
    with socket.socket() as held:
        held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            held.bind((LOOPBACK, port))
        except OSError as error:
            raise InputError(
                f"port {port} cannot be used ({error.strerror}): give another with --port"
            ) from error
    return port


def demo_scan() -> Path | None:
    """The demo vessel, where the meshes lie beside the program."""
    path = Path(__file__).parents[2] / "meshes" / "tea_bowl_scan.ply"
    return path if path.is_file() else None


def _tell(link: str, show: bool) -> None:
    print(f"The page is at {link}", flush=True)
    print("It is for this computer alone. Stop it with Ctrl+C.", flush=True)
    if show:
        import webbrowser

        webbrowser.open(link)
