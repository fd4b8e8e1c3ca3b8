"""How thick the wall is, with what is missing put back: a map to be read in grey.

From each place that a picture shows, a ray goes straight down into the wall until it comes out. The
map's steps grow darker with the thickness alone, each carries its figures, and a line runs where
one step meets the next; so it is read in a grey print, and by people of any colour vision.
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import FloatArray, Mesh
from lossfill.nearest import Surface
from lossfill.pack import sheet as draw
from lossfill.pack.record import LossPart
from lossfill.pack.view import SAMPLES_PER_PIXEL_SIDE, Hits, Subject, View, cast
from lossfill.record.document import Picture
from lossfill.record.pictures import (
    LETTER_SIZE,
    Scene,
    finished,
    grey_png,
    number_loss,
    sheet_for,
    whole_views,
)
from lossfill.record.scale import PX_PER_MM, Scale

SKIP_MM = 0.02
"""Step past a face that was met. Where missing material lies on the break the two faces fall
together, within rounding: the ray steps over both."""

SEAM_MM = 0.1
"""A gap of air narrower than this, met along the ray, is the seam at a break and not a far wall."""

MOST_FACES = 8
"""Faces that a ray may meet on its way out: two for each break that it crosses."""

ROUND_TO_MM = ((3.0, 0.2), (15.0, 0.5), (np.inf, 2.0))
"""Up to which thickness in the middle of all the map's figures are multiples of what: a step must
be wider than the noise of two skins scanned apart, some 0.1 mm."""

SHARES = (0.10, 0.25, 0.40, 0.55, 0.70, 0.85, 0.95)
"""Of the skin seen that is thinner than each figure, before rounding: so many greys, and no more,
can be told apart side by side in a print."""

CALM_PX = 7
"""Side of the square over which the middle value is taken, pixels: the map is of walls, not of
pits; 0.9 mm on paper."""

LIGHTEST, DARKEST = 245, 70
"""Greys of the thinnest and the thickest step."""

LINE = 20
"""Grey of the lines between two steps."""

LABEL_PX = 15
"""Room that a figure needs about it before it is written on a step, pixels."""


def wall_thickness(surface: Surface, points: FloatArray, inward: FloatArray) -> FloatArray:
    """How far it is through the material from points on the skin, (N,) mm; NaN where no way out.

    Parameters
    ----------
    surface : of the body and the missing material together; faces that touch may be doubled
    points : (N, 3) on the skin, mm
    inward : (N, 3) unit, into the material
    """
    travelled = np.full(len(points), SKIP_MM)
    through = np.full(len(points), np.nan)
    left = np.zeros(len(points), dtype=bool)
    going = np.arange(len(points))
    for _ in range(MOST_FACES):
        if not len(going):
            break
        starts = points[going] + travelled[going, None] * inward[going]
        ahead, facing = surface.along_rays(starts, inward[going])
        met = np.isfinite(ahead)
        # Out, once air follows a face that was left by, unless it is as narrow as a seam. A face
        # entered by while within is the second of two that touch, met first by rounding.
        out = ~met | (left[going] & (facing < 0) & (ahead > SEAM_MM))
        going, ahead, facing = going[~out], ahead[~out], facing[~out]
        travelled[going] += ahead
        left[going] = facing > 0
        leaving = going[facing > 0]
        through[leaving] = travelled[leaving]
        travelled[going] += SKIP_MM
    return through


def draw_thickness(
    scene: Scene, room_mm: tuple[float, float]
) -> tuple[tuple[Picture, ...], Picture]:
    """Maps of the wall's thickness from the front, the back, above and below, and their key."""
    scale, views = whole_views(scene, room_mm)
    shown = [views[0], views[1], views[4], views[5]]
    surface = Surface(_together([subject.mesh for subject in scene.every]))
    casts = [cast(view, scene.every) for view, _ in shown]
    maps = [
        thickness_of_seen(view, hits, scene.every, surface)
        for (view, _), hits in zip(shown, casts, strict=True)
    ]
    edges = band_edges(np.concatenate([one[np.isfinite(one)] for one in maps]))
    drawn = [
        _drawn(view, hits, thickness, edges, scale, name, scene.losses)
        for (view, name), hits, thickness in zip(shown, casts, maps, strict=True)
    ]
    return tuple(drawn), _key(edges, 2 * room_mm[0])


def thickness_of_seen(
    view: View, hits: Hits, subjects: tuple[Subject, ...], surface: Surface
) -> FloatArray:
    """Thickness at every other ray of a view, that is at each pixel, (H, W) mm; NaN off it."""
    n = SAMPLES_PER_PIXEL_SIDE
    values = np.full((view.height_px, view.width_px), np.nan)
    for index, subject in enumerate(subjects):
        seen = hits.subject[::n, ::n] == index
        if not seen.any():
            continue
        triangles = hits.triangle[::n, ::n][seen]
        weights = hits.weights[::n, ::n][seen][:, :, None]
        corners = subject.mesh.faces[triangles]
        points = (subject.mesh.vertices[corners] * weights).sum(axis=1)
        a, b, c = (subject.mesh.vertices[corners[:, k]] for k in range(3))
        flat = np.cross(b - a, c - a)
        inward = -flat / np.maximum(np.linalg.norm(flat, axis=1, keepdims=True), 1e-30)
        smooth = -(subject.vertex_normals[corners] * weights).sum(axis=1)
        smooth /= np.maximum(np.linalg.norm(smooth, axis=1, keepdims=True), 1e-30)
        # At a sharp edge the mean of two faces points along neither.
        inward = np.where((inward * smooth).sum(axis=1, keepdims=True) > 0.9, smooth, inward)
        values[seen] = wall_thickness(surface, points, inward)
    return _calmed(values)


