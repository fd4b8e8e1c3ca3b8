"""What a backing's shell is given and loses: a knob to hold it by, notches, and an arrow up."""

from __future__ import annotations

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.make.former import Ground, above_skin
from lossfill.mesh import FloatArray
from lossfill.solids import Solid


def knob(
    ground: Ground,
    seat: FloatArray,
    *,
    tall_mm: float,
    wide_mm: float,
    midst_mm: float,
    top_mm: float,
) -> Solid:
    """A knob on the back: round, waisted for the fingers, its edge rounded.

    Parameters
    ----------
    seat : where on the plane it stands
    tall_mm, wide_mm : height above the back, and width
    midst_mm, top_mm : heights above the skin of the former's midst and of the knob's top
    """
    wide = 0.5 * wide_mm
    # It begins below the skin and is cut in the midst of the former, however that slopes there.
    root = -tol.FORMER_STEEPEST * wide
    turn = np.linspace(-0.4 * np.pi, 0.5 * np.pi, 24)
    bead = min(0.5 * wide, 0.4 * tall_mm)
    rim = np.stack([wide - bead + bead * np.cos(turn), top_mm - bead + bead * np.sin(turn)], axis=1)
    stem = 0.75 * wide
    outline = np.concatenate([[[0.0, root], [stem, root], [stem, midst_mm]], rim, [[0.0, top_mm]]])
    turned = manifold3d.Manifold.revolve(manifold3d.CrossSection([outline]), 64)
    return turned.translate(tuple(seat)).transform(ground.plane.pose) ^ above_skin(ground, midst_mm)


def marks(
    ground: Ground, shell: Solid, *, engraved_mm: float, taken_mm: tuple[float, float] | None
) -> Solid:
    """What is cut away: notches at four places of the edge, and an arrow up on the back.

    Parameters
    ----------
    engraved_mm : the arrow's depth
    taken_mm : from where to where up the back a knob leaves no room; None without one
    """
    pose = ground.plane.pose
    inverse = np.hstack([pose[:, :3].T, -(pose[:, :3].T @ pose[:, 3])[:, None]])
    seen = shell.transform(inverse)
    box = np.asarray(seen.bounding_box())
    deep = 2.0 * float(np.abs(box[[2, 5]]).max()) + 10.0
    outline = manifold3d.CrossSection(seen.project().to_polygons(), manifold3d.FillRule.Positive)
    wedges = [_notch(outline, turn) for turn in (0.0, 90.0, 180.0, 270.0)]
    through = manifold3d.CrossSection.batch_boolean(wedges, manifold3d.OpType.Add)
    notches = manifold3d.Manifold.extrude(through, 2 * deep).translate((0.0, 0.0, -deep))
    arrow = _arrow(*_arrow_room(box[1], box[4], taken_mm))
    if arrow.is_empty():
        return notches.transform(pose)
    block = manifold3d.Manifold.extrude(arrow, 2 * deep)
    # All that lies above the back let down by the engraving's depth; the air above goes with it, so
    # that no two faces coincide.
    engraved = block.translate((0.0, 0.0, -deep)) - seen.translate((0.0, 0.0, -engraved_mm))
    return (notches + engraved).transform(pose)


def _arrow_room(
    bottom_mm: float, top_mm: float, taken_mm: tuple[float, float] | None
) -> tuple[float, float]:
    """From where to where up the back an arrow finds room: above a knob at a height, or below."""
    low, high = bottom_mm + tol.NOTCH_MM + 2.0, top_mm - tol.NOTCH_MM - 2.0
    if taken_mm is None:
        return max(low, -0.3 * high), high
    above, below = (taken_mm[1], high), (low, taken_mm[0])
    # Above is where an arrow is looked for; below only where the lip leaves it no room.
    return above if above[1] - above[0] >= tol.ARROW_TALL_MM else below


def _notch(outline: manifold3d.CrossSection, turn_deg: float) -> manifold3d.CrossSection:
    """A V in the edge, straight across from the gap's middle in one direction."""
    turned = outline.rotate(-turn_deg)
    hair = manifold3d.CrossSection.square((1000.0, 0.02)).translate((0.0, -0.01))
    edge = (turned ^ hair).bounds()[2]
    deep = tol.NOTCH_MM
    corners = np.array([[edge - deep, 0.0], [edge + deep, -deep], [edge + deep, deep]])
    return manifold3d.CrossSection([corners]).rotate(turn_deg)


def _arrow(low_mm: float, high_mm: float) -> manifold3d.CrossSection:
    """An arrow that points up, as lines to engrave; empty where there is no room."""
    tall = high_mm - low_mm
    if tall < tol.ARROW_TALL_MM:
        return manifold3d.CrossSection()
    half, head = 0.5 * tol.ARROW_WIDE_MM, min(3.0, 0.5 * tall)
    shaft = [[-half, low_mm], [half, low_mm], [half, high_mm - head], [-half, high_mm - head]]
    point = [[-head, high_mm - head], [head, high_mm - head], [0.0, high_mm]]
    lines = [manifold3d.CrossSection([np.array(corners)]) for corners in (shaft, point)]
    return manifold3d.CrossSection.batch_boolean(lines, manifold3d.OpType.Add)
