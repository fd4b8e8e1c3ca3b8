"""The body of a backing: a shell that lies on one skin of the whole vessel about a gap.

It is where four distances agree: to the whole vessel (how far it stands off, how thick it is), to
the missing skin (how far it reaches past the gap), to the skin that it can be drawn off (so that
it ends where the skin turns away), and to the level of the lip.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import BooleanError, UnsuitedError
from lossfill.isosurface import closed_parts, isosurface
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief, Side
from lossfill.mesh import FloatArray, Mesh, face_vectors, points_over, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, checked, mesh_from_solid, solid_from_mesh


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What a former lies on.

    Parameters
    ----------
    parts : the body and all that is missing of it, cut to a box about the gap
    whole : the skin of both together, without the break, mm
    patch : the missing skin on the former's side that it can be drawn off
    good : all skin in the box that it can be drawn off
    away : (3,) unit; the way it comes off the wall
    up : (3,) unit, across `away`: the vessel's up, or 12:00 where `away` runs up or down
    up_is_up : whether `up` is the vessel's up
    crest_mm : height at which it ends, for the lip; infinite where there is none
    """

    parts: tuple[Solid, ...] = field(repr=False)
    whole: Mesh
    patch: Mesh
    good: Mesh
    away: FloatArray
    up: FloatArray
    up_is_up: bool
    crest_mm: float

    @property
    def centre(self) -> FloatArray:
        """The place of the missing skin nearest to its middle, (3,) mm."""
        vectors = face_vectors(self.patch)
        areas = np.linalg.norm(vectors, axis=1)
        middles = self.patch.vertices[self.patch.faces].mean(axis=1)
        middle = (middles * areas[:, None]).sum(axis=0) / areas.sum()
        nearest: FloatArray = Surface(self.patch).closest(middle[None])[0][0]
        return nearest

    @property
    def standing(self) -> FloatArray:
        """(3, 3) rotation to where it prints best: x across, y away from the wall, z up."""
        return np.stack([np.cross(self.away, self.up), self.away, self.up])


def ground_of(brief: Brief, side: Side, *, margin_mm: float, thick_mm: float) -> Ground:
    """Find what a former lies on.

    Parameters
    ----------
    side : outer or inner
    margin_mm : how far it reaches past the gap
    thick_mm : how far from the skin any of it lies
    """
    skin = brief.lost.faces_of(side)
    away = _way_off(skin)
    # Far enough that the box's own walls are nearer to no place of the former than its skin is.
    reach = margin_mm + 2.0 * thick_mm + 2.0
    low, high = skin.bounds
    box = manifold3d.Manifold.cube(tuple(high - low + 2 * reach)).translate(tuple(low - reach))
    cut = [part ^ box for part in (brief.body, brief.lost.solid, *brief.others)]
    parts = tuple(part for part in cut if part.volume() > 0.0)
    mesh = _skin_of(parts)
    good = _leaning(mesh, away)
    patch = _leaning(skin, away)
    if good is None or patch is None:
        raise UnsuitedError(
            "a backing cannot be drawn off this gap in any one direction: use the other side"
        )
    flat = np.array([0.0, 0.0, 1.0]) - away[2] * away
    up_is_up = bool(np.linalg.norm(flat) > 0.5)
    if not up_is_up:
        flat = np.array([1.0, 0.0, 0.0]) - away[0] * away
    crest = _crest_mm(brief, patch, margin_mm)
    return Ground(parts, mesh, patch, good, away, unit(flat), up_is_up, crest)


def shell_on(ground: Ground, *, release_mm: float, thickness_mm: float, margin_mm: float) -> Solid:
    """The shell itself, one part.

    Raises
    ------
    BooleanError
        Where it could not be built in one closed part.
    """
    patch, good = Surface(ground.patch), Surface(ground.good)
    whole = Surface(ground.whole)
    back = release_mm + thickness_mm

    def value(points: FloatArray) -> FloatArray:
        off = _signed(whole, points)
        past = np.sqrt(np.maximum(patch.distance(points) ** 2 - off**2, 0.0)) - margin_mm
        turned = good.distance(points) - np.abs(off) - tol.FORMER_PAST_MM
        ends = np.maximum(past, points[:, 2] - ground.crest_mm)
        shell = np.maximum(_rounded(off - back, ends), np.maximum(release_mm - off, turned))
        # Rounding adds two distances, `turned` subtracts two: halved, none grows faster than
        # distance does. All alike, or the face would not be straight between the cubes' corners.
        result: FloatArray = 0.5 * shell
        return result

    area = np.linalg.norm(face_vectors(ground.patch), axis=1).sum()
    across = (np.sqrt(area) + 2 * margin_mm) ** 2
    cell = float(
        np.clip(np.sqrt(across / tol.FORMER_CELLS), tol.FORMER_CELL_MM, tol.FORMER_CELL_LARGEST_MM)
    )
    near = points_over(ground.patch, spacing_mm=2.0)
    reach = float(np.hypot(margin_mm, back)) + 2.0
    found = isosurface(near, value, cell_mm=cell, reach_mm=reach)
    closed = None if found is None else closed_parts(found)
    if closed is None:
        raise BooleanError("no former could be built on this gap: choose the other side")
    return _the_part_on(ground, solid_from_mesh(closed).simplify(tol.FORMER_SIMPLER_MM), back)