def _calmed(values: FloatArray) -> FloatArray:
    """The middle value about each pixel; what is not known counts as its nearest neighbour."""
    from scipy.ndimage import distance_transform_edt, median_filter

    known = np.isfinite(values)
    if not known.any():
        return values
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    calm: FloatArray = median_filter(values[tuple(nearest)], CALM_PX)
    return np.where(known, calm, np.nan)


def band_edges(thickness_mm: FloatArray) -> FloatArray:
    """Where one step of the map ends and the next begins, (N,) mm: round numbers, rising.

    Each step holds about as much of the skin, so that the wall is not lost beside a thick foot.
    """
    if not len(thickness_mm):
        return np.array([1.0])
    middle = float(np.median(thickness_mm))
    unit_mm = next(unit for most, unit in ROUND_TO_MM if middle <= most)
    steps = np.round(np.quantile(thickness_mm, SHARES) / unit_mm)
    edges: FloatArray = unit_mm * np.unique(np.maximum(steps, 1.0))
    return edges


def band_greys(n_bands: int) -> NDArray[np.uint8]:
    """Grey of each step from the thinnest, (n_bands,): each darker than the one before."""
    return np.round(np.linspace(LIGHTEST, DARKEST, n_bands)).astype(np.uint8)


def band_words(edges_mm: FloatArray) -> tuple[str, ...]:
    """What each step stands for, from the thinnest."""
    told = [f"{edge:g}" for edge in np.round(edges_mm, 6)]
    between = [f"{low} – {high}" for low, high in itertools.pairwise(told)]
    return (f"below {told[0]}", *between, f"{told[-1]} and more")


def _drawn(
    view: View,
    hits: Hits,
    thickness_mm: FloatArray,
    edges: FloatArray,
    scale: Scale,
    name: str,
    losses: tuple[LossPart, ...],
) -> Picture:
    n = SAMPLES_PER_PIXEL_SIDE
    bands = np.where(np.isfinite(thickness_mm), np.digitize(thickness_mm, edges), -1)
    on = hits.subject[::n, ::n] >= 0
    greys = band_greys(len(edges) + 1)
    image = np.full(bands.shape, 255, np.uint8)
    image[bands >= 0] = greys[bands[bands >= 0]]
    kinds = hits.subject[::n, ::n]
    image[_borders(bands) & (bands >= 0)] = LINE
    image[~on] = 255
    image[_borders(kinds)] = 0
    sheet = sheet_for(view)
    draw.place(sheet, np.repeat(image[..., None], 3, axis=2), 0, 0)
    _figures(sheet, bands, edges)
    for index, part in enumerate(losses, start=1):
        number_loss(sheet, hits.subject == index, part.number)
    return finished(sheet, view, scale, f"Thickness of the wall in mm, {name}", "")


def _key(edges: FloatArray, wide_mm: float) -> Picture:
    """The greys side by side, each with what it stands for."""
    words, greys = band_words(edges), band_greys(len(edges) + 1)
    box_px = int(wide_mm * PX_PER_MM) // len(greys)
    sheet = draw.blank(box_px * len(greys), 92)
    sheet.pixels[:] = 255
    for index, (told, grey) in enumerate(zip(words, greys, strict=True)):
        left = index * box_px
        sheet.pixels[2:50, left : left + box_px] = LINE
        sheet.pixels[4:48, left + 2 : left + box_px - 2] = grey
        draw.write(sheet, told, left + box_px / 2, 78, size=LETTER_SIZE - 4, across="center")
    caption = "The greys of the thickness maps, in mm"
    return Picture(
        png=grey_png(draw.png_bytes(sheet, title=caption)),
        width_mm=sheet.pixels.shape[1] / PX_PER_MM,
        height_mm=sheet.pixels.shape[0] / PX_PER_MM,
        caption=f"{caption}: the darker, the thicker.",
        alt=f"{caption}, from light to dark: {'; '.join(words)}",
    )


def _borders(kinds: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where a pixel's right or lower neighbour is of another kind."""
    edge = np.zeros(kinds.shape, dtype=bool)
    edge[:, :-1] |= kinds[:, :-1] != kinds[:, 1:]
    edge[:-1] |= kinds[:-1] != kinds[1:]
    return edge


def _figures(sheet: draw.Sheet, bands: NDArray[np.int64], edges: FloatArray) -> None:
    """Write on each step that has room what it stands for."""
    from scipy.ndimage import distance_transform_edt, label

    words = band_words(edges)
    for band in range(len(edges) + 1):
        regions, _ = label(bands == band)
        room = distance_transform_edt(regions > 0)
        for region in np.unique(regions[room >= LABEL_PX]):
            there = np.where(regions == region, room, 0.0)
            y, x = np.unravel_index(int(there.argmax()), there.shape)
            light = band_greys(len(edges) + 1)[band] < 140
            told = words[band].replace("below ", "<").replace(" and more", "+").replace(" ", "")
            draw.write(
                sheet, told, float(x), float(y), size=12.0, colour="white" if light else "black",
                across="center", down="center",
            )  # fmt: skip


def _together(meshes: list[Mesh]) -> Mesh:
    """All triangles as one mesh; nothing is joined."""
    before = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    return Mesh(
        np.concatenate([mesh.vertices for mesh in meshes]),
        np.concatenate(
            [mesh.faces + shift for mesh, shift in zip(meshes, before[:-1], strict=True)]
        ),
    )
