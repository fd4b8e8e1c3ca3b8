"""Pictures of the vessel before its treatment, in grey and true to scale.

What is missing is drawn where it belongs, pale and hatched, with the number of its loss, so that it
is told from the vessel in any print. Cracks are thin lines with letters.
"""

from __future__ import annotations

import io
import string
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill.loss.measure import clock
from lossfill.make.store import Upright
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.pack import sheet as draw
from lossfill.pack.record import FillRecord, LossPart
from lossfill.pack.studio import direction, framed, sized, spread_points
from lossfill.pack.view import (
    BACKGROUND,
    SAMPLES_PER_PIXEL_SIDE,
    Hits,
    Subject,
    View,
    cast,
    make_subject,
    photograph,
)
from lossfill.record.document import Picture
from lossfill.record.scale import PX_PER_MM, Scale, bar_mm, scale_for

BODY = (196, 196, 196)
"""sRGB of the body: mid grey, so that light and shade both show on it."""

LOST, HATCH = 250, 70
"""Grey of what is missing, and of the lines over it: paper and pencil."""

HATCH_PERIOD_PX, HATCH_WIDTH_PX = 9.0, 2.0
"""From line to line and across one, pixels of 0.125 mm on paper: open enough to tell from shade."""

EDGE_PX = 12
"""White round a picture."""

FOOT_PX = 44
"""Under a picture, for the bar and its length."""

LETTER_SIZE = 17.0
"""Points at 100 an inch: 3 mm on paper."""

VIEW_TALL_MM = 88.0
"""Tallest view of the whole vessel: three rows go on a page with their captions."""

CLOSE_TALL_MM = 70.0
CLOSE_MARGIN_MM = 6.0
"""Of vessel shown round a loss."""

INNER_SHARE = 0.5
"""Of the outer skin that is missing: with less missing inside there is little to see from there."""

SEEN_RAYS = 600
"""Of a loss in a view before it gets its number there: some 2 mm² on paper."""

CRACK_LIFT_MM = 1.0
"""Off the wall, past the groove in which a crack's mouth lies."""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """The vessel made ready to be seen.

    Parameters
    ----------
    body : as it was before
    lost : the missing material, in the order of `losses`
    losses : as recorded
    cracks : points along each, vessel coordinates
    surface : the body's, to tell what hides what
    outward : as in `Upright`
    """

    body: Subject
    lost: tuple[Subject, ...]
    losses: tuple[LossPart, ...]
    cracks: tuple[FloatArray, ...]
    surface: Surface
    outward: dict[int, FloatArray]

    @property
    def every(self) -> tuple[Subject, ...]:
        """Body and missing material."""
        return (self.body, *self.lost)


def make_scene(record: FillRecord, upright: Upright) -> Scene:
    """Make a design's meshes ready for rays."""
    matrix = np.array(record.frame.vessel_from_scan)
    return Scene(
        make_subject(upright.body, BODY),
        tuple(make_subject(upright.lost[part.number], BODY) for part in record.losses),
        record.losses,
        tuple(np.array(one.path_mm) @ matrix[:3, :3].T + matrix[:3, 3] for one in record.cracks),
        Surface(upright.body),
        upright.outward,
    )


def whole_views(
    scene: Scene, room_mm: tuple[float, float]
) -> tuple[Scale, tuple[tuple[View, str], ...]]:
    """Level views from four sides, from above and from below, all at one scale, with their names.

    Parameters
    ----------
    room_mm : width and height on paper for one of them
    """
    front = scene.losses[0].angle_deg if scene.losses else 0.0
    turned = [(front + turn) % 360.0 for turn in (0.0, 180.0, 90.0, 270.0)]
    sides = [(direction(angle), f"from {clock(angle)}, level") for angle in turned]
    ends = [
        (direction(0.0, 90.0), "from above, 12:00 up"),
        (direction(0.0, -90.0), "from below, 12:00 up"),
    ]
    points = spread_points(scene.every)
    frames = [(*framed(toward, points), name) for toward, name in (*sides, *ends)]
    edge_mm = 2 * EDGE_PX / PX_PER_MM
    scale = scale_for(
        max(wide for _, wide, _, _ in frames),
        max(tall for _, _, tall, _ in frames),
        (room_mm[0] - edge_mm, room_mm[1] - edge_mm - FOOT_PX / PX_PER_MM),
    )
    return scale, tuple(
        (_sized(view, wide, tall, scale), name) for view, wide, tall, name in frames
    )


