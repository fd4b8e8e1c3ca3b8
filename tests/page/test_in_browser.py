"""The page in a real browser: the whole way with the demo vessel, and what may go wrong on it.

The way is walked once, by the `walk` fixture, and each check looks at what was seen on it. A new
step is a line in `WAY`.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import signal
import threading
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import trimesh
from page.browsing import (
    FOREIGN_NAME,
    overflow_px,
    photographed,
    serious_faults,
    started,
    tab_at,
    tabbed_to,
)
from page.pages import DEMO, SMALL, Page, served, wait_until

from lossfill.page.choices import Stage
from lossfill.page.jobs import Job, new_job
from lossfill.page.steps import STEPS
from lossfill.page.words import common, start
from lossfill.page.words import make as make_words
from lossfill.page.words import vessel as vessel_words
from lossfill.scan import Unit, read_scan

if TYPE_CHECKING:
    from playwright.sync_api import Browser
    from playwright.sync_api import Page as Tab

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("browser")]


@dataclass(frozen=True, slots=True)
class Stop:
    """A step on the way.

    Parameters
    ----------
    step : its name in the link
    wait : what is there once its work is done and shown (a CSS selector)
    """

    step: str
    wait: str


WAY = (
    Stop("scan", "h3:has-text('Read in millimetres')"),
    Stop("vessel", "[data-ready=yes]"),
    Stop("losses", ".beside:has(.loss-list) [data-ready=yes]"),
    Stop("form", ".beside:has(.ramp) [data-ready=yes]"),
    Stop("piece", ".beside:has(.plot) [data-ready=yes]"),
    Stop("make", "#content:has(section.thing) [data-ready=yes]"),
    Stop("mix", "caption:has-text('Steps in order')"),
    Stop("record", "a.download.main"),
)


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen of a step, or of the first page.

    Parameters
    ----------
    shots : pictures, by width
    faults : serious findings of axe
    overflow : pixels beyond a telephone's width
    text : all that stands on the page
    """

    shots: list[Path]
    faults: list[str]
    overflow: int
    text: str


@dataclass(frozen=True, slots=True)
class Walk:
    """The whole way.

    Parameters
    ----------
    seen : by the step's name; "start" is the first page
    job : that was made on it
    """

    seen: dict[str, Seen]
    job: Job


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with started() as one:
        yield one


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[Page]:
    with served(tmp_path_factory.mktemp("browser") / "jobs") as one:
        yield one


@pytest.fixture
def tab(browser: Browser, page: Page) -> Iterator[Tab]:
    with tab_at(browser, page.link) as one:
        yield one


