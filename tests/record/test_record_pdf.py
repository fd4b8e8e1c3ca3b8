"""What stands on the pages of a record, measured by another library."""

from __future__ import annotations

import io
import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from record.record_cases import (
    CUP_MM,
    CUP_TALL_MM,
    HOSTILE,
    MM_PER_POINT,
    blot,
    loose,
    no_pictures,
    pages_of,
    pdf_words,
)

from lossfill.drawing.paper import Paper
from lossfill.drawing.words import BOX, printable
from lossfill.record.content import document_of
from lossfill.record.document import (
    Bullets,
    Column,
    Document,
    Entries,
    Entry,
    Paragraph,
    Pictures,
    Section,
    Signatures,
    Subheading,
    Table,
)
from lossfill.record.fields import NO_FIELDS, keys, with_field
from lossfill.record.scale import MARGIN_MM, Scale
from lossfill.record.sources import Sources
from lossfill.record.typeset import pdf_of

PAPERS = tuple(Paper)

# typst writes float32 points: 842 pt to 2^-14 pt, 2e-5 mm; a glyph's side bearing may reach
# out of the line by less than a tenth of a type size, 0.3 mm.
WRITTEN_MM = 2e-3
BEARING_MM = 0.3


@pytest.fixture(scope="module")
def cup_pdf(cup_sources: Sources) -> bytes:
    return pdf_of(document_of(cup_sources))


def document_with(*blocks: Any, **changes: Any) -> Document:
    given = {
        "title": "Record",
        "subject": "cup",
        "day": None,
        "made_by": "test",
        "sections": (Section("Part", blocks),),
    }
    return Document(**{**given, **changes})


def hostile_document(words: str) -> Document:
    """The words wherever words of a user can come to stand."""
    columns = (Column("first", 1), Column("narrow", 0.3), Column("last", 2, "right"))
    picture = replace(blot(), caption=words[:60], alt=words)
    return document_with(
        Paragraph(words),
        Paragraph(words, "quiet"),
        Paragraph(words, "strong"),
        Subheading(words[:40]),
        Bullets((words, words), ticked=True),
        Entries((Entry("label", words), Entry(words[:60], "value"))),
        Table("caption", columns, tuple((words, words, words) for _ in range(3))),
        Pictures((picture, picture)),
        Signatures((("Treated by", words),)),
        subject=words,
    )


def assert_inside(pages: list[Any]) -> None:
    """No letter, line or picture reaches into the margins or off the page."""
    for page in pages:
        wide, tall = page.width * MM_PER_POINT, page.height * MM_PER_POINT
        for kind in ("chars", "images", "lines", "rects"):
            for one in getattr(page, kind):
                if one.get("text") == " ":
                    continue  # a blank at a line's end hangs out, and is not seen
                left, right = one["x0"] * MM_PER_POINT, one["x1"] * MM_PER_POINT
                what = f"{one.get('text', kind)!r} on page {page.page_number}"
                assert left > MARGIN_MM - BEARING_MM, what
                assert right < wide - MARGIN_MM + BEARING_MM, what
                assert one["top"] * MM_PER_POINT > 8, what
                assert one["bottom"] * MM_PER_POINT < tall - 8, what


def assert_apart(pages: list[Any]) -> None:
    """No two words lie on one another: each letter's middle is in no other letter's box."""
    for page in pages:
        letters = [one for one in page.chars if one["text"].strip() and one["width"] > 0.5]
        box = np.array([[one["x0"], one["top"], one["x1"], one["bottom"]] for one in letters])
        middle = 0.5 * (box[:, :2] + box[:, 2:])
        # Ascent and descent of the line's box are left out: rows are close.
        low = box[:, 1] + 0.25 * (box[:, 3] - box[:, 1])
        high = box[:, 3] - 0.25 * (box[:, 3] - box[:, 1])
        across = (middle[:, None, 0] > box[None, :, 0] + 0.2) & (
            middle[:, None, 0] < box[None, :, 2] - 0.2
        )
        down = (middle[:, None, 1] > low) & (middle[:, None, 1] < high)
        both = across & down
        np.fill_diagonal(both, False)
        found = np.argwhere(both)
        assert not len(found), [letters[k]["text"] for k in found[0]]


@pytest.mark.parametrize("paper", PAPERS)
def test_everything_lies_inside_the_margins(cup_sources: Sources, paper: Paper) -> None:
    pages = pages_of(pdf_of(document_of(cup_sources), paper))
    assert 6 <= len(pages) <= 16
    for page in pages:
        size = page.width * MM_PER_POINT, page.height * MM_PER_POINT
        assert size == pytest.approx(paper.value, abs=1e-3)
    assert_inside(pages)
    assert_apart(pages)


