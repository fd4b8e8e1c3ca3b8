from __future__ import annotations

import importlib
import io
import json
import os
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from cli.stand_ins import CHECK, CHECKS, FILLS, FRAME, MADE, SCAN, WARNINGS, Road

from lossfill import Settings, Unit, __version__
from lossfill.cli import main
from lossfill.cli.app import FormName, default_folder
from lossfill.errors import (
    AlignmentError,
    AmbiguousShapeError,
    BooleanError,
    ExportError,
    InputError,
    LossfillError,
    NotWatertightError,
)
from lossfill.pack.gate import require_passed
from lossfill.pack.record import FillRecord, FramePart, InputPart, LossPart, RepairPart

Capture = pytest.CaptureFixture[str]


def test_fill_writes_where_it_is_told_and_says_so(
    road: Road, tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "deep" / "out"
    assert main(["fill", "bowl.ply", "--out", str(out)]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    assert "Loss 1: rim loss at 2:30" in printed.out
    assert "Loss 2: chip" in printed.out
    assert str(out / "piece_1.stl") in printed.out
    assert str(out / "piece_2.3mf") in printed.out
    assert "the break is worn near the lip" in printed.out
    assert "Take care" in printed.out
    assert f"Files in {out}\n  after.png\n" in printed.out


def test_options_reach_the_road(road: Road, tmp_path: Path) -> None:
    arguments = ["--units", "in", "--clearance", "0", "--seed", "7", "--no-pictures"]
    assert main(["fill", "bowl.ply", "--out", str(tmp_path / "o"), *arguments]) == 0
    name, path, settings, progress = road.calls[0]
    assert (name, path) == ("design", Path("bowl.ply"))
    assert settings == Settings(clearance_mm=0.0, units=Unit.INCH, seed=7)
    assert progress is None  # standard error is not a terminal here
    assert not (tmp_path / "o" / "after.png").exists()


def test_a_twin_may_be_scaled_and_nothing_is_scaled_without_one(
    road: Road, capsys: Capture
) -> None:
    assert main(["measure", "bowl.ply", "--twin", "second.ply", "--twin-scale"]) == 0
    assert road.calls[0][2] == Settings(twin=Path("second.ply"), twin_scaled=True)
    assert main(["measure", "bowl.ply", "--twin-scale"]) == 2
    assert "give its scan with --twin" in capsys.readouterr().err


def test_losses_may_be_pointed_at_by_clock_and_height(road: Road, tmp_path: Path) -> None:
    at = ["--at", "4:30,62mm", "--at", "12, 7.5"]
    assert main(["measure", "bowl.ply", *at]) == 0
    # 4.5 hours clockwise of 30 degrees each: 360 - 135.
    assert road.calls[0][2] == Settings(pointed_at=((225.0, 62.0), (0.0, 7.5)))
    assert main(["fill", "bowl.ply", "--out", str(tmp_path / "o"), *at]) == 0
    assert road.calls[1][2] == road.calls[0][2]


def test_defaults_are_those_of_the_road(road: Road, tmp_path: Path) -> None:
    assert main(["fill", "bowl.ply", "--out", str(tmp_path / "o")]) == 0
    assert road.calls[0][2] == Settings()


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("mm", Unit.MILLIMETRE),
        ("cm", Unit.CENTIMETRE),
        ("m", Unit.METRE),
        ("in", Unit.INCH),
        ("micron", Unit.MICRON),
        ("ft", Unit.FOOT),
    ],
)
def test_every_unit_has_a_name(road: Road, name: str, unit: Unit) -> None:
    assert main(["inspect", "bowl.ply", "--units", name]) == 0
    assert road.calls[0][2] == Settings(units=unit)


def test_the_folder_without_out_is_named_after_the_scan(
    road: Road, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["fill", "/elsewhere/tea_bowl_scan.ply"]) == 0
    assert (tmp_path / "tea_bowl_fill" / "fill.json").is_file()
    assert default_folder(Path("a/mug.stl")) == Path("mug_fill")


