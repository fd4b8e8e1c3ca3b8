from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from cli.stand_ins import BODY, CHIP, FITTED, FRAME, LOSS, MADE, PIECE, PROOF, SCAN, record_of

from lossfill.cli import summary
from lossfill.frame.frame import Roundness
from lossfill.loss import WayRule


def text(lines: object) -> str:
    """Lines as one, so that a test does not depend on where a sentence is broken."""
    return " ".join(" ".join(lines).split())  # type: ignore[call-overload]


def test_vessel_says_size_unit_and_where_the_unit_is_from() -> None:
    words = text(summary.vessel_lines(SCAN, FRAME))
    assert "74 mm high, 121 mm across the rim, 52 mm across the foot, wall about 5.2 mm" in words
    assert "unit millimetre (inferred from its size" in words
    assert "about 410 ml to the brim" in words


@pytest.mark.parametrize(
    ("tilt_deg", "words"),
    [(0.0, "upright"), (9.0, "upright"), (33.0, "rim 33° away"), (90.0, "90°"), (175.0, "upside")],
)
def test_vessel_says_which_way_up_it_lies(tilt_deg: float, words: str) -> None:
    tilt = np.radians(tilt_deg)
    vessel_from_scan = np.eye(4)
    vessel_from_scan[1:3, 1:3] = [[np.cos(tilt), -np.sin(tilt)], [np.sin(tilt), np.cos(tilt)]]
    frame = replace(FRAME, vessel_from_scan=vessel_from_scan)
    assert words in text(summary.vessel_lines(SCAN, frame))


def test_roundness_names_the_worst_height_and_the_difference_of_diameters() -> None:
    # r = R + 0.4 cos 2a: the diameters at a = 0 and a = 90° differ by 4 x 0.4 = 1.6 mm.
    words = text(summary.vessel_lines(SCAN, FRAME))
    assert "within ± 0.55 mm of round; worst 70 mm above the foot, mostly oval (1.6 mm" in words


def test_roundness_names_three_sides() -> None:
    frame = replace(FRAME, roundness=(Roundness(30.0, 40.0, (0.1, 0.3, 0.05)),))
    assert text(summary.vessel_lines(SCAN, frame)).count("mostly three-sided") == 1


def test_round_and_unmeasured_vessels() -> None:
    circle = replace(FRAME, roundness=(Roundness(30.0, 40.0, (0.01, 0.01, 0.01)),))
    assert "round within 0.05 mm" in text(summary.vessel_lines(SCAN, circle))
    nothing = replace(FRAME, roundness=())
    assert "roundness could not be measured" in text(summary.vessel_lines(SCAN, nothing))


def test_repairs_say_how_many_how_large_and_where() -> None:
    words = text(summary.repair_lines(BODY))
    assert "closed a scan hole, up to 14 mm long, at x 12.0, y -3.1, z 40.0 mm of the scan" in words
    assert "merged points of split seams, 3012 times" in words
    assert "none needed" in text(summary.repair_lines(replace(BODY, repairs=())))


def test_loss_says_place_size_volume_thickness_and_expected_error() -> None:
    words = text(summary.loss_lines(LOSS, WayRule()))
    assert words.startswith("Loss 1: rim loss at 2:30, 54 mm above the foot")
    assert "62 mm around × 31 mm along the wall" in words
    assert "9.43 ml missing" in words
    assert "4.1 to 5.6 mm" in words
    assert "0.12 mm expected (RMS), below 0.24 mm in nine of ten cases" in words
    assert "form by revolve" in words
    assert (
        "fill with a made insert (wider than 20 mm or more than 1.5 ml; common practice)" in words
    )
    assert "depth" not in words


def test_chip_says_its_depth() -> None:
    words = text(summary.loss_lines(CHIP, WayRule()))
    assert words.startswith("Loss 2: chip at 9:00")
    assert "1.9 mm below the skin" in words
    assert "fill with paste in thin layers" in words


def test_piece_says_clearance_check_and_files() -> None:
    part = record_of(MADE).losses[0]
    words = text(summary.piece_lines(part, Path("out")))
    assert "9.21 ml after a clearance of 0.15 mm" in words
    assert "closed, one part, shares no space with the body" in words
    assert str(Path("out") / "piece_1.stl") in words
    assert str(Path("out") / "piece_1.3mf") in words
    assert words.count("closed, one part") == 1
    tight = part.model_copy(update={"clearance_mm": 0.0})
    assert "with no clearance" in text(summary.piece_lines(tight, Path("out")))


