"""What the command says and writes of a thing without an axis."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from donor.donor_cases import CLEARANCE_MM, box_scan
from make_meshes import write_ply

from lossfill.cli import main
from lossfill.pack.record import read_record


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_ply(box_scan(), tmp_path_factory.mktemp("box") / "box.ply")


def test_measure_tells_the_sides_of_a_box(scan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", str(scan), "--units", "mm", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    frame = told["frame"]
    assert frame["length_mm"] == pytest.approx(90.0, abs=1.0)
    assert frame["width_mm"] == pytest.approx(60.0, abs=1.0)
    assert frame["height_mm"] == pytest.approx(40.0, abs=1.0)
    assert frame["rim_diameter_mm"] is None
    (loss,) = told["losses"]
    assert (loss["kind"], loss["source"]) == ("rim", "mirror")


@pytest.mark.slow
def test_fill_says_that_there_is_no_axis_and_writes_all(
    scan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    words = ["fill", str(scan), "--units", "mm", "--clearance", str(CLEARANCE_MM)]
    assert main([*words, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "none: its form is taken from its other side, a twin or a smooth span" in said
    assert "90 mm long, 60 mm wide, 40 mm high" in said
    assert "closed, one part, shares no space with the body" in said
    record = read_record((out / "fill.json").read_bytes())
    assert record.frame.length_mm == pytest.approx(90.0, abs=1.0)
    assert record.frame.width_mm == pytest.approx(60.0, abs=1.0)
    for blank in ("rim_diameter_mm", "foot_diameter_mm", "capacity_ml", "residual_mm"):
        assert getattr(record.frame, blank) is None
    (loss,) = record.losses
    assert loss.source == "mirror"
    assert loss.check.passed
    written = {file.name for file in out.iterdir()}
    assert written == {*record.files, "record.pdf", "record.html", "record.json"}
    pictures = [out / name for name in written if name.endswith(".png")]
    assert len(pictures) >= 3
    assert all(file.read_bytes().startswith(b"\x89PNG") for file in pictures)
