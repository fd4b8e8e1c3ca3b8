"""The map of how far the body stands off the intact form.

Colours run from orange (the body lies inside the form) over white to purple (it stands proud).
Orange and purple are told apart by people of any common colour vision. In a grey print the map
darkens step by step from zero to either end, and what lies inside the form is hatched, so size and
sign can both be read without colour. Between them the vessel is nearly white and plain, so what is
drawn strong is what deserves a look.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from lossfill.loss.measure import clock
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
from lossfill.pack.shade import to_linear, to_srgb
from lossfill.pack.studio import Studio, direction, framed, sized, spread_points
from lossfill.pack.view import SAMPLES_PER_PIXEL_SIDE, Hits, View, cast, photograph

if TYPE_CHECKING:
    from matplotlib.colors import Colormap

UNKNOWN = (168, 168, 168)
"""sRGB where the form says nothing, or nothing was scanned; mid grey is on no part of the map."""

BANDS = 10
"""Steps of colour from end to end: few enough to match a place on the vessel to the bar."""

LIMITS_MM = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
"""Ends that the bar may have, so that its steps are round numbers."""

BAR_WIDTH_PX = 22
BAR_ROOM_PX = 124

HATCH_PERIOD_PX = 4.0
"""From line to line, measured along a row: a spot a millimetre wide still holds one."""

HATCH_WIDTH_PX = 1.5

HATCH_STRENGTH = 0.45
"""How much darker a line is than its band: plain on each band, and noise is not made to shout."""

SHADING = 0.3
"""Strength of the shading: form can be made out, and bands still match the bar."""


class HasMisfit(Protocol):
    """The one thing that the map needs of a form."""

    def misfit(self, points_scan: FloatArray, normals_scan: FloatArray) -> FloatArray:
        """Signed distance of (N, 3) body points, mm; positive outside, NaN where unknown."""
        ...


def draw_misfit(studio: Studio, form: HasMisfit, *, title: str) -> bytes:
    """Draw the body, coloured by its misfit: two sides above, from above and from below under it.

    Parameters
    ----------
    studio : holds the body, in vessel coordinates
    form : tells the misfit
    title : heading
    """
    views, captions = misfit_views(studio)
    all_hits = [cast(view, (studio.body,)) for view in views]
    misfit_mm = misfit_of_seen(studio, form, all_hits)
    limit_mm = choose_limit_mm(misfit_mm)
    side, _, above, _ = views
    sheet = paper.blank(
        2 * side.width_px + 2 * MARGIN_PX + BAR_ROOM_PX,
        HEAD_PX + 2 * CAPTION_PX + side.height_px + above.height_px + FOOT_PX,
    )
    paper.write(sheet, title, MARGIN_PX, 34, size=14, bold=True)
    for index, (view, caption, hits) in enumerate(zip(views, captions, all_hits, strict=True)):
        left, top = panel_corner(views, index)
        paint = hatched(_at_rays(studio, misfit_mm, hits), limit_mm)
        image = photograph(view, (studio.body,), paint=paint, hits=hits, contrast=SHADING)
        paper.place(sheet, image, left, top)
        paper.write(sheet, caption, left + 6, top - 12, colour=paper.QUIET)
        if index >= 2:
            draw_clock(sheet, studio, view, (left, top))
    room = side.height_px + CAPTION_PX + above.height_px
    bar_left, bar_top = MARGIN_PX + 2 * side.width_px + 12, HEAD_PX + CAPTION_PX + 40
    colour_bar(
        sheet,
        bar_left,
        bar_top,
        min(room - 120, 480),
        limit_mm,
        words=("+ proud of the form", "− inside it: hatched"),
    )
    length_mm = paper.bar_length_mm(side.px_per_mm, side.width_px // 2)
    bottom = sheet.pixels.shape[0] - 22
    paper.scale_bar(sheet, MARGIN_PX + 6, bottom, length_mm=length_mm, px_per_mm=side.px_per_mm)
    return paper.png_bytes(sheet, title=title)


def misfit_views(studio: Studio) -> tuple[tuple[View, View, View, View], tuple[str, ...]]:
    """Views from the side, from the back, from above and from below, at one scale; their names."""
    (side, above, _), names = overview_views(studio)
    angle = studio.losses[0].angle_deg if studio.losses else 0.0
    points = spread_points(studio.after)
    scale = side.px_per_mm
    frames = [framed(direction(turned, 8.0), points) for turned in (angle, angle + 180.0)]
    tall = max(height for _, _, height in frames)
    level = (side.width_px, int(np.ceil(tall * scale)) + 2 * MARGIN_PX)
    front, back = (sized(frame, scale, level) for frame, _, _ in frames)
    under, _, _ = framed(direction(0.0, -90.0), points)
    below = sized(under, scale, (above.width_px, above.height_px))
    return (front, back, above, below), (
        names[0],
        f"from the back, at {clock(angle + 180.0)}",
        names[1],
        "from below",
    )


def panel_corner(views: tuple[View, View, View, View], index: int) -> tuple[int, int]:
    """Top left corner of a view's picture on the sheet: two columns, two rows."""
    row, column = divmod(index, 2)
    top = HEAD_PX + CAPTION_PX + row * (views[0].height_px + CAPTION_PX)
    return MARGIN_PX + column * views[0].width_px, top


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


