"""A drawing laid on sheets of paper at 1:1, tiled where it is larger than one.

On every sheet, from the paper's edge inwards (y up)::

    +-------------------------------+
    | title, part, date, sheet      |   heading, as tall as its words need
    | notes                         |
    |  r +------------------------+ |
    |  u |                        | |
    |  l |        window          | |   what is drawn; nothing else lies in it but
    |  e |                        | |   the crosses by which sheets are joined
    |  r +------------------------+ |
    |      ruler                    |
    +-------------------------------+
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.drawing import rulers
from lossfill.drawing.clip import clipped
from lossfill.drawing.heading import PRINT_WORDS, WORDS_HEIGHT_MM, name_rows, note_rows
from lossfill.drawing.model import Drawing, Layer, Line, Text
from lossfill.drawing.paper import USUAL_PAPER, PaperSettings
from lossfill.drawing.tiles import Tiling, tile
from lossfill.drawing.words import Row, corners, extent_of, packed, stacked, total_mm, wrapped
from lossfill.errors import InputError
from lossfill.mesh import FloatArray

HEADING_GAP_MM = 2.0
"""Free space between heading and window."""

CROSS_ARM_MM = 4.0

_WIDEST_SHEET = "sheet 999 of 999: row 999, column 999"
_WIDEST_POINTER = "notes: from sheet 999"
_JOIN_HINT = (
    "Where sheets join, cut one along its crosses, lay it cross on cross on the next, and glue."
)


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One sheet of paper and all that is printed on it, in mm from its lower left corner, y up.

    Parameters
    ----------
    width_mm, height_mm : of the paper
    window : (2, 2) lowest and highest corner of the space for the drawing
    lines, texts : what is printed
    cut_texts : words of the drawing longer than what sheets share: each sheet shows what falls
        into its window
    shift_mm : (2,) from the drawing's coordinates to the sheet's, or None on a sheet of notes
    """

    width_mm: float
    height_mm: float
    window: FloatArray
    lines: tuple[Line, ...]
    texts: tuple[Text, ...]
    cut_texts: tuple[Text, ...] = ()
    shift_mm: FloatArray | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    """How one drawing would be laid on its sheets."""

    size_mm: tuple[float, float]
    room_mm: float
    window: FloatArray
    tiling: Tiling
    notes_beside: bool
    note_sheets: tuple[tuple[Row, ...], ...]

    @property
    def n_sheets(self) -> int:
        return self.tiling.n_tiles + len(self.note_sheets)


def lay_on_paper(
    drawing: Drawing, *, settings: PaperSettings = USUAL_PAPER, date: dt.date | None
) -> tuple[Sheet, ...]:
    """Lay a drawing on as few sheets as hold it: row by row from the top, then further notes.

    Parameters
    ----------
    date : printed on each sheet; None leaves a line to write on

    Raises
    ------
    InputError
        Where the drawing is empty, where margins, heading and rulers leave no room for it, or where
        it would take more sheets than the settings allow.
    """
    plan = _plan(drawing, settings, date)
    tiling = plan.tiling
    seats = [(row, column) for row in range(tiling.rows) for column in range(tiling.columns)]
    # A line on the very edge of a drawing as large as its window must not be lost by rounding.
    border = plan.window + tol.PAPER_ROUNDING_MM * np.array([[-1.0], [1.0]])
    texts_on = _texts_on(drawing, tiling, seats)
    sheets = []
    for number, seat in enumerate(seats):
        shift = plan.window[0] - tiling.low_corner(*seat)
        mark = f"sheet {number + 1} of {plan.n_sheets}"
        if tiling.n_tiles > 1:
            mark += f": row {seat[0] + 1}, column {seat[1] + 1}"
        lines, texts = _frame(plan, settings, _heading(drawing, plan, mark, date))
        moved = (Line(line.points + shift, line.layer, line.closed) for line in drawing.lines)
        lines += tuple(part for line in moved for part in clipped(line, border))
        if tiling.n_tiles > 1:
            lines += _crosses(tiling.cell(*seat) + shift, plan.window)
        whole, cut = texts_on[number]
        sheets.append(
            Sheet(
                *plan.size_mm,
                plan.window,
                lines,
                texts + _moved(whole, shift),
                _moved(cut, shift),
                shift,
            )
        )
    return tuple(sheets) + _note_sheets(drawing, plan, settings, date)


