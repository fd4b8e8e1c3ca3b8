"""The record: its shape, its rounding, and that it says what the design says."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest
from pack.pack_designs import fitted_design, make_design

from lossfill.errors import ExportError
from lossfill.fill.fill import Check
from lossfill.loss import LossKind, WayRule
from lossfill.pack import entries
from lossfill.pack.entries import Written, make_record
from lossfill.pack.record import FillRecord, read_record, record_bytes, schema

PIECE_FIELDS = (
    "piece",
    "piece_3mf",
    "piece_volume_ml",
    "clearance_mm",
    "check",
    "check_3mf",
)
"""What the record says of a piece, after what it says of its loss."""

NAMES = {1: ("piece_1.stl", "piece_1.3mf"), 2: ("piece_2.stl", "piece_2.3mf")}


@pytest.fixture(scope="module")
def design():
    return make_design(segments=48)


def record_of(design):
    def sound(volume_mm3):
        return Check(True, True, True, 0.0, 0.01, volume_mm3)

    fitted = {one.fill.loss.number: one.pieces for one in design.fitted}
    pieces = {}
    for f in design.fills:
        number, check = f.loss.number, sound(f.solid.volume())
        pieces[number] = [Written(*NAMES[number], check, check)]
        if number in fitted:
            pieces[number] = [
                Written(f"piece_{one.name}.stl", f"piece_{one.name}.3mf", check, check, one)
                for one in fitted[number]
            ]
    return make_record(design, pieces=pieces, files=["fill.json", "piece_1.stl"])


def test_round_trip_gives_the_same_record_and_bytes(design):
    record = record_of(design)
    raw = record_bytes(record)
    back = read_record(raw)
    assert back == record
    assert record_bytes(back) == raw
    assert record_bytes(record_of(design)) == raw


def test_keys_come_in_reading_order_and_numbers_are_rounded_but_the_matrix_is_not(design):
    content = json.loads(record_bytes(record_of(design)))
    assert list(content)[:4] == ["format", "version", "program", "input"]
    assert list(content)[-3:] == ["files", "warnings", "cautions"]
    assert content["frame"]["residual_mm"] == 0.212346  # of 0.2123456789
    assert content["losses"][0]["expected_error_mm"] == 0.0712346
    assert content["form"] == {"way": "revolve", "spread_mm": 0.0812346, "harmonics": 3}
    matrix = np.array(content["frame"]["vessel_from_scan"])
    assert np.array_equal(matrix, design.frame.vessel_from_scan)


def test_it_names_the_input_without_its_folder_and_holds_no_time(design):
    raw = record_bytes(record_of(design)).decode()
    content = json.loads(raw)
    assert content["input"]["file"] == "tea_bowl.ply"
    assert "somewhere" not in raw
    assert "20:" not in raw
    assert "date" not in raw
    assert content["input"]["unit"] == "millimetre"
    assert content["input"]["unit_source"] == "asked"
    assert content["warnings"] == ["the unit was asked for"]


def test_losses_carry_every_measure_of_the_loss(design):
    loss, part = design.losses[1], json.loads(record_bytes(record_of(design)))["losses"][1]
    for field in dataclasses.fields(loss):
        value = getattr(loss, field.name)
        # All but the solids, which are too large for a record.
        if not isinstance(value, int | float | str | tuple | LossKind):
            continue
        if isinstance(value, tuple):
            assert part[field.name] == pytest.approx(list(value), rel=1e-5), field.name
        elif isinstance(value, float):
            assert part[field.name] == pytest.approx(value, rel=1e-5), field.name
        else:
            assert part[field.name] == getattr(value, "value", value), field.name
    assert (part["piece"], part["piece_3mf"]) == NAMES[2]


def test_a_loss_without_a_piece_is_listed_with_its_measures(design):
    reason = "no piece was made for loss 2: the clearance leaves nothing"
    short = dataclasses.replace(design, fills=design.fills[:1], left_out=(reason,))
    record = record_of(short)
    whole = record_of(design)
    assert [part.number for part in record.losses] == [1, 2]
    assert record.losses[0] == whole.losses[0]
    nothing = dict.fromkeys(PIECE_FIELDS)
    assert record.losses[1] == whole.losses[1].model_copy(update=nothing)
    assert record.warnings == (*whole.warnings, reason)
    assert read_record(record_bytes(record)) == record


def test_each_piece_has_its_way_in_and_its_proof(design):
    fitted = fitted_design(design, split_first=True)
    record = record_of(fitted)
    first, second = record.losses
    assert record.order == ("1a", "1b", "2")
    assert [piece.name for piece in first.pieces] == ["1a", "1b"]
    assert [piece.name for piece in second.pieces] == ["2"]
    # What is said of `piece` is of the first, but its volume is that of both.
    assert first.piece == first.pieces[0].stl == "piece_1a.stl"
    assert first.check == first.pieces[0].check
    volumes = [piece.volume_ml for piece in first.pieces]
    assert first.piece_volume_ml == pytest.approx(sum(volumes), rel=1e-5)
    content = json.loads(record_bytes(record))["losses"][1]["pieces"][0]
    down = -design.frame.vessel_from_scan[2, :3]
    np.testing.assert_allclose(content["entry"]["direction"], down, rtol=0, atol=1e-6)
    assert content["entry"]["words"] == "from above"
    assert content["entry"]["travel_mm"] == 45.6789  # of 45.678901234
    assert content["relieved_mm3"] == 1.23457
    assert content["proof"]["passed"] is True
    assert read_record(record_bytes(record)) == record
    # A record from before ways in were kept is read all the same.
    old = json.loads(record_bytes(record))
    del old["order"], old["settings"]["split"]
    for part in old["losses"]:
        del part["pieces"]
    assert read_record(json.dumps(old).encode()).losses[0].pieces == ()


def test_whether_pieces_were_to_be_split_is_kept(design):
    settings = dataclasses.replace(design.settings, split=True)
    assert record_of(dataclasses.replace(design, settings=settings)).settings.split is True
    assert record_of(design).settings.split is False


def test_it_says_by_which_rule_ways_were_recommended(design):
    rule = WayRule(paste_depth_mm=2.5, paste_volume_ml=0.4, putty_span_mm=65.0, putty_volume_ml=20)
    settings = dataclasses.replace(design.settings, way_rule=rule, twin_scaled=True)
    content = json.loads(record_bytes(record_of(dataclasses.replace(design, settings=settings))))
    assert content["settings"]["way_rule"] == dataclasses.asdict(rule)
    assert content["settings"]["twin_scaled"] is True
    # A record from before it was kept is read all the same.
    del content["settings"]["way_rule"], content["settings"]["twin_scaled"]
    assert read_record(json.dumps(content).encode()).settings.way_rule is None


@pytest.mark.parametrize("missing", PIECE_FIELDS)
def test_half_a_piece_is_refused(design, missing: str):
    content = json.loads(record_bytes(record_of(design)))
    content["losses"][0][missing] = None
    with pytest.raises(ExportError, match="all that is said of a piece, or nothing"):
        read_record(json.dumps(content).encode())


def test_the_documented_schema_describes_every_field_and_fits_an_example(design):
    document = schema()
    content = json.loads(record_bytes(record_of(design)))
    models = {"FillRecord": document, **document["$defs"]}
    for name, model in models.items():
        assert model["description"], name
        assert model["additionalProperties"] is False
        for key, field in model["properties"].items():
            assert "description" in field or "$ref" in field, (name, key)
    assert set(content) == set(document["properties"])
    assert set(content["losses"][0]) == set(document["$defs"]["LossPart"]["properties"])
    # Accepted as the schema's own model, and refused with one key more or one less.
    FillRecord.model_validate(content)
    for broken in ({**content, "extra": 1}, {k: v for k, v in content.items() if k != "losses"}):
        with pytest.raises(ExportError, match="not a lossfill record"):
            read_record(json.dumps(broken).encode())


@pytest.mark.parametrize("raw", [b"", b"[]", b'{"format": "another"}', b"\xff\xfe"])
def test_other_files_are_refused(raw: bytes):
    with pytest.raises(ExportError, match="not a lossfill record"):
        read_record(raw)


def test_a_number_that_is_none_is_our_fault_and_said_so(design):
    frame = dataclasses.replace(design.frame, wall_mm=float("nan"))
    with pytest.raises(ExportError, match=r"frame.*wall_mm|wall_mm.*finite"):
        record_of(dataclasses.replace(design, frame=frame))


def test_a_form_without_figures_is_null(design):
    class Bare:
        warnings = ()

    assert record_of(dataclasses.replace(design, form=Bare())).form is None


def test_cautions_are_there_and_promise_nothing_about_food(design):
    record = record_of(design)
    text = " ".join(record.cautions).lower()
    for word in ("gloves", "mask", "silica", "allergy"):
        assert word in text
    # A repaired vessel is never called fit for food: 21 CFR 175.300 has no list for its coats.
    assert text.count("food") == 1
    assert "nothing here shows that its fills, adhesives, lacquer or metal may touch food" in text
    # Last comes that all of it gives way to those who know better.
    for authority in ("safety data sheet", "local rules", "licensed practice"):
        assert authority in record.cautions[-1]


@pytest.mark.parametrize(
    ("way", "told", "not_told"),
    [
        ("paste in thin layers", "Raw lacquer", "printing resin"),
        ("putty on a backing", "resin and hardener", "printing resin"),
        ("a made insert", "printing resin", "resin and hardener"),
    ],
)
def test_cautions_are_those_of_what_the_way_recommended_needs(design, way, told, not_told):
    record = record_of(design)
    losses = tuple(loss.model_copy(update={"way": way}) for loss in record.losses)
    said = " ".join(entries._cautions(record.model_copy(update={"losses": losses})))
    assert told in said
    assert not_told not in said
