"""The sheet of one loss: the piece in place and by itself, and sections through wall and piece."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lossfill.mesh import FloatArray
from lossfill.pack import sheet as paper
from lossfill.pack.section import Plane, outlines, wall_planes
from lossfill.pack.studio import PIECE, Studio, direction, framed, sized
from lossfill.pack.view import View, cast, photograph

if TYPE_CHECKING:
    from lossfill.body.body import Body
    from lossfill.donor.stand import Stand
    from lossfill.fill.fill import Fill
    from lossfill.frame.frame import Frame
    from lossfill.frame.profile import Profile
    from lossfill.loss.loss import Loss

PANEL_PX = 400
HEAD_PX = 76
CAPTION_PX = 28
GAP_PX = 12
FOOT_PX = 50

SCALE_RANGE = (1.5, 24.0)
"""Pixels a millimetre at least and at most: a chip of 3 mm need not fill a whole panel."""

ROUND_PIECE = 1.5
"""How much more than the piece a panel shows, so that the wall about it is seen."""

NEAR_CLEAR_MM = 2.0
"""From within, what lies nearer than this before the piece is cut away."""


ENOUGH_SEEN = 0.4
"""Share of the best view's sight of the piece that an earlier view needs to be kept."""

BODY_CUT = "#cfcac1"
PIECE_CUT = "#{:02x}{:02x}{:02x}".format(*PIECE)