def draw_whole(scene: Scene, room_mm: tuple[float, float]) -> tuple[Picture, ...]:
    """The vessel before treatment, from all sides."""
    scale, views = whole_views(scene, room_mm)
    return tuple(_drawn(scene, view, scale, f"Before, {name}") for view, name in views)


def draw_loss(scene: Scene, part: LossPart, room_mm: tuple[float, float]) -> tuple[Picture, ...]:
    """One loss as seen from straight outside, and from inside where it has an inner skin."""
    index = scene.losses.index(part)
    points = scene.lost[index].mesh.vertices
    out = direction(part.angle_deg)
    told = [(out, "from outside, level")]
    if not part.on_wall and scene.outward[part.number].any():
        # In a handle or a flat thing the axis says nothing about where outside is.
        told = [(scene.outward[part.number], "from straight before its outer skin")]
    elif part.on_wall and part.inner_area_mm2 > INNER_SHARE * part.outer_area_mm2:
        told.append((-out, "from inside, level; plain grey is wall that was cut away to see it"))
    elif part.on_wall:
        top = max(subject.mesh.bounds[1, 2] for subject in scene.every)
        up = 1.0 if part.height_mm > 0.5 * top else -1.0
        told.append((direction(0.0, 90.0 * up), "from above" if up > 0 else "from below"))
    pictures = []
    for toward, name in told:
        view, wide, tall = framed(toward, points)
        wide, tall = wide + 2 * CLOSE_MARGIN_MM, tall + 2 * CLOSE_MARGIN_MM
        edge_mm = 2 * EDGE_PX / PX_PER_MM
        scale = scale_for(
            wide, tall, (room_mm[0] - edge_mm, room_mm[1] - edge_mm - FOOT_PX / PX_PER_MM)
        )
        # From within, what stands between the eye and the loss is cut away.
        near_mm = None
        if "inside" in name:
            near_mm = float(((points - view.centre) @ toward).max()) + 1.0
        view = _sized(view, wide, tall, scale, near_mm)
        pictures.append(_drawn(scene, view, scale, f"Loss {part.number} {name}"))
    return tuple(pictures)


def _sized(
    view: View, wide_mm: float, tall_mm: float, scale: Scale, near_mm: float | None = None
) -> View:
    size = tuple(
        int(np.ceil(length * scale.px_per_mm)) + 2 * EDGE_PX for length in (wide_mm, tall_mm)
    )
    return sized(view, scale.px_per_mm, (size[0], size[1]), near_mm)


def _drawn(scene: Scene, view: View, scale: Scale, name: str) -> Picture:
    hits = cast(view, scene.every)
    paint = _paint(hits)
    image = photograph(view, scene.every, paint=paint, hits=hits, contrast=0.8)
    sheet = sheet_for(view)
    draw.place(sheet, image, 0, 0)
    for index, path in enumerate(scene.cracks):
        _draw_crack(sheet, scene, view, path, letter_of(index))
    seen = []
    for index, part in enumerate(scene.losses, start=1):
        if number_loss(sheet, hits.subject == index, part.number):
            seen.append(part.number)
    which = " and ".join(map(str, seen))
    told = f"loss{'es' if len(seen) > 1 else ''} {which} hatched" if seen else "no loss is seen"
    return finished(sheet, view, scale, name, told)


