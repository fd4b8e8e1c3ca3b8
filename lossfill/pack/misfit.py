"""The map of how far the body stands off the intact form.

Colours run from orange (the body lies inside the form) over white to purple (it stands proud).
Orange and purple are told apart by people of any common colour vision. In a grey print the map
darkens step by step from zero to either end, so the size of a misfit can still be read there; its
sign needs the colours. Between them the vessel is nearly white, so what is drawn strong is what
deserves a look.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import FloatArray
from lossfill.pack import sheet as paper
from lossfill.pack.overview import (
    CAPTION_PX,
    FOOT_PX,
    HEAD_PX,
    MARGIN_PX,
    draw_clock,
    overview_views,
)
from lossfill.pack.studio import Studio, clock, direction, framed, sized, spread_points
from lossfill.pack.view import Hits, cast, photograph

if TYPE_CHECKING:
    from matplotlib.colors import Colormap

UNKNOWN = (168, 168, 168)
"""sRGB where the form says nothing; only mid grey is on no part of the map."""

BANDS = 10
"""Steps of colour from end to end: few enough to match a place on the vessel to the bar."""

LIMITS_MM = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
"""Ends that the bar may have, so that its steps are round numbers."""

BAR_WIDTH_PX = 18

SHADING = 0.3
"""Strength of the shading: form can be made out, and bands still match the bar."""


class HasMisfit(Protocol):
    """The one thing that the map needs of a form."""

    def misfit(self, points_scan: FloatArray, normals_scan: FloatArray) -> FloatArray:
        """Signed distance of (N, 3) body points, mm; positive outside, NaN where unknown."""
        ...


def draw_misfit(studio: Studio, form: HasMisfit, *, title: str) -> bytes:
    """Draw the body, coloured by its misfit, from the side, from the back and from above."""
    (side, above, _), names = overview_views(studio)
    angle = studio.losses[0].angle_deg if studio.losses else 0.0
    back_frame, _, _ = framed(direction(angle + 180.0, 8.0), spread_points(studio.after))
    back = sized(back_frame, side.px_per_mm, (side.width_px, side.height_px))
    views = (side, back, above)
    captions = (names[0], f"from the back, at {clock(angle + 180.0)}", names[1])
    all_hits = [cast(view, (studio.body,)) for view in views]
    misfit_mm = misfit_of_seen(studio, form, all_hits)
    limit_mm = choose_limit_mm(misfit_mm)
    sheet = paper.blank(
        3 * side.width_px + 2 * MARGIN_PX + 110,
        HEAD_PX + CAPTION_PX + side.height_px + FOOT_PX,
    )
    paper.write(sheet, title, MARGIN_PX, 34, size=14, bold=True)
    left, top = MARGIN_PX, HEAD_PX + CAPTION_PX
    for view, caption, hits in zip(views, captions, all_hits, strict=True):
        paint = misfit_colours(_at_rays(studio, misfit_mm, hits), limit_mm)
        image = photograph(view, (studio.body,), paint=paint, hits=hits, contrast=SHADING)
        paper.place(sheet, image, left, top)
        paper.write(sheet, caption, left + 6, HEAD_PX + 18, colour=paper.QUIET)
        if view is above:
            draw_clock(sheet, studio, view, (left, top))
        left += view.width_px
    _colour_bar(sheet, left + 6, top + 26, side.height_px - 60, limit_mm)
    length_mm = paper.bar_length_mm(side.px_per_mm, side.width_px // 2)
    bar_top = sheet.pixels.shape[0] - 22
    paper.scale_bar(sheet, MARGIN_PX + 6, bar_top, length_mm=length_mm, px_per_mm=side.px_per_mm)
    return paper.png_bytes(sheet, title=title)


def misfit_of_seen(studio: Studio, form: HasMisfit, all_hits: list[Hits]) -> FloatArray:
    """Misfit at the body's vertices that some view shows, (V,) mm; NaN at all others.

    A picture has a fixed number of pixels, so this costs no more for a scan of millions.
    """
    mesh = studio.body.mesh
    triangles = np.unique(np.concatenate([hits.triangle[hits.triangle >= 0] for hits in all_hits]))
    seen = np.unique(mesh.faces[triangles])
    misfit_mm = np.full(len(mesh.vertices), np.nan)
    rotation, shift = studio.vessel_from_scan[:3, :3], studio.vessel_from_scan[:3, 3]
    misfit_mm[seen] = form.misfit(
        (mesh.vertices[seen] - shift) @ rotation, studio.body.vertex_normals[seen] @ rotation
    )
    return misfit_mm


def choose_limit_mm(misfit_mm: FloatArray) -> float:
    """The end of the colour bar: the first that holds 95 % of the known misfits."""
    known = np.abs(misfit_mm[np.isfinite(misfit_mm)])
    reach = float(np.quantile(known, 0.95)) if len(known) else 0.0
    return next((limit for limit in LIMITS_MM if limit >= reach), LIMITS_MM[-1])


def misfit_colours(misfit_mm: FloatArray, limit_mm: float) -> NDArray[np.uint8]:
    """Colour (sRGB) of each misfit, (..., 3); grey for NaN, the end's colour beyond the end."""
    known = np.isfinite(misfit_mm)
    table = band_colours()
    band = np.floor((np.where(known, misfit_mm, 0.0) / limit_mm + 1.0) / 2.0 * BANDS)
    colours = table[np.clip(band, 0, BANDS - 1).astype(np.int64)]
    colours[~known] = UNKNOWN
    return colours


def band_colours() -> NDArray[np.uint8]:
    """Colours (sRGB) of the bands from inside to proud, (BANDS, 3)."""
    from matplotlib import colormaps

    # The very ends are so dark that shading could not be seen on them.
    chosen: Colormap = colormaps["PuOr"]
    return np.round(chosen(np.linspace(0.08, 0.92, BANDS))[:, :3] * 255.0).astype(np.uint8)


def _at_rays(studio: Studio, misfit_mm: FloatArray, hits: Hits) -> FloatArray:
    """Misfit where each ray meets the body, (H, W) mm; NaN elsewhere and beside unknowns."""
    values = np.full(hits.triangle.shape, np.nan)
    met = hits.triangle >= 0
    corners = studio.body.mesh.faces[hits.triangle[met]]
    values[met] = (misfit_mm[corners] * hits.weights[met]).sum(axis=1)
    return values


def _colour_bar(sheet: paper.Sheet, x: int, y: int, height_px: int, limit_mm: float) -> None:
    step = height_px // BANDS
    for index, colour in enumerate(band_colours()):
        top = y + (BANDS - 1 - index) * step
        sheet.pixels[top : top + step, x : x + BAR_WIDTH_PX] = colour
    for index in range(BANDS + 1):
        value_mm = limit_mm * (2.0 * index / BANDS - 1.0)
        text = "0" if index * 2 == BANDS else f"{value_mm:+.3g}".replace("-", "−")
        paper.write(
            sheet, text, x + BAR_WIDTH_PX + 6, y + (BANDS - index) * step, size=9, down="center"
        )
    bottom = y + BANDS * step
    paper.write(sheet, "mm", x, y - 12, size=9, bold=True)
    paper.write(sheet, "+ proud of the form", x - 4, y - 28, size=8, colour=paper.QUIET)
    paper.write(sheet, "− inside it", x - 4, bottom + 20, size=8, colour=paper.QUIET)
    sheet.pixels[bottom + 28 : bottom + 38, x : x + BAR_WIDTH_PX] = UNKNOWN
    paper.write(sheet, "not known", x + BAR_WIDTH_PX + 6, bottom + 37, size=8, colour=paper.QUIET)