def _plan(drawing: Drawing, settings: PaperSettings, date: dt.date | None) -> _Plan:
    """The plan of fewest sheets; of equals, notes beside the drawing and upright paper first."""
    extent = extent_of(drawing)
    upright = settings.paper.value
    plans, refusals = [], []
    for notes_beside in (True, False) if drawing.notes else (True,):
        for size in (upright, upright[::-1]):
            try:
                plans.append(_plan_on(drawing, settings, date, extent, size, notes_beside))
            except InputError as error:
                refusals.append(error)
    if not plans:
        raise refusals[-1]
    best = min(plans, key=lambda plan: plan.n_sheets)
    if best.n_sheets > settings.sheets_most:
        wide, high = extent[1] - extent[0]
        raise InputError(
            f"the drawing {drawing.name} of {wide:.0f} × {high:.0f} mm would take "
            f"{best.n_sheets} sheets, more than {settings.sheets_most}: check the scan's unit"
        )
    return best


def _plan_on(
    drawing: Drawing,
    settings: PaperSettings,
    date: dt.date | None,
    extent: FloatArray,
    size_mm: tuple[float, float],
    notes_beside: bool,
) -> _Plan:
    """Lay a drawing on paper of one size; where it takes tiles, with a hint how to join them."""
    _check_frame(settings, size_mm)
    room = size_mm[0] - 2 * settings.margin_mm
    for hint in (False, True):
        rows = _heading_rows(
            drawing, room, _WIDEST_SHEET, date, hint, None if notes_beside else _WIDEST_POINTER
        )
        window = _window(settings, size_mm, total_mm(rows))
        tiling = tile(extent, window, settings.overlap_mm)
        if tiling.n_tiles == 1:
            break
    notes = () if notes_beside else _notes_in_sheets(drawing, window)
    return _Plan(size_mm, room, window, tiling, notes_beside, notes)


def _check_frame(settings: PaperSettings, size_mm: tuple[float, float]) -> None:
    """Refuse margins that leave no room for both rulers, whatever the heading."""
    need = rulers.BAND_MM + rulers.ROOM_MM
    left = min(size_mm) - 2 * settings.margin_mm
    if left < need:
        most = 0.5 * (min(size_mm) - need)
        raise InputError(
            f"margins of {settings.margin_mm:g} mm leave {max(left, 0):.1f} mm of "
            f"{settings.paper.name} paper; the ruler needs {need:g} mm: give {most:.1f} mm or less"
        )


def _window(settings: PaperSettings, size_mm: tuple[float, float], heading_mm: float) -> FloatArray:
    """The space for the drawing, (2, 2) mm."""
    low = np.full(2, settings.margin_mm + rulers.BAND_MM)
    high = np.array(size_mm) - settings.margin_mm - [0.0, heading_mm + HEADING_GAP_MM]
    wide, tall = high - low
    if tall < rulers.ROOM_MM:
        raise InputError(
            f"title and part take up {heading_mm:.0f} mm, which leaves {max(tall, 0):.0f} mm; the "
            f"ruler needs {rulers.ROOM_MM:g} mm: shorten them or the margin"
        )
    if settings.overlap_mm >= min(wide, tall):
        raise InputError(
            f"an overlap of {settings.overlap_mm:g} mm is as much as a sheet shows, "
            f"{min(wide, tall):.0f} mm: give a smaller one"
        )
    return np.stack([low, high])


def _heading_rows(
    drawing: Drawing,
    room_mm: float,
    mark: str,
    date: dt.date | None,
    hint: bool,
    pointer: str | None,
) -> tuple[Row, ...]:
    """Everything in words above the window; `pointer` stands for notes that are elsewhere."""
    day = "date ______________" if date is None else f"date {date.isoformat()}"
    items = (day, mark, PRINT_WORDS) + (() if pointer is None else (pointer,))
    rows = name_rows(drawing, room_mm) + packed(items, room_mm, WORDS_HEIGHT_MM)
    if hint:
        rows += wrapped(_JOIN_HINT, room_mm, WORDS_HEIGHT_MM)
    return rows + (note_rows(drawing, room_mm) if pointer is None else ())


