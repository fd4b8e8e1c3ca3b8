"""What the steps say of losses, forms and pieces, and what they refuse."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from page.page_cases import a_loss, a_piece, context_in

from lossfill.errors import InputError
from lossfill.fill.settings import LEAST_THICKNESS_MM
from lossfill.form.sources import NAMES
from lossfill.loss.loss import LossKind
from lossfill.page.choices import Choices, Stage, changed
from lossfill.page.context import Context
from lossfill.page.leaving import leave
from lossfill.page.runner import Progress, Runner
from lossfill.page.stages import settings_of
from lossfill.page.steps.cutting import directions
from lossfill.page.steps.form import read, trial_rows
from lossfill.page.steps.losses import measures_of, title_of, where_of
from lossfill.page.steps.piece import facts_of, join_summary, largest_step
from lossfill.page.steps.pointing import search_again
from lossfill.page.steps.scan import reading_notes, size_words
from lossfill.page.steps.shaping import checked, process_words
from lossfill.page.words import form as form_words
from lossfill.page.words import losses as losses_words
from lossfill.page.words import start as start_words
from lossfill.scan.units import NOT_STATED

BOX = [[-60.0, -60.0, 0.0], [60.0, 60.0, 80.0]]


def test_every_kind_and_every_way_has_its_words() -> None:
    assert set(losses_words.KINDS) == {kind.value for kind in LossKind}
    assert set(form_words.WAYS) == set(form_words.SHORT) == set(NAMES)
    assert set(process_words()) == {"", *LEAST_THICKNESS_MM}
    assert "0.8 mm" in process_words()["nozzle"]


def test_a_loss_is_told_whole(tmp_path: Path) -> None:
    context = context_in(tmp_path)
    assert title_of(a_loss()) == "2  Chip of the edge"
    assert where_of(context, a_loss()) == "at 4:30, 62.0 mm above the foot"
    assert where_of(context, a_loss(on_wall=False)) == "62.0 mm above the table"
    told = dict(measures_of(context, a_loss()))
    assert told["Size"] == "14.9 mm around × 6.5 mm along the wall"
    assert told["Volume missing"] == "0.083 ml"
    assert told["Thickness"] == "2.7 mm to 3.2 mm"
    assert told["Fill it with"] == "paste in thin layers"
    assert told["Error of the new skin"] == "0.06 mm expected, below 0.10 mm in nine of ten cases"
    # How deep a hole is says nothing that its thickness does not.
    assert "Depth below the skin" not in dict(measures_of(context, a_loss(kind="through")))


def test_lengths_are_told_in_inches_where_asked(tmp_path: Path) -> None:
    # 62 mm / 25.4 = 2.441 in.
    assert "2.44 in above the foot" in where_of(context_in(tmp_path, shown="inch"), a_loss())


def test_the_ways_tried_are_told_with_the_chosen_one_marked(tmp_path: Path) -> None:
    assert trial_rows(context_in(tmp_path), a_loss()) == [
        ("Revolve (chosen)", "0.06 mm", "0.10 mm", "the profile"),
        ("Mirror", "does not apply", "–", "no plane"),
    ]


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (-0.12, "lies 0.12 mm below the form, 30.0 mm above"),
        (0.12, "stands 0.12 mm above the form"),
        (None, "no skin to compare"),
        (math.nan, "no skin to compare"),
    ],
)
def test_the_map_is_read_in_words(tmp_path: Path, value: float | None, says: str) -> None:
    assert says in read(context_in(tmp_path), value, (1.0, 2.0, 30.0))


def test_a_piece_is_told_with_its_proof(tmp_path: Path) -> None:
    context = context_in(tmp_path)
    told = dict(facts_of(context, a_piece()))
    assert told["Goes in"] == "from above; it may be leaned up to 19° either way"
    assert (
        "over 12.0 mm and cut with the vessel at 32 places: shared 0 mm³"
        in (told["Proof of the way in"])
    )
    assert told["Seat cut away"] == "12 mm² of 100 mm² (12 %), so that it slides in"
    failed = a_piece(proof={"stations": 32, "shared_mm3": 3.21, "rub_mm": 0.0, "passed": False})
    assert dict(facts_of(context, failed))["Proof of the way in"].startswith("not proved: 3.2 mm³")
    bad = a_piece(check={"passed": False}, trimmed=3)
    assert dict(facts_of(context, bad))["Checks on its file"] == "failed: do not make it"
    assert dict(facts_of(context, bad))["Thin edges trimmed"] == "at 3 places"


def test_a_join_is_told_in_words(tmp_path: Path) -> None:
    run = {
        "along_mm": [float(k) for k in range(10)],
        "step_mm": [0.2, 0.4, 0.3, 0.0, 0.1, None, None, None, None, None],
        "outside": [True] * 8 + [False] * 2,
    }
    told = join_summary(context_in(tmp_path), run)
    # Places 0.25 · 4 and 0.75 · 4 of five values in order.
    assert "Outside: half of it within +0.10 mm and +0.30 mm" in told
    assert "Inside: not measured" in told
    assert "Along 9.0 mm of join; 50 % of it" in told
    assert largest_step(run) == 1
    assert largest_step(run | {"step_mm": [None] * 10}) is None


def test_cuts_go_through_the_losses_with_pieces_and_face_the_eye() -> None:
    ways = directions(BOX, [a_loss(), a_loss(number=3, centre_mm=[0.0, 0.0, 1.0])], {2, 3})
    assert [way.name for way in ways] == ["loss_2", "loss_3", "level"]
    upright, middle, level = ways
    # The plane holds the axis and the loss: its normal is level and at right angles to the place.
    assert upright.normal[2] == 0.0
    assert upright.normal[0] * 30.0 + upright.normal[1] * -40.0 == pytest.approx(0.0)
    assert math.hypot(*upright.normal) == pytest.approx(1.0)
    assert math.hypot(*middle.normal) == pytest.approx(1.0)
    assert (level.low, level.begin, level.high) == (0.0, 62.0, 80.0)
    assert [way.name for way in directions(BOX, [a_loss()], set())] == ["level"]


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("clearance_mm", 1.5, "the clearance of 1.5 mm is out of range"),
        ("clearance_mm", None, "Gap for the adhesive: give a number"),
        ("setback_inside_mm", -0.1, "setback inside of -0.1 mm is out of range"),
        ("fillet_mm", 2.0, "fillet of 2 mm is out of range"),
    ],
)
def test_what_no_piece_can_be_shaped_by_is_refused(
    key: str, value: float | None, says: str
) -> None:
    values = {
        "clearance_mm": 0.15,
        "setback_outside_mm": 0.3,
        "setback_inside_mm": 0.0,
        "setback_edge": "fade",
        "process": None,
        "fillet_mm": 0.0,
        "split": False,
    }
    checked(values)
    with pytest.raises(InputError, match=says):
        checked(values | {key: value})


def test_a_new_search_brings_back_what_was_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    choices = changed(Choices(), Stage.PIECES, dismissed=(2,))
    context = context_in(tmp_path, choices=choices)
    begun: list[Stage] = []
    monkeypatch.setattr(context.runner, "start", lambda _job, stage: begun.append(stage))
    search_again(context, pointed_mm=((1.0, 2.0, 3.0),), pointed_at=((225.0, 62.0),))
    now = context.job.read().choices
    assert now.losses.pointed_mm == ((1.0, 2.0, 3.0),)
    assert now.pieces.dismissed == ()
    assert begun == [Stage.LOSSES]
    settings = settings_of(context.job, now)
    assert settings.pointed_mm == ((1.0, 2.0, 3.0),)
    assert settings.pointed_at == ((225.0, 62.0),)


def test_going_on_leaves_alone_what_is_under_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    context = context_in(tmp_path)
    begun: list[Stage] = []
    monkeypatch.setattr(context.runner, "start", lambda _job, stage: begun.append(stage))
    context.start_unless_done(Stage.LOSSES)
    assert begun == [Stage.LOSSES]
    monkeypatch.setattr(context.runner, "progress", lambda _job: Progress(Stage.LOSSES))
    context.start_unless_done(Stage.LOSSES)
    assert begun == [Stage.LOSSES]
    context.start_unless_done(Stage.PIECES)
    assert begun == [Stage.LOSSES, Stage.PIECES]
    monkeypatch.setattr(context.runner, "progress", lambda _job: None)
    done = {Stage.LOSSES: Choices().fingerprint(Stage.LOSSES)}
    context.job.write(context.job.read().model_copy(update={"done": done}))
    context.start_unless_done(Stage.LOSSES)
    assert begun == [Stage.LOSSES, Stage.PIECES]


def test_a_note_is_told_at_the_step_that_it_comes_from(tmp_path: Path) -> None:
    done = {stage: Choices().fingerprint(stage) for stage in Stage}
    context = context_in(tmp_path, done=done)
    told = {Stage.VESSEL: ["a"], Stage.LOSSES: ["a", "b"], Stage.PIECES: ["a", "b", "c"]}
    for stage, warnings in told.items():
        leave(context.job, stage, {"warnings": warnings}, {})
    assert {stage: context.notes_of(stage) for stage in told} == {
        Stage.VESSEL: ["a"],
        Stage.LOSSES: ["b"],
        Stage.PIECES: ["c"],
    }


def test_what_lies_in_an_earlier_vessel_or_among_earlier_losses_is_not_shown(
    tmp_path: Path,
) -> None:
    first = Choices()
    done = {stage: first.fingerprint(stage) for stage in Stage}
    job = context_in(tmp_path, done=done).job

    def shown(now: Choices, *redone: Stage) -> set[Stage]:
        fresh = done | {stage: now.fingerprint(stage) for stage in redone}
        state = job.read().model_copy(update={"done": fresh, "choices": now})
        return {stage for stage in Stage if Context(job, Runner(), state).found(stage) is not None}

    for stage in Stage:
        leave(job, stage, {}, {})
    every = set(Stage)
    assert shown(first) == every
    # A choice alone changes nothing that is shown: that it is stale is said beside it.
    searched = changed(first, Stage.LOSSES, form="bridge")
    assert shown(searched) == every
    # Done with it, the losses are others, and piece 2 may be that of another loss 2, or of none.
    assert shown(searched, Stage.LOSSES) == every - {Stage.PIECES}
    assert shown(searched, Stage.LOSSES, Stage.PIECES) == every
    larger = changed(first, Stage.VESSEL, units="inch")
    assert shown(larger, Stage.VESSEL) == every - {Stage.LOSSES}
    shaped = changed(first, Stage.PIECES, clearance_mm=0.3)
    assert shown(shaped, Stage.PIECES) == every


def test_the_size_of_a_scan_is_that_of_its_measures(tmp_path: Path) -> None:
    found = {
        "box_mm": [[-50.0, -59.0, -0.4], [50.0, 59.0, 75.4]],
        "frame": {"height_mm": 74.9, "rim_diameter_mm": 119.2},
        "input": {"unit": "millimetre", "unit_source": "inferred", "scale": 1.0},
        "reading": [f"{NOT_STATED}: read as mm", "two halves were joined"],
    }
    context = context_in(tmp_path)
    told, because = size_words(context, found)
    assert "74.9 mm tall and 119.2 mm wide" in told
    assert because == start_words.BECAUSE["inferred"]
    assert reading_notes(found) == ["two halves were joined"]
    handles = found | {"box_mm": [[-90.0, -59.0, 0.0], [59.0, 59.0, 75.0]]}
    assert "149.0 mm wide" in size_words(context, handles)[0]
    scaled = found | {"input": found["input"] | {"scale": 1.02}}
    assert size_words(context, scaled)[1] == start_words.BECAUSE["rim"]


def test_leaving_a_loss_alone_redoes_the_pieces_and_not_the_search() -> None:
    before = Choices()
    after = changed(before, Stage.PIECES, dismissed=(2,))
    assert after.fingerprint(Stage.LOSSES) == before.fingerprint(Stage.LOSSES)
    assert after.fingerprint(Stage.PIECES) != before.fingerprint(Stage.PIECES)