def hatched(misfit_mm: FloatArray, limit_mm: float) -> NDArray[np.uint8]:
    """Colours of misfits at the rays of a picture, hatched where the body lies inside the form.

    The band next to zero stays plain: there the sign is noise.

    Parameters
    ----------
    misfit_mm : (H, W) one for each ray, NaN where nothing is known
    limit_mm : end of the colour bar

    Returns
    -------
    (H, W, 3) sRGB
    """
    colours = misfit_colours(misfit_mm, limit_mm)
    rows, columns = np.indices(misfit_mm.shape)
    step = (rows + columns) % round(HATCH_PERIOD_PX * SAMPLES_PER_PIXEL_SIDE)
    on_line = step < HATCH_WIDTH_PX * SAMPLES_PER_PIXEL_SIDE
    line = on_line & (misfit_mm < -2.0 * limit_mm / BANDS)
    colours[line] = np.round((1.0 - HATCH_STRENGTH) * colours[line]).astype(np.uint8)
    return colours


def band_colours() -> NDArray[np.uint8]:
    """Colours (sRGB) of the bands from inside to proud, (BANDS, 3)."""
    from matplotlib import colormaps

    # The very ends are so dark that shading could not be seen on them.
    chosen: Colormap = colormaps["PuOr"]
    return np.round(chosen(np.linspace(0.08, 0.92, BANDS))[:, :3] * 255.0).astype(np.uint8)


def _at_rays(studio: Studio, misfit_mm: FloatArray, hits: Hits) -> FloatArray:
    """Misfit where each ray meets what was scanned, (H, W) mm; NaN elsewhere, beside unknowns."""
    values = np.full(hits.triangle.shape, np.nan)
    met = hits.triangle >= 0
    # What only closes a scan hole is a guess of its own: its misfit would say nothing.
    met[met] = ~studio.patched[hits.triangle[met]]
    corners = studio.body.mesh.faces[hits.triangle[met]]
    values[met] = (misfit_mm[corners] * hits.weights[met]).sum(axis=1)
    return values


def colour_bar(
    sheet: paper.Sheet, x: int, y: int, height_px: int, limit_mm: float, *, words: tuple[str, str]
) -> None:
    """Draw the bar that tells the colours, its top left corner at (x, y).

    Parameters
    ----------
    words : what its upper and its lower end mean
    """
    step = height_px // BANDS
    n = SAMPLES_PER_PIXEL_SIDE
    down = 1.0 - (np.arange(BANDS * step * n) + 0.5) / (BANDS * step * n)
    values = np.repeat((2.0 * down[:, None] - 1.0) * limit_mm, BAR_WIDTH_PX * n, axis=1)
    fine = to_linear(hatched(values, limit_mm)).reshape(BANDS * step, n, BAR_WIDTH_PX, n, 3)
    sheet.pixels[y : y + BANDS * step, x : x + BAR_WIDTH_PX] = to_srgb(fine.mean(axis=(1, 3)))
    for index in range(BANDS + 1):
        value_mm = limit_mm * (2.0 * index / BANDS - 1.0)
        text = "0" if index * 2 == BANDS else f"{value_mm:+.3g}".replace("-", "−")
        paper.write(
            sheet, text, x + BAR_WIDTH_PX + 6, y + (BANDS - index) * step, size=9, down="center"
        )
    bottom = y + BANDS * step
    paper.write(sheet, "mm", x, y - 12, size=9, bold=True)
    paper.write(sheet, words[0], x - 4, y - 28, size=8, colour=paper.QUIET)
    paper.write(sheet, words[1], x - 4, bottom + 20, size=8, colour=paper.QUIET)
    sheet.pixels[bottom + 30 : bottom + 40, x : x + BAR_WIDTH_PX] = UNKNOWN
    for unknown, drop in (("not scanned,", 34), ("or not known", 46)):
        paper.write(sheet, unknown, x + BAR_WIDTH_PX + 6, bottom + drop, size=8, colour=paper.QUIET)
