"""The body of a backing: a former that lies on one skin of the whole vessel about a gap.

Its face is the skin itself, seen along the way that the former comes off, let up by the room for
film; its back is the face again, a thickness behind. It ends a margin past the gap, and before that
at the lip, where the skin turns away, and where something stands over it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import contourpy
import manifold3d
import numpy as np
from scipy import ndimage

from lossfill import tolerances as tol
from lossfill.errors import BooleanError, UnsuitedError
from lossfill.make.brief import Brief, Side
from lossfill.make.former_side import patch_of, way_off
from lossfill.make.heights import (
    Plane,
    filled,
    heights_over,
    lean_of,
    offset_from,
    plane_over,
    room_over,
)
from lossfill.make.lip import Lip, lip_over
from lossfill.mesh import BoolArray, FloatArray, IntArray, Mesh, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, checked, mesh_from_solid, solid_from_mesh


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What a former lies on.

    Parameters
    ----------
    parts : the body and all that is missing of it
    whole : the skin of all of them, ready for queries; breaks lie inside it
    patch : the missing skin on the former's side that it can be drawn off
    plane : the grid of rays; its z is the way off, its y up
    heights : (M, N) mm of the skin above the plane, NaN where the former may not lie
    past : (M, N) mm from the missing skin
    lip : where the lip ends it, or None
    up_is_up : whether the plane's y is the vessel's up; else it is 12:00
    free_mm : room above the middle
    travel_mm : how far it must come off before it can be turned in the hand
    """

    parts: tuple[Solid, ...] = field(repr=False)
    whole: Surface
    patch: Mesh
    plane: Plane
    heights: FloatArray
    past: FloatArray
    lip: Lip | None
    up_is_up: bool
    free_mm: float
    travel_mm: float

    @property
    def away(self) -> FloatArray:
        """The way it comes off the wall, (3,) unit."""
        return self.plane.pose[:, 2]

    @property
    def up(self) -> FloatArray:
        """The vessel's up across `away`, or 12:00 where `away` runs up or down, (3,) unit."""
        return self.plane.pose[:, 1]

    @property
    def centre(self) -> FloatArray:
        """The place of the missing skin at its middle, (3,) mm."""
        return self.plane.pose[:, 3]

    @property
    def standing(self) -> FloatArray:
        """(3, 3) rotation to where it prints best: x across, y away from the wall, z up."""
        return np.stack([self.plane.pose[:, 0], self.away, self.up])


def ground_of(
    brief: Brief, side: Side, *, margin_mm: float, thick_mm: float, grip_mm: float
) -> Ground:
    """Find what a former lies on.

    Parameters
    ----------
    side : outer or inner
    margin_mm : how far it reaches past the gap
    thick_mm : how far from the skin its back lies
    grip_mm : how far a knob stands above its back

    Raises
    ------
    UnsuitedError
        Where it cannot be drawn off the gap.
    """
    patch = patch_of(brief, side)
    away = way_off(patch)
    up, up_is_up = _up(away)
    parts = (brief.body, brief.lost.solid, *brief.others)
    whole = Surface(together(parts))
    pose = np.stack([np.cross(up, away), up, away, _middle(patch)], axis=1)
    plane = plane_over(patch, pose, margin_mm=margin_mm)
    heights = heights_over(plane, whole, patch, margin_mm=margin_mm)
    free = room_over(plane, whole, heights)
    middle = (int(np.abs(plane.y).argmin()), int(np.abs(plane.x).argmin()))
    if not np.isfinite(heights[middle]):
        raise UnsuitedError(
            f"a backing on the {side.name.lower()} skin cannot be drawn off this gap in any one "
            "direction: use the other side"
        )
    above = float(free[middle]) - thick_mm
    travel = min(tol.FORMER_TRAVEL_MM, above - min(grip_mm, 0.5 * above))
    known = np.isfinite(heights)
    lean = lean_of(plane, filled(heights, known))
    fits = known & (lean < np.hypot(1.0, tol.FORMER_STEEPEST)) & (free > thick_mm * lean + travel)
    every = np.ones_like(known)
    past = Surface(patch).distance(plane.points(filled(heights, known), every))
    past = past.reshape(heights.shape)
    lip = lip_over(plane, whole, heights, past < margin_mm - 1.0) if up_is_up else None
    heights = np.where(fits, heights, np.nan)
    return Ground(
        parts, whole, patch, plane, heights, past, lip, up_is_up, float(free[middle]), travel
    )


