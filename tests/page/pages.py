"""A page of its own for a test: started as a person starts it, and ended whatever happens."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "meshes" / "tea_bowl_scan.ply"

SMALL = ROOT / "meshes" / "set_bowl_twin_scan.ply"
"""Whole, and a tenth of the demo vessel's triangles: where any vessel will do."""

START_SECONDS = 60.0
"""A busy machine takes its time to load the web server; the wait ends as soon as it is there."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page that is served.

    Parameters
    ----------
    process : of the server
    link : the first link, with the token
    jobs : folder of all jobs
    told : lines on its standard error
    """

    process: subprocess.Popen[str]
    link: str
    jobs: Path
    told: list[str]

    @property
    def base(self) -> str:
        """The page's address without the token."""
        return self.link.partition("/?")[0]

    @contextmanager
    def client(self) -> Iterator[httpx.Client]:
        """A client that has been let in."""
        with httpx.Client(base_url=self.base, trust_env=False, timeout=20.0) as client:
            assert client.get(self.link).status_code == 303
            yield client

    def send(self, name: str, content: bytes) -> str:
        """Send a scan; the key of its job."""
        with self.client() as client:
            answer = client.post("/scan", params={"name": name}, content=content)
        assert answer.status_code == 200, answer.text
        return str(answer.json()["link"]).split("/")[2]

    def workers(self) -> list[int]:
        """Numbers of the processes that work for it."""
        return workers_of(self.jobs)


@contextmanager
def served(jobs: Path, *words: str, before: str = "") -> Iterator[Page]:
    """Serve a page as `lossfill page` does, and end it.

    Parameters
    ----------
    jobs : folder of all jobs
    words : more words of the command line
    before : Python to run first in the server's process
    """
    # Tests that run in the background hand on that Ctrl+C is to be ignored.
    heard = "import signal\nsignal.signal(signal.SIGINT, signal.default_int_handler)"
    called = "import sys\nfrom lossfill.cli import main\nsys.exit(main(sys.argv[1:]))"
    code = f"{heard}\n{before}\n{called}"
    # NiceGUI serves nothing where this says that it is itself under test.
    kept = {name: value for name, value in os.environ.items() if name != "PYTEST_CURRENT_TEST"}
    command = [sys.executable, "-c", code, "page", "--no-browser", "--jobs", str(jobs), *words]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        env={**kept, "PYTHONPATH": str(ROOT)},
    )
    assert process.stdout is not None
    assert process.stderr is not None
    told: list[str] = []
    reader = threading.Thread(target=lambda: told.extend(process.stderr or ()), daemon=True)
    reader.start()
    try:
        line = process.stdout.readline()
        found = re.fullmatch(r"The page is at (http://127\.0\.0\.1:\d+/\?token=\S+)\n", line)
        assert found, (line, told)
        page = Page(process, found[1], jobs, told)
        wait_until(lambda: answers(page), START_SECONDS)
        yield page
    finally:
        process.kill()
        process.wait()
        reader.join(5)
        process.stdout.close()
        process.stderr.close()
        for number in workers_of(jobs):
            os.kill(number, signal.SIGKILL)


def answers(page: Page) -> bool:
    """Whether the server listens yet."""
    try:
        return httpx.get(page.base, trust_env=False).status_code == 403
    except httpx.TransportError:
        return False


def wait_until(holds: Callable[[], bool], seconds: float, step: float = 0.02) -> float:
    """Wait until something holds; seconds that it took."""
    start = time.monotonic()
    while not holds():
        taken = time.monotonic() - start
        assert taken < seconds, f"not within {seconds} s"
        time.sleep(step)
    return time.monotonic() - start


def workers_of(jobs: Path) -> list[int]:
    """Numbers of the living workers of a folder's jobs, read from Linux' list of processes."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            words = (place / "cmdline").read_bytes().split(b"\0")
            state = (place / "stat").read_text().rpartition(")")[2].split()[0]
        except OSError:
            continue
        ours = b"lossfill.page.worker" in words and any(
            word.startswith(str(jobs).encode()) for word in words
        )
        if ours and state != "Z":
            found.append(int(place.name))
    return found