@pytest.fixture(scope="module")
def artefacts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where pictures are kept to be looked at."""
    named = os.environ.get("LOSSFILL_ARTEFACTS")
    folder = Path(named) if named else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="module")
def walk(browser: Browser, page: Page, artefacts: Path) -> Walk:
    """Go the whole way once, and look at each step."""
    seen: dict[str, Seen] = {}

    def look(step: str) -> None:
        text, faults = tab.locator("body").inner_text(), serious_faults(tab)
        shots, overflow = photographed(tab, step, artefacts)
        seen[step] = Seen(shots, faults, overflow, text)

    with tab_at(browser, page.link) as tab:
        tab.get_by_role("button", name=start.DEMO).wait_for()
        look("start")
        tab.get_by_role("button", name=start.DEMO).click()
        for number, stop in enumerate(WAY):
            if number:
                title = next(one.title for one in STEPS if one.name == stop.step)
                tab.get_by_role("button", name=common.NEXT.format(title=title)).click()
            tab.wait_for_url(f"**/{stop.step}")
            tab.locator(stop.wait).first.wait_for()
            look(stop.step)
        key = tab.url.split("/")[-2]
    return Walk(seen, Job(page.jobs / key))


def on_step(tab: Tab, page: Page, key: str, step: str = "scan") -> None:
    tab.goto(f"{page.base}/job/{key}/{step}")


PLACES = ("start", *(stop.step for stop in WAY))


def test_every_step_is_on_the_way() -> None:
    assert [stop.step for stop in WAY] == [step.name for step in STEPS]


@pytest.mark.parametrize("place", PLACES)
def test_nobody_is_kept_out(place: str, walk: Walk) -> None:
    assert walk.seen[place].faults == []


@pytest.mark.parametrize("place", PLACES)
def test_a_telephone_shows_it_without_dragging_sideways(place: str, walk: Walk) -> None:
    assert walk.seen[place].overflow <= 0


@pytest.mark.parametrize("place", PLACES)
def test_it_was_photographed(place: str, walk: Walk) -> None:
    assert [shot.name for shot in walk.seen[place].shots] == [
        f"{place}_390.png",
        f"{place}_1440.png",
    ]
    assert all(shot.stat().st_size > 5000 for shot in walk.seen[place].shots)


def test_the_demo_vessel_is_read_and_measured(walk: Walk) -> None:
    assert "Read in millimetres, this vessel is " in walk.seen["scan"].text
    # The walk waits for the view; the measures are the worker's own, as the command line's.
    found = walk.job.found(Stage.VESSEL)
    assert found is not None
    height = found["frame"]["height_mm"]
    assert f"{height:.1f} mm" in walk.seen["vessel"].text
    assert walk.job.read().is_done(Stage.VESSEL)


def test_the_demo_vessels_pieces_are_made(walk: Walk) -> None:
    found = walk.job.found(Stage.THINGS)
    assert found is not None
    assert [(one["thing"], one["loss"]) for one in found["things"]] == [("piece", 1), ("piece", 2)]
    for thing in found["things"]:
        for name in thing["files"]:
            assert (walk.job.pack / name).is_file()
            assert name in walk.seen["make"].text


def test_a_drawing_is_shown_at_its_own_size_and_its_files_come_down(
    tab: Tab, page: Page, walk: Walk
) -> None:
    # A job of its own: the walk's is looked at by others.
    job = Job(page.jobs / "0123456789abcdef")
    shutil.copytree(walk.job.folder, job.folder)
    on_step(tab, page, job.key, "make")
    tab.get_by_role("checkbox", name=make_words.NAMES["piece"]).click()
    tab.get_by_role("checkbox", name=make_words.NAMES["rib"]).click()
    tab.get_by_role("checkbox", name="1 Piece of the rim").click()
    tab.get_by_role("button", name=make_words.MAKE).click()
    drawing = tab.locator(".at-scale img").first
    drawing.wait_for()
    found = job.found(Stage.THINGS)
    assert found is not None
    ((name, loss, drawn),) = (
        (one["thing"], one["loss"], one["drawings"]) for one in found["things"]
    )
    assert (name, loss) == ("rib", 2)
    # A CSS millimetre is 96/25.4 px; the browser lays out in 1/64 px.
    assert drawing.evaluate("one => one.complete && one.naturalWidth > 0")
    for key, held in (("width_mm", "width"), ("height_mm", "height")):
        shown = drawing.evaluate(f"one => one.getBoundingClientRect().{held}")
        assert shown == pytest.approx(drawn[0][key] * 96 / 25.4, abs=1 / 32)
    bar = tab.locator(".bar-50").first.evaluate("one => one.getBoundingClientRect().width")
    assert bar == pytest.approx(50 * 96 / 25.4, abs=1 / 32)
    with tab.expect_download() as coming:
        tab.get_by_role("link", name="loss_2_rib.pdf").click()
    assert Path(coming.value.path()).read_bytes() == (job.pack / "loss_2_rib.pdf").read_bytes()
    assert not list(job.pack.glob("*print*"))
    assert serious_faults(tab) == []
    assert overflow_px(tab) <= 0
    # None at all can be made, too.
    tab.get_by_role("checkbox", name=make_words.NAMES["rib"]).click()
    tab.get_by_role("button", name=make_words.MAKE).click()
    tab.get_by_text(make_words.NONE_MADE).wait_for()


def test_all_of_it_is_taken_away_as_one_zip(tab: Tab, page: Page, walk: Walk) -> None:
    on_step(tab, page, walk.job.key, "record")
    # What is shown is the record itself; it is framed so that nothing in it can run.
    frame = tab.locator("iframe.record")
    assert frame.get_attribute("sandbox") == ""
    assert tab.frame_locator("iframe.record").get_by_text("Losses: what is missing").count() > 0
    with tab.expect_download() as begun:
        tab.locator("a.download.main").click()
    assert begun.value.suggested_filename == "tea_bowl_scan.zip"
    with zipfile.ZipFile(begun.value.path()) as packed:
        held = {
            name.removeprefix("tea_bowl_scan/"): packed.read(name) for name in packed.namelist()
        }
    assert held["record.pdf"].startswith(b"%PDF")
    assert b"Record of examination and treatment" in held["record.html"]
    record = json.loads(held["fill.json"])
    pieces = [piece for loss in record["losses"] for piece in loss["pieces"]]
    assert len(pieces) == 2
    for piece in pieces:
        mesh = trimesh.load_mesh(io.BytesIO(held[piece["stl"]]), file_type="stl")
        assert mesh.is_watertight
        # Both by the same divergence sum; STL keeps 32-bit numbers, good to 1e-5 of a volume.
        assert mesh.volume / 1000 == pytest.approx(piece["volume_ml"], rel=1e-4)
    assert {path.name for path in walk.job.pack.iterdir() if path.name[0] != "."} == set(held)


def progress_of(tab: Tab) -> tuple[str, str | None]:
    bar = tab.get_by_role("progressbar")
    bar.wait_for()
    return tab.locator(".progress").inner_text(), bar.get_attribute("aria-valuenow")


def test_a_reload_and_a_second_tab_find_the_work_where_it_is_and_can_stop_it(
    tab: Tab, page: Page
) -> None:
    key = page.send("bowl.ply", DEMO.read_bytes())
    job = Job(page.jobs / key)
    on_step(tab, page, key)
    says = tab.locator(".progress")
    says.get_by_text("Working: ").wait_for()
    tab.wait_for_function("!document.querySelector('.progress').innerText.includes('…')")
    (number,) = [one for one in page.workers() if key in command_of(one)]
    os.kill(number, signal.SIGSTOP)  # so that it stands still while it is looked at
    tab.wait_for_timeout(700)
    first = progress_of(tab)
    assert serious_faults(tab) == []
    tab.reload()
    says.get_by_text("Working: ").wait_for()
    assert progress_of(tab) == first
    second = tab.context.new_page()
    on_step(second, page, key, "vessel")
    assert progress_of(second) == first
    # Stopped in one tab, it is stopped in both, and the process is gone.
    second.get_by_role("button", name=common.CANCEL).click()
    wait_until(lambda: number not in page.workers(), 1.0)
    for one in (tab, second):
        one.get_by_text(common.NOT_BEGUN).wait_for()
        assert not one.locator(".progress").is_visible()
    assert job.read().running is None
    assert sorted(path.name for path in job.folder.iterdir()) == ["job.json", "scan.ply"]
    # And begun again from there, in sight of both.
    tab.get_by_role("button", name=common.BEGIN).click()
    tab.get_by_text("Read in millimetres").wait_for()
    second.locator("[data-ready=yes]").wait_for()
    second.close()


def command_of(number: int) -> str:
    return Path(f"/proc/{number}/cmdline").read_text()


def scaled_stl(factor: float) -> bytes:
    """The demo vessel as STL, which states no unit, in other numbers."""
    mesh = read_scan(DEMO, units=Unit.MILLIMETRE).mesh
    corners = (factor * mesh.vertices[mesh.faces]).astype("<f4").reshape(-1, 9)
    facets = np.zeros(
        len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", 9), ("more", "<u2")]
    )
    facets["corners"] = corners
    return b"\0" * 80 + np.uint32(len(facets)).tobytes() + facets.tobytes()


def tall_mm(text: str) -> float:
    found = re.search(r"this vessel is ([\d.]+) mm tall", text)
    assert found, text
    return float(found[1])


def test_a_wrong_unit_is_put_right_by_one_click(tab: Tab, tmp_path: Path, walk: Walk) -> None:
    # Numbers in centimetres that would also do for a small vessel in millimetres.
    file = tmp_path / "bowl.stl"
    file.write_bytes(scaled_stl(0.3))
    tab.locator("input[type=file]").set_input_files(file)
    small = tab.get_by_text("Read in millimetres, this vessel is ")
    small.wait_for()
    assert tab.get_by_text(start.BECAUSE["inferred"]).is_visible()
    before = tall_mm(small.inner_text())
    # A third of the demo vessel, to the last digit that is shown.
    real = tall_mm(walk.seen["scan"].text)
    assert before == pytest.approx(0.3 * real, abs=0.1)
    assert tab.get_by_role("button", name="millimetres").get_attribute("aria-pressed") == "true"
    tab.get_by_role("button", name="centimetres").click()
    large = tab.get_by_text("Read in centimetres, this vessel is ")
    large.wait_for()
    assert tall_mm(large.inner_text()) == pytest.approx(10 * before, rel=0.003)
    pressed = tab.get_by_role("button", name="centimetres")
    assert pressed.get_attribute("aria-pressed") == "true"
    assert tab.get_by_text(start.BECAUSE["asked"]).is_visible()


def test_a_broken_file_is_a_sentence_and_another_unit_can_still_be_said(
    tab: Tab, tmp_path: Path
) -> None:
    file = tmp_path / "<i>pot<_i>.ply"
    file.write_bytes(np.random.default_rng(3).bytes(4000))
    tab.locator("input[type=file]").set_input_files(file)
    told = tab.get_by_role("alert").filter(has_text="it is named .ply but holds something else")
    told.wait_for()
    assert told.inner_text().startswith("<i>pot<_i>.ply: ")
    assert serious_faults(tab) == []
    assert tab.locator("i", has_text="pot").count() == 0  # shown, not obeyed
    assert "Traceback" not in tab.locator("body").inner_text()
    assert tab.get_by_role("button", name=re.compile("^Next")).count() == 0


def test_a_press_that_fails_says_so_and_the_page_goes_on(tab: Tab, page: Page) -> None:
    job = new_job(page.jobs, "bowl.ply", ".ply")
    on_step(tab, page, job.key)
    tab.get_by_text(common.NOT_BEGUN).wait_for()
    whole = (job.folder / "job.json").read_text()
    (job.folder / "job.json").write_text("{")
    tab.get_by_role("button", name="inches").click()
    told = tab.get_by_text("This job cannot be read any more: start it again.")
    told.first.wait_for()
    (job.folder / "job.json").write_text(whole)
    tab.get_by_role("button", name="inches").click()
    # There is no scan in its folder: the worker says so.
    tab.get_by_role("alert").filter(has_text="bowl.ply: no such file").first.wait_for()


def test_what_a_restart_interrupted_goes_on_by_one_click(tab: Tab, page: Page) -> None:
    job = new_job(page.jobs, "bowl.ply", ".ply")
    (job.folder / "scan.ply").write_bytes(SMALL.read_bytes())
    job.write(job.read().model_copy(update={"running": Stage.VESSEL}))
    on_step(tab, page, job.key)
    tab.get_by_text(common.INTERRUPTED).wait_for()
    assert tab.get_by_text(common.NOT_BEGUN).count() == 0
    tab.get_by_role("button", name=common.GO_ON).click()
    tab.get_by_text("Read in millimetres").wait_for()
    assert tab.get_by_text(common.INTERRUPTED).count() == 0


def test_a_number_that_makes_no_wall_is_a_sentence(tab: Tab, page: Page) -> None:
    key = page.send("bowl.ply", SMALL.read_bytes())
    on_step(tab, page, key)
    tab.get_by_text("Read in millimetres").wait_for()
    tab.get_by_text(start.MORE).click()
    tab.get_by_label(start.WALL).fill("-5")
    tab.get_by_role("button", name=start.APPLY).click()
    tab.get_by_role("alert").filter(has_text="-5").first.wait_for()
    assert Job(page.jobs / key).read().failed[Stage.VESSEL]


def test_another_kind_is_refused_where_it_was_dropped(tab: Tab, page: Page, tmp_path: Path) -> None:
    before = set(page.jobs.iterdir())
    file = tmp_path / "bowl.ply"
    file.touch()
    # The browser says on its console that the answer was a refusal.
    with tab.context.new_page() as other:
        other.goto(page.base)
        other.locator("input[type=file]").set_input_files(file)
        told = other.get_by_role("alert").filter(has_text="bowl.ply is empty: export it again.")
        told.wait_for()
        assert other.locator("input[type=file]").is_enabled()  # for another try
    assert set(page.jobs.iterdir()) == before


class Foreign(BaseHTTPRequestHandler):
    """A page of somebody else on this computer: the browser sends our cookie along."""

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>Another page</title><p>Another page</p>")

    def log_message(self, *words: object) -> None:
        """Say nothing."""


@pytest.fixture
def foreign() -> Iterator[str]:
    with ThreadingHTTPServer(("127.0.0.1", 0), Foreign) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()
        thread.join()


TRY = """async (base) => {
    const opened = await new Promise((done) => {
        const socket = new WebSocket(base.replace("http", "ws") +
            "/_nicegui_ws/socket.io/?EIO=4&transport=websocket");
        socket.onopen = () => done(true);
        socket.onerror = () => done(false);
    });
    const framed = await new Promise((done) => {
        const frame = document.createElement("iframe");
        frame.onload = () => done(frame.contentDocument !== null);
        frame.src = base;
        document.body.append(frame);
    });
    const drawn = await new Promise((done) => {
        const script = document.createElement("script");
        script.onload = () => done(true);
        script.onerror = () => done(false);
        script.src = base + "/favicon.ico";
        document.body.append(script);
    });
    let read = true;
    try {
        await (await fetch(base, { credentials: "include" })).text();
    } catch { read = false; }
    await fetch(base + "/scan?name=a.stl", {
        method: "POST", mode: "no-cors", credentials: "include", body: "solid"
    }).catch(() => null);
    return { opened, framed, drawn, read };
}"""


def test_another_page_of_the_same_browser_can_neither_read_nor_send(
    browser: Browser, page: Page, foreign: str
) -> None:
    with tab_at(browser, page.link) as tab:
        before = set(page.jobs.iterdir())
        other = tab.context.new_page()  # not watched: it is meant to fail
        other.goto(foreign)
        answers: list[tuple[str, int]] = []
        other.on("response", lambda answer: answers.append((answer.url, answer.status)))
        got = other.evaluate(TRY, page.base)
        assert got == {"opened": False, "framed": False, "drawn": False, "read": False}
        ours = [status for url, status in answers if url.startswith(page.base)]
        assert ours
        assert set(ours) == {403}
        assert set(page.jobs.iterdir()) == before
        # The same from the page itself is let through, or nothing above says anything.
        answer = tab.evaluate("async () => (await fetch('/')).status")
        assert answer == 200


def test_a_name_of_somebody_else_that_leads_here_is_refused(browser: Browser, page: Page) -> None:
    port = page.base.rpartition(":")[2]
    with tab_at(browser, page.link) as tab:
        other = tab.context.new_page()  # not watched: it is meant to fail
        token = page.link.partition("?")[2]
        answer = other.goto(f"http://{FOREIGN_NAME}:{port}/?{token}")
        assert answer is not None
        assert answer.status == 403
        assert answer.text() == common.REFUSED.format(why=common.OTHER_HOST) + "\n"


def test_the_first_steps_can_be_gone_by_keyboard_alone(tab: Tab) -> None:
    # The first that is reached leads past the heading.
    tab.get_by_role("button", name=start.DEMO).wait_for()
    tab.keyboard.press("Tab")
    assert tab.locator("a.skip").evaluate("one => one === document.activeElement")
    assert tab.locator("a.skip").is_visible()
    tab.keyboard.press("Enter")
    tabbed_to(tab, tab.get_by_role("button", name=start.DEMO))
    tab.keyboard.press("Enter")
    tab.wait_for_url("**/scan")
    tab.get_by_text("Read in millimetres").wait_for()
    tabbed_to(tab, tab.get_by_role("button", name="inches"))
    onward = tab.get_by_role("button", name=common.NEXT.format(title=vessel_words.TITLE))
    tabbed_to(tab, onward)
    tab.keyboard.press("Enter")
    tab.wait_for_url("**/vessel")
    tab.locator("[data-ready=yes]").wait_for()
    canvas = tab.locator("canvas")
    tabbed_to(tab, canvas)
    before = canvas.screenshot()
    tab.keyboard.press("ArrowLeft")
    tab.keyboard.press("ArrowLeft")
    tab.wait_for_timeout(300)
    turned = canvas.screenshot()
    assert turned != before
    tab.keyboard.press("Home")
    tab.wait_for_timeout(1200)
    assert canvas.screenshot() != turned


def test_what_was_begun_is_listed_and_can_be_removed(tab: Tab, page: Page) -> None:
    job = new_job(page.jobs, "to be removed.ply", ".ply")
    damaged = new_job(page.jobs, "damaged.ply", ".ply")
    (damaged.folder / "job.json").write_text("{")
    tab.reload()
    assert tab.get_by_role("link", name="to be removed.ply").is_visible()
    assert tab.get_by_text(f"A vessel whose folder is damaged ({damaged.key})").is_visible()
    for name, one in (("to be removed.ply", job), (f"the damaged vessel {damaged.key}", damaged)):
        tab.get_by_role("button", name=f"Remove {name}").click()
        asked = tab.get_by_role("dialog")
        asked.get_by_text("This cannot be undone.").wait_for()
        assert serious_faults(tab, "[role=dialog]") == []
        asked.get_by_role("button", name=start.NO_KEEP).click()
        asked.wait_for(state="hidden")
        assert one.folder.is_dir()
        tab.get_by_role("button", name=f"Remove {name}").click()
        tab.get_by_role("dialog").get_by_role("button", name=start.YES_REMOVE).click()
        wait_until(lambda one=one: not one.folder.exists(), 5)  # type: ignore[misc]
        tab.get_by_role("button", name=f"Remove {name}").wait_for(state="detached")
    assert tab.get_by_text("damaged.ply").count() == 0
