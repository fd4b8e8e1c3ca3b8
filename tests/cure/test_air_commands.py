"""The commands about air, from their words to the picture."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import numpy as np
import pytest

from lossfill.cli import main
from lossfill.cli.air_commands import _between
from lossfill.cure.air import AirLimits
from lossfill.cure.logger import Log, read_log
from lossfill.cure.logger_plot import write_plot
from lossfill.errors import ExportError

MESHES = Path(__file__).parents[2] / "meshes"
SAMPLE = MESHES / "damp_box_log.csv"
BOX = ["box", "--size", "400x300x300"]


def document(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    assert main([*words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def test_a_box_is_dosed_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    words = [*BOX, "--from", "21C,45%", "--to", "25C,75%", "--coldest", "19C"]
    assert main(words) == 0
    out = capsys.readouterr().out
    assert "Box of 36.0 l" in out
    assert "Water: 0.3 g (0.3 ml)" in out
    assert "the surface of 19 °C gets wet" in out
    assert "NaCl, sodium chloride" in out
    assert "the air alone" in out
    assert "Raw lacquer brings on a rash" in out
    assert "Greenspan 1977" in out
    assert "Salts for the damp box irritate" in out
    assert "Nitrates feed fire" not in out


def test_units_may_be_mixed(capsys: pytest.CaptureFixture[str]) -> None:
    one = document(capsys, *BOX, "--from", "21C,45%", "--to", "25C,75%", "--coldest", "18")
    other = document(
        capsys,
        *["box", "--size", "36l", "--from", "69.8F, 45", "--to", "77°F,75 %", "--coldest", "64.4F"],
    )
    for name in ("volume_l", "water_g", "wets_at_c"):
        assert one[name] == pytest.approx(other[name], rel=1e-9)
    assert one["water_g"] == pytest.approx(0.325, abs=1e-3)  # by hand in test_air_and_box


def test_a_box_that_is_too_damp_is_dried(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["box", "--size", "1000l", "--from", "25,90", "--to", "25,70"]) == 0
    out = capsys.readouterr().out
    assert "take out 4.6 g (4.6 ml): dry the box" in out  # 20 % of 23.0 g/m³


def test_a_log_is_judged_in_words(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture = tmp_path / "log.png"
    assert main(["air", str(SAMPLE), "--plot", str(picture), "--needed-hours", "60-100"]) == 0
    out = capsys.readouterr().out
    assert "in range: 70.5 h of 92.3 h, 76 %" in out
    assert "not known: 3.5 h; readings stop once" in out
    assert "too cold: 5.0 h, once; worst 17.3 °C on 2025-03-17 at 03:00" in out
    assert "perhaps nothing, at most 29.5 h in range" in out
    assert "1 line without a reading left out, first line 102" in out
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_salts_and_limits_reach_the_log(capsys: pytest.CaptureFixture[str]) -> None:
    plain = document(capsys, "air", str(SAMPLE))
    own = document(capsys, "air", str(SAMPLE), "--temperature", "62.6F-86F", "--humidity", "60-90")
    assert own["limits"] == {"temperature_c": [17.0, 30.0], "humidity_percent": [60.0, 90.0]}
    assert float(str(own["hours_in_range"])) > float(str(plain["hours_in_range"]))
    salted = document(capsys, "air", str(SAMPLE), "--salt", "NaCl=70.3@25C")
    correction = salted["correction"]
    assert isinstance(correction, dict)
    assert correction["offset_percent"] == pytest.approx(4.99, abs=0.02)
    wet = document(capsys, "air", str(SAMPLE), "--surface", "77F")
    assert wet["wet_hours"] == 0.0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["air", "none.csv"], "no such file"),
        (["air", str(SAMPLE), "--plot", "x.jpg"], "ends in .png"),
        (["air", str(SAMPLE), "--plot", "no_such_folder/x.png"], "cannot write"),
        (["air", str(SAMPLE), "--salt", "NaCl"], "write NaCl=73.5"),
        (["air", str(SAMPLE), "--salt", "sugar=80"], "no salt 'sugar'"),
        (["air", str(SAMPLE), "--salt", "NaCl=50"], "had not settled"),
        (["air", str(SAMPLE), "--needed-hours", "long"], "write 24"),
        (["air", str(SAMPLE), "--temperature", "30-20"], "the lower first"),
        (["air", str(SAMPLE), "--temperature", "warm"], "no range of temperature"),
        (["air", str(SAMPLE), "--humidity", "65C-85C"], "no range of humidity"),
        (["air", str(SAMPLE), "--surface", "cold"], "no temperature"),
        (["air", str(SAMPLE), "--dates", "mdy"], "mdy"),
        ([*BOX, "--from", "21C", "--to", "25C,75%"], "such as 21C,45%"),
        ([*BOX, "--from", "21C,45%", "--to", "25C,175%"], "outside 1 to 100 %"),
        ([*BOX, "--from", "70,45%", "--to", "250,75%"], "write °F with an F"),
        ([*BOX, "--from", "21C,45%"], "--to"),
        (["box", "--size", "40", "--from", "21C,45%", "--to", "25C,75%"], "400x300x300"),
        (["box", "--size", "1x1x1", "--from", "21C,45%", "--to", "25C,75%"], "outside 0.1"),
    ],
)
def test_bad_words_get_one_line(
    words: list[str],
    told: str,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    out, error = capsys.readouterr()
    assert out == ""
    assert len(error.splitlines()) == 1
    assert told in error
    assert list(tmp_path.iterdir()) == []


def test_the_picture_is_grey_and_the_same_twice(tmp_path: Path) -> None:
    from matplotlib.image import imread

    log = read_log(SAMPLE)
    one, two = tmp_path / "one.png", tmp_path / "two.png"
    write_plot(log, AirLimits(), one)
    write_plot(log, AirLimits(), two)
    assert one.read_bytes() == two.read_bytes()
    assert b"tIME" not in one.read_bytes()
    pixels = imread(one)[..., :3]
    assert float(np.ptp(pixels, axis=-1).max()) == 0.0  # no colour: nothing can be lost in grey


def test_what_lies_outside_is_hatched(tmp_path: Path) -> None:
    from matplotlib.image import imread

    # The same curve with limits that it keeps and that it does not; the axes stay alike.
    hours = np.linspace(0.0, 10.0, 61)
    log = Log(dt.datetime(2025, 3, 14), hours, np.full(61, 25.0), np.full(61, 40.0))
    inked = []
    for low in (40.0, 80.0):
        path = tmp_path / f"{low:.0f}.png"
        write_plot(log, AirLimits(humidity_percent=(low, 85.0)), path)
        lower = imread(path)[330:590, 60:900, 0]
        inked.append(float((lower < 0.5).mean()))
    # A curve alone inks under 1 % of its panel; slanted strokes a tenth and more.
    assert inked[0] < 0.02
    assert inked[1] > 0.08


def test_a_picture_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="cannot write"):
        write_plot(read_log(SAMPLE), AirLimits(), tmp_path / "none" / "x.png")


def test_a_span_of_hours_is_told_in_one_unit() -> None:
    assert _between(1.0, 25.0) == "1.0 h to 25.0 h"
    assert _between(0.5, 1.5) == "30 min to 90 min"
    assert _between(24.0, 24.0) == "24.0 h"
