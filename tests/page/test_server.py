"""The page as the command starts it, over the wire and without a browser."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from page.pages import DEMO, ROOT, Page, served, wait_until

from lossfill.page.choices import Stage
from lossfill.page.jobs import Job, new_job
from lossfill.page.runner import Runner

pytestmark = pytest.mark.skipif(
    sys.platform != "linux", reason="the list of processes is read as Linux keeps it"
)

# A step whose page fails, and a route that fails, in the server's process alone.
FAULTS = """
from lossfill.page import steps
def fail(context): raise KeyError("the secret place")
steps.STEPS = (*steps.STEPS, steps.Step("broken", "Broken", steps.Stage.VESSEL, fail))
from nicegui import app
@app.get("/fault")
def fault(): raise KeyError("the secret place")
"""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    with served(tmp_path_factory.mktemp("served") / "jobs", before=FAULTS) as one:
        yield one


def command(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "lossfill", "page", "--no-browser", *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        timeout=60,
    )


def test_a_port_that_is_taken_is_one_line(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = command("--jobs", str(tmp_path), "--port", str(port))
    assert done.returncode == 2
    assert done.stderr == (
        f"lossfill: port {port} cannot be used (Address already in use): give another with --port\n"
    )
    assert done.stdout == ""


@pytest.mark.parametrize("port", ["0", "65536", "-1"])
def test_no_port_at_all_is_one_line(port: str, tmp_path: Path) -> None:
    done = command("--jobs", str(tmp_path), f"--port={port}")
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert f"{port} is no port: give one from 1 to 65535, or none" in done.stderr


def test_a_folder_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    done = command("--jobs", str(tmp_path / "file" / "jobs"))
    assert done.returncode == 2
    assert done.stderr.startswith("lossfill: cannot write to the folder ")
    assert done.stderr.endswith("give another with --jobs\n")
    assert done.stderr.count("\n") == 1


def test_it_listens_on_this_computer_alone(page: Page) -> None:
    (port,) = (int(part) for part in page.base.rsplit(":", 1)[1:])
    listening = {
        line.split()[1]
        for name in ("tcp", "tcp6")
        for line in Path(f"/proc/net/{name}").read_text().splitlines()[1:]
        if line.split()[3] == "0A" and line.split()[1].endswith(f":{port:04X}")
    }
    assert listening == {f"0100007F:{port:04X}"}  # 127.0.0.1, its bytes turned about


def test_foreign_hosts_and_origins_are_refused_over_the_wire(page: Page) -> None:
    with page.client() as client:
        assert client.get("/").status_code == 200
        for headers in (
            {"Host": "pots.example"},
            {"Origin": "http://pots.example"},
            {"Origin": "null"},
            {"Sec-Fetch-Site": "cross-site"},
            {"Cookie": ""},
        ):
            answer = client.get("/", headers=headers)
            assert answer.status_code == 403, headers
            assert answer.text.startswith("Refused: ")
            sent = client.post("/scan?name=a.stl", headers=headers, content=b"x")
            assert sent.status_code == 403, headers


def test_a_foreign_web_socket_is_refused(page: Page) -> None:
    port = int(page.base.rsplit(":", 1)[1])
    token = page.link.partition("token=")[2]

    def opened(origin: str, cookie: str) -> str:
        lines = [
            "GET /_nicegui_ws/socket.io/?EIO=4&transport=websocket HTTP/1.1",
            f"Host: 127.0.0.1:{port}",
            "Connection: Upgrade",
            "Upgrade: websocket",
            "Sec-WebSocket-Version: 13",
            "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
            f"Origin: {origin}",
            f"Cookie: lossfill_token_{port}={cookie}",
        ]
        with socket.create_connection(("127.0.0.1", port), timeout=10) as wire:
            wire.sendall(("\r\n".join(lines) + "\r\n\r\n").encode())
            return wire.recv(12).decode()

    assert opened(page.base, token) == "HTTP/1.1 101"
    assert opened("http://pots.example", token) == "HTTP/1.1 403"
    assert opened("null", token) == "HTTP/1.1 403"
    assert opened(page.base, "wrong") == "HTTP/1.1 403"


def test_the_socket_layer_itself_knows_only_our_origins() -> None:
    """NiceGUI calls the setting by an internal name: this tells when that changes."""
    code = (
        "from nicegui import core, ui\n"
        "assert core.sio.eio.cors_allowed_origins == '*', core.sio.eio.cors_allowed_origins\n"
        "ui.run = lambda **more: None\n"
        "from pathlib import Path\n"
        "from lossfill.page.serve import serve\n"
        "serve(Path('nowhere'), port=None, show=False)\n"
        "print(*core.sio.eio.cors_allowed_origins)\n"
    )
    kept = {name: value for name, value in os.environ.items() if name != "PYTEST_CURRENT_TEST"}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT, env=kept
    )
    one, two = done.stdout.split()
    assert one.startswith("http://127.0.0.1:")
    assert two == one.replace("127.0.0.1", "localhost")


def test_only_a_jobs_own_files_are_sent(page: Page) -> None:
    job = new_job(page.jobs, "a.ply", ".ply")
    (job.folder / "vessel.mesh").write_bytes(b"mesh")
    (job.folder / "pack").mkdir()
    (job.folder / "pack" / "sheet.svg").write_text("<svg/>")
    (job.folder / ".vessel.mesh.new").write_bytes(b"half")
    (page.jobs / "secret").write_text("secret")
    (job.folder / "link").symlink_to(page.jobs / "secret")
    (job.folder / "round").symlink_to(job.folder / "round")
    other = new_job(page.jobs, "b.ply", ".ply")
    with page.client() as client:
        for name, content in (("vessel.mesh", b"mesh"), ("pack/sheet.svg", b"<svg/>")):
            answer = client.get(f"/files/{job.key}/{name}")
            assert (answer.status_code, answer.content) == (200, content)
            assert answer.headers["content-security-policy"] == "sandbox"
            assert answer.headers["x-content-type-options"] == "nosniff"
        for name in (
            "nothing",
            "",
            "pack",
            "link",
            "round",
            ".vessel.mesh.new",
            "%2e%2e/secret",
            "%2e%2e%2fsecret",
            f"..%2f{other.key}%2fjob.json",
            "%2fetc%2fhostname",
            "/etc/hostname",
            "a%00b",
            "%ff",
            "x" * 3000,
        ):
            answer = client.get(f"/files/{job.key}/{name}")
            assert answer.status_code == 404, name
            assert "secret" not in answer.text
        for key in ("0" * 16, "..", "%2e%2e", other.key + "0"):
            assert client.get(f"/files/{key}/job.json").status_code == 404, key


def jobs_in(page: Page) -> set[str]:
    return {path.name for path in page.jobs.iterdir()}


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("bowl.exe", b"x", "bowl.exe is no scan that can be read here: export it as STL"),
        ("../../x.ply", b"", "x.ply is empty: export it again"),
        ("", b"x", "scan is no scan that can be read here"),
    ],
)
def test_what_cannot_be_taken_is_a_sentence(
    name: str, content: bytes, told: str, page: Page
) -> None:
    before = jobs_in(page)
    with page.client() as client:
        answer = client.post("/scan", params={"name": name}, content=content)
    assert answer.status_code == 422
    assert answer.json()["failed"].startswith(told)
    assert jobs_in(page) == before


def raw(page: Page, *lines: str, body: bytes = b"") -> socket.socket:
    port = int(page.base.rsplit(":", 1)[1])
    token = page.link.partition("token=")[2]
    told = [
        *lines,
        f"Host: 127.0.0.1:{port}",
        f"Cookie: lossfill_token_{port}={token}",
        "\r\n",
    ]
    wire = socket.create_connection(("127.0.0.1", port), timeout=10)
    wire.sendall("\r\n".join(told).encode() + body)
    return wire


def test_a_declared_size_over_the_limit_is_answered_before_it_is_sent(page: Page) -> None:
    before = jobs_in(page)
    with raw(page, "POST /scan?name=a.stl HTTP/1.1", "Content-Length: 500000001") as wire:
        answer = b"".join(iter(lambda: wire.recv(4096), b"")).decode()
    assert answer.startswith("HTTP/1.1 422")
    assert "a.stl is larger than 500 MB: export a coarser scan" in answer
    assert jobs_in(page) == before


def test_a_client_that_breaks_off_leaves_nothing(page: Page) -> None:
    before = jobs_in(page)
    told = len(page.told)
    wire = raw(page, "POST /scan?name=a.stl HTTP/1.1", "Content-Length: 100000", body=b"x" * 50_000)
    wait_until(lambda: jobs_in(page) != before, 10)
    wire.close()
    wait_until(lambda: jobs_in(page) == before, 10)
    assert page.told[told:] == []


def test_a_fault_is_a_sentence_and_never_a_trace(page: Page) -> None:
    key = new_job(page.jobs, "a.ply", ".ply").key
    told = len(page.told)
    with page.client() as client:
        shown = client.get(f"/job/{key}/broken")
        plain = client.get("/fault")
    assert shown.status_code == plain.status_code == 500
    assert "lossfill made a mistake here (KeyError); your scan is unharmed" in shown.text
    assert plain.text.startswith("lossfill made a mistake here (KeyError); your scan is unharmed")
    for text in (shown.text, plain.text):
        assert "Traceback" not in text
        assert "secret place" not in text
    # The terminal has a line for each, with the place, so that it can be reported.
    wait_until(lambda: len(page.told) >= told + 2, 5)
    assert all("a fault in the page: KeyError" in line for line in page.told[told:])
    assert not any("Traceback" in line for line in page.told)


def test_huge_headers_are_refused_and_the_page_goes_on(page: Page) -> None:
    for line in ("X-More: " + "x" * 1_000_000, "Cookie: " + "a=b; " * 100_000):
        # It may also break off before all of it is sent.
        with contextlib.suppress(ConnectionError), raw(page, "GET / HTTP/1.1", line) as wire:
            assert wire.recv(100).startswith(b"HTTP/1.1 4")
        with page.client() as client:
            assert client.get("/").status_code == 200


def test_no_page_and_no_job_are_sentences(page: Page) -> None:
    with page.client() as client:
        nothing = client.get("/nothing")
        assert nothing.status_code == 404
        assert "There is no such page." in nothing.text
        for key in ("0" * 16, "x", "%2e%2e"):
            gone = client.get(f"/job/{key}/scan")
            assert "This vessel is no longer here." in gone.text or gone.status_code == 404
        job = new_job(page.jobs, "a.ply", ".ply")
        assert "This vessel is no longer here." in client.get(f"/job/{job.key}/nothing").text


def test_a_damaged_job_spoils_neither_the_list_nor_the_others(page: Page) -> None:
    damaged = new_job(page.jobs, "damaged.ply", ".ply")
    sound = new_job(page.jobs, "sound <b>&amp; whole</b>.ply", ".ply")
    (damaged.folder / "job.json").write_text("{")
    with page.client() as client:
        listed = client.get("/")
        assert listed.status_code == 200
        assert f"A vessel whose folder is damaged ({damaged.key})" in listed.text
        assert sound.key in listed.text
        own = client.get(f"/job/{damaged.key}/scan")
        assert "This job cannot be read any more: start it again." in own.text
        # A name is shown as it is and does nothing, in the tab's own title too.
        shown = client.get(f"/job/{sound.key}/scan").text
        assert "<b>" not in shown
        assert "<title>Scan – b&gt;.ply – lossfill</title>" in shown


def test_a_broken_scan_is_a_sentence_on_its_page(page: Page) -> None:
    key = page.send("../../pot.ply", os.urandom(3000))
    job = Job(page.jobs / key)
    wait_until(lambda: Stage.VESSEL in job.read().failed, 30)
    with page.client() as client:
        text = client.get(f"/job/{key}/vessel").text
    assert "pot.ply: it is named .ply but holds something else" in text
    assert "Traceback" not in text


@pytest.mark.parametrize("way", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_no_worker_outlives_the_page_and_what_was_under_way_can_go_on(
    way: signal.Signals, tmp_path: Path
) -> None:
    with served(tmp_path) as page:
        with page.client() as client:
            answer = client.post("/scan?name=bowl.ply", content=DEMO.read_bytes())
        key = answer.json()["link"].split("/")[2]
        # An upload that stands still holds nobody up.
        stalled = raw(page, "POST /scan?name=a.stl HTTP/1.1", "Content-Length: 9", body=b"x")
        wait_until(lambda: page.workers() != [], 20)
        page.process.send_signal(way)
        page.process.wait(10)
        stalled.close()
        wait_until(lambda: page.workers() == [], 5)
    assert page.process.returncode == (130 if way is signal.SIGINT else -way)
    if way is signal.SIGINT:
        assert page.told == ["lossfill: stopped from the keyboard\n"]
    state = json.loads((tmp_path / key / "job.json").read_text())
    assert (state["running"], state["done"], state["failed"]) == ("vessel", {}, {})


def test_after_a_restart_the_jobs_are_there_and_can_go_on(tmp_path: Path) -> None:
    job = new_job(tmp_path, "bowl.ply", ".ply")
    (job.folder / "scan.ply").write_bytes(DEMO.read_bytes())
    job.write(job.read().model_copy(update={"running": Stage.VESSEL}))
    with served(tmp_path) as page, page.client() as client:
        assert "bowl.ply" in client.get("/").text
        text = client.get(f"/job/{job.key}/scan").text
        assert "The work was interrupted before it was done." in text
        assert "Go on" in text
        assert page.workers() == []  # nothing begins by itself
    assert Runner().progress(job) is None


def test_two_pages_have_cookies_of_their_own(page: Page, tmp_path: Path) -> None:
    with served(tmp_path) as other, httpx.Client(trust_env=False) as client:
        for one in (page, other, page):
            assert client.get(one.link, follow_redirects=True).status_code == 200
        assert client.get(page.base).status_code == client.get(other.base).status_code == 200
