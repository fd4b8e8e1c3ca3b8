"""Making from a folder: what is kept of a design, and what is added to it, all or nothing."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from make.briefs import bowl_rim, cylinder_hole
from numpy.testing import assert_allclose
from pack.pack_designs import fitted_design, make_design

from lossfill.errors import ExportError, InputError, UnsuitedError
from lossfill.fill.settings import FillSettings
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief, Side
from lossfill.make.made import Made, Proved
from lossfill.make.refit import refit
from lossfill.make.store import STORE_NAME, read_briefs, read_design
from lossfill.make.things import MAKERS, MakeSettings, make_things, names_of
from lossfill.make.write import MakeOrder, make_in_folder
from lossfill.mesh import signed_volume_mm3
from lossfill.pack import write_pack
from lossfill.pack.folder import MADE_NAME, RECORD_NAME


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture
def folder(tea_bowl_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(tea_bowl_folder, tmp_path / "bowl"))


def test_a_design_comes_back_as_it_was_written(tea_bowl_folder: Path) -> None:
    record, briefs = read_design(tea_bowl_folder)
    assert [brief.kind for brief in briefs] == [LossKind.RIM, LossKind.CHIP]
    for brief, part in zip(briefs, record.losses, strict=True):
        assert brief.vessel == "tea bowl scan"
        assert_allclose(signed_volume_mm3(brief.lost.mesh) / 1000, part.volume_ml, rtol=1e-5)
        areas = [brief.lost.area_mm2(side) for side in Side]
        wanted = [part.break_area_mm2, part.outer_area_mm2, part.inner_area_mm2]
        assert_allclose(areas, wanted, rtol=1e-5)
        (piece,) = brief.pieces
        assert_allclose(piece.solid.volume() / 1000, part.piece_volume_ml, rtol=1e-5)
        assert_allclose(np.linalg.norm(piece.entry), 1.0, rtol=1e-5)
        # Upright: the piece shares nothing with the body, and stands within the vessel's height.
        assert (piece.solid ^ brief.body).volume() < 0.05
        assert piece.solid.bounding_box()[5] < record.frame.height_mm + 1.0


@pytest.mark.parametrize("spoil", ["cut", "other", "gone"])
def test_a_spoilt_design_is_told(folder: Path, spoil: str) -> None:
    store = folder / STORE_NAME
    if spoil == "gone":
        store.unlink()
        with pytest.raises(InputError, match=r"holds no design .*give the folder"):
            read_briefs(folder)
        return
    store.write_bytes(store.read_bytes()[:1000] if spoil == "cut" else b"no archive at all")
    with pytest.raises(ExportError, match="cannot be read"):
        read_briefs(folder)


def test_a_store_that_would_run_code_is_refused(folder: Path) -> None:
    np.savez(folder / STORE_NAME, body_vertices=np.array([object()], dtype=object))
    with pytest.raises(ExportError, match="cannot be read"):
        read_briefs(folder)


def test_things_are_added_and_made_again_in_their_place(folder: Path) -> None:
    before = contents(folder)
    briefs = read_briefs(folder)
    first = make_in_folder(briefs, folder, MakeOrder(("piece", "stack")))
    assert {name: contents(folder)[name] for name in before} == before
    assert set(first.files) == set(contents(folder)) - set(before)
    # Made again for one loss and in fewer formats: its files change, the others stay.
    again = make_in_folder(briefs[:1], folder, MakeOrder(("piece",), formats=("stl",)))
    assert "loss_1_print.3mf" not in contents(folder)
    assert "loss_2_print.3mf" in contents(folder)
    assert set(again.files) == set(contents(folder)) - set(before)
    held = json.loads((folder / MADE_NAME).read_text(encoding="utf-8"))
    assert [(thing["thing"], thing["loss"]) for thing in held["things"]].count(("piece", 1)) == 1


def test_the_same_order_gives_the_same_bytes(folder: Path) -> None:
    briefs = read_briefs(folder)[1:]
    order = MakeOrder(("piece", "stack"))
    make_in_folder(briefs, folder, order)
    first = contents(folder)
    make_in_folder(read_briefs(folder)[1:], folder, order)
    assert contents(folder) == first


def test_a_failure_leaves_the_folder_as_it_was(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_in_folder(read_briefs(folder), folder, MakeOrder(("piece",)))
    before = contents(folder)

    def fails(*_: object) -> bytes:
        raise ExportError("the disk is full")

    monkeypatch.setattr("lossfill.make.write.svg_bytes", fails)
    with pytest.raises(ExportError, match="the disk is full"):
        make_in_folder(read_briefs(folder), folder, MakeOrder(("piece", "stack")))
    assert contents(folder) == before


def test_a_file_of_someone_else_is_not_overwritten(folder: Path) -> None:
    (folder / "loss_1_print.stl").write_text("mine")
    with pytest.raises(ExportError, match=r"already holds loss_1_print\.stl"):
        make_in_folder(read_briefs(folder), folder, MakeOrder(("piece",)))
    assert (folder / "loss_1_print.stl").read_text() == "mine"


def test_filling_again_takes_what_was_made_of_the_old_design(folder: Path) -> None:
    from lossfill.pack.folder import replaced_folder

    make_in_folder(read_briefs(folder), folder, MakeOrder(("piece",)))
    (folder / "my notes.txt").write_text("kept")
    record = (folder / RECORD_NAME).read_bytes()
    with replaced_folder(folder) as fresh:
        (fresh / RECORD_NAME).write_bytes(record)
    assert set(contents(folder)) == {RECORD_NAME, "my notes.txt"}


def test_names_are_taken_in_any_order_and_case() -> None:
    assert names_of(["Stack,piece", "rib"]) == ("piece", "rib", "stack")
    assert names_of(["all"]) == tuple(MAKERS)
    with pytest.raises(InputError, match="'vase' cannot be made: name some of piece, mould"):
        names_of(["piece", "vase"])
    with pytest.raises(InputError, match="nothing to make was named"):
        names_of([","])


def test_what_does_not_suit_one_loss_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def unsuited(brief: Brief, _: MakeSettings) -> Made:
        raise UnsuitedError(f"no rib for loss {brief.number}")

    monkeypatch.setitem(MAKERS, "rib", unsuited)
    makings = make_things([cylinder_hole()], ("piece", "rib"))
    assert [made.thing for made in makings.made] == ["piece"]
    assert [(one.thing, one.why) for one in makings.not_made] == [("rib", "no rib for loss 1")]
    with pytest.raises(InputError, match="nothing was made: no rib for loss 1"):
        make_things([cylinder_hole()], ("rib",))


def test_a_setting_that_cannot_be_used_stops_all() -> None:
    from lossfill.make.stack import StackSettings

    with pytest.raises(InputError, match="board"):
        make_things([bowl_rim()], ("piece", "stack"), MakeSettings(stack=StackSettings(board_mm=0)))


def test_a_measure_that_is_no_number_is_not_kept() -> None:
    assert Proved("x", 1.0, 1.0).passed
    assert not Proved("x", 1.1, 1.0).passed
    assert not Proved("x", float("nan"), 1.0).passed


def test_a_measure_that_is_no_number_does_not_spoil_the_record(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unknown = Proved("thickness, mm", float("nan"), 1.0)
    monkeypatch.setitem(
        MAKERS, "rib", lambda brief, _: Made("rib", brief.number, proved=(unknown,))
    )
    record = make_in_folder(read_briefs(folder)[:1], folder, MakeOrder(("rib",)))
    (proved,) = record.things[0].proved
    assert proved.value is None
    assert not proved.passed
    # A later run can read it.
    make_in_folder(read_briefs(folder)[1:], folder, MakeOrder(("piece",)))


def test_what_suits_no_loss_does_not_cost_the_pieces(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unsuited(_brief: Brief, _settings: MakeSettings) -> Made:
        raise UnsuitedError("not for this one")

    monkeypatch.setitem(MAKERS, "rib", unsuited)
    fitted = fitted_design(make_design(segments=48))
    write_pack(fitted, tmp_path, pictures=False, order=MakeOrder(("rib",)))
    assert (tmp_path / "piece_1.stl").exists()
    held = json.loads((tmp_path / MADE_NAME).read_text(encoding="utf-8"))
    assert held["things"] == []
    assert {one["why"] for one in held["not_made"]} == {"not for this one"}


def test_fitted_anew_as_designed_it_is_the_same_piece(tea_bowl_folder: Path) -> None:
    record, briefs = read_design(tea_bowl_folder)
    for brief, part in zip(briefs, record.losses, strict=True):
        fresh, fitted = refit(brief, part, FillSettings(clearance_mm=0.15))
        assert fitted.pieces[0].proof.passed
        was, now = brief.pieces[0], fresh.pieces[0]
        # The clearance's grid lies otherwise in upright coordinates: a hundredth of a mm.
        shared = (was.solid ^ now.solid).volume()
        assert shared > 0.998 * was.solid.volume()
        assert_allclose(now.solid.volume(), was.solid.volume(), rtol=2e-3)


def test_fitted_anew_with_a_wider_gap_it_loses_the_break_times_that(tea_bowl_folder: Path) -> None:
    record, briefs = read_design(tea_bowl_folder)
    brief, part = briefs[0], record.losses[0]
    fresh, _ = refit(brief, part, FillSettings(clearance_mm=0.35))
    lost = brief.pieces[0].solid.volume() - fresh.pieces[0].solid.volume()
    # Break area times the difference, less a little where the break's rough faces turn inwards.
    assert_allclose(lost, 0.2 * part.break_area_mm2, rtol=0.15)
    assert fresh.clearance_mm == 0.35
