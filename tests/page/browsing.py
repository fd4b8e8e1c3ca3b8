"""A browser for tests: Debian's Chromium without a window, watched for what it says and fetches."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator
    from playwright.sync_api import Page as Tab

WIDE, NARROW = (1440, 900), (390, 844)
"""A desk's screen and a telephone's, CSS pixels."""

PROGRAM = "LOSSFILL_CHROMIUM"
"""Environment: the browser to use, where it is not on the path."""

FOREIGN_NAME = "pots.example"
"""Of somebody else; in the tests' browser it leads to 127.0.0.1, as a hostile one may."""

FOLDED = ".more .q-item[role=button]"
"""What opens what is folded away."""

# 3D by the processor, as there may be no graphics card; nothing fetched behind the page's back.
_FLAGS = (
    "--no-sandbox",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-background-networking",
    f"--host-resolver-rules=MAP {FOREIGN_NAME} 127.0.0.1",
)


def chromium() -> str:
    """The browser's program; skips the test, and says why, where there is none."""
    pytest.importorskip("playwright.sync_api", reason="the browser tests need playwright")
    named = os.environ.get(PROGRAM)
    found = named or next(
        filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
    )
    if found is None:
        pytest.skip(f"the browser tests need Chromium: install it, or name it with {PROGRAM}")
    # Some systems put a script in its place that only tells how to install it.
    asked = subprocess.run([found, "--version"], capture_output=True, check=False)
    if asked.returncode != 0:
        pytest.skip(f"the browser tests need Chromium, and {found} does not start")
    return found


@contextmanager
def started() -> Iterator[Browser]:
    """A browser, for several tests."""
    program = chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(_FLAGS))
        try:
            yield browser
        finally:
            browser.close()


@dataclass(slots=True)
class Watched:
    """What a tab said and fetched.

    Parameters
    ----------
    faults : errors and warnings on its console, and exceptions of its scripts
    hosts : that it sent requests to
    """

    faults: list[str] = field(default_factory=list)
    hosts: set[str] = field(default_factory=set)

    def check(self) -> None:
        """Nothing went wrong, and nothing left this computer."""
        assert self.faults == []
        assert self.hosts <= {"127.0.0.1", ""}, self.hosts  # "": data: and blob:, which are local


def watch(tab: Tab) -> Watched:
    """Note what a tab says and fetches from now on."""
    watched = Watched()

    def said(message: Any) -> None:
        # The processor in the graphics card's place is slow, and the driver says so.
        if message.type in ("error", "warning") and "GPU stall" not in message.text:
            watched.faults.append(f"{message.type}: {message.text}")

    def asked(request: Any) -> None:
        watched.hosts.add(urlsplit(request.url).hostname or "")

    tab.on("console", said)
    tab.on("pageerror", lambda error: watched.faults.append(f"exception: {error}"))
    tab.on("request", asked)
    tab.on("websocket", lambda socket: asked(socket))
    return watched


@contextmanager
def tab_at(browser: Browser, link: str, width: tuple[int, int] = WIDE) -> Iterator[Tab]:
    """A tab with cookies of its own, checked at its end for what it said and fetched."""
    context = browser.new_context(viewport={"width": width[0], "height": width[1]})
    context.set_default_timeout(60_000)
    try:
        tab = context.new_page()
        watched = watch(tab)
        tab.goto(link)
        yield tab
        watched.check()
    finally:
        context.close()


def serious_faults(tab: Tab, within: str | None = None) -> list[str]:
    """What axe finds that keeps somebody out: its serious and critical findings.

    Words in the very colour of their ground it leaves open, as they may be hidden on purpose; here
    they count. `within` is the CSS selector of a dialog: axe takes the ground of its words for what
    lies behind the dialog, so that their contrast cannot be asked for.
    """
    from axe_playwright_python.sync_playwright import Axe

    options: dict[str, Any] = {"resultTypes": ["violations", "incomplete"]}
    if within is not None:
        options["rules"] = {"color-contrast": {"enabled": False}}
    response = Axe().run(tab, within, options).response
    unseen = [
        f"{node['html'][:200]} has the colour of its ground"
        for one in response["incomplete"]
        if one["id"] == "color-contrast"
        for node in one["nodes"]
        if any((check["data"] or {}).get("messageKey") == "equalRatio" for check in node["any"])
    ]
    found = response["violations"]
    return unseen + [
        f"{one['id']} ({one['impact']}): {node['html'][:200]} {node['failureSummary']}"
        for one in found
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]


def photographed(tab: Tab, step: str, folder: Path) -> tuple[list[Path], int]:
    """Pictures of the whole page on a desk's screen and on a telephone's, and `overflow_px`."""
    shots = [folder / f"{step}_{width}.png" for width in (NARROW[0], WIDE[0])]
    # Each other width has the view drawn anew, by the processor: so each is taken once.
    tab.screenshot(path=shots[1], full_page=True)
    tab.set_viewport_size({"width": NARROW[0], "height": NARROW[1]})
    tab.wait_for_timeout(150)  # the view is drawn anew
    tab.screenshot(path=shots[0], full_page=True)
    wide = overflow_px(tab)
    tab.set_viewport_size({"width": WIDE[0], "height": WIDE[1]})
    return shots, wide


def overflow_px(tab: Tab) -> int:
    """How far the page reaches beyond a telephone's width, which would have to be dragged.

    What is folded away is opened for it.
    """
    tab.evaluate(
        "folded => { document.querySelectorAll(folded).forEach(one => one.click());"
        "document.querySelectorAll('details').forEach(one => (one.open = true)); }",
        f"{FOLDED}[aria-expanded=false]",
    )
    tab.set_viewport_size({"width": NARROW[0], "height": NARROW[1]})
    tab.wait_for_timeout(400)  # it slides open
    return int(tab.evaluate("document.documentElement.scrollWidth - window.innerWidth"))


def tabbed_to(tab: Tab, wanted: Locator, most: int = 60) -> None:
    """Reach a thing by the Tab key alone, and see that it shows that it is reached."""
    wanted.wait_for()
    for _ in range(most):
        tab.keyboard.press("Tab")
        if wanted.evaluate("one => one === document.activeElement"):
            drawn = "one => getComputedStyle(one).outline + getComputedStyle(one).boxShadow"
            ring = wanted.evaluate(drawn)
            assert "solid 3px" in ring or "0px 0px 0px 5px" in ring, "nothing shows it is reached"
            return
    raise AssertionError(f"{wanted} is not reached by the Tab key")
