"""A loss that leaves no room for a piece: the run goes on, and says so everywhere."""

from __future__ import annotations

import json
from pathlib import Path

import manifold3d
import pytest
from make_meshes import write_ply
from vessels import plain_cup

from lossfill.cli import main
from lossfill.pack.record import read_record
from lossfill.solids import mesh_from_solid, solid_from_mesh

Capture = pytest.CaptureFixture[str]

# The cup is 80 mm across and 60 mm high. A notch 1 mm deep in its lip, 14 mm wide in a wall of
# 4 mm, loses some 40 mm³; a clearance of 1 mm all along its bottom leaves nothing of that.
NOTCH = ((10.0, 14.0, 10.0), (35.0, -7.0, 59.0))
GAP = ((20.0, 24.0, 30.0), (-50.0, -12.0, 40.0))
NOTHING = "nothing useful is left of piece"


def scan_without(folder: Path, *blocks: tuple[tuple[float, ...], tuple[float, ...]]) -> Path:
    """Write the scan of a cup from whose rim blocks of a size at a corner were cut."""
    cup = solid_from_mesh(plain_cup(edge_mm=2.5))
    for size, corner in blocks:
        cup = cup - manifold3d.Manifold.cube(size).translate(corner)
    return write_ply(mesh_from_solid(cup.refine_to_length(3.0)), folder / "cup.ply")


def fill(scan: Path, out: Path, clearance_mm: float, *options: str) -> int:
    words = ["fill", str(scan), "--units", "mm", "--no-pictures", "--out", str(out), *options]
    return main([*words, "--clearance", f"{clearance_mm:g}"])


def test_the_other_losses_get_their_pieces(tmp_path: Path, capsys: Capture) -> None:
    scan = scan_without(tmp_path, NOTCH, GAP)
    assert fill(scan, tmp_path / "out", 1.0) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    assert printed.out.count("none was made: see the notes below") == 1
    words = " ".join(printed.out.split())
    assert f"Please note - no piece was made for loss 2: {NOTHING} 2 with a clearance of 1" in words

    files = {file.name for file in (tmp_path / "out").iterdir()}
    assert files == {"fill.json", "design.npz", "piece_1.stl", "piece_1.3mf"}
    record = read_record((tmp_path / "out" / "fill.json").read_bytes())
    assert set(record.files) == files
    rim, notch = record.losses
    assert (rim.kind, rim.piece) == ("rim", "piece_1.stl")
    assert rim.check is not None
    assert rim.check.passed
    assert (notch.kind, notch.clock) == ("chip", "12:00")
    # Its measures are there all the same: 14 mm around, and close to 1 mm deep.
    assert notch.extent_around_mm == pytest.approx(14.0, abs=3.0)
    assert notch.depth_mm == pytest.approx(1.0, abs=0.2)
    assert (notch.piece, notch.piece_3mf, notch.piece_volume_ml) == (None, None, None)
    assert (notch.clearance_mm, notch.check, notch.check_3mf) == (None, None, None)
    assert any(f"loss 2: {NOTHING}" in warning for warning in record.warnings)


def test_no_piece_at_all_still_leaves_a_record(tmp_path: Path, capsys: Capture) -> None:
    scan = scan_without(tmp_path, NOTCH)
    assert fill(scan, tmp_path / "out", 1.0, "--json") == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    document = json.loads(printed.out)
    names = ["fill.json"]
    assert sorted(file.name for file in (tmp_path / "out").iterdir()) == names
    assert sorted(document["files"]) == names
    assert [loss["piece"] for loss in document["losses"]] == [None]
    assert any(f"loss 1: {NOTHING}" in warning for warning in document["warnings"])


def test_a_smaller_clearance_gives_the_piece_as_the_warning_says(
    tmp_path: Path, capsys: Capture
) -> None:
    scan = scan_without(tmp_path, NOTCH)
    assert fill(scan, tmp_path / "out", 0.1) == 0
    assert "none was made" not in capsys.readouterr().out
    assert (tmp_path / "out" / "piece_1.stl").is_file()
