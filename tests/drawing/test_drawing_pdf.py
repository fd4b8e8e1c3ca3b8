"""What is really on the pages, measured by another library."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from drawing.drawing_cases import (
    HOSTILE,
    MM_PER_POINT,
    WRITTEN_MM,
    along,
    distances_mm,
    length_mm,
    opened,
    page_words,
    paths_mm,
    rib,
    square,
)

from lossfill.drawing import Anchor, Drawing, Layer, Line, Paper, PaperSettings, Text, pdf_bytes
from lossfill.drawing.pages import lay_on_paper
from lossfill.drawing.pdf import _TEMPLATE
from lossfill.drawing.typesetting import typeset
from lossfill.drawing.words import BOX, width_mm
from lossfill.errors import ExportError, InputError
from lossfill.mesh import FloatArray

DAY = dt.date(2026, 3, 1)
PAPERS = tuple(Paper)

# CHECKS 3.13: ISO 216 and ANSI A, in points.
POINTS = {Paper.A4: (595.27559, 841.88976), Paper.LETTER: (612.0, 792.0)}


def wordy() -> Drawing:
    """More notes than one sheet holds."""
    return square(
        150.0, notes=tuple(f"Note {k}: " + "read this with care, " * 12 for k in range(60))
    )


def rulers_of(page: Any) -> dict[str, tuple[FloatArray, FloatArray]]:
    """The straight lines 100 mm long that carry ticks, with their ticks' places along them."""
    straight = [path for path in paths_mm(page) if len(path) == 2]
    found = {}
    for axis, name in enumerate(("level", "upright")):
        for line in straight:
            if abs(line[0, 1 - axis] - line[1, 1 - axis]) > 1e-3 or length_mm(line) < 99:
                continue
            ticks = [
                other[0, axis] - line[:, axis].min()
                for other in straight
                if abs(other[0, axis] - other[1, axis]) < 1e-3
                and abs(other[0, 1 - axis] - line[0, 1 - axis]) < 1e-3
                and length_mm(other) < 5
            ]
            if len(ticks) >= 11:
                found[name] = (line, np.sort(ticks))
    return found


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("drawing", [square(), rib(), wordy()], ids=["small", "tiled", "wordy"])
def test_both_rulers_measure_100_mm_on_every_page(drawing: Drawing, paper: Paper) -> None:
    pages = opened(pdf_bytes([drawing], paper=PaperSettings(paper=paper), date=DAY))
    for page in pages:
        assert sorted((page.width, page.height)) == pytest.approx(POINTS[paper], abs=1e-3)
        found = rulers_of(page)
        assert set(found) == {"level", "upright"}
        for line, ticks in found.values():
            assert length_mm(line) == pytest.approx(100, abs=WRITTEN_MM)
            np.testing.assert_allclose(ticks, np.arange(0, 101, 10), atol=WRITTEN_MM)


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_says_what_it_is_and_how_to_print_it(paper: Paper) -> None:
    drawing = rib()
    pages = opened(pdf_bytes([drawing], paper=PaperSettings(paper=paper), date=DAY))
    assert len(pages) == 2
    for number, page in enumerate(pages, start=1):
        words = page_words(page)
        for told in (drawing.title, drawing.part, "2026-03-01", "print at 100 %, no fit to page"):
            assert told in words
        assert f"sheet {number} of 2: row 1, column {number}" in words
        for note in drawing.notes:
            assert note in words


def test_without_a_date_there_is_a_line_to_write_on() -> None:
    (page,) = opened(pdf_bytes([square()], date=None))
    assert "date ____" in page_words(page)


def test_lengths_on_paper_are_those_of_the_drawing() -> None:
    (page,) = opened(pdf_bytes([square(123.456)]))
    lengths = [length_mm(path) for path in paths_mm(page)]
    # 4 a and a √2 for a square and its diagonal.
    for wanted in (4 * 123.456, 123.456 * np.sqrt(2)):
        assert min(abs(length - wanted) for length in lengths) < 10 * WRITTEN_MM


@pytest.mark.parametrize(("radius_mm", "overlap_mm"), [(150.0, 10.0), (260.0, 0.0), (333.3, 37.0)])
def test_every_point_of_every_line_is_on_some_page_where_it_belongs(
    radius_mm: float, overlap_mm: float
) -> None:
    drawing = rib(radius_mm)
    settings = PaperSettings(overlap_mm=overlap_mm)
    sheets = lay_on_paper(drawing, settings=settings, date=DAY)
    pages = opened(pdf_bytes([drawing], paper=settings, date=DAY))
    assert len(pages) == len(sheets) > 1
    laid: list[FloatArray] = []
    for sheet, page in zip(sheets, pages, strict=True):
        assert sheet.shift_mm is not None
        low, high = sheet.window - sheet.shift_mm
        slack = 1e-3
        for path in paths_mm(page):
            back = path - sheet.shift_mm
            if ((back >= low - slack) & (back <= high + slack)).all():
                laid.append(back)
    for line in drawing.lines:
        assert distances_mm(along(line, 2.0), laid).max() < 2 * WRITTEN_MM
    # And nothing else is in the windows but the crosses, whose arms are 4 mm at most.
    wanted = [
        np.concatenate([line.points, line.points[:1]]) for line in drawing.lines if line.closed
    ]
    wanted += [line.points for line in drawing.lines if not line.closed]
    others = [path for path in laid if distances_mm(path, wanted).max() > 2 * WRITTEN_MM]
    assert others
    assert all(len(path) == 2 and length_mm(path) < 8 + WRITTEN_MM for path in others)


