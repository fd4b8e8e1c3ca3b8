"""The picture of a check: the scanned piece from four sides, coloured by its misfit.

The colours are those of the vessel's own map of misfit (`pack.misfit`), and read without colour as
it does. Numbers mark the places of the list.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lossfill.check.checked import Place
from lossfill.check.place import Standing
from lossfill.check.sides import PieceSides
from lossfill.mesh import BoolArray, FloatArray, Mesh, unit
from lossfill.nearest import Surface
from lossfill.pack import sheet as paper
from lossfill.pack.misfit import SHADING, choose_limit_mm, colour_bar, hatched
from lossfill.pack.overview import CAPTION_PX, FOOT_PX, HEAD_PX, MARGIN_PX
from lossfill.pack.studio import CLAY, framed, sized
from lossfill.pack.view import Hits, Subject, View, cast, make_subject, photograph

PANEL_PX = 420

BAR_ROOM_PX = 150

SCALE_RANGE = (1.5, 24.0)
"""Pixels a millimetre at least and at most: a chip of 3 mm need not fill a whole panel."""

PANEL_SHARE = 0.84
"""Share of a panel that the piece takes at most."""

MARK_PX = 9

MARK_FACING = 0.3
"""How much a place must face the camera to be numbered in a view."""

MARK_DEPTH_MM = 0.6
"""mm; what lies deeper than this behind what is seen there is hidden."""


def draw_check(
    mesh: Mesh,
    sides: PieceSides,
    standing: Standing,
    places: tuple[Place, ...],
    *,
    left_out: BoolArray | None,
    title: str,
) -> bytes:
    """Draw a scan that lies on its design, PNG; the same scan gives the same bytes.

    Parameters
    ----------
    mesh : the scan, vessel coordinates
    places : are numbered in their order
    left_out : (F,) triangles that were not measured
    title : heading
    """
    subject = make_subject(mesh, CLAY)
    off_mm = sides.whole.signed_distance(mesh.vertices)
    limit_mm = choose_limit_mm(off_mm)
    views, captions = _views(mesh, standing)
    sheet = paper.blank(
        2 * PANEL_PX + 2 * MARGIN_PX + BAR_ROOM_PX, HEAD_PX + 2 * (PANEL_PX + CAPTION_PX) + FOOT_PX
    )
    paper.write(sheet, title, MARGIN_PX, 34, size=12, bold=True)
    for index, (view, caption) in enumerate(zip(views, captions, strict=True)):
        row, column = divmod(index, 2)
        left = MARGIN_PX + column * PANEL_PX
        top = HEAD_PX + CAPTION_PX + row * (PANEL_PX + CAPTION_PX)
        hits = cast(view, (subject,))
        paint = hatched(_at_rays(mesh, off_mm, hits, left_out), limit_mm)
        image = photograph(view, (subject,), paint=paint, hits=hits, contrast=SHADING)
        paper.place(sheet, image, left, top)
        paper.write(sheet, caption, left + 6, top - 12, colour=paper.QUIET)
        _number(sheet, view, subject, places, (left, top))
    colour_bar(
        sheet,
        MARGIN_PX + 2 * PANEL_PX + 12,
        HEAD_PX + CAPTION_PX + 40,
        480,
        limit_mm,
        words=("+ too much: take off", "− too little: hatched"),
    )
    scale = views[0].px_per_mm
    length_mm = paper.bar_length_mm(scale, PANEL_PX // 2)
    bottom = sheet.pixels.shape[0] - 22
    paper.scale_bar(sheet, MARGIN_PX + 6, bottom, length_mm=length_mm, px_per_mm=scale)
    return paper.png_bytes(sheet, title=title)


def _views(mesh: Mesh, standing: Standing) -> tuple[list[View], tuple[str, ...]]:
    """Both skins, and all of the edge from two corners, at one scale."""
    corner = standing.left - standing.up
    towards = [standing.out, -standing.out, unit(corner), -unit(corner)]
    frames = [framed(toward, mesh.vertices) for toward in towards]
    largest = max(max(wide, tall) for _, wide, tall in frames)
    scale = paper.round_scale(float(np.clip(PANEL_SHARE * PANEL_PX / largest, *SCALE_RANGE)))
    names = ("outer side", "inner side", "edge, from the lower left", "edge, from the upper right")
    if standing.level:
        names = (*names[:2], "edge, from one side", "edge, from the other")
    return [sized(view, scale, (PANEL_PX, PANEL_PX)) for view, _, _ in frames], names


def _at_rays(mesh: Mesh, off_mm: FloatArray, hits: Hits, left_out: BoolArray | None) -> FloatArray:
    """Misfit where each ray meets what was scanned, (H, W) mm; NaN elsewhere."""
    values = np.full(hits.triangle.shape, np.nan)
    met: NDArray[np.bool_] = hits.triangle >= 0
    if left_out is not None:
        met[met] = ~left_out[hits.triangle[met]]
    corners = mesh.faces[hits.triangle[met]]
    values[met] = (off_mm[corners] * hits.weights[met]).sum(axis=1)
    return values


def _number(
    sheet: paper.Sheet,
    view: View,
    subject: Subject,
    places: tuple[Place, ...],
    corner: tuple[int, int],
) -> None:
    """Number the places that this view shows."""
    surface = Surface(subject.mesh)
    for number, place in enumerate(places, start=1):
        if -float(place.normal @ view.forward) < MARK_FACING:
            continue
        start = place.at - MARK_DEPTH_MM * view.forward
        away, _ = surface.along_rays(start[None], -view.forward[None])
        if np.isfinite(away[0]):
            continue
        x, y = view.pixel(place.at)
        paper.ring(sheet, corner[0] + x, corner[1] + y, MARK_PX)
        paper.write(sheet, str(number), corner[0] + x, corner[1] + y, size=8, bold=True,
                    across="center", down="center_baseline")  # fmt: skip
