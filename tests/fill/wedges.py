"""Shells of revolution with a wedge taken out: a loss whose every measure is known.

Cutting a body of revolution by two planes through its axis, phi apart, takes phi / (2 pi) of its
volume (Pappus–Guldin); cutting it by two level planes as well leaves the volume between them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import manifold3d
import numpy as np
from shapes import Shape, bowl_profile, revolve

from lossfill.loss.loss import Loss, LossKind
from lossfill.mesh import FloatArray, Mesh
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh

FAR_MM = 400.0
"""Beyond every shape here."""


@dataclass(frozen=True, slots=True, eq=False)
class Wedged:
    """A shell of revolution, and the two solids into which a wedge divides it.

    Parameters
    ----------
    whole : the shell, an original solid, so that skin and break can be told apart
    piece, body : what is missing and what is left
    """

    whole: Solid
    piece: Solid
    body: Solid

    @property
    def body_mesh(self) -> Mesh:
        return mesh_from_solid(self.body)

    @property
    def piece_mesh(self) -> Mesh:
        return mesh_from_solid(self.piece)

    @property
    def loss(self) -> Loss:
        """The loss as stage 5 hands it on; what stage 6 does not read is nought."""
        return Loss(
            number=1,
            kind=LossKind.RIM,
            solid=self.piece,
            form_here=self.whole,
            body_here=self.body,
            volume_ml=self.piece.volume() / 1000.0,
            outer_area_mm2=0.0,
            inner_area_mm2=0.0,
            break_area_mm2=0.0,
            join_length_mm=0.0,
            thickness_mm=(0.0, 0.0),
            depth_mm=0.0,
            extent_along_mm=0.0,
            extent_around_mm=0.0,
            angle_deg=0.0,
            clock="12:00",
            height_mm=0.0,
            centre_mm=(0.0, 0.0, 0.0),
            expected_error_mm=0.0,
            bound_mm=0.0,
            source="revolve",
            trials=(),
        )


def take_wedge(
    shape: Shape,
    *,
    wide_deg: float,
    middle_deg: float,
    low_mm: float = -FAR_MM,
    high_mm: float = FAR_MM,
) -> Wedged:
    """Take out what lies within an angle about the axis and between two heights."""
    whole = solid_from_mesh(shape.mesh).as_original()
    piece, body = whole.split(wedge(wide_deg, middle_deg, low_mm, high_mm))
    return Wedged(whole, piece, body)


def wedge(wide_deg: float, middle_deg: float, low_mm: float, high_mm: float) -> Solid:
    """Prism over a kite with a corner on the axis and of less than 180° there."""
    turns = np.radians(middle_deg + wide_deg * np.array([-0.5, 0.0, 0.5]))
    reach = FAR_MM / np.cos(0.5 * np.radians(wide_deg))
    corners = reach * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    kite = manifold3d.CrossSection([np.concatenate([[[0.0, 0.0]], corners])])
    return manifold3d.Manifold.extrude(kite, high_mm - low_mm).translate((0.0, 0.0, low_mm))


def finely(profile: FloatArray, spacing_mm: float) -> FloatArray:
    """The same polyline with points no farther apart than the spacing."""
    parts = []
    for a, b in pairwise(profile):
        n = max(int(np.ceil(np.linalg.norm(b - a) / spacing_mm)), 1)
        parts.append(a + np.arange(n)[:, None] / n * (b - a))
    return np.concatenate([*parts, profile[-1:]])


def hemisphere(outer_mm: float, inner_mm: float, n: int, *, spacing_mm: float = 1.0) -> Shape:
    """A hemispherical shell that opens upwards, foot on z = 0, its flat lip meshed as finely."""
    steps = int(np.ceil(0.5 * np.pi * outer_mm / spacing_mm))
    rise = np.linspace(0.0, 0.5 * np.pi, steps + 1)
    arc = np.stack([np.sin(rise), -np.cos(rise)], axis=1)
    arc[0, 0] = arc[-1, 1] = 0.0
    lip = finely(np.array([[outer_mm, 0.0], [inner_mm, 0.0]]), spacing_mm)[1:-1]
    profile = np.concatenate([outer_mm * arc, lip, inner_mm * arc[::-1]])
    profile[:, 1] += outer_mm
    return revolve(profile, n)


def cylinder(
    outer_mm: float, inner_mm: float, tall_mm: float, n: int, *, spacing_mm: float = 1.0
) -> Shape:
    """A straight cup with a floor as thick as its wall."""
    floor = outer_mm - inner_mm
    corners = [(0, 0), (outer_mm, 0), (outer_mm, tall_mm), (inner_mm, tall_mm), (inner_mm, floor)]
    return revolve(finely(np.array([*corners, (0, floor)], dtype=float), spacing_mm), n)


def bowl(n: int, *, spacing_mm: float = 1.0) -> Shape:
    """The bowl of `shapes`, 120 mm wide, wall 4 mm, set on z = 0."""
    profile = bowl_profile(spacing_mm=spacing_mm)
    return revolve(profile - [0.0, profile[:, 1].min()], n)
