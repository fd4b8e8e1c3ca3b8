"""Things made on the page: what is ticked is in the pack, whole, and nothing else that was made."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from page.page_cases import a_piece, context_in

from lossfill.cautions import DEFERENCE, Work
from lossfill.errors import InputError
from lossfill.make.hazards import WORKS, cautions_of
from lossfill.make.record import read_made_record
from lossfill.make.store import read_briefs
from lossfill.make.things import MAKERS
from lossfill.mesh import Mesh, signed_volume_mm3
from lossfill.pack.folder import MADE_NAME
from lossfill.page import leaving, stages
from lossfill.page.choices import Choices, Stage, changed
from lossfill.page.jobs import Job, new_job
from lossfill.page.making import leave_things, order_of
from lossfill.page.runner import _note
from lossfill.page.steps.made import are_there, box_about, measured_rows, missed, not_made
from lossfill.page.steps.make import checked, losses_to_choose
from lossfill.page.words import make as words


@pytest.fixture
def job(tea_bowl_folder: Path, tmp_path: Path) -> Job:
    """A job whose pieces are done; its second loss is small and quickly made for."""
    job = new_job(tmp_path, "my <b>bowl.ply", ".ply")
    shutil.copytree(tea_bowl_folder, job.pack)
    pieces = [a_piece(name="1", loss=1), a_piece()]
    leaving.write_json(job.folder / "pieces.json", {"pieces": pieces})
    return job


def ordered(*names: str, losses: tuple[int, ...] = (2,), **more: Any) -> Choices:
    return changed(Choices(), Stage.THINGS, names=names, losses=losses, **more)


def make(job: Job, choices: Choices) -> tuple[dict[str, Any], list[tuple[str, float]]]:
    told: list[tuple[str, float]] = []
    leave_things(job, choices, lambda says, share: told.append((says, share)))
    found = job.found(Stage.THINGS)
    assert found is not None
    return found, told


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def views(job: Job) -> set[str]:
    return {path.name for path in job.folder.glob("thing_*")}


def view_mesh(path: Path) -> Mesh:
    held = path.read_bytes()
    vertices, triangles = np.frombuffer(held[:8], dtype="<u4")
    places = np.frombuffer(held, dtype="<f4", count=3 * vertices, offset=8)
    corners = np.frombuffer(held, dtype="<u4", count=3 * triangles, offset=8 + 12 * int(vertices))
    faces = corners.reshape(-1, 3).astype(np.int32)
    return Mesh(places.reshape(-1, 3).astype(np.float64), faces)


def stl_mesh(path: Path) -> Mesh:
    """80 bytes, a count, then for each triangle a normal, three corners and two bytes."""
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    corners = np.frombuffer(path.read_bytes(), dtype=record, offset=84)["corners"]
    faces = np.arange(3 * len(corners), dtype=np.int32).reshape(-1, 3)
    return Mesh(corners.reshape(-1, 3).astype(np.float64), faces)


def test_what_is_ticked_is_made_and_told_whole(job: Job) -> None:
    before = contents(job.pack)
    found, told = make(job, ordered("piece", "mould", "backing", "rib"))
    after = contents(job.pack)
    assert {name: after[name] for name in before} == before
    assert [thing["thing"] for thing in found["things"]] == ["piece", "mould", "rib"]
    files = [name for thing in found["things"] for name in thing["files"]]
    assert set(after) - set(before) == {*files, MADE_NAME}
    record = read_made_record(job.pack)
    assert record is not None
    assert set(record.files) == {*files, MADE_NAME}
    for part, thing in zip(record.things, found["things"], strict=True):
        assert part.model_dump(mode="json").items() <= thing.items()
        assert thing["notes"]
        assert thing["proved"]
    # A chip needs no backing, and that is said with its reason.
    ((thing, loss, why),) = ((one["thing"], one["loss"], one["why"]) for one in found["not_made"])
    assert (thing, loss) == ("backing", 2)
    assert "chipped" in why
    assert found["cautions"][-1] == DEFERENCE
    assert any("printing resin" in one for one in found["cautions"])
    # Told of each thing as it is begun and as it is written, never going back.
    says = [one for one, _ in told]
    for name in ("piece", "mould", "rib"):
        assert says.index(f"making the {name} for loss 2") < says.index(
            f"writing the {name} for loss 2"
        )
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert shares[-1] < 1.0


def test_solids_are_shown_as_they_are_printed_side_by_side(job: Job) -> None:
    found, _ = make(job, ordered("piece", "mould"))
    piece, mould = (thing["solids"] for thing in found["things"])
    assert {one["mesh"] for one in piece + mould} == set(found["files"]) == views(job)
    assert [one["title"].rpartition(": ")[2] for one in mould] == ["lower half", "upper half"]
    for one in piece + mould:
        shown = view_mesh(job.folder / one["mesh"])
        name = one["mesh"].removeprefix("thing_").removesuffix(".mesh")
        written = stl_mesh(job.pack / f"{name}.stl")
        # Both are 32-bit numbers of some 20 mm: their steps are 2e-6 mm.
        assert signed_volume_mm3(shown) == pytest.approx(signed_volume_mm3(written), rel=1e-5)
        assert np.ptp(shown.bounds, axis=0) == pytest.approx(
            np.ptp(written.bounds, axis=0), abs=1e-4
        )
        # The box is told to a thousandth.
        assert shown.bounds.ravel() == pytest.approx(np.ravel(one["box_mm"]), abs=6e-4)
        assert shown.bounds[0, 2] == pytest.approx(0.0, abs=1e-6)
    # Apart from each other, so that neither hides in the other.
    assert mould[1]["box_mm"][0][0] - mould[0]["box_mm"][1][0] == pytest.approx(6.0, abs=2e-3)
    low, high = box_about(mould)
    assert low[0] == mould[0]["box_mm"][0][0]
    assert high[0] == mould[1]["box_mm"][1][0]


def test_drawings_are_told_at_their_own_size_and_bear_the_uploads_name(job: Job) -> None:
    found, _ = make(job, ordered("rib"))
    (rib,) = found["things"]
    assert rib["solids"] == []
    assert len(rib["drawings"]) == 2
    for drawing in rib["drawings"]:
        text = (job.pack / drawing["name"]).read_text(encoding="utf-8")
        size = re.search(r'width="([\d.]+)mm" height="([\d.]+)mm"', text)
        assert size is not None
        assert (drawing["width_mm"], drawing["height_mm"]) == (float(size[1]), float(size[2]))
        assert "my &lt;b&gt;bowl, loss 2" in text


def test_what_is_ticked_no_more_goes(job: Job) -> None:
    before = contents(job.pack)
    make(job, ordered("piece", "stack"))
    first = contents(job.pack)
    (job.pack / ".lossfill-left").mkdir()
    found, _ = make(job, ordered("rib"))
    after = contents(job.pack)
    assert set(after) - set(before) == {*found["things"][0]["files"], MADE_NAME}
    assert views(job) == set()
    # And with the first ticks again, the first pack again.
    make(job, ordered("piece", "stack"))
    assert contents(job.pack) == first


def test_with_nothing_ticked_the_pack_is_as_the_pieces_left_it(job: Job) -> None:
    before = contents(job.pack)
    make(job, ordered("piece"))
    found, _ = make(job, ordered())
    assert contents(job.pack) == before
    assert found == {"things": [], "not_made": [], "cautions": [], "files": []}
    assert views(job) == set()


def test_where_nothing_suits_the_reason_is_told(job: Job) -> None:
    found, _ = make(job, ordered("backing"))
    assert found["things"] == []
    assert not_made(found["not_made"])[0].startswith("Backing for loss 2 was not made: ")
    record = read_made_record(job.pack)
    assert record is not None
    assert len(record.not_made) == 1


@pytest.mark.parametrize("pieces", [{"pieces": []}, None])
def test_without_a_piece_there_is_nothing_to_make(job: Job, pieces: Any) -> None:
    shutil.rmtree(job.pack)
    (job.folder / "pieces.json").unlink()
    if pieces is not None:
        leaving.write_json(job.folder / "pieces.json", pieces)
    found, _ = make(job, ordered("piece", "mould"))
    assert found["things"] == []
    assert not job.pack.exists()


def test_a_loss_that_is_there_no_more_is_a_sentence(job: Job) -> None:
    before = contents(job.pack)
    with pytest.raises(InputError, match="no piece for loss 7 any more: choose the losses again"):
        make(job, ordered("piece", losses=(7,)))
    with pytest.raises(InputError, match="'vase' cannot be made"):
        make(job, ordered("vase"))
    assert contents(job.pack) == before
    # Of several those that are left are made.
    found, _ = make(job, ordered("piece", losses=(2, 7)))
    assert [thing["loss"] for thing in found["things"]] == [2]


def test_paper_and_shrinkage_reach_what_is_made(job: Job) -> None:
    def made(paper: str, percent: float) -> tuple[set[tuple[str, str]], float, float]:
        found, _ = make(job, ordered("piece", "rib", paper=paper, shrink_percent=percent))
        piece, rib = found["things"]
        pdf = (job.pack / "loss_2_rib.pdf").read_bytes()
        sheets = re.findall(rb"/MediaBox ?\[ ?0 0 ([\d.]+) ([\d.]+) ?\]", pdf)
        volume = signed_volume_mm3(view_mesh(job.folder / piece["solids"][0]["mesh"]))
        svg = (job.pack / rib["drawings"][0]["name"]).read_text(encoding="utf-8")
        axis = re.search(r'id="axis".*?</g>', svg, re.DOTALL)
        assert axis is not None
        points = re.findall(r"([\d.]+),([\d.]+)", axis[0])
        tall = np.ptp([float(y) for _, y in points])
        return {(w.decode(), h.decode()) for w, h in sheets}, volume, float(tall)

    plain, volume, tall = made("a4", 0.0)
    letter, larger, taller = made("letter", 12.0)
    # 1 pt is 1/72 inch: A4 is 595.28 x 841.89, Letter is 8.5 x 11 inches.
    (a4,) = ({float(side) for side in sheet} for sheet in plain)
    assert sorted(a4) == pytest.approx([595.28, 841.89], abs=0.1)
    assert [{float(side) for side in sheet} for sheet in letter] == [{612.0, 792.0}]
    # 1/(1 - 0.12) in each direction; the view's places are 32-bit.
    assert larger / volume == pytest.approx(0.88**-3, rel=1e-5)
    # The axis' line runs beyond the profile by lengths that do not grow with it.
    assert 1.0 < taller / tall < 1 / 0.88 + 1e-3
    order = order_of(ordered("rib", shrink_percent=12.0).things)
    assert order is not None
    assert order.settings.rib.scale == pytest.approx(1 / 0.88)


@pytest.mark.parametrize("moment", ["making the mould", "writing the piece"])
def test_a_process_ended_in_the_middle_leaves_the_pack_as_it_was(job: Job, moment: str) -> None:
    make(job, ordered("stack"))
    before, shown = contents(job.pack), (job.folder / "things.json").read_bytes()
    names = ("mould",) if "mould" in moment else ("piece",)
    order = {"stage": "things", "choices": ordered(*names, losses=()).model_dump(mode="json")}
    command = [sys.executable, "-m", "lossfill.page.worker", str(job.folder)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as worker:
        assert worker.stdin is not None
        assert worker.stdout is not None
        worker.stdin.write(json.dumps(order) + "\n")
        worker.stdin.flush()
        said = []
        for line in worker.stdout:
            said.append(json.loads(line))
            if moment in said[-1].get("says", ""):
                break
        worker.kill()
    assert moment in said[-1]["says"], said
    assert contents(job.pack) == before
    assert (job.folder / "things.json").read_bytes() == shown
    assert len(read_briefs(job.pack)) == 2
    make(job, ordered("stack"))
    assert contents(job.pack) == before
    assert {path.name for path in job.folder.iterdir() if path.name.startswith(".")} == set()


class Ended(BaseException):
    """The process was ended here."""


def test_ended_between_the_old_pack_and_the_new_one_the_old_one_comes_back(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(job.pack)
    real = os.rename

    def ending(source: Path, target: Path) -> None:
        if target == job.pack:
            raise Ended
        real(source, target)

    with monkeypatch.context() as patched:
        patched.setattr(leaving.os, "rename", ending)
        with pytest.raises(Ended):
            make(job, ordered("piece"))
    assert not job.pack.exists()
    stages.run_stage(job, Stage.THINGS, ordered(), stages.Memory(), lambda *_: None)
    assert contents(job.pack) == before


def test_a_design_without_losses_leaves_no_pack_of_an_earlier_one(job: Job) -> None:
    made: Any = SimpleNamespace(
        frame=SimpleNamespace(vessel_from_scan=np.eye(4)), fitted=(), losses=(), warnings=()
    )
    stages._leave_pieces(job, made, lambda *_: None)
    assert not job.pack.exists()
    assert job.found(Stage.PIECES) == {"pieces": [], "order": [], "warnings": [], "files": []}


def test_new_pieces_make_things_and_record_due_again(job: Job) -> None:
    choices = job.read().choices
    _note(job, Stage.THINGS, choices, None)
    _note(job, Stage.RECORD, choices, None)
    assert job.read().is_done(Stage.THINGS)
    assert job.read().is_done(Stage.RECORD)
    # Things made anew leave a record that does not tell of them.
    _note(job, Stage.THINGS, choices, None)
    assert job.read().is_done(Stage.THINGS)
    assert not job.read().is_done(Stage.RECORD)
    _note(job, Stage.PIECES, choices, None)
    assert not job.read().is_done(Stage.THINGS)
    assert Stage.THINGS in job.read().done
    assert Stage.MIX not in job.read().done


def test_every_thing_has_its_words_and_its_cautions() -> None:
    assert set(words.NAMES) == set(words.SAYS) == set(MAKERS) == set(WORKS)
    assert set(words.PAPERS) == {"a4", "letter"}
    assert cautions_of(()) == ()
    for name in MAKERS:
        told = cautions_of((name,))
        assert len(told) > 1
        assert told[-1] == DEFERENCE
    assert any("Wood dust" in one for one in cautions_of(("stack",)))
    assert not any("Wood dust" in one for one in cautions_of(("mould", "rib")))
    assert Work.CAST in WORKS["mould"]


def test_limits_are_told_in_words() -> None:
    proved = [
        {"what": "a, mm", "value": 1e-9, "limit": 0.05, "passed": True},
        {"what": "b, mm", "value": 0.07, "limit": 0.05, "passed": False},
        {"what": "c, mm", "value": None, "limit": 0.05, "passed": False},
    ]
    thing = {"thing": "mould", "loss": 2, "proved": proved}
    assert [row[1:] for row in measured_rows(thing)] == [
        ("below 0.001", "0.050", "kept"),
        ("0.070", "0.050", words.NOT_KEPT),
        ("not measured", "0.050", words.NOT_KEPT),
    ]
    assert words.NOT_KEPT.startswith("NOT KEPT")
    assert missed([thing]) == [
        "Mould for loss 2: a limit was not kept (b, mm).",
        "Mould for loss 2: a limit was not kept (c, mm).",
    ]


def test_what_is_gone_from_the_pack_is_not_offered(tmp_path: Path) -> None:
    context = context_in(tmp_path)
    context.job.pack.mkdir()
    found = {"things": [{"files": ["loss_2_print.stl"]}]}
    assert not are_there(context, found)
    (context.job.pack / "loss_2_print.stl").touch()
    assert are_there(context, found)


def test_losses_are_chosen_by_their_boxes() -> None:
    assert losses_to_choose({1: True, 2: True}) == ()
    assert losses_to_choose({1: False, 2: True, 3: True}) == (2, 3)
    with pytest.raises(InputError, match="tick one loss at least"):
        losses_to_choose({1: False, 2: False})


@pytest.mark.parametrize(
    ("percent", "says"),
    [(None, "give how much shorter a test bar"), (-1.0, "must be 0 %"), (100.0, "less than 100 %")],
)
def test_a_shrinkage_that_cannot_be_is_refused(percent: float | None, says: str) -> None:
    checked({"shrink_percent": 8.0})
    with pytest.raises(InputError, match=says):
        checked({"shrink_percent": percent})
