"""`lossfill mix`, from the words typed to the words printed."""

from __future__ import annotations

import json
import math
import re
import shutil
from pathlib import Path

import pytest

from lossfill.cautions import DEFERENCE
from lossfill.cli import main
from lossfill.materials import material_named, read_table

Capture = pytest.CaptureFixture[str]


def printed(capsys: Capture, *words: str) -> str:
    assert main(["mix", *words]) == 0
    out = capsys.readouterr()
    assert out.err == ""
    assert all(len(line) <= 96 for line in out.out.splitlines())
    return out.out


def flat(text: str) -> str:
    return " ".join(text.split())


def refused(capsys: Capture, *words: str) -> str:
    assert main(["mix", *words]) == 2
    out = capsys.readouterr()
    assert out.out == ""
    assert out.err.startswith("lossfill: ")
    assert out.err.count("\n") == 1
    return out.err


def test_a_volume_without_a_scan(capsys: Capture) -> None:
    words = ["--volume", "1.8ml", "--area", "6cm2", "--depth", "3mm"]
    text = printed(capsys, *words)
    # 1.8 / 0.82 x 1.15 = 2.524 ml of 1.572 g/ml; 3 mm in layers that leave 0.82 mm are 4; a quarter
    # of 3.969 g is 0.5598 g of powder and 0.4324 g of lacquer.
    assert "fill    stone-powder-and-lacquer paste: 3.97 g (2.52 ml), in 4 layers" in text
    assert "4 times: mix 0.56 g stone powder + 0.44 g raw lacquer (0.42 ml)" in text
    # 600 mm² x 40 µm x 3 x 1.15 = 0.0828 ml.
    assert "coat    lacquer coat: 0.085 g (0.083 ml), in 3 coats" in text
    assert "stone-powder-and-lacquer paste: 2.24 g stone powder + 1.76 g raw lacquer (1.68" in text
    assert "Take care" in text
    assert flat(text).endswith(DEFERENCE)
    assert "±" not in text


def test_units_do_not_matter(capsys: Capture) -> None:
    first = printed(capsys, "--volume", "1.8ml", "--area", "6cm2", "--explain")
    other = printed(capsys, "--volume", "1800 mm³", "--area", "600mm2", "--explain")
    assert other == first


def test_a_designed_folder(tea_bowl_folder: Path, capsys: Capture) -> None:
    record = json.loads((tea_bowl_folder / "fill.json").read_text(encoding="utf-8"))
    text = printed(capsys, str(tea_bowl_folder))
    for part in record["losses"]:
        noun = {"rim": "rim loss"}.get(part["kind"], part["kind"])
        assert f"Loss {part['number']}: {noun} at {part['clock']}" in text
    first = record["losses"][0]
    assert first["way"] == "a made insert"
    grams = math.ceil(first["piece_volume_ml"] * 1.24 * 100 - 1e-6) / 100
    assert f"take {grams:.2f} g PLA filament" in text
    assert "about ±" in text
    assert "For the whole vessel" in text


def test_a_folder_without_its_solids_still_tells(
    tea_bowl_folder: Path, tmp_path: Path, capsys: Capture
) -> None:
    shutil.copy(tea_bowl_folder / "fill.json", tmp_path)
    assert printed(capsys, str(tmp_path)) == printed(capsys, str(tea_bowl_folder))
    wood = flat(printed(capsys, str(tmp_path), "--fill-with", "beech"))
    assert "cannot be told without the design's solids" in wood
    assert "a blank of" in printed(capsys, str(tea_bowl_folder), "--fill-with", "beech")


def test_nothing_is_written(tea_bowl_folder: Path, capsys: Capture) -> None:
    before = {path: path.stat().st_mtime_ns for path in tea_bowl_folder.iterdir()}
    printed(capsys, str(tea_bowl_folder))
    assert {path: path.stat().st_mtime_ns for path in tea_bowl_folder.iterdir()} == before


def test_explain_shows_the_chain(tea_bowl_folder: Path, capsys: Capture) -> None:
    record = json.loads((tea_bowl_folder / "fill.json").read_text(encoding="utf-8"))
    text = flat(printed(capsys, str(tea_bowl_folder), "--explain"))
    area = record["losses"][0]["break_area_mm2"]
    clearance = record["losses"][0]["clearance_mm"]
    assert f"{area:g} mm² × {clearance:g} mm → {area * clearance:.4f} mm³" in text
    assert text.count("from mm³ to gram:") >= 3


def test_a_chosen_material_for_one_loss_alone(tea_bowl_folder: Path, capsys: Capture) -> None:
    words = ["--fill-with", "2=epoxy putty", "--coat", "none", "--fill-with", "resin print"]
    text = printed(capsys, str(tea_bowl_folder), *words)
    one, two = text.split("Loss 2:")
    assert "insert  resin print" in one
    assert "fill    epoxy putty" in two
    assert "lacquer coat" not in text
    assert "Uncured resin and hardener" in text


