"""The sheet that shows the vessel before and after, from three sides."""

from __future__ import annotations

import numpy as np

from lossfill.loss.measure import clock
from lossfill.mesh import FloatArray
from lossfill.pack import sheet as paper
from lossfill.pack.studio import Studio, direction, framed, sized, spread_points
from lossfill.pack.view import SAMPLES_PER_PIXEL_SIDE, Hits, Subject, View, cast, photograph

PANEL_PX = 430
MARGIN_PX = 34
HEAD_PX = 56
CAPTION_PX = 30
FOOT_PX = 44

SEEN_RAYS = 24
"""Rays that must meet a piece before it gets a number in a view."""


def draw_overview(studio: Studio, *, title: str) -> bytes:
    """Draw before (above) and after (below) from the side of the largest loss, above and within.

    Parameters
    ----------
    studio : body and pieces
    title : heading, such as the scan's name
    """
    views, names = overview_views(studio)
    width = sum(view.width_px for view in views) + 2 * MARGIN_PX
    row = views[0].height_px + CAPTION_PX
    rows = 2 if studio.pieces else 1
    sheet = paper.blank(width, HEAD_PX + rows * row + FOOT_PX)
    paper.write(sheet, title, MARGIN_PX, 34, size=14, bold=True)
    for index in range(rows):
        top = HEAD_PX + index * row
        subjects: tuple[Subject, ...] = studio.after if index else (studio.body,)
        label = "after, with the pieces in blue" if index else "before"
        left = MARGIN_PX
        for view, name in zip(views, names, strict=True):
            hits = cast(view, subjects)
            paper.place(sheet, photograph(view, subjects, hits=hits), left, top + CAPTION_PX)
            paper.write(sheet, f"{label} – {name}", left + 6, top + 18, colour=paper.QUIET)
            if index:
                number_losses(sheet, studio, hits, view, (left, top + CAPTION_PX))
            left += view.width_px
        draw_clock(sheet, studio, views[1], (MARGIN_PX + views[0].width_px, top + CAPTION_PX))
    length_mm = paper.bar_length_mm(views[0].px_per_mm, PANEL_PX // 2)
    bar_top = sheet.pixels.shape[0] - 22
    paper.scale_bar(
        sheet, MARGIN_PX + 6, bar_top, length_mm=length_mm, px_per_mm=views[0].px_per_mm
    )
    return paper.png_bytes(sheet, title=title)


def overview_views(studio: Studio) -> tuple[tuple[View, View, View], tuple[str, str, str]]:
    """Views from the side, from above and into the inside, all at one scale, and their names."""
    angle = studio.losses[0].angle_deg if studio.losses else 0.0
    points = spread_points(studio.after)
    across = angle + 180.0
    return _same_scale(
        (
            direction(angle, 8.0),
            direction(0.0, 90.0),
            direction(across, _elevation_into_deg(studio, points)),
        ),
        points,
    ), (
        f"from the side, at {clock(angle)}",
        "from above",
        f"into the inside, from {clock(across)}",
    )


def number_losses(
    sheet: paper.Sheet, studio: Studio, hits: Hits, view: View, corner: tuple[int, int]
) -> None:
    """Write each loss's number beside its piece, where the view shows the piece."""
    n = SAMPLES_PER_PIXEL_SIDE
    for index, fill in enumerate(studio.fills, start=1):
        rows, columns = np.nonzero(hits.subject == index)
        if len(rows) < SEEN_RAYS:
            continue
        x, y = float(columns.mean()) / n, float(rows.mean()) / n
        away = np.array([x - view.width_px / 2, y - view.height_px / 2])
        length = float(np.linalg.norm(away))
        away = away / length if length > 1.0 else np.array([0.0, -1.0])
        # Past the piece's own edge, so that the number does not cover what it points to.
        reach = float((np.column_stack([columns, rows]) / n @ away).max()) - float(
            np.array([x, y]) @ away
        )
        at = np.array([x, y]) + away * (reach + 17.0)
        at = np.clip(at, 13.0, [view.width_px - 13.0, view.height_px - 13.0])
        paper.ring(sheet, corner[0] + at[0], corner[1] + at[1], 10.0)
        paper.write(
            sheet,
            str(fill.loss.number),
            corner[0] + at[0],
            corner[1] + at[1] + 0.5,
            size=9,
            bold=True,
            across="center",
            down="center_baseline",
        )


def draw_clock(sheet: paper.Sheet, studio: Studio, view: View, corner: tuple[int, int]) -> None:
    """Write 12, 3, 6 and 9 round a view from above."""
    x0, y0 = view.pixel(np.zeros(3))
    points = spread_points(studio.after)
    for hour, angle in ((12, 0.0), (3, 270.0), (6, 180.0), (9, 90.0)):
        out = direction(angle)
        # Only what lies that way: a handle between two marks must not push both outwards.
        along = points @ out
        there = points[along > 0.94 * np.linalg.norm(points[:, :2], axis=1)]
        reach = float((there @ out).max(initial=0.0)) * view.px_per_mm
        dx, dy = float(out @ view.right), -float(out @ view.up)
        x, y = corner[0] + x0, corner[1] + y0
        paper.line(
            sheet,
            [(x + dx * (reach + s), y + dy * (reach + s)) for s in (4.0, 10.0)],
            colour=paper.QUIET,
        )
        paper.write(
            sheet,
            str(hour),
            x + dx * (reach + 19.0),
            y + dy * (reach + 19.0),
            size=9,
            colour=paper.QUIET,
            across="center",
            down="center",
        )


def _elevation_into_deg(studio: Studio, points: FloatArray) -> float:
    """How steeply to look over the far rim to see the largest loss from within."""
    if not studio.losses:
        return 35.0
    loss = studio.losses[0]
    depth = float(points[:, 2].max()) - loss.height_mm
    width = float(np.ptp(points[:, :2], axis=0).min())
    return float(np.clip(np.rad2deg(np.arctan2(depth, 0.8 * width)) + 12.0, 25.0, 65.0))


def _same_scale(
    directions: tuple[FloatArray, FloatArray, FloatArray], points: FloatArray
) -> tuple[View, View, View]:
    frames = [framed(toward, points) for toward in directions]
    widest = max(width for _, width, _ in frames)
    tallest = max(height for _, _, height in frames)
    room = PANEL_PX - 2 * MARGIN_PX
    scale = paper.round_scale(min(room / widest, 1.3 * room / tallest))
    size = (PANEL_PX, int(np.ceil(tallest * scale)) + 2 * MARGIN_PX)
    first, second, third = (sized(view, scale, size) for view, _, _ in frames)
    return first, second, third
