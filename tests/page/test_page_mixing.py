"""What the page says is mixed: the very amounts and the plan of the command line."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from page.mixed_cases import STARTED, bowl_job, chosen
from page.page_cases import context_in

from lossfill.cautions import DEFERENCE
from lossfill.cure import PlanSettings, plan_for
from lossfill.cure.calendar import is_ours
from lossfill.errors import InputError
from lossfill.make.store import read_design
from lossfill.materials import read_table
from lossfill.mix import MixSettings, Quantities, needs_of, quantities_for
from lossfill.page.choices import Stage, changed
from lossfill.page.jobs import Job
from lossfill.page.mixing import folder_name, leave_mix, scan_title
from lossfill.page.steps.choosing import checked, days_off_parts, days_off_words, options
from lossfill.page.steps.mix import amount_rows, batch_words, need_rows, plan_rows, size_of


@pytest.fixture
def job(tea_bowl_folder: Path, tmp_path: Path) -> Job:
    return bowl_job(tea_bowl_folder, tmp_path)


def mixed(job: Job, **values: Any) -> dict[str, Any]:
    leave_mix(job, chosen(**values))
    found = job.found(Stage.MIX)
    assert found is not None
    return found


def of_the_library(job: Job, settings: MixSettings) -> Quantities:
    record, briefs = read_design(job.pack)
    return quantities_for(needs_of(record, briefs), settings, read_table())


def test_amounts_and_plan_are_those_of_the_command_line(job: Job) -> None:
    coats = [one.name for one in read_table() if one.kind.value == "coat"]
    settings = MixSettings(
        fill_for={2: "epoxy putty"}, coat_with=coats[-1], coat_sides="outer", join_with="none"
    )
    found = mixed(
        job, fill_with=((2, "epoxy putty"),), join_with="none", coat_sides="outer", coat=coats[-1]
    )
    wanted = of_the_library(job, settings)
    portions = [one for loss in found["losses"] for one in loss["portions"]]
    assert [(one["material"], one["mass_g"], one["batches"]) for one in portions] == [
        (one.material.name, one.mass_g, one.batches) for one in wanted.portions
    ]
    for shown, real in zip(portions, wanted.portions, strict=True):
        # Batches are alike, so that all of them together make the whole, but for rounding.
        for each, amount in zip(shown["each"], real.amounts, strict=True):
            assert each["mass_g"] * real.batches == pytest.approx(amount.mass_g, rel=1e-12)
        assert shown["error_g"] == real.error_ml * real.material.density_g_ml
        assert [link[:2] for link in shown["chain"]] == [[one.what, one.sum] for one in real.chain]
    assert [one["mass_g"] for one in found["totals"]] == [one.mass_g for one in wanted.totals]
    assert [row[3] for row in found["plan"]["rows"]] == [
        one.says for one in plan_for(wanted, PlanSettings()).steps
    ]
    assert any("no adhesive is counted" in one for one in found["warnings"])


def test_as_recommended_is_what_the_command_line_takes_by_itself(job: Job) -> None:
    found = mixed(job)
    wanted = of_the_library(job, MixSettings())
    assert [one["material"] for one in found["totals"]] == [
        one.material.name for one in wanted.totals
    ]
    fills = [
        next(p for p in one["portions"] if p["use"] in ("fill", "insert"))
        for one in found["losses"]
    ]
    assert [one["recommended"] for one in found["losses"]] == [one["material"] for one in fills]


def test_a_start_makes_a_calendar_and_its_absence_removes_it(job: Job) -> None:
    found = mixed(job, start=STARTED, days_off="sat,sun")
    content = (job.folder / found["calendar"]).read_bytes()
    assert is_ours(content)
    assert b"DTSTART:20261201T100000" in content
    assert b"tea bowl" in content
    assert found["plan"]["rows"][0][1:3] == ["Tue 2026-12-01", "10:00"]
    assert mixed(job)["calendar"] is None
    assert not (job.folder / "plan.ics").exists()
    # A day alone begins when work may.
    assert mixed(job, start="2026-12-01", hours="8-16")["plan"]["rows"][0][2] == "08:00"


def test_cautions_stand_beside_the_steps_and_give_way_at_the_end(job: Job) -> None:
    found = mixed(job)
    assert found["cautions"][-1] == DEFERENCE
    rows = plan_rows(found["plan"])
    told = [row[3] for row in rows]
    assert any("Raw lacquer brings on a rash" in " ".join(one) for one in told)
    assert all(DEFERENCE not in one for one in told)
    again = [one[1] for one in told if one[1:] and one[1].startswith("Take care as at step")]
    assert again
    named = {int(one.rstrip(".").rpartition(" ")[2]) for one in again}
    assert all(len(told[number - 1]) > 1 for number in named)


def test_a_loss_that_has_gone_is_mixed_for_no_more(job: Job) -> None:
    found = mixed(job, fill_with=((7, "epoxy putty"),))
    assert [loss["number"] for loss in found["losses"]] == [1, 2]


def test_without_losses_there_is_nothing_to_mix(job: Job) -> None:
    shutil.rmtree(job.pack)
    (job.folder / "pieces.json").write_text(json.dumps({"pieces": [], "files": []}))
    assert mixed(job)["losses"] == []


@pytest.mark.parametrize("broken", ["fill.json", "design.npz"])
def test_a_broken_pack_is_a_sentence(broken: str, job: Job) -> None:
    (job.pack / broken).write_bytes(b"{")
    with pytest.raises(InputError, match="make the pieces again under Piece") as told:
        leave_mix(job, chosen())
    assert str(job.folder) not in str(told.value)
    assert job.found(Stage.MIX) is None


def test_other_materials_redo_mix_and_record_alone() -> None:
    before, after = chosen(), chosen(coat="none")
    redone = {one for one in Stage if before.fingerprint(one) != after.fingerprint(one)}
    assert redone == {Stage.MIX, Stage.RECORD}
    told = changed(before, Stage.RECORD, fields={"owner": "a household"})
    assert {one for one in Stage if before.fingerprint(one) != told.fingerprint(one)} == {
        Stage.RECORD
    }


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"days_off": "sat"}, "give a start"),
        ({"hours": "17-9"}, "end before they begin"),
        ({"start": "soon"}, "not a date"),
        ({"start": STARTED, "days_off": "someday"}, "someday"),
    ],
)
def test_times_that_cannot_be_planned_by_are_refused(values: dict[str, Any], says: str) -> None:
    checked({"start": STARTED, "hours": "9-17"})
    with pytest.raises(InputError, match=says):
        checked(values)


def test_days_off_come_apart_as_they_went_together() -> None:
    told = days_off_words(["sat", "sun"], "2026-12-24..2026-12-26, 2027-01-01")
    assert told == "sat,sun,2026-12-24..2026-12-26,2027-01-01"
    assert days_off_parts(told) == (["sat", "sun"], "2026-12-24..2026-12-26, 2027-01-01")
    assert days_off_words([], " ") == ""
    assert list(options(["a"], "b").items())[:2] == [
        ("", "As recommended: b"),
        ("none", "None"),
    ]


def test_a_portion_is_told_in_words(job: Job, tmp_path: Path) -> None:
    loss = mixed(job)["losses"][1]
    fill, coat = loss["portions"]
    assert size_of(fill).endswith(f"in {fill['layers']} layers")
    assert f"give or take {fill['error_g']:.2g} g" in size_of(fill)
    assert batch_words(fill).startswith("Mix ")
    assert size_of(coat).endswith("in 3 coats")
    assert batch_words(coat) == "Take 3 times, each time this much"
    powder, lacquer = amount_rows(fill["each"])
    assert powder[2] == "weigh it"
    assert lacquer[2].endswith(" ml")
    told = dict(need_rows(context_in(tmp_path / "other"), loss))
    assert "give or take" in told["Volume missing"]


@pytest.mark.parametrize(
    ("title", "folder"),
    [
        ("tea bowl", "tea_bowl"),
        ("../../etc/passwd", "passwd"),
        ('Schale Nr. 3: "grün"', "Schale_Nr_3_grün"),
        ("CON", "vessel_CON"),
        ("...", "vessel"),
        ("x" * 300, "x" * 60),
    ],
)
def test_a_hostile_name_is_a_plain_folder(title: str, folder: str) -> None:
    made = folder_name(title)
    assert made == folder
    assert not set(made) & set('/\\:*?"<>|. \n')
    assert 0 < len(made) <= 67


def test_a_vessel_is_called_by_its_file(job: Job) -> None:
    assert scan_title(job) == "tea bowl"