def test_every_page_is_numbered_and_named(cup_pdf: bytes) -> None:
    pages = pages_of(cup_pdf)
    for number, page in enumerate(pages, start=1):
        text = page.extract_text()
        assert f"page {number} of {len(pages)}" in text
        assert "2026-03-01" in text
        assert "Record of examination and treatment" in text
        assert "Tea bowl with green-grey glaze" in text


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_words_are_printed_as_they_are_and_stay_in_their_place(words: str) -> None:
    pages = pages_of(pdf_of(hostile_document(words)))
    assert_inside(pages)
    text = "".join(letter["text"] for page in pages for letter in page.chars)
    shown = printable(words)
    if shown.isascii():
        assert loose(shown) in loose(text.replace("\N{ZERO WIDTH SPACE}", ""))
    for letter in set(shown) - set(" \N{COMBINING ACUTE ACCENT}"):
        # Arabic letters are shaped, and told by their shapes.
        assert letter in text or "\u0600" <= letter <= "\u06ff", letter
    if "\N{CJK UNIFIED IDEOGRAPH-5668}" in words:
        assert BOX in text


def test_hostile_words_in_every_field_spoil_nothing(cup_sources: Sources) -> None:
    fields = NO_FIELDS
    for (key, part), words in zip(keys().items(), itertools.cycle(HOSTILE), strict=False):
        if part != "dates":
            fields = with_field(fields, f"{key}={words}")
    pages = pages_of(pdf_of(document_of(replace(no_pictures(cup_sources), fields=fields))))
    assert_inside(pages)
    assert_apart(pages)


def test_a_long_table_goes_on_with_its_headings() -> None:
    columns = (Column("number", 1), Column("words of the second column", 3))
    rows = tuple((f"row {n}", "words " * 9) for n in range(150))
    pages = pages_of(pdf_of(document_with(Table("a long table", columns, rows))))
    assert len(pages) >= 3
    for page in pages:
        assert "words of the second column" in page.extract_text()
    text = pdf_words(pdf_of(document_with(Table("a long table", columns, rows))))
    assert all(f"row {n} words" in text for n in range(150))


def test_pictures_are_printed_at_their_size(cup_sources: Sources, cup_pdf: bytes) -> None:
    wanted = sorted(
        (round(one.width_mm, 3), round(one.height_mm, 3))
        for one in document_of(cup_sources).pictures()
    )
    found = [image for page in pages_of(cup_pdf) for image in page.images]
    sizes = sorted(
        (
            round((one["x1"] - one["x0"]) * MM_PER_POINT, 3),
            round((one["bottom"] - one["top"]) * MM_PER_POINT, 3),
        )
        for one in found
    )
    np.testing.assert_allclose(sizes, wanted, atol=WRITTEN_MM)


def test_a_ruler_on_the_page_measures_the_cup(cup_pdf: bytes) -> None:
    # On paper: width of the dark part of the first picture as placed, times two, is the cup's own.
    page, image = next((page, image) for page in pages_of(cup_pdf) for image in page.images)
    assert "Scale 1:2" in page.extract_text()
    stream = image["stream"]
    wide, tall = image["srcsize"]
    pixels = np.asarray(Image.frombytes("L", (wide, tall), stream.get_data()))
    dark = pixels[: int(0.88 * tall)] < 240
    mm_per_px = (image["x1"] - image["x0"]) * MM_PER_POINT / wide
    across = (np.ptp(np.flatnonzero(dark.any(axis=0))) + 1) * mm_per_px
    down = (np.ptp(np.flatnonzero(dark.any(axis=1))) + 1) * mm_per_px
    # A pixel of edge at either side is 0.25 mm on the paper.
    assert across / Scale(0.5).paper_mm_per_mm == pytest.approx(CUP_MM, abs=0.5)
    assert down / Scale(0.5).paper_mm_per_mm == pytest.approx(CUP_TALL_MM, abs=0.5)


def test_fonts_are_in_the_file(cup_pdf: bytes) -> None:
    import pypdfium2

    names = {letter["fontname"] for page in pages_of(cup_pdf) for letter in page.chars}
    assert {name.split("+")[-1] for name in names} == {"DejaVuSans", "DejaVuSans-Bold"}
    assert all("+" in name for name in names)  # a subset's tag: it is embedded
    # And another reader draws the letters.
    page = pypdfium2.PdfDocument(cup_pdf)[0]
    picture = np.asarray(page.render(scale=1).to_pil().convert("L"))
    assert (picture < 100).mean() > 0.005


