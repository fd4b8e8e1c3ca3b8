"""Briefs of losses whose every measure is known, upright."""

from __future__ import annotations

from functools import cache

import manifold3d
import numpy as np
from fill.wedges import Wedged, bowl, cylinder, take_wedge

from lossfill.fill import FillSettings, make_fill
from lossfill.frame.profile import Profile
from lossfill.loss.faces import Faces
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief, BriefPiece, Lost, Side
from lossfill.mesh import FloatArray, Mesh, face_vectors, unit
from lossfill.solids import mesh_from_solid

DOWN = np.array([0.0, 0.0, -1.0])


def brief_of(
    wedged: Wedged,
    *,
    kind: LossKind,
    entry: FloatArray,
    wall_mm: float,
    profile: Profile | None = None,
    clearance_mm: float = 0.15,
) -> Brief:
    """The brief of a loss that was cut out of a shell of revolution.

    New skin that looks away from the axis, or down, is outside.
    """
    faces = Faces.of(wedged.piece, wedged.whole)
    outside = (faces.vectors[:, :2] * faces.centres[:, :2]).sum(axis=1) > 0
    side = np.where(outside, Side.OUTER, Side.INNER)
    side = np.where(faces.is_break, Side.BREAK, side).astype(np.int8)
    fill = make_fill(wedged.loss, FillSettings(clearance_mm=clearance_mm))
    return Brief(
        vessel="test vessel",
        number=1,
        kind=kind,
        place="at 12:00, 10 mm up",
        lost=Lost(Mesh(faces.vertices, faces.faces), side, wedged.piece),
        pieces=(BriefPiece("1", fill.solid, unit(entry)),),
        body=wedged.body,
        others=(),
        wall_mm=wall_mm,
        profile=profile,
        vessel_from_scan=np.eye(4),
        clearance_mm=clearance_mm,
    )


@cache
def cylinder_hole(
    *,
    wide_deg: float = 40.0,
    low_mm: float = 25.0,
    high_mm: float = 45.0,
    clearance_mm: float = 0.15,
    n: int = 180,
) -> Brief:
    """A window 20 mm tall in a straight cup: outer radius 40, wall 4, 70 tall; entry from outside.

    The sides of the window run towards the axis, so that it is narrower inside and the piece
    drops in from outside.
    """
    wedged = take_wedge(
        cylinder(40.0, 36.0, 70.0, n),
        wide_deg=wide_deg,
        middle_deg=0.0,
        low_mm=low_mm,
        high_mm=high_mm,
    )
    return brief_of(
        wedged,
        kind=LossKind.THROUGH,
        entry=np.array([-1.0, 0.0, 0.0]),
        wall_mm=4.0,
        profile=_cup_profile(40.0, 36.0, 70.0),
        clearance_mm=clearance_mm,
    )


@cache
def bowl_rim(*, wide_deg: float = 60.0, low_mm: float = 30.0, clearance_mm: float = 0.15) -> Brief:
    """A piece of the rim of a bowl 120 mm wide, wall 4 mm; it drops in from above."""
    wedged = take_wedge(bowl(128), wide_deg=wide_deg, middle_deg=30.0, low_mm=low_mm)
    return brief_of(wedged, kind=LossKind.RIM, entry=DOWN, wall_mm=4.0, clearance_mm=clearance_mm)


@cache
def tile_corner() -> Brief:
    """A tile of 80 × 80 × 6 mm, flat; 20 × 30 mm of its edge at x = 40 are missing."""
    tile = manifold3d.Manifold.cube((80.0, 80.0, 6.0)).translate((-40.0, -40.0, 0.0))
    block = manifold3d.Manifold.cube((20.0, 30.0, 6.0)).translate((20.0, -15.0, 0.0))
    # Points in its faces, for a side of one triangle would be no scan.
    mesh = mesh_from_solid(block.refine_to_length(2.0))
    normals = unit(face_vectors(mesh))
    side = np.full(len(mesh.faces), Side.BREAK, dtype=np.int8)
    side[(normals[:, 2] > 0.5) | (normals[:, 0] > 0.5)] = Side.OUTER
    side[normals[:, 2] < -0.5] = Side.INNER
    return Brief(
        vessel="test tile",
        number=1,
        kind=LossKind.THROUGH,
        place="at 3:00, 3 mm up",
        lost=Lost(mesh, side, block),
        pieces=(BriefPiece("1", block, np.array([0.0, 0.0, -1.0])),),
        body=tile - block,
        others=(),
        wall_mm=6.0,
        profile=None,
        vessel_from_scan=np.eye(4),
        clearance_mm=0.15,
    )


def _cup_profile(outer_mm: float, inner_mm: float, tall_mm: float) -> Profile:
    """Section of the straight cup, walked from the axis inside over the lip to the axis below."""
    floor = outer_mm - inner_mm
    corners = np.array(
        [(0, floor), (inner_mm, floor), (inner_mm, tall_mm), (outer_mm, tall_mm), (outer_mm, 0),
         (0, 0)], dtype=float,
    )  # fmt: skip
    lengths = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(corners, axis=0), axis=1))])
    at = np.linspace(0.0, lengths[-1], 400)
    points = np.stack([np.interp(at, lengths, corners[:, k]) for k in range(2)], axis=1)
    ahead = unit(np.gradient(points, axis=0))
    normals = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    return Profile(points, normals, int(np.argmax(points[:, 1])))