def test_metal_brings_what_holds_it(tea_bowl_folder: Path, capsys: Capture) -> None:
    outer = printed(capsys, str(tea_bowl_folder), "--metal", "gold powder", "--coat-side", "outer")
    assert "lacquer for metal" in outer
    assert "metal   gold powder" in outer
    both = printed(capsys, str(tea_bowl_folder), "--metal", "gold powder")

    def gold(text: str) -> float:
        found = re.search(r"gold powder: ([\d.]+) g", text)
        assert found
        return float(found[1])

    assert gold(outer) < gold(both)


def test_own_materials(tmp_path: Path, capsys: Capture) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text('[[material]]\nname = "epoxy putty"\ndensity_g_ml = 2.8\n', encoding="utf-8")
    words = ["--volume", "10ml", "--depth", "5mm", "--fill-with", "epoxy putty", "--waste", "0"]
    plain = printed(capsys, *words)
    own = printed(capsys, *words, "--materials", str(mine))
    # 10 / 0.998³ = 10.06 ml at 1.4 and at 2.8 g/ml.
    assert "epoxy putty: 14.08 g" in plain
    assert "epoxy putty: 28.17 g" in own
    mine.write_text('[[material]]\nname = "epoxy putty"\n\ndensity_g_ml = -2\n', encoding="utf-8")
    message = refused(capsys, *words, "--materials", str(mine))
    assert "mine.toml, line 4, 'epoxy putty': density_g_ml is -2" in message


def test_the_list_of_materials(tmp_path: Path, capsys: Capture) -> None:
    text = printed(capsys, "--list")
    assert all(f"  {one.name}\n" in text for one in read_table())
    assert "shrinkage to be measured" in text
    # 2 ml of 1.15 g/ml and 1 ml of 0.98 g/ml.
    words = "by mass 70.1 resin + 29.9 hardener, by volume 66.7 resin + 33.3 hardener"
    assert words in flat(text)
    # The example of a file of one's own is one that can be used.
    example = tmp_path / "mine.toml"
    lines = text.split("[[material]]")[-1].partition("Its fields")[0]
    example.write_text("[[material]]" + lines, encoding="utf-8")
    changed = material_named(read_table(example), "epoxy putty")
    assert changed != material_named(read_table(), "epoxy putty")
    assert main(["mix", "--list", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert [one["name"] for one in listed["materials"]] == [one.name for one in read_table()]


def test_json_holds_all_of_it(tea_bowl_folder: Path, capsys: Capture) -> None:
    assert main(["mix", str(tea_bowl_folder), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert set(document) == {
        "program",
        "needs",
        "portions",
        "totals",
        "materials",
        "warnings",
        "cautions",
    }
    used = {one["name"] for one in document["materials"]}
    assert {one["material"] for one in document["portions"]} == used
    for portion in document["portions"]:
        assert portion["chain"][-1]["unit"] == "g"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "nothing to reckon from"),
        (["--area", "6cm2"], "nothing to reckon from"),
        (["--volume", "1.8"], "--volume 1.8 has no unit"),
        (["--volume", "1.8mm"], "no unit of volume"),
        (["--volume", "two"], "such as 1.8ml"),
        (["--volume", "1ml", "--area", "6"], "--area 6 has no unit"),
        (["--volume", "1ml", "--depth", "0mm"], "above 0"),
        (["nowhere"], "holds no design"),
        (["nowhere", "--volume", "1ml"], "--volume and the folder nowhere were both given"),
        (["nowhere", "--break-area", "1cm2"], "--break-area and the folder"),
        (["--volume", "1ml", "--fill-with", "glue"], "no material 'glue'"),
        (["--volume", "1ml", "--fill-with", "2=beech"], "no loss 2"),
        (["--volume", "1ml", "--fill-with", "x=beech"], "'x' is no loss"),
        (["--volume", "1ml", "--fill-with", "2="], "names no material"),
        (["--volume", "1ml", "--fill-with", "beech", "--fill-with", "apple"], "both 'beech'"),
        (["--volume", "1ml", "--fill-with", "0=beech", "--fill-with", "0=apple"], "two materials"),
        (["--volume", "1ml", "--waste", "-1"], "the waste is -1 %"),
        (["--volume", "1ml", "--waste", "nan"], "the waste is nan %"),
        (["--volume", "1ml", "--coats", "0"], "0 coats"),
        (["--volume", "1ml", "--humidity", "40"], "such as 40-65"),
        (["--volume", "1ml", "--humidity", "70-40"], "lower one first"),
        (["--volume", "1ml", "--materials", "none.toml"], "cannot be read"),
        (["--list", "--materials", "none.toml"], "cannot be read"),
    ],
)
def test_what_cannot_be_used_is_one_line(words: list[str], said: str, capsys: Capture) -> None:
    assert said in refused(capsys, *words)


def test_a_loss_of_its_own_number_nought_may_be_named(capsys: Capture) -> None:
    assert "epoxy putty" in printed(capsys, "--volume", "1ml", "--fill-with", "0=epoxy putty")