def test_with_a_date_it_is_a_pdf_for_archives(cup_sources: Sources, cup_pdf: bytes) -> None:
    import re

    xmp = cup_pdf[cup_pdf.index(b"<x:xmpmeta") : cup_pdf.index(b"</x:xmpmeta>")].decode()
    assert re.search(r"pdfaid:part>2<", xmp)
    assert re.search(r"pdfaid:conformance>A<", xmp)
    assert "2026-03-01" in xmp
    undated = pdf_of(document_of(replace(no_pictures(cup_sources), day=None)))
    assert b"pdfaid:part" not in undated
    assert b"CreationDate" not in undated
    assert "date ____" in pages_of(undated)[0].extract_text()


def test_the_same_record_gives_the_same_bytes(cup_sources: Sources, cup_pdf: bytes) -> None:
    assert pdf_of(document_of(cup_sources)) == cup_pdf


def test_an_empty_field_is_a_line_and_a_filled_one_is_not() -> None:
    def lines(value: str) -> int:
        (page,) = pages_of(pdf_of(document_with(Entries((Entry("label", value, 3),)))))
        return sum(one["width"] > 200 for one in page.lines)

    assert lines("") - lines("known") == 3


def test_nothing_outside_is_linked(cup_pdf: bytes) -> None:
    assert all(not page.hyperlinks for page in pages_of(cup_pdf))
    text = io.BytesIO(cup_pdf).getvalue()
    assert b"/URI" not in text


def spaced(*, lines: int) -> Paragraph:
    """A paragraph as tall as so many lines."""
    return Paragraph("words " * 19 * lines)


@pytest.mark.parametrize("before", range(34, 44, 2))
def test_ruled_lines_stay_with_their_label_and_on_one_page(before: int) -> None:
    entry = Entries((Entry("Treatment carried out", "", 5),))
    pages = pages_of(pdf_of(document_with(spaced(lines=before), entry)))
    wide = [sum(one["width"] > 200 and one["width"] < 400 for one in page.lines) for page in pages]
    here = ["Treatment carried out" in page.extract_text() for page in pages]
    assert wide == [5 * labelled for labelled in here]
    assert sum(here) == 1


@pytest.mark.parametrize("before", range(34, 44, 2))
def test_what_leads_to_a_picture_or_a_short_table_stays_with_it(before: int) -> None:
    columns = (Column("number", 1), Column("words", 3))
    rows = tuple((f"row {n}", "words") for n in range(6))
    follower = (
        Pictures((blot(100.0, 90.0),)) if before % 4 == 0 else Table("a table", columns, rows)
    )
    blocks = (spaced(lines=before), Subheading("Heading"), Paragraph("It leads."), follower)
    pages = pages_of(pdf_of(document_with(*blocks)))
    text = [page.extract_text() for page in pages]
    (at,) = (n for n, words in enumerate(text) if "It leads." in words)
    assert "Heading" in text[at]
    if isinstance(follower, Table):
        assert all(f"row {n} " in text[at] for n in range(6))
    else:
        assert pages[at].images


@pytest.mark.parametrize("before", range(40, 46, 2))
def test_a_short_list_is_not_parted_and_a_long_one_is_not_cut_off(before: int) -> None:
    short = Bullets(tuple(f"short {n} end" for n in range(4)))
    long = Bullets(tuple(f"long {n} end" for n in range(120)))
    text = [
        page.extract_text()
        for page in pages_of(pdf_of(document_with(spaced(lines=before), short, long)))
    ]
    (at,) = (n for n, words in enumerate(text) if "short 0 end" in words)
    assert all(f"short {n} end" in text[at] for n in range(4))
    assert all(f"long {n} end" in " ".join(text) for n in range(120))


def test_a_narrow_picture_has_a_caption_that_can_be_read() -> None:
    words = (
        "Loss 1 from straight before its outer skin. Scale 1:1; the bar is 10 mm; loss 1 hatched."
    )
    narrow = replace(blot(12.0, 20.0), caption=words)
    (page,) = pages_of(pdf_of(document_with(Pictures((narrow,) * 4))))
    lines = page.extract_text().splitlines()
    assert sum("hatched" in line for line in lines) == 1  # four captions side by side
    # At 40 mm each takes 3 to 4 lines; at the picture's 12 mm it would take 12.
    assert sum(any(word in line for word in words.split()) for line in lines) <= 5
    assert {round(image["width"] * MM_PER_POINT, 2) for image in page.images} == {12.0}