@pytest.mark.parametrize("turned_deg", [0.0, 30.0, 90.0, -120.0])
@pytest.mark.parametrize(
    ("anchor", "before"), [(Anchor.LEFT, 0.0), (Anchor.MIDDLE, 0.5), (Anchor.RIGHT, 1.0)]
)
def test_words_stand_at_their_place_and_angle(
    anchor: Anchor, before: float, turned_deg: float
) -> None:
    text = Text((20.0, 25.0), "\N{GREEK CAPITAL LETTER OMEGA}HH", 3.0, anchor, turned_deg)
    drawing = square(texts=(text,))
    (sheet,) = lay_on_paper(drawing, date=None)
    (page,) = opened(pdf_bytes([drawing]))
    (first,) = [letter for letter in page.chars if letter["text"] == text.words[0]]
    c, s = np.cos(np.radians(turned_deg)), np.sin(np.radians(turned_deg))
    assert sheet.shift_mm is not None
    start = text.at_mm + sheet.shift_mm - before * width_mm(text.words, 3.0) * np.array([c, s])
    matrix = np.array(first["matrix"])
    np.testing.assert_allclose(matrix[:2], [c, s], atol=1e-5)
    # The widths of letters are whole units of the font, 3 mm / 2048; each may round by half.
    np.testing.assert_allclose(matrix[4:] * MM_PER_POINT, start, atol=3e-3)


@pytest.mark.parametrize("name", HOSTILE)
def test_names_come_out_letter_by_letter(name: str) -> None:
    drawing = square(title=name, part=name, notes=(name,), texts=(Text((5.0, 5.0), name, 2.0),))
    (page,) = opened(pdf_bytes([drawing]))
    assert page_words(page).count(name) == 4


def test_letters_that_the_font_lacks_become_boxes_and_controls_go() -> None:
    drawing = square(part="志野 bowl\n\x00\x07 of\tours \ud800", title="für \U0001fa77")
    (page,) = opened(pdf_bytes([drawing]))
    assert f"{BOX}{BOX} bowl of ours" in page_words(page)
    assert f"für {BOX}" in page_words(page)


@pytest.mark.parametrize(
    "name",
    [
        "\u05e7\u05e2\u05e8\u05d4 bowl",
        "\u0643\u0623\u0633",
        "a\u05b8\u21d9b",
        "\u202ebowl",
        "\u07f9",
    ],
    ids=["hebrew", "arabic", "mark", "override", "nko"],
)
def test_names_that_run_leftwards_are_printed(name: str) -> None:
    # typst 0.15.2 breaks down over them where kerning is off.
    (page,) = opened(pdf_bytes([square(title=name)]))
    (bare,) = opened(pdf_bytes([square(title="")]))
    assert len(page.chars) - len(bare.chars) >= len(name) - 2


def test_what_typst_cannot_set_is_our_own_error() -> None:
    with pytest.raises(ExportError, match="could not be set"):
        typeset(_TEMPLATE, "no data")


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("margin_mm", [0.0, 10.0, 40.0])
def test_no_letter_is_cut_off_or_lost(paper: Paper, margin_mm: float) -> None:
    notes = (*wordy().notes, "x" * 700)
    drawing = square(150.0, title="A long title " * 12, part="y" * 120, notes=notes)
    settings = PaperSettings(paper=paper, margin_mm=margin_mm)
    pages = opened(pdf_bytes([drawing], paper=settings, date=DAY))
    for page in pages:
        x = MM_PER_POINT * np.array([(char["x0"], char["x1"]) for char in page.chars])
        y = MM_PER_POINT * np.array([(char["top"], char["bottom"]) for char in page.chars])
        # pdfplumber gives letters the height of the font's box, which may stand 0.3 mm over.
        for place, side in ((x, float(page.width)), (y, float(page.height))):
            assert place.min() > margin_mm - 0.3
            assert place.max() < side * MM_PER_POINT - margin_mm + 0.3
    # The sheets of notes hold every one of them; wrapping leaves out spaces alone.
    last = "".join(page_words(page) for page in pages).replace(" ", "")
    for note in notes[:-1]:
        assert note.split(":")[0].replace(" ", "") + ":" in last
    assert last.count("care,") == 60 * 12
    assert last.count("x") >= 700


def test_drawings_follow_one_another_in_one_file() -> None:
    other = square(60.0, title="Second", part="jar, loss 3")
    pages = opened(pdf_bytes([rib(), other], date=DAY))
    assert len(pages) == 3
    assert ["Second" in page_words(page) for page in pages] == [False, False, True]
    assert "sheet 1 of 1" in page_words(pages[2])


def test_same_drawings_same_bytes() -> None:
    assert pdf_bytes([rib(), square()], date=DAY) == pdf_bytes([rib(), square()], date=DAY)
    assert pdf_bytes([square()]) != pdf_bytes([square(40.1)])


def test_layers_differ_without_colour() -> None:
    points = np.array([(0.0, 0.0), (77.0, 0.0)])
    lines = tuple(Line(points + np.array([0, 10.0 * k]), layer) for k, layer in enumerate(Layer))
    (page,) = opened(pdf_bytes([square(lines=lines)]))
    drawn = [line for line in page.lines if abs(line["width"] * MM_PER_POINT - 77) < WRITTEN_MM]
    assert len(drawn) == len(Layer)
    assert len({round(line["linewidth"], 3) for line in drawn}) == len(Layer)
    assert {tuple(np.atleast_1d(line["stroking_color"])) for line in page.lines} == {(0.0,)}


def test_nothing_to_print_is_refused() -> None:
    with pytest.raises(InputError, match="no drawing"):
        pdf_bytes([])
