"""The piece's skin lowered for coats to come: how deep, and how it ends at the join.

The piece with a setback s is the part of it farther than s from the new skin. Outside and inside
have a setback each; where their skins meet, at a lip, each is asked for itself and either may cut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.body.topology import edges_of
from lossfill.errors import BooleanError
from lossfill.fill.plate import Value, plate_along
from lossfill.loss.sides import Side
from lossfill.mesh import FloatArray, Mesh, face_vectors, part_of
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """One skin of a loss, and the rest of the loss's surface; both are open meshes."""

    skin: Mesh
    rest: Mesh


@dataclass(frozen=True, slots=True, eq=False)
class Skins:
    """The new skin of a loss, outside and inside apart.

    Parameters
    ----------
    outer, inner : None where there is no such skin
    join : (J, 2, 3) mm, ends of the edges where the new skin meets the break
    lip : (L, 2, 3) mm, ends of the edges where outer and inner skin meet
    """

    outer: Patch | None
    inner: Patch | None
    join: FloatArray
    lip: FloatArray

    @staticmethod
    def of(mesh: Mesh, side: NDArray[np.integer]) -> Skins:
        """Take a loss apart by its sides, (F,): 0 on the break, 1 outside, 2 inside."""
        edges = edges_of(mesh.faces)
        one, other, _ = edges.pairs()
        two = edges.uses == 2
        ends = mesh.vertices[np.stack([edges.low[two], edges.high[two]], axis=1)]
        product = np.asarray(side)[one] * np.asarray(side)[other]
        differs = np.asarray(side)[one] != np.asarray(side)[other]
        return Skins(
            outer=_patch(mesh, np.asarray(side) == int(Side.OUTER)),
            inner=_patch(mesh, np.asarray(side) == int(Side.INNER)),
            join=ends[differs & (product == 0)],
            lip=ends[differs & (product != 0)],
        )


def set_back(
    piece: Solid,
    whole: Solid,
    skins: Skins,
    *,
    outside_mm: float,
    inside_mm: float,
    fade_mm: float | None,
) -> Solid:
    """Lower the skin of a piece; a skin whose setback is 0 is left as it is.

    Parameters
    ----------
    piece : what is to be cut
    whole : the loss, which has the skins on its surface
    skins : the new skin, and where it ends
    outside_mm, inside_mm : how far the outer and the inner skin are lowered
    fade_mm : way from the join over which the setback grows from nothing to its full depth; None
        lowers the skin as much at the join as elsewhere

    Raises
    ------
    BooleanError
        Where the modeller fails, or nothing is left between the lowered skins.
    """
    surface = Surface(mesh_from_solid(whole))
    result = piece
    for own, other, depth_mm, other_mm in (
        (skins.outer, skins.inner, outside_mm, inside_mm),
        (skins.inner, skins.outer, inside_mm, outside_mm),
    ):
        if own is None or depth_mm <= 0.0:
            continue
        skin, rest = Surface(own.skin), Surface(own.rest)
        value = _lowered(skin, rest, surface, skins.join, depth_mm=depth_mm, fade_mm=fade_mm)
        if other is not None and other_mm <= 0.0:
            theirs = Surface(other.skin)
            value = _kept_off(value, skin, theirs, skins.lip, reach_mm=1.5 * depth_mm)
        cutter = plate_along(own.skin, value, depth_mm=depth_mm, cell_mm=tol.SETBACK_CELL_MM)
        if cutter is not None:
            result = result - cutter.simplify(tol.SETBACK_COLLAPSE_MM)
    if result.volume() < tol.PIECE_SHARE_MIN * piece.volume():
        raise BooleanError(
            f"setbacks of {outside_mm:g} mm outside and {inside_mm:g} mm inside leave nothing "
            "useful of so thin a wall; give smaller ones"
        )
    return result


