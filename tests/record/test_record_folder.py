"""The record's files come into the folder together, make room for one another, and go with it."""

from __future__ import annotations

import datetime as dt
import importlib
import json
import shutil
from pathlib import Path

import pytest
from record.record_cases import blot, pages_of

from lossfill.cli import main
from lossfill.errors import ExportError, InputError
from lossfill.pack.folder import earlier_files
from lossfill.record import ObjectFields, write_record

Capture = pytest.CaptureFixture[str]
NAMES = {"record.pdf", "record.html", "record.json"}


@pytest.fixture
def folder(cup_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(cup_folder, tmp_path / "cup"))


@pytest.fixture
def blots(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blots for pictures: what is drawn in them is tested elsewhere, and takes long."""
    module = importlib.import_module("lossfill.record.write")
    monkeypatch.setattr(module, "draw_whole", lambda *_: (blot(),))
    monkeypatch.setattr(module, "draw_loss", lambda *_: (blot(),))
    monkeypatch.setattr(module, "draw_thickness", lambda *_: ((blot(),), blot()))


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_it_is_written_twice_with_the_same_bytes_and_listed(folder: Path) -> None:
    (folder / "my notes.txt").write_text("mine", encoding="utf-8")
    before = contents(folder)
    assert set(write_record(folder, day=dt.date(2026, 3, 1))) == NAMES
    first = contents(folder)
    assert set(first) == set(before) | NAMES
    assert {name: first[name] for name in before} == before
    write_record(folder, day=dt.date(2026, 3, 1))
    assert contents(folder) == first
    listed = json.loads(first["record.json"])
    assert listed["format"] == "lossfill record"
    assert set(listed["files"]) == NAMES
    # Filled again, all of it makes room; what is not ours stays.
    assert earlier_files(folder) >= NAMES
    assert "my notes.txt" not in earlier_files(folder)


@pytest.mark.usefixtures("blots")
def test_a_file_of_someone_else_is_left_alone(folder: Path) -> None:
    (folder / "record.pdf").write_bytes(b"a scan of my own paper record")
    before = contents(folder)
    with pytest.raises(ExportError, match=r"record\.pdf, which no earlier run wrote"):
        write_record(folder)
    assert contents(folder) == before


def test_a_folder_without_a_design_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no design"):
        write_record(tmp_path, ObjectFields())


@pytest.mark.usefixtures("blots")
def test_a_misfit_map_is_taken_from_the_design_alone(folder: Path) -> None:
    # A picture that the design's own record does not list is somebody else's.
    (folder / "misfit.png").write_bytes(blot().png)
    write_record(folder)
    without = (folder / "record.html").read_text(encoding="utf-8")
    assert "There is no map of it in the folder" in without
    record = json.loads((folder / "fill.json").read_text(encoding="utf-8"))
    record["files"].append("misfit.png")
    (folder / "fill.json").write_text(json.dumps(record), encoding="utf-8")
    write_record(folder)
    with_map = (folder / "record.html").read_text(encoding="utf-8")
    assert with_map.count("data:image/png") == without.count("data:image/png") + 1
    assert "Purple stands proud" in " ".join(with_map.split())
    (folder / "misfit.png").write_bytes(b"no picture")
    with pytest.raises(ExportError, match=r"misfit\.png is no picture"):
        write_record(folder)


@pytest.mark.usefixtures("blots")
def test_the_command_writes_fills_in_and_says_what_is_left(folder: Path, capsys: Capture) -> None:
    words = ["record", str(folder), "--field", "title=Tube", "--date", "2026-03-01"]
    assert main([*words, "--start", "2026-03-02 09:00", "--paper", "letter"]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    for name in NAMES:
        assert f"  {name}\n" in printed.out
    assert "Left as lines to write on" in printed.out
    assert "treated_by" in printed.out
    assert "title," not in printed.out
    pages = pages_of((folder / "record.pdf").read_bytes())
    assert (pages[0].width, pages[0].height) == (612, 792)
    assert "Tube" in pages[0].extract_text()
    assert "2026-03-02" in " ".join(page.extract_text() for page in pages)


@pytest.mark.usefixtures("blots")
def test_json_is_one_document(folder: Path, capsys: Capture) -> None:
    assert main(["record", str(folder), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert set(document["files"]) == NAMES
    assert "title" in document["to_fill_in"]


@pytest.mark.usefixtures("blots")
def test_materials_are_those_that_were_asked_for(folder: Path, capsys: Capture) -> None:
    words = ["record", str(folder), "--fill-with", "epoxy putty", "--coat", "none"]
    assert main(words) == 0
    text = (folder / "record.html").read_text(encoding="utf-8")
    assert "Cured epoxy swells and softens" in text
    assert "lasting skin allergy" in text  # the caution of the resin, and none of the lacquer
    assert "Raw lacquer" not in text


@pytest.mark.usefixtures("blots")
def test_a_blank_file_is_written_once_and_can_be_used(
    tmp_path: Path, folder: Path, capsys: Capture
) -> None:
    path = tmp_path / "object.toml"
    assert main(["record", "--blank", str(path)]) == 0
    assert str(path) in capsys.readouterr().out
    assert main(["record", "--blank", str(path)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert main(["record", str(folder), "--object", str(path)]) == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--object", "none.toml"], "none.toml cannot be read"),
        (["--object", "bad.toml"], "bad.toml, line 2: there is no field 'object.titel'"),
        (["--field", "titel=x"], "there is no field 'titel'"),
        (["--field", "title"], "write it as key=value"),
        (["--date", "1.3.2026"], "'1.3.2026' is not a date such as 2026-01-31"),
        (["--start", "tomorrow"], "'tomorrow' is not a date"),
        (["--paper", "a3"], "a3"),
        (["--fill-with", "chewing gum"], "chewing gum"),
    ],
)
def test_bad_input_is_one_line_and_nothing_is_written(
    folder: Path,
    capsys: Capture,
    monkeypatch: pytest.MonkeyPatch,
    words: list[str],
    told: str,
) -> None:
    monkeypatch.chdir(folder.parent)
    Path("bad.toml").write_text('[object]\ntitel = "x"\n', encoding="utf-8")
    before = contents(folder)
    assert main(["record", str(folder), *words]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert told in printed.err
    assert contents(folder) == before


def test_no_folder_is_told(capsys: Capture) -> None:
    assert main(["record"]) == 2
    assert "give the folder that fill wrote" in capsys.readouterr().err