def crest_of(points: FloatArray) -> float:
    """The lowest crest over all directions around, mm: the greatest height in each of them."""
    around = np.degrees(np.arctan2(points[:, 1], points[:, 0])).astype(np.intp)
    return float(min(points[around == a, 2].max() for a in np.unique(around)))


def _crest_mm(brief: Brief, patch: Mesh, margin_mm: float) -> float:
    """Height of the lip where the former may reach it, a hair below; infinite without one."""
    top = float(patch.vertices[:, 2].max())
    high = max(brief.body.bounding_box()[5], brief.lost.solid.bounding_box()[5])
    if brief.kind in (LossKind.RIM, LossKind.CHIP):
        # The lip was lost with it: the lowest place of its crest between the joins.
        lip = points_over(brief.lost.faces_of(Side.OUTER, Side.INNER), spacing_mm=0.5)
        lip = lip[lip[:, 2] > top - margin_mm]
        return min(crest_of(lip), float(high)) - tol.LIP_HAIR_MM
    return float(high) - tol.LIP_HAIR_MM if high - top < margin_mm else float("inf")


def _way_off(skin: Mesh) -> FloatArray:
    """Mean direction of the skin, of that part of it that can be drawn off that way."""
    vectors = face_vectors(skin)
    away = unit(vectors.sum(axis=0))
    for _ in range(3):
        away = unit(vectors[unit(vectors) @ away > tol.FORMER_LEANS].sum(axis=0))
    return away


def _skin_of(parts: tuple[Solid, ...]) -> Mesh:
    """The skin of parts that meet along a break, without the break: an open mesh.

    A triangle that lies on another part and faces it is break. (A union leaves slits of rounding
    between the parts, whose walls would count as skin.)
    """
    meshes = [mesh_from_solid(checked(part, "the vessel could not be cut")) for part in parts]
    surfaces = [Surface(mesh) for mesh in meshes]
    vertices, faces, n = [], [], 0
    for k, mesh in enumerate(meshes):
        middles = mesh.vertices[mesh.faces].mean(axis=1)
        normals = unit(face_vectors(mesh))
        is_break = np.zeros(len(mesh.faces), dtype=bool)
        for other in surfaces[:k] + surfaces[k + 1 :]:
            places, facing = other.closest(middles)
            near = np.linalg.norm(places - middles, axis=1) < tol.SECTION_HAIR_MM
            is_break |= near & ((normals * facing).sum(axis=1) < -0.5)
        vertices.append(mesh.vertices)
        faces.append(mesh.faces[~is_break] + n)
        n += len(mesh.vertices)
    return _without_slivers(Mesh(np.concatenate(vertices), np.concatenate(faces)))


def _without_slivers(mesh: Mesh) -> Mesh:
    """The skin without triangles too thin to have a normal, which rounding leaves at the joins."""
    corners = mesh.vertices[mesh.faces]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    doubled = 2.0 * np.linalg.norm(face_vectors(mesh), axis=1)
    return Mesh(mesh.vertices, mesh.faces[doubled > tol.FORMER_SLIVER_MM * longest])


def _signed(whole: Surface, points: FloatArray) -> FloatArray:
    """Distance from the vessel, negative inside.

    By the side of the nearest triangle, not by counting rays: the skin without its break is open.
    """
    places, normals = whole.closest(points)
    apart = points - places
    result: FloatArray = np.copysign(
        np.linalg.norm(apart, axis=1), np.einsum("ij,ij->i", apart, normals)
    )
    return result


def _leaning(mesh: Mesh, away: FloatArray) -> Mesh | None:
    """The triangles that can be drawn off one way."""
    chosen = unit(face_vectors(mesh)) @ away > tol.FORMER_LEANS
    if not chosen.any():
        return None
    used, numbered = np.unique(mesh.faces[chosen], return_inverse=True)
    return Mesh(mesh.vertices[used], numbered.reshape(-1, 3).astype(np.int32))


def _rounded(a: FloatArray, b: FloatArray) -> FloatArray:
    """Greater of two distances, with the edge where both are nought rounded."""
    r = tol.FORMER_ROUND_MM
    outside = np.hypot(np.maximum(a + r, 0.0), np.maximum(b + r, 0.0))
    result: FloatArray = np.minimum(np.maximum(a, b), -r) + outside
    return result


def _the_part_on(ground: Ground, solid: Solid, back_mm: float) -> Solid:
    """Of what was built, the part over the middle of the gap."""
    parts = solid.decompose()
    at = ground.centre
    gaps = [float(Surface(mesh_from_solid(part)).distance(at[None])[0]) for part in parts]
    best = int(np.argmin(gaps))
    if gaps[best] > back_mm:
        raise BooleanError("the former does not reach the middle of the gap: choose the other side")
    return parts[best]
