"""Where sheets, windows and words lie, and which settings are refused."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from drawing.drawing_cases import length_mm, rib, square
from hypothesis import given
from hypothesis import strategies as st

from lossfill.drawing import Anchor, Drawing, Layer, Line, Paper, PaperSettings, Text
from lossfill.drawing.clip import clipped
from lossfill.drawing.pages import lay_on_paper
from lossfill.drawing.tiles import tile
from lossfill.drawing.words import corners, width_mm, wrapped
from lossfill.errors import InputError

coordinates = st.integers(-40, 40).map(lambda tenths: tenths / 4)
corners_of_lines = st.lists(st.tuples(coordinates, coordinates), min_size=2, max_size=12)


@given(points=corners_of_lines, closed=st.booleans())
def test_windows_side_by_side_share_out_a_line_exactly(
    points: list[tuple[float, float]], closed: bool
) -> None:
    # No quarter lies on a border, so that no part of a line is in two windows.
    line = Line(np.array(points), closed=closed)
    borders = (-10.1, -3.3, 4.7, 10.1)
    total = 0.0
    for (x0, x1), (y0, y1) in itertools.product(itertools.pairwise(borders), repeat=2):
        window = np.array([(x0, y0), (x1, y1)])
        for part in clipped(line, window):
            assert (part.points >= window[0] - 1e-12).all()
            assert (part.points <= window[1] + 1e-12).all()
            total += length_mm(part.points, closed=part.closed)
    # Rounding of a few hundred mm.
    assert total == pytest.approx(length_mm(line.points, closed=closed), abs=1e-10)


def test_a_line_inside_is_left_as_it_is() -> None:
    (line, _) = square().lines
    assert clipped(line, np.array([(0.0, 0.0), (40.0, 40.0)])) == (line,)
    assert clipped(line, np.array([(1.0, 1.0), (39.0, 39.0)])) == ()


@given(
    wide=st.floats(1, 900), high=st.floats(1, 900), overlap_mm=st.sampled_from([0.0, 10.0, 60.0])
)
def test_cells_cover_a_drawing_without_gap_or_overlap(
    wide: float, high: float, overlap_mm: float
) -> None:
    extent = np.array([(-3.0, 5.0), (-3.0 + wide, 5.0 + high)])
    window = np.array([(20.0, 20.0), (200.0, 250.0)])
    tiling = tile(extent, window, overlap_mm)
    seats = list(itertools.product(range(tiling.rows), range(tiling.columns)))
    cells = [tiling.cell(*seat) for seat in seats]
    low = np.min([cell[0] for cell in cells], axis=0)
    high_corner = np.max([cell[1] for cell in cells], axis=0)
    assert (low <= extent[0] + 1e-6).all()
    assert (high_corner >= extent[1] - 1e-6).all()
    area = sum(float(np.prod(cell[1] - cell[0])) for cell in cells)
    assert area == pytest.approx(float(np.prod(high_corner - low)), rel=1e-12)
    # One sheet fewer in either direction would not do.
    step = window[1] - window[0] - overlap_mm
    fewer = step * (np.array([tiling.columns, tiling.rows]) - 1) + overlap_mm
    beyond = (fewer < np.array([wide, high])) | (np.array([tiling.columns, tiling.rows]) == 1)
    assert beyond.all()


def test_a_drawing_as_large_as_the_window_takes_one_sheet() -> None:
    window = np.array([(20.0, 20.0), (200.0, 250.0)])
    assert tile(window + 0.1, window, 10.0).n_tiles == 1
    assert tile(window + np.array([[0.0, 0.0], [1e-3, 0.0]]), window, 10.0).n_tiles == 2


@pytest.mark.parametrize("paper", tuple(Paper))
@pytest.mark.parametrize("drawing", [square(), rib(), rib(400.0)], ids=["small", "two", "many"])
def test_rulers_and_words_keep_out_of_the_window(drawing: Drawing, paper: Paper) -> None:
    own = {text.words for text in drawing.texts}
    for sheet in lay_on_paper(drawing, settings=PaperSettings(paper=paper), date=None):
        low, high = sheet.window
        paper_mm = np.array([sheet.width_mm, sheet.height_mm])
        boxes = [corners(text) for text in sheet.texts if text.words not in own]
        assert len(boxes) >= 3 + 22
        for box in boxes:
            assert (box >= 10 - 1e-9).all()
            assert (box <= paper_mm - 10 + 1e-9).all()
            assert (box.max(axis=0) <= low).any() or (box.min(axis=0) >= high).any()
        for one, other in itertools.combinations(boxes, 2):
            apart = (one.max(axis=0) <= other.min(axis=0)) | (other.max(axis=0) <= one.min(axis=0))
            assert apart.any()
        for line, box in itertools.product(sheet.lines, boxes):
            assert not clipped(line, np.stack([box.min(axis=0), box.max(axis=0)]))
        for line in sheet.lines:
            # PAPER_ROUNDING_MM at most over the window's edge.
            on_window = ((line.points >= low - 1.1e-6) & (line.points <= high + 1.1e-6)).all()
            outside = (line.points.max(axis=0) < low).any()
            assert on_window or outside


def test_neighbours_carry_the_same_crosses() -> None:
    sheets = lay_on_paper(rib(400.0), date=None)
    seen: dict[tuple[float, float], int] = {}
    for sheet in sheets:
        assert sheet.shift_mm is not None
        level = [
            line.points - sheet.shift_mm
            for line in sheet.lines
            if len(line.points) == 2
            and np.ptp(line.points[:, 1]) == 0
            and abs(np.ptp(line.points[:, 0]) - 8.0) < 1e-9
        ]
        for points in level:
            x, y = np.round(points.mean(axis=0), 6)
            seen[(float(x), float(y))] = seen.get((float(x), float(y)), 0) + 1
    # Whole crosses stand where columns join: on four sheets inside, on two at top and bottom.
    columns = len({x for x, _ in seen})
    rows = len({y for _, y in seen}) - 1
    assert len(sheets) == (columns + 1) * rows
    assert sorted(seen.values()) == [2] * 2 * columns + [4] * columns * (rows - 1)


@pytest.mark.parametrize("offset_mm", [0.0, 0.1, 1e3 / 3])
def test_the_edge_of_a_drawing_as_large_as_its_window_is_printed(offset_mm: float) -> None:
    (sheet,) = lay_on_paper(square(), date=None)
    low, high = sheet.window
    wide, tall = high - low
    edge = np.array([(0.0, 0.0), (wide, 0.0), (wide, tall), (0.0, tall)]) + offset_mm
    (sheet,) = lay_on_paper(square(lines=(Line(edge, closed=True),)), date=None)
    total = sum(
        length_mm(line.points, closed=line.closed)
        for line in sheet.lines
        if line.layer is Layer.CUT
    )
    assert total == pytest.approx(2 * (wide + tall), abs=1e-5)


def test_paper_is_turned_where_that_saves_sheets() -> None:
    lying = square(lines=(Line(np.array([(0.0, 0.0), (250.0, 0.0)])),))
    (sheet,) = lay_on_paper(lying, date=None)
    assert sheet.width_mm > sheet.height_mm
    (sheet,) = lay_on_paper(square(), date=None)
    assert sheet.width_mm < sheet.height_mm


def test_words_that_no_sheet_holds_are_shown_in_part_on_all_that_they_meet() -> None:
    long = Text((0.0, 20.0), "words " * 60, 4.0)
    short = Text((0.0, 5.0), "short", 4.0)
    sheets = lay_on_paper(square(600.0, texts=(long, short)), date=None)
    parts = [sheet for sheet in sheets if sheet.cut_texts]
    assert len(parts) >= 3
    assert sum("short" in [text.words for text in sheet.texts] for sheet in sheets) == 1
    # Each at the same place of the drawing.
    for sheet in parts:
        assert sheet.shift_mm is not None
        (text,) = sheet.cut_texts
        np.testing.assert_allclose(text.at_mm - sheet.shift_mm, long.at_mm, atol=1e-9)


def test_words_count_to_the_size_of_a_drawing() -> None:
    wide = Text((100.0, 10.0), "beyond the line", 5.0)
    (sheet,) = lay_on_paper(square(texts=(wide,)), date=None)
    (placed,) = [text for text in sheet.texts if text.words == wide.words]
    box = corners(placed)
    assert (box >= sheet.window[0]).all()
    assert (box <= sheet.window[1]).all()


def test_corners_of_turned_words() -> None:
    # "HH" turned up from its middle: as long above as below the place, all of it on the left but
    # for what hangs below the base line.
    box = corners(Text((10.0, 20.0), "HH", 4.0, Anchor.MIDDLE, 90.0))
    half = 0.5 * width_mm("HH", 4.0)
    np.testing.assert_allclose(box.min(axis=0), [10 - 0.93 * 4, 20 - half], atol=1e-12)
    np.testing.assert_allclose(box.max(axis=0), [10 + 0.24 * 4, 20 + half], atol=1e-12)


def test_width_of_a_letter() -> None:
    # DejaVu Sans 2.37: H is 1540 of 2048 units wide (its hmtx table).
    assert width_mm("HH", 2.048) == pytest.approx(2 * 1.540)


@given(words=st.text(max_size=80), room_mm=st.floats(8, 60))
def test_wrapping_keeps_every_letter_and_fits(words: str, room_mm: float) -> None:
    rows = wrapped(words, room_mm, 3.0)
    joined = "".join(row.words for row in rows)
    again = "".join(row.words for row in wrapped(joined, 1e9, 3.0))
    assert joined.replace(" ", "") == again.replace(" ", "")
    assert all(width_mm(row.words, 3.0) <= room_mm for row in rows)
    assert sum(letter.isalnum() for letter in joined) == sum(letter.isalnum() for letter in words)


@pytest.mark.parametrize(
    ("given_settings", "said"),
    [
        ({"margin_mm": 120.0}, "margins of 120 mm"),
        ({"margin_mm": 46.5}, "give 46.0 mm or less"),
        ({"margin_mm": -1.0}, "margin of a sheet is -1 mm"),
        ({"margin_mm": float("nan")}, "margin of a sheet is nan mm"),
        ({"overlap_mm": -0.1}, "overlap of a sheet is -0.1 mm"),
        ({"overlap_mm": float("inf")}, "overlap of a sheet is inf mm"),
        ({"overlap_mm": 200.0}, "overlap of 200 mm"),
        ({"sheets_most": 0}, "held to 0 sheets"),
        ({"sheets_most": 3}, "more than 3"),
    ],
)
def test_bad_settings_are_refused_in_one_line(given_settings: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said) as refused:
        lay_on_paper(rib(400.0), settings=PaperSettings(**given_settings), date=None)
    assert "\n" not in str(refused.value)


def test_a_title_that_leaves_no_room_is_refused() -> None:
    with pytest.raises(InputError, match="title and part take up"):
        lay_on_paper(square(title="long " * 2000), date=None)


def test_an_empty_drawing_is_refused() -> None:
    with pytest.raises(InputError, match="is empty"):
        lay_on_paper(square(lines=()), date=None)
