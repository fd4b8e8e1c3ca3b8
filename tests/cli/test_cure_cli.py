"""`lossfill cure`, from the words typed to the table printed and the calendar written."""

from __future__ import annotations

import json
import os
import re
import shutil
from pathlib import Path

import icalendar
import pytest

from lossfill.cautions import DEFERENCE
from lossfill.cli import main

Capture = pytest.CaptureFixture[str]

GIVEN = ["cure", "--volume", "1.8ml", "--area", "6cm2", "--depth", "1mm", "--waits", "least"]
DATED = [*GIVEN, "--start", "2026-12-01 09:00", "--zone", "Europe/Berlin"]


def said(words: list[str], capsys: Capture) -> str:
    assert main(words) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    return printed.out


def refused(words: list[str], capsys: Capture) -> str:
    assert main(words) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert printed.err.startswith("lossfill: ")
    return printed.err


def test_a_given_volume_is_planned_with_dates(capsys: Capture) -> None:
    out = said([*DATED, "--days-off", "sat,sun", "--coats", "1"], capsys)
    lines = out.splitlines()
    assert lines[0].startswith("Plan of the work: ")
    assert "4 steps of work and 2 of waiting" in lines[0]
    assert "Europe/Berlin" in lines[1]
    assert re.match(r" +date +time +step +losses +wait +ready$", lines[2])
    assert re.match(r"  1 +Tue 2026-12-01  09:00  ", lines[3])
    assert max(map(len, lines)) <= 96
    assert DEFERENCE in " ".join(out.split())
    assert out.count("poison ivy") == 1  # cautions stand once, at the end
    assert "20-30 °C and 65-85 %" in " ".join(out.split())


def test_without_a_start_days_are_counted(capsys: Capture) -> None:
    out = said(GIVEN, capsys)
    assert re.search(r"^  1   day 1 +09:00  ", out, re.MULTILINE)
    assert re.search(r"^  2   day 2 +09:30  ", out, re.MULTILINE)
    assert "202" not in out.partition("Please note")[0]  # no year anywhere


def test_a_box_out_of_range_is_flagged(capsys: Capture) -> None:
    out = said([*GIVEN, "--temperature", "12", "--humidity", "50"], capsys)
    assert out.count("OUT OF RANGE") == 2
    assert "OUT OF RANGE" not in said([*GIVEN, "--temperature", "24", "--humidity", "75"], capsys)


def test_the_folder_of_a_design_is_planned(
    tea_bowl_folder: Path, tmp_path: Path, capsys: Capture
) -> None:
    folder = Path(shutil.copytree(tea_bowl_folder, tmp_path / "bowl"))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    file = tmp_path / "plan.ics"
    words = ["cure", str(folder), "--start", "2026-12-01", "--metal", "brass powder"]
    out = said([*words, "--calendar", str(file)], capsys)
    assert re.search(r"  1, 2  ", out)  # both losses share a step
    assert str(file) in out
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    read = icalendar.Calendar.from_ical(file.read_bytes())
    assert str(read.walk("VEVENT")[0]["summary"]).startswith("bowl: ")


def test_json_is_one_document_that_agrees_with_the_calendar(
    tmp_path: Path, capsys: Capture
) -> None:
    file = tmp_path / "plan.ics"
    document = json.loads(said([*DATED, "--calendar", str(file), "--json"], capsys))
    assert document["calendar"] == str(file)
    assert document["cautions"][-1] == DEFERENCE
    assert [step["number"] for step in document["steps"]] == list(
        range(1, len(document["steps"]) + 1)
    )
    events = icalendar.Calendar.from_ical(file.read_bytes()).walk("VEVENT")
    starts = [event["dtstart"].dt.isoformat() for event in events if "dtend" in event]
    assert starts == [
        step["starts"] for step in document["steps"] if not step["work"].startswith("cur")
    ]
    undated = json.loads(said([*GIVEN, "--json"], capsys))
    assert undated["calendar"] is None
    assert all(step["starts"] is None for step in undated["steps"])


def test_our_calendar_is_replaced_and_no_other(tmp_path: Path, capsys: Capture) -> None:
    file = tmp_path / "plan.ics"
    words = [*DATED, "--calendar", str(file)]
    said(words, capsys)
    first = file.read_bytes()
    said(words, capsys)
    assert file.read_bytes() == first
    said([*words, "--title", "blue jar"], capsys)
    assert b"SUMMARY:blue jar: " in file.read_bytes()
    other = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//someone//EN\r\nEND:VCALENDAR\r\n"
    file.write_bytes(other)
    assert "was not written by lossfill" in refused(words, capsys)
    assert file.read_bytes() == other
    assert [path.name for path in tmp_path.iterdir()] == ["plan.ics"]


@pytest.mark.skipif(os.name == "nt", reason="rights of files are of another kind there")
def test_the_calendar_gets_the_rights_of_any_new_file(tmp_path: Path, capsys: Capture) -> None:
    file, plain = tmp_path / "plan.ics", tmp_path / "plain"
    said([*DATED, "--calendar", str(file)], capsys)
    plain.touch()
    assert file.stat().st_mode == plain.stat().st_mode


def test_a_calendar_that_cannot_be_written_leaves_nothing(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = [*DATED, "--calendar"]
    assert "cannot write" in refused([*words, str(tmp_path / "none" / "plan.ics")], capsys)
    assert "is a folder" in refused([*words, str(tmp_path)], capsys)

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    said([*words, str(tmp_path / "plan.ics")], capsys)
    before = (tmp_path / "plan.ics").read_bytes()
    monkeypatch.setattr("lossfill.cure.write.os.replace", fail)
    told = refused([*words, str(tmp_path / "plan.ics"), "--title", "jar"], capsys)
    assert "No space left on device" in told
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"plan.ics": before}


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (["--start", "soon"], "not a date and time"),
        (["--start", "2026-02-30 09:00"], "not a date and time"),
        (["--zone", "Europe/Berlin"], "give a start"),
        (["--days-off", "sat"], "give a start"),
        (["--start", "2026-12-01", "--zone", "Europe/Atlantis"], "not known"),
        (["--start", "2026-03-29 02:30", "--zone", "Europe/Berlin"], "clocks skip it"),
        (["--start", "2026-12-01", "--days-off", "mon,tue,wed,thu,fri,sat,sun"], "all seven days"),
        (["--start", "2026-12-01", "--days-off", "2026-12-26..2026-12-24"], "end before they"),
        (["--start", "2026-12-01", "--days-off", "sometimes"], "not understood"),
        (["--hours", "17-9"], "end before they begin"),
        (["--hours", "late"], "not understood"),
        (["--step", "1"], "outside 5 to 480"),
        (["--temperature", "400"], "outside -40 to 200"),
        (["--humidity", "-1"], "outside 0 to 100"),
        (["--waits", "some"], "some"),
        (["--calendar", "plan.ics"], "a calendar needs dates"),
        (["--fill-with", "unobtainium"], "unobtainium"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(
    words: list[str], reason: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    told = refused(["cure", "--volume", "1.8ml", "--area", "6cm2", *words], capsys)
    assert reason in told
    assert list(tmp_path.iterdir()) == []


def test_neither_folder_nor_volume_is_refused(capsys: Capture) -> None:
    assert "--volume 1.8ml" in refused(["cure"], capsys)
