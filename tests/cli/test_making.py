"""`lossfill make` and `lossfill check`, from the words typed to the files and the words printed."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
import trimesh

from lossfill.cli import main
from lossfill.make.made import Made, Proved
from lossfill.make.things import MAKERS

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def folder(tea_bowl_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(tea_bowl_folder, tmp_path / "bowl"))


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_things_are_made_listed_and_explained(folder: Path, capsys: Capture) -> None:
    before = set(contents(folder))
    words = ["make", str(folder), "piece", "stack", "--loss", "2", "--date", "2026-01-31"]
    assert main(words) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    new = set(contents(folder)) - before
    assert {"loss_2_print.stl", "loss_2_print.3mf", "loss_2_stack.pdf", "made.json"} <= new
    for name in new - {"made.json"}:
        assert f"  file          {folder / name}\n" in printed.out
    assert "Loss 2: piece" in printed.out
    assert "Loss 1" not in printed.out
    assert "local rules" in " ".join(printed.out.split())


def test_json_is_the_record_alone(folder: Path, capsys: Capture) -> None:
    assert main(["make", str(folder), "piece", "--loss", "2", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    held = json.loads((folder / "made.json").read_text(encoding="utf-8"))
    assert document == {"folder": str(folder)} | held
    assert all(one["passed"] for thing in held["things"] for one in thing["proved"])


def test_what_does_not_suit_a_loss_is_said(folder: Path, capsys: Capture) -> None:
    assert main(["make", str(folder), "piece,backing", "--loss", "2"]) == 0
    words = " ".join(capsys.readouterr().out.split())
    assert "Not made - backing for loss 2:" in words


def test_a_limit_that_is_missed_is_told_once_more_at_the_end(
    folder: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    missed = Proved("wall short of that asked, mm", 0.3, 0.1)
    made = Made("rib", 2, proved=(missed, Proved("length, mm", 0.0, 1.0)))
    monkeypatch.setitem(MAKERS, "rib", lambda _brief, _settings: made)
    assert main(["make", str(folder), "rib", "--loss", "2"]) == 0
    printed = capsys.readouterr().out
    assert "wall short of that asked, mm: 0.30 (NOT KEPT, may be 0.10)" in printed
    told = "Look at these before you use them: a limit was not kept\n"
    assert printed.endswith(f"{told}  - rib for loss 2: wall short of that asked, mm\n")


def test_shrinkage_makes_it_larger(folder: Path) -> None:
    assert main(["make", str(folder), "piece", "--loss", "2", "--shrink", "10"]) == 0
    larger = trimesh.load_mesh(folder / "loss_2_print.stl").volume
    plain = trimesh.load_mesh(folder / "piece_2.stl").volume
    assert larger / plain == pytest.approx(1 / 0.9**3, rel=1e-4)  # 1/(1 - s) each way


def test_a_piece_is_fitted_anew_and_said_so(folder: Path, capsys: Capture) -> None:
    words = ["make", str(folder), "piece", "--loss", "2", "--clearance", "0.3"]
    assert main(words) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "piece 2 was fitted anew: it goes in from" in printed
    assert "proved all the way" in printed
    thinner = trimesh.load_mesh(folder / "loss_2_print.stl").volume
    assert thinner < trimesh.load_mesh(folder / "piece_2.stl").volume


def test_wood_is_given_room_to_swell(folder: Path, capsys: Capture) -> None:
    words = ["make", str(folder), "piece", "--loss", "2", "--wood", "beech", "--humidity", "40-65"]
    assert main(words) == 0
    assert "swells by up to" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["vase"], f"'vase' cannot be made: name some of {', '.join(MAKERS)}, or all"),
        (["piece", "--clearance", "-0.1"], "-0.1 mm is outside 0 to 1 mm"),
        (["piece", "--setback-inside", "1.5"], "1.5 mm is outside 0 to 1 mm"),
        (["piece", "--shrink", "100"], "shrinkage along is 100 %"),
        (["piece", "--shrink", "-2"], "shrinkage along is -2 %"),
        (["piece", "--loss", "7"], "there is no piece for loss 7: this design has 1, 2"),
        (["piece", "--formats", "step"], "'step' is no format for solids"),
        (["piece", "--date", "31.1.2026"], "'31.1.2026' is not a date such as 2026-01-31"),
        (["piece", "--wood", "beech"], "give --humidity, such as 40-65"),
        (["piece", "--humidity", "40-65"], "name it with --wood"),
        (["piece", "--wood", "beech", "--humidity", "65-40"], "give the lower one first"),
        (["piece", "--wood", "stone", "--humidity", "40-65"], "no figures for the wood 'stone'"),
        (["backing", "--margin", "500"], "margin"),
        (["mould", "--mould-wall", "-1"], "wall"),
        (["stack", "--board", "0"], "board"),
        (["stack", "--sheet", "20"], "'20' is not two numbers such as 300x200"),
        (["stack", "--sheet", "20x20"], "smaller than the largest layer"),
        (["gauges", "--levels", "1"], "choose 2 to 30"),
    ],
)
def test_bad_settings_are_one_line_and_nothing_is_written(
    folder: Path, capsys: Capture, words: list[str], told: str
) -> None:
    before = contents(folder)
    assert main(["make", str(folder), *words]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert told in printed.err
    assert contents(folder) == before


def test_a_folder_without_a_design_is_refused(tmp_path: Path, capsys: Capture) -> None:
    assert main(["make", str(tmp_path), "piece"]) == 2
    assert "holds no design" in capsys.readouterr().err


def test_fill_refuses_a_wrong_name_before_it_works(tmp_path: Path, capsys: Capture) -> None:
    assert main(["fill", "no_such_scan.ply", "--make", "vase"]) == 2
    assert "'vase' cannot be made" in capsys.readouterr().err


@pytest.mark.slow
def test_fill_makes_things_in_one_go(tmp_path: Path, capsys: Capture) -> None:
    scan = Path(__file__).parents[2] / "meshes" / "two_handled_cup_scan.ply"
    out = tmp_path / "cup"
    words = ["fill", str(scan), "--units", "mm", "--no-pictures", "--make", "piece,stack"]
    assert main([*words, "--out", str(out)]) == 0
    assert "Loss 1: stack" in capsys.readouterr().out
    assert {"fill.json", "made.json", "loss_1_print.stl"} <= set(contents(out))
    # Filled again without: what was made of the old design goes.
    assert main([*words[:5], "--out", str(out)]) == 0
    assert set(contents(out)) == {"fill.json", "design.npz", "piece_1.stl", "piece_1.3mf"}


def test_a_made_piece_is_checked(folder: Path, capsys: Capture) -> None:
    assert main(["make", str(folder), "piece", "--loss", "2"]) == 0
    capsys.readouterr()
    scan = str(folder / "loss_2_print.stl")
    assert main(["check", scan, str(folder), "--units", "mm", "--piece", "2"]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    assert "It goes in: nothing is in its way" in printed.out
    assert {"check_2.json", "check_2.png"} <= set(contents(folder))
    held = json.loads((folder / "check_2.json").read_text(encoding="utf-8"))
    assert held["piece"] == "2"
    assert held["goes_in"]["verdict"] == "goes in"
    # Checked again without a picture, the earlier one goes.
    words = ["check", scan, str(folder), "--units", "mm", "--piece", "2", "--no-pictures", "--json"]
    assert main(words) == 0
    assert json.loads(capsys.readouterr().out)["loss"] == 2
    assert "check_2.png" not in contents(folder)


def test_a_vessel_is_not_taken_for_a_piece(folder: Path, capsys: Capture) -> None:
    before = contents(folder)
    scan = Path(__file__).parents[2] / "meshes" / "tea_bowl_scan.ply"
    assert main(["check", str(scan), str(folder), "--units", "mm"]) == 2
    printed = capsys.readouterr()
    assert "give the scan of the piece alone" in printed.err
    assert printed.err.count("\n") == 1
    assert contents(folder) == before