def _heading(drawing: Drawing, plan: _Plan, mark: str, date: dt.date | None) -> tuple[Row, ...]:
    """The heading as printed; never taller than the plan, whose marks are the widest."""
    pointer = f"notes: from sheet {plan.tiling.n_tiles + 1}"
    hint = plan.tiling.n_tiles > 1
    return _heading_rows(
        drawing, plan.room_mm, mark, date, hint, None if plan.notes_beside else pointer
    )


def _notes_in_sheets(drawing: Drawing, window: FloatArray) -> tuple[tuple[Row, ...], ...]:
    """Share out the notes among as many sheets as hold them."""
    wide, tall = window[1] - window[0]
    rows = note_rows(drawing, float(wide))
    most = int(tall // Row("", WORDS_HEIGHT_MM).pitch_mm)
    return tuple(rows[at : at + most] for at in range(0, len(rows), most))


def _note_sheets(
    drawing: Drawing, plan: _Plan, settings: PaperSettings, date: dt.date | None
) -> tuple[Sheet, ...]:
    """Sheets of notes that found no room beside the drawing."""
    sheets = []
    for number, rows in enumerate(plan.note_sheets, start=plan.tiling.n_tiles + 1):
        mark = f"sheet {number} of {plan.n_sheets}: notes"
        lines, texts = _frame(plan, settings, _heading(drawing, plan, mark, date))
        texts += stacked(rows, plan.window[0, 0], plan.window[1, 1])
        sheets.append(Sheet(*plan.size_mm, plan.window, lines, texts))
    return tuple(sheets)


def _frame(
    plan: _Plan, settings: PaperSettings, heading: tuple[Row, ...]
) -> tuple[tuple[Line, ...], tuple[Text, ...]]:
    """What surrounds the window: heading and both rulers."""
    corner = (float(plan.window[0, 0]), float(plan.window[0, 1]))
    level_lines, level_texts = rulers.level_ruler(corner)
    upright_lines, upright_texts = rulers.upright_ruler(corner)
    margin = settings.margin_mm
    words = stacked(heading, margin, plan.size_mm[1] - margin)
    return level_lines + upright_lines, words + level_texts + upright_texts


def _texts_on(
    drawing: Drawing, tiling: Tiling, seats: list[tuple[int, int]]
) -> list[tuple[tuple[Text, ...], tuple[Text, ...]]]:
    """For each sheet the words that it shows whole, and those that it shows in part.

    A text is shown in part only where no sheet holds all of it.
    """
    boxes = [corners(text) for text in drawing.texts]
    windows = [tiling.window(*seat) for seat in seats]
    within = [[_holds(window, box) for box in boxes] for window in windows]
    found = [any(column) for column in zip(*within, strict=True)]
    shown = []
    for window, holds in zip(windows, within, strict=True):
        whole = [k for k in range(len(boxes)) if holds[k]]
        cut = [k for k in range(len(boxes)) if not found[k] and _meets(window, boxes[k])]
        texts = drawing.texts
        shown.append((tuple(texts[k] for k in whole), tuple(texts[k] for k in cut)))
    return shown


def _holds(window: FloatArray, box: FloatArray) -> bool:
    return bool(((box >= window[0]) & (box <= window[1])).all())


def _meets(window: FloatArray, box: FloatArray) -> bool:
    return bool(((box.max(axis=0) > window[0]) & (box.min(axis=0) < window[1])).all())


def _moved(texts: tuple[Text, ...], shift: FloatArray) -> tuple[Text, ...]:
    return tuple(
        Text(
            (text.at_mm[0] + float(shift[0]), text.at_mm[1] + float(shift[1])),
            text.words,
            text.height_mm,
            text.anchor,
            text.turned_deg,
        )
        for text in texts
    )


def _crosses(cell: FloatArray, window: FloatArray) -> tuple[Line, ...]:
    """Crosses on the corners at which this sheet's share of the drawing ends."""
    lines: list[Line] = []
    for x in cell[:, 0]:
        for y in cell[:, 1]:
            for arm in (np.array([CROSS_ARM_MM, 0.0]), np.array([0.0, CROSS_ARM_MM])):
                # Rounding may put a corner of the window just outside of it.
                middle = np.clip([x, y], *window)
                lines += clipped(Line(np.stack([middle - arm, middle + arm]), Layer.SCALE), window)
    return tuple(lines)
