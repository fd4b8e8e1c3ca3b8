"""What every picture shares: meshes in the vessel's frame, views of them, and colours."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from lossfill.mesh import BoolArray, FloatArray, transformed
from lossfill.pack.view import Subject, View, looking, make_subject
from lossfill.solids import Solid, mesh_from_solid

if TYPE_CHECKING:
    from lossfill.fill.fill import Fill
    from lossfill.loss.loss import Loss
    from lossfill.road import Design

CLAY = (206, 200, 190)
"""sRGB of a body whose scan has no colours."""

PIECE = (48, 114, 190)
"""sRGB of a piece: blue differs in hue from fired clay, wood and most glazes, and is told from
browns and reds by people of any common colour vision."""

FRAME_POINTS = 20_000
"""Points that decide how large a picture must be; more would not change it by a pixel."""


@dataclass(frozen=True, slots=True, eq=False)
class Studio:
    """Body and pieces ready to be seen, in vessel coordinates.

    Parameters
    ----------
    body : the body
    pieces : one per fill, in the order of `fills`
    fills : by loss number
    losses : all of them by number, with a piece or without
    patched : (F,) marks the body's triangles that were not measured
    vessel_from_scan : (4, 4) rigid transform
    """

    body: Subject
    pieces: tuple[Subject, ...]
    fills: tuple[Fill, ...]
    losses: tuple[Loss, ...]
    patched: BoolArray
    vessel_from_scan: FloatArray

    @property
    def after(self) -> tuple[Subject, ...]:
        """Body and all pieces."""
        return (self.body, *self.pieces)


def make_studio(design: Design) -> Studio:
    """Bring a design's meshes into the vessel's frame and make them ready for rays."""
    matrix = design.frame.vessel_from_scan
    fills = tuple(_as_made(design))
    return Studio(
        make_subject(transformed(design.body.mesh, matrix), CLAY),
        tuple(make_subject(transformed(fill.mesh, matrix), PIECE) for fill in fills),
        fills,
        tuple(sorted(design.losses, key=lambda loss: loss.number)),
        design.body.guessed,
        matrix,
    )


def _as_made(design: Design) -> Iterator[Fill]:
    """The fills by number, with the pieces that were made to slide in."""
    fitted = {one.fill.loss.number: one.pieces for one in design.fitted}
    for fill in sorted(design.fills, key=lambda fill: fill.loss.number):
        pieces = fitted.get(fill.loss.number)
        if pieces is None:
            yield fill
            continue
        solid = Solid.compose([piece.solid for piece in pieces])
        mesh = pieces[0].mesh if len(pieces) == 1 else mesh_from_solid(solid)
        yield replace(fill, mesh=mesh, solid=solid)


def spread_points(subjects: tuple[Subject, ...]) -> FloatArray:
    """Some vertices of each subject, enough to frame a picture, (N, 3) mm."""
    return np.concatenate(
        [
            subject.mesh.vertices[:: 1 + len(subject.mesh.vertices) // FRAME_POINTS]
            for subject in subjects
        ]
    )


def direction(angle_deg: float, elevation_deg: float = 0.0) -> FloatArray:
    """Unit vector out of the vessel at an angle about its axis and above the level, (3,)."""
    angle, elevation = np.deg2rad(angle_deg), np.deg2rad(elevation_deg)
    level = np.cos(elevation)
    return np.array([level * np.cos(angle), level * np.sin(angle), np.sin(elevation)])


def framed(toward_camera: FloatArray, points: FloatArray) -> tuple[View, float, float]:
    """View along a direction with the points in its middle, and their width and height, mm.

    The view has no size and scale yet: see `sized`.
    """
    view = looking(toward_camera, centre=np.zeros(3), px_per_mm=1.0, size_px=(1, 1))
    across, upward = points @ view.right, points @ view.up
    depth = points @ view.forward
    middle = [(values.min() + values.max()) / 2 for values in (across, upward, depth)]
    centre = middle[0] * view.right + middle[1] * view.up + middle[2] * view.forward
    return (
        View(centre, view.right, view.up, 1.0, 1, 1),
        float(np.ptp(across)),
        float(np.ptp(upward)),
    )


def sized(
    view: View, px_per_mm: float, size_px: tuple[int, int], near_mm: float | None = None
) -> View:
    """Give a framed view its scale and size."""
    return View(view.centre, view.right, view.up, px_per_mm, size_px[0], size_px[1], near_mm)