def letter_of(index: int) -> str:
    """The letter of a crack, from 0: A to Z, then AA."""
    letters = string.ascii_uppercase
    return letters[index] if index < 26 else letters[index // 26 - 1] + letters[index % 26]


def sheet_for(view: View) -> draw.Sheet:
    """A white sheet for a view, with room for the bar."""
    return draw.blank(view.width_px, view.height_px + FOOT_PX)


def finished(sheet: draw.Sheet, view: View, scale: Scale, name: str, told: str) -> Picture:
    """Add the scale bar and make a picture of a sheet, at its size on paper."""
    sheet.pixels[(sheet.pixels == BACKGROUND).all(axis=2)] = 255
    tall, wide = sheet.pixels.shape[:2]
    length_mm = bar_mm(scale, wide / PX_PER_MM)
    left, top = EDGE_PX, tall - FOOT_PX + 22
    length_px = round(length_mm * view.px_per_mm)
    sheet.pixels[top : top + 8, left : left + length_px] = 0
    draw.write(sheet, f"{length_mm:g} mm", left + length_px + 8, top + 11, size=LETTER_SIZE - 2)
    told = f"; {told}" if told else ""
    return Picture(
        png=grey_png(draw.png_bytes(sheet, title=name)),
        width_mm=wide / PX_PER_MM,
        height_mm=tall / PX_PER_MM,
        caption=f"{name}. Scale {scale.words}; the bar is {length_mm:g} mm{told}.",
        alt=f"{name}: orthographic picture of the vessel at scale {scale.words}{told}",
    )


def grey_png(content: bytes) -> bytes:
    """The same picture in grey, as it will look in most prints."""
    from PIL import Image

    with Image.open(io.BytesIO(content)) as opened:
        image = opened.convert("RGB").convert("L")
    held = io.BytesIO()
    image.save(held, format="PNG", optimize=True)
    return held.getvalue()


def hatch(shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Which rays of a picture (H, W) lie on a line of the hatching."""
    rows, columns = np.indices(shape)
    step = (rows + columns) % round(HATCH_PERIOD_PX * SAMPLES_PER_PIXEL_SIDE)
    lines: NDArray[np.bool_] = step < HATCH_WIDTH_PX * SAMPLES_PER_PIXEL_SIDE
    return lines


def _paint(hits: Hits) -> NDArray[np.uint8]:
    paint = np.empty((*hits.subject.shape, 3), np.uint8)
    paint[:] = BODY
    lost = hits.subject > 0
    paint[lost] = LOST
    paint[lost & hatch(hits.subject.shape)] = HATCH
    return paint


def number_loss(sheet: draw.Sheet, seen: NDArray[np.bool_], number: int) -> bool:
    """Write a number in the middle of what is seen of a loss, or say that it is not seen."""
    n = SAMPLES_PER_PIXEL_SIDE
    rows, columns = np.nonzero(seen)
    if len(rows) < SEEN_RAYS:
        return False
    # The ray nearest to the middle: the middle of a bent loss can lie beside it.
    middle = np.array([columns.mean(), rows.mean()])
    nearest = np.argmin((columns - middle[0]) ** 2 + (rows - middle[1]) ** 2)
    x, y = columns[nearest] / n, rows[nearest] / n
    mark(sheet, x, y, str(number))
    return True


def mark(sheet: draw.Sheet, x: float, y: float, word: str) -> None:
    """A number or letter in a ring."""
    tall, wide = sheet.pixels.shape[:2]
    x, y = float(np.clip(x, 17, wide - 17)), float(np.clip(y, 17, tall - FOOT_PX - 5))
    draw.ring(sheet, x, y, 15.0)
    draw.write(
        sheet,
        word,
        x,
        y + 0.5,
        size=LETTER_SIZE - 2,
        bold=True,
        across="center",
        down="center_baseline",
    )


def _draw_crack(sheet: draw.Sheet, scene: Scene, view: View, path: FloatArray, letter: str) -> None:
    """Draw those stretches of a crack that are not hidden."""
    # From a little before the wall, for the mouth itself lies in a groove.
    towards = np.broadcast_to(-view.forward, path.shape)
    behind, _ = scene.surface.along_rays(path + CRACK_LIFT_MM * towards, towards)
    seen = np.isinf(behind)
    pixels = [view.pixel(point) for point in path]
    for k in np.flatnonzero(seen[:-1] & seen[1:]):
        draw.line(sheet, [pixels[k], pixels[k + 1]], colour="black")
    if seen.any():
        x, y = pixels[np.flatnonzero(seen)[seen.sum() // 2]]
        mark(sheet, x + 22, y, letter)
