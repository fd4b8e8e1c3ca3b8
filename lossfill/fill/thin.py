"""Edges too thin for the way a piece is made, trimmed and listed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.errors import BooleanError
from lossfill.fill.ball import Ball
from lossfill.fill.plate import plate_about
from lossfill.mesh import FloatArray, Mesh, extents, face_vectors, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


@dataclass(frozen=True, slots=True)
class Trimmed:
    """A thin edge that was taken off and must be made up in paste.

    Parameters
    ----------
    place_mm : (x, y, z) of its middle, scan coordinates
    length_mm : its longest extent
    volume_mm3 : of what was taken off
    """

    place_mm: tuple[float, float, float]
    length_mm: float
    volume_mm3: float


def trim_thin(piece: Solid, *, thickness_mm: float) -> tuple[Solid, tuple[Trimmed, ...]]:
    """Take off the edges that are thinner than a thickness.

    An edge counts as thin where no ball of that diameter comes within half the thickness of it:
    one sharper than 60°. It ends in a round of half the thickness. Blunter edges keep their line.

    Parameters
    ----------
    piece : what is to be cut
    thickness_mm : what the process can hold

    Returns
    -------
    The piece, and what was taken off, the largest first.

    Raises
    ------
    BooleanError
        Where the modeller fails, or the piece is that thin all over.
    """
    radius, hair = 0.5 * thickness_mm, tol.ROUND_HAIR_MM
    mesh = mesh_from_solid(piece.refine_to_length(tol.THIN_SPACING_MM))
    surface = Surface(mesh_from_solid(piece))
    thin = _seen_thin(mesh, surface, 1.5 * thickness_mm)
    if len(thin) == 0:
        return piece, ()

    def depth(points: FloatArray) -> FloatArray:
        return -surface.signed_distance(points)

    about = np.asarray(cKDTree(thin).query(mesh.vertices)[0])
    near = mesh.vertices[about < 3.0 * thickness_mm + tol.THIN_SPACING_MM]
    cell = float(np.clip(radius / 4.0, *tol.ROUND_CELL_MM))
    ball = Ball.within(near, surface, depth, radius_mm=radius, cell_mm=cell)
    if ball is None:
        raise BooleanError(
            f"the piece is thinner than {thickness_mm:g} mm all over: too thin to be made so; "
            "choose another process, or fill this loss with paste"
        )
    beyond = ball.beyond(near)
    deep = near[beyond > radius]
    if len(deep) == 0:
        return piece, ()
    seeds = cKDTree(deep)
    ends = near[(beyond > hair) & (seeds.query(near)[0] < 4.0 * radius)]

    def value(points: FloatArray) -> FloatArray:
        # Along an edge that grows blunter the trimming runs out and does not break off.
        past = np.maximum(np.asarray(seeds.query(points)[0]) - 2.0 * radius, 0.0)
        left: FloatArray = 0.5 * (hair + past - ball.beyond(points))
        return left

    tree = cKDTree(ends)
    cutter = plate_about(
        ends,
        lambda points: np.asarray(tree.query(points)[0]),
        value,
        depth_mm=radius + tol.THIN_SPACING_MM,
        cell_mm=cell,
    )
    if cutter is None:
        return piece, ()
    # The cutter itself is taken off, not what it shares with the piece: that has faces in common
    # with the piece, and subtracting would leave films.
    off, left = piece.split(cutter.simplify(tol.ROUND_COLLAPSE_MM))
    return left, _listed(off)


def _seen_thin(mesh: Mesh, surface: Surface, thickness_mm: float) -> FloatArray:
    """Middles of the triangles with the other side of the material close behind them, (N, 3)."""
    vectors = face_vectors(mesh)
    sound = np.linalg.norm(vectors, axis=1) > 0.0
    middles = mesh.vertices[mesh.faces[sound]].mean(axis=1)
    inward = -unit(vectors[sound])
    start = middles + tol.THIN_START_MM * inward
    behind, _ = surface.along_rays(start, inward)
    return np.asarray(middles[behind < thickness_mm])


def _listed(off: Solid) -> tuple[Trimmed, ...]:
    found = []
    for part in off.decompose():
        volume = part.volume()
        if volume < tol.TRIMMED_MM3:
            continue
        points = mesh_from_solid(part).vertices
        x, y, z = (float(k) for k in 0.5 * (points.min(axis=0) + points.max(axis=0)))
        found.append(Trimmed((x, y, z), float(extents(points)[0]), float(volume)))
    return tuple(sorted(found, key=lambda trimmed: -trimmed.volume_mm3))