def test_fill_json_is_the_record_alone(road: Road, tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / "o"
    assert main(["fill", "bowl.ply", "--out", str(out), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document.pop("folder") == str(out)
    assert document == json.loads((out / "fill.json").read_text(encoding="utf-8"))


def test_inspect_and_measure_print_words(road: Road, capsys: Capture) -> None:
    assert main(["inspect", "bowl.ply"]) == 0
    words = capsys.readouterr().out
    assert "74 mm high" in words
    assert "Loss 1" not in words
    assert main(["measure", "bowl.ply"]) == 0
    assert "Loss 1: rim loss" in capsys.readouterr().out
    assert [call[0] for call in road.calls] == ["inspect", "measure"]


def test_inspect_and_measure_print_json(road: Road, capsys: Capture) -> None:
    assert main(["inspect", "bowl.ply", "--json"]) == 0
    inspected = json.loads(capsys.readouterr().out)
    assert inspected["frame"]["height_mm"] == 74.2
    assert inspected["input"]["unit"] == "millimetre"
    assert inspected["repairs"][0]["place_mm"] == [12.0, -3.14, 40.0]
    assert "losses" not in inspected
    assert main(["measure", "bowl.ply", "--json"]) == 0
    measured = json.loads(capsys.readouterr().out)
    assert [loss["kind"] for loss in measured["losses"]] == ["rim", "chip"]
    assert measured["losses"][0]["volume_ml"] == 9.428
    assert measured["warnings"] == list(WARNINGS)


def test_json_names_are_those_of_the_record(road: Road, capsys: Capture) -> None:
    assert main(["measure", "bowl.ply", "--json"]) == 0
    measured = json.loads(capsys.readouterr().out)
    assert set(measured) < set(FillRecord.model_fields)
    assert set(measured["input"]) == set(InputPart.model_fields)
    assert set(measured["frame"]) == set(FramePart.model_fields)
    assert set(measured["repairs"][0]) == set(RepairPart.model_fields)
    assert set(measured["losses"][0]) < set(LossPart.model_fields)


def test_a_number_that_is_not_finite_is_our_fault_not_json(road: Road, capsys: Capture) -> None:
    road.made = replace(MADE, frame=replace(FRAME, wall_mm=float("nan")))
    assert main(["inspect", "bowl.ply", "--json"]) == 1
    assert capsys.readouterr().out == ""


def test_no_loss_is_no_error_and_writes_nothing(
    road: Road, tmp_path: Path, capsys: Capture
) -> None:
    road.made = replace(MADE, losses=(), fills=())
    out = tmp_path / "o"
    assert main(["fill", "bowl.ply", "--out", str(out)]) == 0
    printed = capsys.readouterr().out
    assert "No loss found." in printed
    assert "Nothing was written." in printed
    assert not out.exists()
    assert main(["fill", "bowl.ply", "--out", str(out), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["losses"] == []
    assert document["folder"] is None


def test_a_loss_without_a_piece_is_said(road: Road, tmp_path: Path, capsys: Capture) -> None:
    road.made = replace(MADE, fills=FILLS[:1])
    assert main(["fill", "bowl.ply", "--out", str(tmp_path / "o")]) == 0
    first, second = capsys.readouterr().out.split("Loss 2: chip")
    assert "none was made" not in first
    assert "none was made: see the notes below" in second
    assert "piece_2" not in second


def test_a_failed_check_is_said(
    road: Road, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(CHECKS, 1, replace(CHECK, one_part=False))
    assert main(["fill", "bowl.ply", "--out", str(tmp_path / "o")]) == 0
    assert "IN SEVERAL PARTS" in capsys.readouterr().out


def test_a_piece_that_fails_on_its_file_is_our_fault(
    road: Road, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_made: object, _out: Path, **_options: object) -> None:
        require_passed(replace(CHECK, clash_mm3=3.2), "piece_1.stl")

    monkeypatch.setattr(importlib.import_module("lossfill.pack"), "write_pack", refuse)
    assert main(["fill", "bowl.ply", "--out", str(tmp_path / "o")]) == 1
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "a fault in lossfill" in printed.err
    assert "piece_1.stl failed its check and nothing was written: it overlaps" in printed.err
    assert "to report it" in printed.err


def test_brackets_in_a_path_are_printed_as_they_are(
    road: Road, tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "[bold]bowl[/bold] :smile:"
    assert main(["fill", "bowl.ply", "--out", str(out)]) == 0
    assert str(out) in capsys.readouterr().out


def test_a_terminal_without_our_signs_gets_a_question_mark(
    road: Road, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(kept, encoding="ascii"))
    assert main(["measure", "bowl.ply"]) == 0
    sys.stdout.flush()
    assert b"62 mm around ? 31 mm along" in kept.getvalue()


@pytest.mark.parametrize(
    "kind",
    [InputError, NotWatertightError, AlignmentError, AmbiguousShapeError, ExportError],
)
def test_bad_input_is_one_line_and_exit_2(
    road: Road, tmp_path: Path, capsys: Capture, kind: type[LossfillError]
) -> None:
    road.error = kind("the file is empty:\nexport the scan again")
    out = tmp_path / "o"
    assert main(["fill", "bowl.ply", "--out", str(out)]) == 2
    printed = capsys.readouterr()
    assert printed.err == "lossfill: the file is empty: export the scan again\n"
    assert printed.out == ""
    assert not out.exists()


@pytest.mark.parametrize("error", [BooleanError("cut failed"), ValueError("shapes (3,) (4,)")])
def test_our_fault_says_how_to_report_and_exits_1(
    road: Road, capsys: Capture, error: Exception
) -> None:
    road.error = error
    assert main(["measure", "my bowl.ply"]) == 1
    fault, report = capsys.readouterr().err.splitlines()
    assert fault.startswith("lossfill: a fault in lossfill")
    assert str(error) in fault
    assert type(error).__name__ in fault
    assert f"lossfill {__version__}" in report
    assert "lossfill measure 'my bowl.ply'" in report
    assert "LOSSFILL_TRACEBACK=1" in report


def test_the_trace_is_shown_on_demand(
    road: Road, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    road.error = ValueError("boom")
    monkeypatch.setenv("LOSSFILL_TRACEBACK", "1")
    assert main(["measure", "bowl.ply"]) == 1
    assert "Traceback (most recent call last)" in capsys.readouterr().err
    monkeypatch.setenv("LOSSFILL_TRACEBACK", "0")
    assert main(["measure", "bowl.ply"]) == 1
    assert "Traceback" not in capsys.readouterr().err


def test_the_keyboard_stops_it_in_one_line(road: Road, capsys: Capture) -> None:
    road.error = KeyboardInterrupt()
    assert main(["inspect", "bowl.ply"]) == 130
    assert capsys.readouterr().err == "lossfill: stopped from the keyboard\n"


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["fil"],
        ["fill"],
        ["fill", "bowl.ply", "--bogus"],
        ["fill", "bowl.ply", "--clearance", "1.01"],
        ["fill", "bowl.ply", "--clearance", "-0.01"],
        ["fill", "bowl.ply", "--clearance", "nan"],
        ["fill", "bowl.ply", "--clearance", "thick"],
        ["inspect", "bowl.ply", "--units", "yard"],
        ["measure", "bowl.ply", "--seed", "-1"],
        ["measure", "bowl.ply", "--at", "4:30"],
        ["measure", "bowl.ply", "--at", "13:00,62mm"],
        ["measure", "bowl.ply", "--at", "4:30,62cm"],
    ],
)
def test_wrong_usage_is_one_line_and_exit_2(
    road: Road, capsys: Capture, arguments: list[str]
) -> None:
    assert main(arguments) == 2
    printed = capsys.readouterr()
    assert printed.err.startswith("lossfill: ")
    assert printed.err.count("\n") == 1
    assert printed.out == ""
    assert road.calls == []


@pytest.mark.parametrize("clearance", ["0", "1"])
def test_the_ends_of_the_clearance_are_allowed(road: Road, tmp_path: Path, clearance: str) -> None:
    assert main(["fill", "b.ply", "--out", str(tmp_path / "o"), "--clearance", clearance]) == 0


def test_a_file_in_the_way_of_the_folder_is_said_before_the_work(
    road: Road, tmp_path: Path, capsys: Capture
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    for out in (taken, taken / "below"):
        assert main(["fill", "bowl.ply", "--out", str(out)]) == 2
        assert "give another" in capsys.readouterr().err
    assert road.calls == []
    assert taken.read_text(encoding="utf-8") == "mine"


def test_a_folder_of_someone_else_is_said_before_the_work(
    road: Road, tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    assert main(["fill", "bowl.ply", "--out", str(tmp_path)]) == 2
    assert "not from an earlier run" in capsys.readouterr().err
    assert road.calls == []


def test_a_folder_without_permission_is_said_before_the_work(
    road: Road, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The administrator may write anywhere, so the permission itself is stood in for.
    monkeypatch.setattr(os, "access", lambda _path, _mode: False)
    assert main(["fill", "bowl.ply", "--out", str(tmp_path / "o")]) == 2
    assert "may not be written to" in capsys.readouterr().err
    assert road.calls == []


def test_version(capsys: Capture) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"lossfill {__version__}\n"


def test_the_scan_in_the_summary_is_the_one_read(road: Road, capsys: Capture) -> None:
    road.made = replace(MADE, scan=replace(SCAN, path=Path("a/cup.stl")))
    assert main(["inspect", "a/cup.stl"]) == 0
    assert capsys.readouterr().out.startswith("Vessel in cup.stl\n")


def test_every_way_to_find_the_form_can_be_typed() -> None:
    from lossfill.form.sources import NAMES

    assert tuple(name.value for name in FormName) == NAMES
