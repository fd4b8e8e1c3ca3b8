"""The record holds what the two professional guidelines ask for, in the PDF and in the HTML.

Each requirement stands with its article and the words that are looked for. As seen (extracts):
AIC: American Institute for Conservation, Commentaries to the Guidelines for Practice, 23
(compensation for loss); Guidelines 24 to 28 (documentation; wording of 27 from memory).
ECCO: European Confederation of Conservator-Restorers' Organisations, Professional Guidelines II,
7 March 2003, articles 8 to 10.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest
from record.record_cases import html_words, loose, no_pictures, pages_of, pdf_words, told

from lossfill.donor.form import DonorForm
from lossfill.make.record import MadeRecord, NotMadePart, ProvedPart, ThingPart
from lossfill.record.after import FORM_WORDS
from lossfill.record.content import document_of
from lossfill.record.document import Table
from lossfill.record.fields import NO_FIELDS
from lossfill.record.page import html_of
from lossfill.record.sources import Sources
from lossfill.record.typeset import pdf_of
from lossfill.record.work import materials, plan

ASKED = {
    "AIC commentary 23, 2: written documentation of the compensation": (
        "Treatment, and what was made",
        "Treatment carried out",
    ),
    "AIC commentary 23, 2: its location": ("12:00, its middle 35 mm above the foot",),
    "AIC commentary 23, 2: its materials": ("filament print", "tin powder", "flour-and-lacquer"),
    "AIC commentary 23, intro and 1: detectable by a common method": (
        "Fills can be detected by",
        "both joins glow in ultraviolet light",
    ),
    "AIC commentary 23, 1: reversible": ("Fills can be removed by",),
    "AIC commentary 23, 2: the baseline is the completed state": (
        "every source of the form that was tried",
        "expected to lie within",
    ),
    "AIC guideline 25: examination: condition, and by which means": (
        "Condition before treatment",
        "glued by the owner from four sherds",
        "magnifier in raking light",
    ),
    "AIC guideline 26: plan, and the owner's agreement": (
        "Plan and cure",
        "The owner agreed to the plan",
    ),
    "AIC guideline 27: dated": ("Treatment began", "2026-01-19", "2026-03-01"),
    "AIC guideline 27: nature and extent of what was altered": (
        "28 mm around, 20 mm along the wall; 2.12 ml",
        "Departures from the plan",
    ),
    "AIC guideline 27: composition of materials": (
        "components, in all batches together",
        "raw lacquer",
        "product, maker, lot",
    ),
    "AIC guideline 27: after-care": ("For the keeper", "damp soft cloth", "never by the rim"),
    "AIC guideline 28: kept as a permanent record": ("Keep this record with the object",),
    "ECCO 8: only what is necessary: no old material is covered or taken away": (
        "at none of them did it share any space with the vessel",
    ),
    "ECCO 9: compatible, and open to later examination": (
        "the densities of the materials are in the section on quantities",
        "By scanning again",
    ),
    "ECCO 9: as easily and completely reversible as possible": (
        "comes out the same way once its adhesive is undone",
        "What is commonly open to undo them",
    ),
    "ECCO 10: names of all who did the work": (
        "all who took part",
        "an apprentice of the repairer",
        "Treated by",
        "Signature",
    ),
    "ECCO 10: a copy for the owner": ("Copy to the owner", "a private household"),
    "provenance: the scan, its settings, and every repair of it": (
        "ab" * 32,
        "tube_scan.ply",
        "closed a scan hole",
        "clearance, mm",
        "manifold3d",
    ),
}


@pytest.fixture(scope="module")
def texts(cup_sources: Sources) -> dict[str, str]:
    document = document_of(cup_sources)
    return {"PDF": pdf_words(pdf_of(document)), "HTML": html_words(html_of(document))}


@pytest.mark.parametrize("setting", ["PDF", "HTML"])
@pytest.mark.parametrize("asked", ASKED)
def test_what_the_guidelines_ask_for_is_there(
    texts: dict[str, str], asked: str, setting: str
) -> None:
    for words in ASKED[asked]:
        assert loose(words) in loose(texts[setting]), f"{asked}: {words}"


def test_graphic_documentation_is_there_too(cup_sources: Sources) -> None:
    # AIC commentary 23, 2 (graphic form) and ECCO 10 (pictorial): the object from all sides, the
    # place of the loss from without and within, each told in words as well.
    document = document_of(cup_sources)
    pictures = list(document.pictures())
    assert sum("Before, from" in one.caption for one in pictures) == 6
    assert sum("Loss 1 from" in one.caption for one in pictures) == 2
    shown = [image for page in pages_of(pdf_of(document)) for image in page.images]
    assert len(shown) == len(pictures)
    assert html_of(document).count(b"data:image/png;base64,") == len(pictures)


@pytest.mark.parametrize("setting", ["PDF", "HTML"])
def test_what_nobody_told_is_a_line_to_write_on(cup_sources: Sources, setting: str) -> None:
    bare = replace(no_pictures(cup_sources), fields=NO_FIELDS, quantities=None, plan=None, day=None)
    document = document_of(bare)
    text = pdf_words(pdf_of(document)) if setting == "PDF" else html_words(html_of(document))
    for label in (
        "Owner or keeper",
        "Condition before treatment",
        "Treated by",
        "Fills can be detected by",
        "Fills can be removed by",
        "Materials, where, and how much",
        "Steps, dates and waits",
        "Further advice to the keeper",
        "Copy to the owner",
    ):
        assert loose(label) in loose(text), label
    assert "None" not in text.replace("None of", "")


def test_a_missed_limit_and_a_failed_proof_stand_out(cup_sources: Sources) -> None:
    proved = ProvedPart(what="wall short of that asked, mm", value=0.3, limit=0.1, passed=False)
    thing = ThingPart(thing="rib", loss=1, files=("a.stl",), proved=(proved,), notes=())
    made = MadeRecord(
        format="lossfill made", version=1, program="x", things=(thing,), not_made=(), files=()
    )
    (loss,) = cup_sources.record.losses
    piece = loss.pieces[0].model_copy(
        update={"proof": loss.pieces[0].proof.model_copy(update={"passed": False})}
    )
    record = cup_sources.record.model_copy(
        update={"losses": (loss.model_copy(update={"pieces": (piece,)}),)}
    )
    sources = replace(no_pictures(cup_sources), made=made, record=record)
    text = pdf_words(pdf_of(document_of(sources)))
    assert "Limits that were NOT KEPT: rib, loss 1: wall short of that asked, mm" in text
    assert "NOT PROVED: looked at in 32 places" in text


def test_nothing_is_called_fit_for_food(texts: dict[str, str]) -> None:
    for text in texts.values():
        assert "Treat a filled vessel as one for display" in text
        assert not re.search(r"food\W*" + "safe|safe for food", text.lower())


def test_every_term_of_the_losses_is_explained(texts: dict[str, str]) -> None:
    for text in texts.values():
        glossary = loose(text.split("How to read this")[-1])
        for term in ("break", "join", "step", "expected error", "bound", "clearance", "setback",
                     "seat", "entry", "proof", "true to scale"):  # fmt: skip
            assert loose(term) in glossary


def test_a_dated_plan_shows_its_dates(cup_sources: Sources) -> None:
    from lossfill.cure import PlanSettings, plan_for

    assert cup_sources.quantities is not None
    plan = plan_for(cup_sources.quantities, PlanSettings(start=dt.datetime(2026, 3, 2, 9, 0)))
    text = pdf_words(pdf_of(document_of(replace(no_pictures(cup_sources), plan=plan))))
    assert "2026-03-02" in text
    assert "Days count from the first step" not in text


def test_a_reason_that_names_its_loss_does_not_name_it_twice(cup_sources: Sources) -> None:
    why = "loss 1 needs no backing: where an edge is chipped, the wall behind it holds the putty"
    left_out = (
        NotMadePart(thing="backing", loss=1, why=why),
        NotMadePart(thing="rib", loss=1, why="the vessel is not open above"),
    )
    thing = ThingPart(thing="wrap", loss=1, files=("a.pdf",), proved=(), notes=())
    made = MadeRecord(
        format="lossfill made",
        version=1,
        program="x",
        things=(thing,),
        not_made=left_out,
        files=(),
    )
    words = told(document_of(replace(no_pictures(cup_sources), made=made)))
    assert f"not made: backing: {why}" in words
    assert "not made: rib for loss 1: the vessel is not open above" in words


def test_amounts_are_told_as_the_bench_reads_them(cup_sources: Sources) -> None:
    section = materials(cup_sources)
    table = next(block for block in section.blocks if isinstance(block, Table))
    rows = {row[1]: row for row in table.rows}
    assert cup_sources.quantities is not None
    (insert,) = (one for one in cup_sources.quantities.portions if one.use == "insert")
    # Two decimals, as the scale: 2.48 g and not 2.5 g, which would be another amount.
    assert rows["made insert"][5] == f"{insert.mass_g:.2f}"
    # A powder that is sprinkled on is weighed: its volume without air measures nothing.
    assert rows["metal"][3] == "–"


def test_a_step_says_its_work_once(cup_sources: Sources) -> None:
    table = next(block for block in plan(cup_sources).blocks if isinstance(block, Table))
    steps = [row[1] for row in table.rows]
    assert "print the piece: filament print" in steps
    assert table.rows[0][3] == "day 1, 09:00"


def test_dimensions_are_told_to_the_tenth_alike(cup_sources: Sources) -> None:
    frame = cup_sources.record.frame.model_copy(
        update={"height_mm": 119.96, "rim_diameter_mm": 83.588, "foot_diameter_mm": 9.44}
    )
    record = cup_sources.record.model_copy(update={"frame": frame})
    words = told(document_of(replace(no_pictures(cup_sources), record=record)))
    for length in ("120.0 mm", "83.6 mm, over the lip's outside", "9.4 mm"):
        assert length in words


def test_every_figure_of_a_form_has_words_of_its_own() -> None:
    assert DonorForm((), {}, ()).summary().keys() <= FORM_WORDS.keys()


def test_a_wall_that_was_assumed_is_not_called_measured(cup_sources: Sources) -> None:
    settings = cup_sources.record.settings.model_copy(update={"wall_mm": 3.0})
    record = cup_sources.record.model_copy(update={"settings": settings})
    words = told(document_of(replace(no_pictures(cup_sources), record=record)))
    assert "(as told; not measured)" in words
    assert "taken to lie 3 mm within it" in words
    assert "Measured on the scan straight through the wall" not in words