def shell_on(ground: Ground, *, release_mm: float, thickness_mm: float, margin_mm: float) -> Solid:
    """The former itself, one part.

    Raises
    ------
    BooleanError
        Where it could not be built in one closed part.
    """
    plane, known = ground.plane, np.isfinite(ground.heights)
    inside = edge_of(ground, margin_mm)
    skin = filled(ground.heights, known)
    face = filled(offset_from(plane, ground.whole, skin, known, release_mm), known)
    back = _back(plane, face, inside, thickness_mm)
    slab = solid_from_mesh(_slab(plane, face, back))
    outline = _outline(plane, inside)
    low, high = float(face.min()) - 1.0, float(back.max()) + 1.0
    prism = manifold3d.Manifold.extrude(outline, high - low).translate((0.0, 0.0, low))
    shell = (slab ^ prism).transform(plane.pose)
    if ground.lip is not None:
        shell = shell - ground.lip.air(plane)
    shell = checked(shell, "the former could not be cut to its outline")
    return _the_part_on(ground, shell.simplify(tol.FORMER_SIMPLER_MM), release_mm)


def above_skin(ground: Ground, off_mm: float) -> Solid:
    """All that lies farther than a distance off the skin, over the grid, as a solid."""
    plane = ground.plane
    skin = filled(ground.heights, np.isfinite(ground.heights))
    low = skin + off_mm * lean_of(plane, skin)
    high = np.full_like(low, float(low.max()) + 2.0 * tol.FORMER_TALLEST_MM)
    return solid_from_mesh(_slab(plane, low, high)).transform(plane.pose)


def seat_for(ground: Ground, margin_mm: float, reach_mm: float) -> FloatArray:
    """The place (x, y, height of the skin) nearest to the middle with a reach of former about it.

    Where it is nowhere so wide, the place with most of it.
    """
    plane = ground.plane
    deep = _depth(edge_of(ground, margin_mm) > 0.0) * plane.cell_mm
    x, y = np.meshgrid(plane.x, plane.y)
    far = np.where(deep >= min(reach_mm, float(deep.max())), np.hypot(x, y), np.inf)
    row, column = np.unravel_index(int(far.argmin()), far.shape)
    return np.array([x[row, column], y[row, column], ground.heights[row, column]])


def edge_of(ground: Ground, margin_mm: float) -> FloatArray:
    """How far inside the former's outline each place of the grid lies, (M, N) mm.

    True near the outline; farther in than a tongue's half width it says no more than that.
    """
    plane = ground.plane
    cell = plane.cell_mm
    known = np.isfinite(ground.heights)
    inside = np.minimum(margin_mm - ground.past, _depth(known) * cell - 2 * cell)
    if ground.lip is not None:
        inside = np.minimum(inside, ground.lip.ends_mm[None, :] - plane.y[:, None])
    # Tongues narrower than this would break off; the rest of the edge stays as it is.
    core = _depth(inside > 0.0) * cell > tol.FORMER_TONGUE_MM
    if not core.any():
        raise BooleanError("no former could be built on this gap: choose the other side")
    reach = ndimage.distance_transform_edt(~core) * cell
    result: FloatArray = np.minimum(inside, tol.FORMER_TONGUE_MM + cell - reach)
    return result


def _depth(mask: BoolArray) -> FloatArray:
    """Cells from each place of a mask to the nearest outside it; the grid's border is outside."""
    result: FloatArray = ndimage.distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1]
    return result