def draw_closeup(studio: Studio, index: int, body: Body, frame: Frame | Stand) -> bytes:
    """Draw the sheet of the fill at `index` of the studio.

    Parameters
    ----------
    studio : body and pieces in vessel coordinates
    index : which fill
    body : for the section, in scan coordinates
    frame : tells how the wall leans where the loss is
    """
    fill, piece = studio.fills[index], studio.pieces[index]
    points = piece.mesh.vertices
    middle = loss_middle(fill, points, studio.vessel_from_scan)
    outward = out_of(frame, fill, middle)
    largest = max(max(framed(toward, points)[1:]) for toward in (outward, -outward))
    scale = paper.round_scale(float(np.clip(PANEL_PX / (ROUND_PIECE * largest), *SCALE_RANGE)))
    size = (PANEL_PX, PANEL_PX)
    alone = [sized(framed(toward, points)[0], scale, size) for toward in _three_quarters(outward)]
    sheet = paper.blank(3 * PANEL_PX + 4 * GAP_PX, HEAD_PX + 2 * (PANEL_PX + CAPTION_PX) + FOOT_PX)
    _heading(sheet, fill)
    in_place = _telling_views(studio, index, outward, scale, size)
    panels = (
        *((view, studio.after, f"in place, {name}") for view, name in in_place),
        (alone[0], (piece,), "the piece, outer side"),
        (alone[1], (piece,), "the piece, inner side"),
    )
    for n, (view, subjects, caption) in enumerate(panels):
        x, y = _corner(n % 2, n // 2)
        paper.place(sheet, photograph(view, subjects), x, y)
        paper.write(sheet, caption, x + 4, y - 8, colour=paper.QUIET)
    along, around = wall_planes(
        studio.vessel_from_scan, float(np.rad2deg(np.arctan2(middle[1], middle[0]))), middle
    )
    _section(sheet, fill, body, along, scale, 0, "section along the wall – outside is right")
    _section(sheet, fill, body, around, scale, 1, "section around the wall – outside is up")
    length_mm = paper.bar_length_mm(scale, PANEL_PX // 4)
    bottom = sheet.pixels.shape[0]
    paper.scale_bar(sheet, GAP_PX + 4, bottom - 24, length_mm=length_mm, px_per_mm=scale)
    return paper.png_bytes(sheet, title=f"Loss {fill.loss.number}")


def loss_middle(fill: Fill, points: FloatArray, vessel_from_scan: FloatArray) -> FloatArray:
    """The point of the piece nearest its centroid, vessel coordinates.

    The centroid of a piece that runs half round a rim lies in the air, where a section shows
    nothing; the direction and height of the loss are then kept by the nearest vertex.
    """
    centre = vessel_from_scan[:3, :3] @ np.asarray(fill.loss.centre_mm) + vessel_from_scan[:3, 3]
    radius = float(np.median(np.linalg.norm(points[:, :2], axis=1)))
    level = float(np.linalg.norm(centre[:2]))
    # Pushed out to the wall along its own direction before the nearest vertex is sought.
    if level > 1e-6:
        centre = np.array([*(centre[:2] / level * radius), centre[2]])
    nearest: FloatArray = points[np.argmin(((points - centre) ** 2).sum(axis=1))]
    return nearest


def out_of(frame: Frame | Stand, fill: Fill, middle: FloatArray) -> FloatArray:
    """Direction from which the outer side of a loss is seen, vessel coordinates, (3,) unit."""
    profile = getattr(frame, "profile", None)
    if profile is not None and fill.loss.on_wall:
        return wall_direction(profile, middle)
    angle = float(np.rad2deg(np.arctan2(middle[1], middle[0])))
    # What lies flat, such as a tile, is looked down upon; what stands is looked at.
    return direction(angle, 65.0 if getattr(frame, "is_flat", False) else 10.0)


def wall_direction(profile: Profile, middle: FloatArray) -> FloatArray:
    """Direction out of the outer wall at a loss, vessel coordinates, (3,) unit.

    Taken from the outer half of the section at the loss's height; at the foot it points down.
    """
    radius = float(np.linalg.norm(middle[:2]))
    outer = profile.points[profile.lip :]
    offsets = outer - np.array([radius, middle[2]])
    normal = profile.normals[profile.lip + int(np.argmin((offsets**2).sum(axis=1)))]
    elevation = float(np.rad2deg(np.arctan2(normal[1], normal[0])))
    angle = float(np.rad2deg(np.arctan2(middle[1], middle[0])))
    return direction(angle, float(np.clip(elevation, -80.0, 45.0)))


def _telling_views(
    studio: Studio, index: int, outward: FloatArray, scale: float, size: tuple[int, int]
) -> list[tuple[View, str]]:
    """Choose two views in which much of the piece is seen, outside and inside before all others.

    A chip of the lip shows nothing from within and a foot is hidden there by the floor; from above
    or from the side they do show.
    """
    points = studio.pieces[index].mesh.vertices
    angle = float(np.rad2deg(np.arctan2(outward[1], outward[0])))
    choices: list[tuple[View, str]] = []
    for toward, name in (
        (outward, "from outside"),
        (-outward, "from inside"),
        (direction(angle, 70.0), "from above"),
        (direction(angle, 0.0), "from the side"),
        (direction(angle, -70.0), "from below"),
    ):
        frame, _, _ = framed(toward, points)
        nearest = float(((points - frame.centre) @ -frame.forward).max())
        near_mm = nearest + NEAR_CLEAR_MM if name == "from inside" else None
        choices.append((sized(frame, scale, size, near_mm), name))
    seen = [_share_seen(studio, index, view) for view, _ in choices]
    enough = [k for k, share in enumerate(seen) if share >= ENOUGH_SEEN * max(seen)]
    others = sorted(set(range(len(choices))) - set(enough), key=lambda k: -seen[k])
    return [choices[k] for k in (*enough, *others)][:2]


def _share_seen(studio: Studio, index: int, view: View) -> float:
    """Share of a view's rays that meet the piece from outside its material."""
    size = (view.width_px // 5, view.height_px // 5)
    coarse = sized(view, view.px_per_mm / 5, size, view.near_mm)
    hits = cast(coarse, studio.after)
    mesh = studio.pieces[index].mesh
    a, b, c = (
        mesh.vertices[mesh.faces[hits.triangle[hits.subject == index + 1], k]] for k in range(3)
    )
    facing = np.cross(b - a, c - a) @ view.forward < 0.0
    return float(facing.sum()) / hits.subject.size


def _three_quarters(outward: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Turn the views of the lone piece aside, so that its thickness is seen."""
    level = np.cross((0.0, 0.0, 1.0), outward)
    level = level / np.linalg.norm(level)
    upright = np.cross(outward, level)
    return (
        outward + 0.55 * level + 0.45 * upright,
        -outward + 0.55 * level - 0.45 * upright,
    )


def _heading(sheet: paper.Sheet, fill: Fill) -> None:
    loss = fill.loss
    paper.write(
        sheet,
        f"Loss {loss.number}: {loss.kind.value}, at {loss.clock}, "
        f"{loss.height_mm:.0f} mm above the foot",
        GAP_PX + 4,
        32,
        size=14,
        bold=True,
    )
    paper.write(
        sheet,
        f"piece {fill.volume_ml:.3g} ml · {_extents(loss)} · {loss.thickness_mm[0]:.1f}–"
        f"{loss.thickness_mm[1]:.1f} mm thick · gap for adhesive {fill.clearance_mm:.2f} mm",
        GAP_PX + 4,
        54,
        colour=paper.QUIET,
    )


def _extents(loss: Loss) -> str:
    around, along = loss.extent_around_mm, loss.extent_along_mm
    if loss.on_wall:
        return f"{around:.0f} mm around the wall, {along:.0f} mm along it"
    return f"{around:.0f} × {along:.0f} mm"


def _section(
    sheet: paper.Sheet,
    fill: Fill,
    body: Body,
    plane: Plane,
    scale: float,
    row: int,
    caption: str,
) -> None:
    x, y = _corner(2, row)
    box = (x, y, PANEL_PX, PANEL_PX)
    piece = outlines(fill.solid, plane)
    # The piece in the middle of the drawing; where the plane misses it, the loss's own middle.
    ends = np.concatenate(piece) if piece else np.zeros((1, 2))
    shift = (ends.min(axis=0) + ends.max(axis=0)) / 2 * scale
    middle = (x + PANEL_PX / 2 - shift[0], y + PANEL_PX / 2 + shift[1])
    for cut, face in ((outlines(body.solid, plane), BODY_CUT), (piece, PIECE_CUT)):
        paper.region(sheet, cut, middle=middle, px_per_mm=scale, box=box, face=face, edge=paper.INK)
    paper.write(sheet, caption, x + 4, y - 8, colour=paper.QUIET)


def _corner(column: int, row: int) -> tuple[int, int]:
    return (
        GAP_PX + column * (PANEL_PX + GAP_PX),
        HEAD_PX + CAPTION_PX + row * (PANEL_PX + CAPTION_PX),
    )