def test_a_file_whose_check_differs_is_named() -> None:
    part = record_of(MADE).losses[0]
    broken = part.check.model_copy(update={"one_part": False, "passed": False})
    one = part.pieces[0].model_copy(update={"check_3mf": broken})
    words = text(summary.piece_lines(part.model_copy(update={"pieces": (one,)}), Path("out")))
    assert "piece_1.stl: closed, one part" in words
    assert "piece_1.3mf: closed, IN SEVERAL PARTS" in words


def test_a_record_that_kept_no_way_in_is_told_all_the_same() -> None:
    bare = record_of(replace(MADE, fitted=())).losses[0]
    assert bare.pieces == ()
    words = text(summary.piece_lines(bare, Path("out")))
    assert "goes in" not in words
    assert str(Path("out") / "piece_1.3mf") in words
    broken = bare.check.model_copy(update={"one_part": False, "passed": False})
    words = text(summary.piece_lines(bare.model_copy(update={"check_3mf": broken}), Path("out")))
    assert "piece_1.3mf: closed, IN SEVERAL PARTS" in words


def test_a_piece_says_how_it_goes_in_and_what_that_costs() -> None:
    first, second = record_of(MADE).losses
    words = text(summary.piece_lines(first, Path("out")))
    # 42 of 420 mm².
    assert (
        "goes in from above, up to 12° either way; 10 % of its seat is cut away for that; "
        "proved all the way"
    ) in words
    words = text(summary.piece_lines(second, Path("out")))
    assert "goes in from above, up to 12° either way; proved all the way" in words


def test_a_way_in_that_is_not_proved_is_in_capitals() -> None:
    stuck = replace(PIECE, proof=replace(PROOF, doubtful_mm2=0.3))
    made = replace(MADE, fitted=(replace(FITTED[0], pieces=(stuck,)), FITTED[1]))
    words = text(summary.piece_lines(record_of(made).losses[0], Path("out")))
    assert "NOT PROVED" in words
    assert "proved all the way" not in words


def test_two_parts_of_one_piece_are_told_apart() -> None:
    parts = tuple(replace(PIECE, name=name) for name in ("1a", "1b"))
    made = replace(MADE, fitted=(replace(FITTED[0], pieces=parts), FITTED[1]))
    part = record_of(made).losses[0]
    words = text(summary.piece_lines(part, Path("out")))
    # Each is 9.213 ml by its check, and the loss's line is of both.
    assert words.count("18.4 ml after a clearance") == 1
    for name in ("1a", "1b"):
        assert f"goes in piece {name} from above" in words
        assert str(Path("out") / f"piece_{name}.stl") in words


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        ({"watertight": False}, "NOT CLOSED"),
        ({"one_part": False}, "IN SEVERAL PARTS"),
        ({"outward": False}, "INSIDE OUT"),
        ({"clash_mm3": 3.14}, "CUTS 3.1 mm³ INTO THE BODY"),
    ],
)
def test_a_piece_that_failed_is_not_to_be_used(fault: dict[str, float], words: str) -> None:
    sound = record_of(MADE).losses[0].check
    said = summary.check_words(sound.model_copy(update={**fault, "passed": False}))
    assert words in said
    assert said.endswith(": do not use this piece")
    assert "do not use" not in summary.check_words(sound)


def test_total_of_losses() -> None:
    assert text(summary.total_lines(())) == "No loss found."
    assert text(summary.total_lines((LOSS, CHIP))) == "In all 2 losses, 9.47 ml missing"
    assert text(summary.total_lines((LOSS,))) == ""


def test_a_warning_is_said_once() -> None:
    assert text(summary.warning_lines(["a", "b", "a"])) == "Please note - a - b"


def test_cautions_of_a_fill_name_the_dangers_and_defer() -> None:
    words = text(summary.caution_lines(record_of(MADE).cautions)).lower()
    for needed in ("dust", "silica", "uncured", "lacquer", "sharp", "display", "licensed"):
        assert needed in words
    last = words.split(" - ")[-1]
    for authority in ("safety data sheet", "local rules", "licensed practice"):
        assert authority in last