def _back(plane: Plane, face: FloatArray, inside: FloatArray, thickness_mm: float) -> FloatArray:
    """Heights of the back: a ball's radius behind the face, smooth, its edge rounded."""
    cells = int(thickness_mm / plane.cell_mm)
    x, y = np.meshgrid(*2 * (plane.cell_mm * np.arange(-cells, cells + 1),))
    square = thickness_mm**2 - x**2 - y**2
    ball = np.where(square >= 0.0, np.sqrt(np.maximum(square, 0.0)), -np.inf)
    under = inside > -plane.cell_mm
    back = ndimage.grey_dilation(np.where(under, face, -1e6), structure=ball)
    back = filled(back, under)
    back = ndimage.gaussian_filter(back, tol.FORMER_SMOOTH_MM / plane.cell_mm, mode="nearest")
    r = min(tol.FORMER_ROUND_MM, 0.4 * thickness_mm)
    short = r - np.clip(inside, 0.0, r)
    rounded: FloatArray = back - (r - np.sqrt(r**2 - short**2)) * lean_of(plane, back)
    # Where the face is steep the rounding must not reach it.
    result: FloatArray = np.maximum(rounded, face + 0.5 * thickness_mm)
    return result


def _slab(plane: Plane, face: FloatArray, back: FloatArray) -> Mesh:
    """A closed block between two fields of heights, in the plane's own coordinates."""
    rows, columns = face.shape
    x, y = np.meshgrid(plane.x, plane.y)
    vertices = np.concatenate([np.stack([x, y, z], axis=-1).reshape(-1, 3) for z in (face, back)])
    number = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = (k.ravel() for k in (number[:-1, :-1], number[:-1, 1:], number[1:, 1:],
                                      number[1:, :-1]))  # fmt: skip
    upper = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    ring = np.concatenate([number[0, :-1], number[:-1, -1], number[-1, :0:-1], number[:0:-1, 0]])
    ahead, n = np.roll(ring, -1), rows * columns
    walls = np.concatenate(
        [np.stack([ring, ahead, ahead + n], axis=1), np.stack([ring, ahead + n, ring + n], axis=1)]
    )
    faces: IntArray = np.concatenate([upper[:, ::-1], upper + n, walls]).astype(np.int32)
    return Mesh(vertices, faces)


def _outline(plane: Plane, inside: FloatArray) -> manifold3d.CrossSection:
    """The outline about the middle of the gap, in the plane."""
    closed = inside.copy()
    closed[[0, -1]] = np.minimum(closed[[0, -1]], -0.1)
    closed[:, [0, -1]] = np.minimum(closed[:, [0, -1]], -0.1)
    lines = contourpy.contour_generator(plane.x, plane.y, closed).lines(0.0)
    rings = [np.asarray(line)[:-1] for line in lines]
    area = manifold3d.CrossSection(rings, manifold3d.FillRule.EvenOdd)
    return area.simplify(tol.FORMER_SIMPLER_MM)


def _the_part_on(ground: Ground, solid: Solid, release_mm: float) -> Solid:
    """Of what was built, the part over the middle of the gap."""
    at = ground.centre + release_mm * ground.away
    parts = solid.decompose()
    gaps = [float(Surface(mesh_from_solid(part)).distance(at[None])[0]) for part in parts]
    best = int(np.argmin(gaps)) if gaps else -1
    if best < 0 or gaps[best] > tol.FORMER_TONGUE_MM:
        raise BooleanError("the former does not reach the middle of the gap: choose the other side")
    return parts[best]


def _up(away: FloatArray) -> tuple[FloatArray, bool]:
    """Up across the way off, and whether it is the vessel's."""
    flat = np.array([0.0, 0.0, 1.0]) - away[2] * away
    up_is_up = bool(np.linalg.norm(flat) > 0.5)
    if not up_is_up:
        flat = np.array([1.0, 0.0, 0.0]) - away[0] * away
    return unit(flat), up_is_up


def _middle(patch: Mesh) -> FloatArray:
    """The place of a skin nearest to its middle, (3,) mm."""
    corners = patch.vertices[patch.faces]
    areas = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    middle = (corners.mean(axis=1) * areas[:, None]).sum(axis=0) / areas.sum()
    nearest: FloatArray = Surface(patch).closest(middle[None])[0][0]
    return nearest


def together(parts: tuple[Solid, ...]) -> Mesh:
    """The triangles of several solids as one mesh."""
    meshes = [mesh_from_solid(part) for part in parts]
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    faces = [mesh.faces + start for mesh, start in zip(meshes, starts, strict=False)]
    return Mesh(np.concatenate([m.vertices for m in meshes]), np.concatenate(faces))