def _lowered(
    own: Surface,
    rest: Surface,
    whole: Surface,
    join: FloatArray,
    *,
    depth_mm: float,
    fade_mm: float | None,
) -> Value:
    """How far points lie beneath the lowered skin; negative where it is to be cut."""
    hair = tol.SETBACK_HAIR_MM
    if fade_mm is None or len(join) == 0:
        # The grid's nodes just past the break see what those before it see, so that the cut is
        # level right up to the seat.
        margin = min(depth_mm, np.sqrt(3.0) * tol.SETBACK_CELL_MM)
        return lambda points: 0.5 * (_beneath(points, own, rest, whole, margin) - depth_mm)
    ends = cKDTree(_along(join, tol.SETBACK_JOIN_MM))
    # The ramp's slope is at most three halves of depth over way, and the value may grow no
    # faster than distance.
    slope = 1.5 * (depth_mm + hair) / fade_mm

    def value(points: FloatArray) -> FloatArray:
        way = ends.query(own.closest(points)[0], distance_upper_bound=fade_mm)[0]
        share = np.minimum(way / fade_mm, 1.0)
        # Level at either end: no ridge shows through the coats. Less a hair, so that the cut
        # leaves the skin at an angle and does not graze it all along the join.
        ramp = share * share * (3.0 - 2.0 * share)
        beneath = _beneath(points, own, rest, whole, 0.0)
        cut: FloatArray = (beneath - ((depth_mm + hair) * ramp - hair)) / (2.0 + slope)
        return cut

    return value


def _beneath(
    points: FloatArray, own: Surface, rest: Surface, whole: Surface, margin_mm: float
) -> FloatArray:
    """Distance from a skin, negative above it; it grows by no more than twice the distance.

    Within the loss it is the distance from its own skin. Above that skin it is the same with a
    minus, so that a cutter reaches out into the air and its near side alone is seen. In between,
    past the break and past the other skin, it runs from the one to the other without a jump.
    """
    distance = own.distance(points)
    outside = whole.signed_distance(points) > 0
    from_rest = np.maximum(rest.distance(points[outside]) - margin_mm, 0.0)
    distance[outside] -= np.minimum(2.0 * distance[outside], from_rest)
    return distance


def _kept_off(
    value: Value, mine: Surface, theirs: Surface, lip: FloatArray, *, reach_mm: float
) -> Value:
    """Keep a cut off the other skin, which is not to be lowered, where both meet."""
    if len(lip) == 0:
        return value
    line = cKDTree(_along(lip, tol.SETBACK_JOIN_MM))

    def kept(points: FloatArray) -> FloatArray:
        # Half-way between the two skins, but only about the lip: farther down, a thin wall may be
        # cut past its middle.
        nearer = 0.5 * (mine.distance(points) - theirs.distance(points))
        about = reach_mm - np.asarray(line.query(points)[0])
        kept_off: FloatArray = np.maximum(value(points), np.minimum(nearer, about))
        return kept_off

    return kept


def _patch(mesh: Mesh, chosen: NDArray[np.bool_]) -> Patch | None:
    # Without triangles too small to have a direction.
    sound = np.linalg.norm(face_vectors(mesh), axis=1) > 0.0
    if not (sound & chosen).any() or (chosen | ~sound).all():
        return None
    return Patch(part_of(mesh, sound & chosen), part_of(mesh, sound & ~chosen))


def _along(edges: FloatArray, spacing_mm: float) -> FloatArray:
    """Points on edges (E, 2, 3) no farther apart than the spacing, (N, 3)."""
    lengths = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
    steps = np.maximum(np.ceil(lengths / spacing_mm).astype(np.int64), 1)
    edge = np.repeat(np.arange(len(edges)), steps + 1)
    first = np.concatenate([[0], np.cumsum(steps + 1)[:-1]])
    share = (np.arange(len(edge)) - first[edge]) / steps[edge]
    points: FloatArray = edges[edge, 0] + share[:, None] * (edges[edge, 1] - edges[edge, 0])
    return points
