"""Break a whole vessel by computer and keep the true chunk.

Each loss is a closed cutter: an outline that wavers on the wall, carried through the wall
obliquely, its sides rough as broken ceramic is. ``chunk = whole AND cutter`` and
``body = whole - cutter``, so the two are exact complements. The vessel stands on z = 0 with its
axis along +z.

A place on the wall is given by three numbers: the angle about the axis; v, the distance below the
rim along the middle of the wall; d, the distance from that middle line, positive outwards.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import manifold3d
import numpy as np
from handles import Loop, wedge
from rays import Surface
from scanning import add_scan_holes, add_seams, as_scanned, coloured, smooth_noise
from vessels import on_grid, stitched_rings

from lossfill.mesh import FloatArray, Mesh, signed_volume_mm3
from lossfill.solids import mesh_from_solid, solid_from_mesh

__all__ = [
    "BREAKS",
    "HANDLE_BREAKS",
    "Broken",
    "Cut",
    "add_scan_holes",
    "add_seams",
    "as_scanned",
    "break_vessel",
    "coloured",
]

CutKind = Literal["rim", "hole", "chip", "spall", "foot chip", "crack", "handle", "handle root"]

_EDGE_MM = 0.8
"""Edge length on break faces: it carries roughness of 1.5 mm and more."""
_ROUGH_MM = 0.12
"""RMS roughness of a break face; peaks reach about 0.3 mm."""
_SMALLEST_MM3 = 40.0
"""Smallest loss made: twice the smallest that must be found."""
_ROUGH_SCALES_MM = (1.5, 6.0)
"""Shortest and longest wavelength of the roughness."""


@dataclass(frozen=True, slots=True)
class Cut:
    """One loss to be made.

    Parameters
    ----------
    kind : where the material goes missing
    around_deg : width at the rim, for a rim loss; of a handle's middle, the angle that the piece
        fills as seen from the middle of the handle's eye
    turned_deg : turn about the axis against the first cut of the break
    depth_mm : of a spall or a crack; an infinite one goes through the wall, as a seam that gapes
    area_mm2 : skin that a spall takes; by default as much as a fifth of the wall's height gives
    inside : where a spall or a crack is on the inner skin
    feather : how a spall runs out: its depth goes as 1 - s to this power from its middle, s = 0,
        to its edge. Clay breaks in a dish (3), and glaze flakes off with a steep edge (8 and more)
    length_mm, width_mm : of a crack, along its mouth
    """

    kind: CutKind
    around_deg: float = 45.0
    turned_deg: float = 0.0
    depth_mm: float = 1.2
    area_mm2: float | None = None
    inside: bool = False
    feather: float = 3.0
    length_mm: float = 30.0
    width_mm: float = 0.5


BREAKS: dict[str, tuple[Cut, ...]] = {
    "rim_45": (Cut("rim", 45.0),),
    "rim_120": (Cut("rim", 120.0),),
    "rim_185": (Cut("rim", 185.0),),
    "hole": (Cut("hole"),),
    "chip": (Cut("chip"),),
    "rim_and_hole": (Cut("rim", 45.0), Cut("hole", turned_deg=110.0)),
    "rim_and_chip": (Cut("rim", 45.0), Cut("chip", turned_deg=100.0)),
    "spall": (Cut("spall"),),
    "foot_chip": (Cut("foot chip"),),
}
"""The breaks by which accuracy is judged, and a chip of the foot."""

HANDLE_BREAKS: dict[str, tuple[Cut, ...]] = {
    "handle": (Cut("handle", 50.0),),
    "handle_root": (Cut("handle root"),),
}
"""A handle's middle, and its upper root with a bit of the wall; to be broken at the handle's own
angle."""


@dataclass(frozen=True, slots=True, eq=False)
class Broken:
    """A broken vessel.

    Parameters
    ----------
    body : what is left, one closed solid
    chunks : what is missing, one closed solid for each cut, in the order of the cuts
    kinds : the kind of each chunk
    """

    body: Mesh
    chunks: tuple[Mesh, ...]
    kinds: tuple[CutKind, ...]


def break_vessel(
    whole: Mesh,
    kind: str | tuple[Cut, ...],
    *,
    rng: np.random.Generator,
    angle_deg: float = 180.0,
) -> Broken:
    """Break a vessel.

    Parameters
    ----------
    whole : closed solid, axis +z through the origin, foot on z = 0, mm
    kind : a key of `BREAKS` or `HANDLE_BREAKS`, or cuts of one's own
    rng : source of every random choice
    angle_deg : where the first cut's middle lies, counter-clockwise from +x seen from above; the
        default is opposite the handle of `vessels.mug`, whose own is at 0

    Raises
    ------
    ValueError
        Where no clean break comes out in a number of tries.
    """
    cuts = (BREAKS | HANDLE_BREAKS)[kind] if isinstance(kind, str) else kind
    solid = solid_from_mesh(whole)
    wall = _Wall.of(whole)
    chunks = []
    for cut in cuts:
        angle = np.radians(angle_deg + cut.turned_deg)
        solid, chunk = _cut_once(solid, wall, cut, float(angle), rng)
        chunks.append(mesh_from_solid(chunk))
    return Broken(mesh_from_solid(solid), tuple(chunks), tuple(cut.kind for cut in cuts))


def _cut_once(
    solid: manifold3d.Manifold, wall: _Wall, cut: Cut, angle: float, rng: np.random.Generator
) -> tuple[manifold3d.Manifold, manifold3d.Manifold]:
    """Body and chunk; drawn again while crumbs fall off either, or the loss is a mere nick."""
    for _ in range(20):
        chunk, body = solid.split(solid_from_mesh(_cutter(wall, cut, angle, rng)))
        whole_parts = len(chunk.decompose()) == 1 and len(body.decompose()) == 1
        if whole_parts and chunk.volume() > _least_mm3(cut):
            return body, chunk
    raise ValueError(f"no {cut.kind} drawn broke this vessel cleanly")


def _least_mm3(cut: Cut) -> float:
    """Volume below which a cut is a mere nick; a flake is as small as it was asked for."""
    if cut.kind == "crack":
        return 0.0
    if cut.area_mm2 is None:
        return _SMALLEST_MM3
    return 0.3 * cut.depth_mm * cut.area_mm2


# --- the wall ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Wall:
    """The middle of the wall as a curve, and the skins to measure it by.

    Parameters
    ----------
    v, r, z : (N,) distance below the rim, radius and height along the curve, mm
    surface : the whole vessel
    vertices : its points
    """

    v: FloatArray
    r: FloatArray
    z: FloatArray
    surface: Surface
    vertices: FloatArray

    @classmethod
    def of(cls, whole: Mesh) -> _Wall:
        """Measure a vessel by level rays from outside and from its axis."""
        surface, top, reach = Surface(whole), whole.bounds[1, 2], whole.diagonal_mm
        floor = top + 1.0 - surface.cast([[0.0, 0.0, top + 1.0]], [[0.0, 0.0, -1.0]])[0]
        rim = _rim_height(whole.vertices)
        # Low down the cavity's wall turns into its floor, which is no wall.
        levels = np.linspace(floor + 0.12 * (rim - floor), rim - 2.0, 50)
        angle = np.radians(np.arange(0.0, 360.0, 5.0))
        out = np.stack([np.cos(angle), np.sin(angle), np.zeros_like(angle)], axis=1)
        axis_points = np.zeros((len(levels), 1, 3))
        axis_points[:, 0, 2] = levels
        inner = surface.cast(axis_points, out[None])
        outer = reach - surface.cast(axis_points + reach * out, -out[None])
        # The median over angles passes over a handle.
        middle = 0.5 * (np.median(inner, axis=1) + np.median(outer, axis=1))
        found = np.isfinite(middle)
        curve = np.polynomial.Polynomial.fit(levels[found], middle[found], 4)
        z = np.linspace(rim, levels[found][0], 200)
        r = curve(z)
        v = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(r), np.diff(z)))])
        return cls(v, r, z, surface, whole.vertices)

    def frame(self, v: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Points (…, 2) of radius and height on the curve, and outward normals there."""
        curve = np.stack([self.r, self.z], axis=1)
        along = np.gradient(curve, self.v, axis=0)
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        inside = np.clip(v, 0.0, self.v[-1])
        point = np.stack([np.interp(inside, self.v, curve[:, k]) for k in range(2)], axis=-1)
        slope = np.stack([np.interp(inside, self.v, along[:, k]) for k in range(2)], axis=-1)
        slope /= np.linalg.norm(slope, axis=-1, keepdims=True)
        # Straight on past either end.
        point += slope * (v - inside)[..., None]
        return point, np.stack([-slope[..., 1], slope[..., 0]], axis=-1)

    def place(self, angle: FloatArray, v: FloatArray, d: FloatArray) -> FloatArray:
        """Points (…, 3) in mm."""
        point, normal = self.frame(v)
        radius, height = np.moveaxis(point + normal * d[..., None], -1, 0)
        return np.stack([radius * np.cos(angle), radius * np.sin(angle), height], axis=-1)

    def skin(self, angle: FloatArray, v: FloatArray, *, outside: bool) -> FloatArray:
        """Measure d of the outer or the inner skin, of any common shape."""
        start = np.full(v.shape, 20.0 if outside else -0.6 * float(self.r.min()))
        origin = self.place(angle, v, start)
        normal = self.place(angle, v, start + 1.0) - origin
        sign = -1.0 if outside else 1.0
        return np.asarray(start + sign * self.surface.cast(origin, sign * normal))

    def lip(self, angle: float, half_rad: float) -> FloatArray:
        """Measure d of the lip's points on a part of the turn."""
        x, y, z = self.vertices.T
        turn = (np.arctan2(y, x) - angle + np.pi) % (2.0 * np.pi) - np.pi
        point, normal = self.frame(np.array(0.0))
        beyond = np.stack([np.hypot(x, y), z], axis=1) - point
        # The wall runs down along (normal turned by a quarter), so up is the other way.
        v = beyond @ np.array([normal[1], -normal[0]])
        on_lip = (np.abs(turn) < half_rad) & (v < 2.0)
        return np.asarray((beyond @ normal)[on_lip])


def _rim_height(vertices: FloatArray) -> float:
    """Median over the angles of the highest point."""
    place = np.degrees(np.arctan2(vertices[:, 1], vertices[:, 0])) // 5.0
    top = [vertices[place == k, 2].max() for k in np.unique(place)]
    return float(np.median(top))


# --- cutters -------------------------------------------------------------------------------------


def _cutter(wall: _Wall, cut: Cut, angle: float, rng: np.random.Generator) -> Mesh:
    """Closed solid whose inside is the loss."""
    reach = float(wall.v[-1])
    if cut.kind == "rim":
        half = np.radians(cut.around_deg / 2.0) * float(wall.r[0])
        down = reach * rng.uniform(0.55, 0.62)
        outline = _outline(half, down, 9.0, rng)
        return _through_cutter(wall, outline, angle, 0.0, rng)
    if cut.kind == "hole":
        middle = 0.5 * reach
        down = min(11.0, 0.24 * reach)
        outline = _outline(1.25 * down, down, down, rng)
        return _through_cutter(wall, outline, angle, middle, rng)
    if cut.kind == "handle":
        loop = Loop.of(wall.surface, wall.vertices, angle)
        half, turned = 0.5 * np.radians(cut.around_deg), np.radians(rng.uniform(-5.0, 5.0))
        return wedge(loop, turned - half, turned + half, rng, rough_mm=_ROUGH_MM)
    if cut.kind == "handle root":
        loop = Loop.of(wall.surface, wall.vertices, angle)
        return _scoop(loop.roots[1], loop.axes, loop.root_half_mm, rng)
    if cut.kind == "spall":
        down = min(7.5, 0.2 * reach)
        if cut.area_mm2 is not None:
            # Between an ellipse of pi times its half-axes' product and a rectangle of 4 times.
            down = float(np.sqrt(cut.area_mm2 / (1.4 * 3.3)))
        return _spall_cutter(
            wall, _outline(1.4 * down, down, down, rng), angle, 0.5 * reach, cut, rng
        )
    if cut.kind == "crack":
        return _crack_cutter(wall, angle, 0.5 * reach, cut, rng)
    return _scoop(*_scoop_at(wall, cut, angle), rng)


def _outline(half_mm: float, down_mm: float, up_mm: float, rng: np.random.Generator) -> FloatArray:
    """Closed wavering curve around the origin, (N, 2) of way around and way down, mm."""
    phi = np.linspace(0.0, 2.0 * np.pi, 4000, endpoint=False)
    power = rng.uniform(2.3, 3.2)  # between an ellipse and a rectangle
    cos, sin = np.cos(phi), np.sin(phi)
    below = np.where(sin > 0.0, down_mm, up_mm)
    size = (np.abs(cos / half_mm) ** power + np.abs(sin / below) ** power) ** (-1.0 / power)
    curve = size[:, None] * np.stack([cos, sin], axis=1)
    curve = _evened(curve, _EDGE_MM)
    sway = min(2.5, 0.14 * min(half_mm, down_mm))
    noise = smooth_noise(rng, scales_mm=(7.0, 30.0), rms_mm=0.6 * sway)
    offset = noise(np.pad(curve, ((0, 0), (0, 1))))
    return _evened(curve + _outward(curve) * np.clip(offset, -sway, sway)[:, None], _EDGE_MM)


def _evened(curve: FloatArray, edge_mm: float) -> FloatArray:
    """Closed curve with its points at even steps."""
    closed = np.concatenate([curve, curve[:1]])
    s = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0.0, s[-1], max(12, round(s[-1] / edge_mm)), endpoint=False)
    return np.stack([np.interp(at, s, closed[:, k]) for k in range(2)], axis=1)


def _outward(curve: FloatArray) -> FloatArray:
    """Unit normals of a closed curve that runs from around to down."""
    along = np.roll(curve, -1, axis=0) - np.roll(curve, 1, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    return np.stack([along[:, 1], -along[:, 0]], axis=1)


def _through_cutter(
    wall: _Wall, outline: FloatArray, angle: float, middle_v: float, rng: np.random.Generator
) -> Mesh:
    """Carry an outline through the wall; its sides are oblique and rough, its ends in free air."""
    radius = float(wall.frame(np.array(middle_v))[0][0])
    theta, v = angle + outline[:, 0] / radius, middle_v + np.maximum(outline[:, 1], 2.0 - middle_v)
    high, low = wall.skin(theta, v, outside=True), wall.skin(theta, v, outside=False)
    lowest, highest = np.nanmin(_met(low)) - 2.5, np.nanmax(_met(high)) + 2.5
    if middle_v + outline[:, 1].min() < 0.0:
        # A thick lip, or one that rises and falls, reaches past the skins measured below it.
        lip = wall.lip(angle, float(np.abs(outline[:, 0]).max()) / radius)
        lowest, highest = min(lowest, lip.min() - 1.0), max(highest, lip.max() + 1.0)
    d = np.arange(lowest, highest, _EDGE_MM)[::-1]

    # Breaks seldom stand square to the wall: 10 to 25 degrees off, changing along the way.
    lean = smooth_noise(rng, scales_mm=(25.0, 60.0), rms_mm=6.0)
    flat = np.pad(outline, ((0, 0), (0, 1)))
    tilt = np.tan(np.radians(np.clip(17.0 + lean(flat), 10.0, 25.0))) * rng.choice([-1.0, 1.0])
    sides = outline + (_outward(outline) * tilt[:, None]) * d[:, None, None]
    rough = smooth_noise(rng, scales_mm=_ROUGH_SCALES_MM, rms_mm=_ROUGH_MM)
    at = np.concatenate([sides, np.broadcast_to(d[:, None, None], (*sides.shape[:2], 1))], axis=2)
    sides = sides + _outward(outline) * rough(at)[..., None]

    rings = [(scale * sides[0], d[0]) for scale in _cap_scales(outline)]
    rings += list(zip(sides, d, strict=True))
    rings += [(scale * sides[-1], d[-1]) for scale in _cap_scales(outline)[::-1]]
    return _from_rings(
        rings, lambda around, down, off: wall.place(angle + around / radius, middle_v + down, off)
    )


def _met(d: FloatArray) -> FloatArray:
    """Nearest skin only: a ray that misses, or meets the far side, says nothing."""
    return np.where(np.abs(d) < 15.0, d, np.nan)


def _cap_scales(outline: FloatArray) -> FloatArray:
    """Sizes of the rings that close an end, from its middle outwards."""
    steps = max(3, round(float(np.linalg.norm(outline, axis=1).max()) / 4.0))
    return np.linspace(0.0, 1.0, steps, endpoint=False)


def _spall_cutter(
    wall: _Wall,
    outline: FloatArray,
    angle: float,
    middle_v: float,
    cut: Cut,
    rng: np.random.Generator,
) -> Mesh:
    """Shallow dish in one skin, its edge feathered."""
    radius = float(wall.frame(np.array(middle_v))[0][0])
    scales = np.linspace(1.15, 0.0, max(8, round(1.15 * float(np.abs(outline).max()) / _EDGE_MM)))
    grid = scales[:, None, None] * outline
    out = -1.0 if cut.inside else 1.0
    skin = wall.skin(angle + grid[..., 0] / radius, middle_v + grid[..., 1], outside=not cut.inside)
    # A smooth stand-in for the skin, so that throwing rings do not show in the break.
    x, y = np.moveaxis(grid, -1, 0)
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    fit = np.linalg.lstsq(terms.reshape(-1, 6), skin.ravel(), rcond=None)[0]
    # A flake parts along the glaze, smoothly for its depth.
    rms = min(0.4 * _ROUGH_MM, 0.08 * cut.depth_mm)
    rough = smooth_noise(rng, scales_mm=_ROUGH_SCALES_MM, rms_mm=rms)
    below = cut.depth_mm * (1.0 - scales[:, None] ** cut.feather)
    off = terms @ fit - out * below + rough(np.concatenate([grid, skin[..., None]], axis=2))
    top = terms[0] @ fit + 4.0 * out
    rings = [(scale * grid[0], top) for scale in _cap_scales(outline)]
    rings += [(grid[0], top), *zip(grid, off, strict=True)]
    return _from_rings(
        rings, lambda around, down, d: wall.place(angle + around / radius, middle_v + down, d)
    )


def _crack_cutter(
    wall: _Wall, angle: float, middle_v: float, cut: Cut, rng: np.random.Generator
) -> Mesh:
    """Thin sheet along a wandering line on the wall, square to it."""
    radius = float(wall.frame(np.array(middle_v))[0][0])
    n = round(cut.length_mm / _EDGE_MM) + 1
    along = np.linspace(-0.5, 0.5, n) * cut.length_mm
    wander = smooth_noise(rng, scales_mm=(8.0, 30.0), rms_mm=0.8)
    aside = wander(np.stack([along, np.zeros(n), np.zeros(n)], axis=1))
    turn = rng.uniform(-1.0, 1.0)  # a crack seldom runs level
    cos, sin = np.cos(turn), np.sin(turn)
    line = np.stack([aside * cos - along * sin, along * cos + aside * sin], axis=1)
    line -= line.mean(axis=0)
    out = -1.0 if cut.inside else 1.0

    def mouth(flat: FloatArray) -> FloatArray:
        return wall.skin(
            angle + flat[..., 0] / radius, middle_v + flat[..., 1], outside=not cut.inside
        )

    placed = wall.place(angle + line[:, 0] / radius, middle_v + line[:, 1], mouth(line))
    # The skin is wider than the middle of the wall: its line shall be as long as was asked for.
    line *= cut.length_mm / float(np.linalg.norm(np.diff(placed, axis=0), axis=1).sum())
    tangent = np.gradient(line, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    across = 0.5 * cut.width_mm * np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    sides = np.stack([line - across, line + across], axis=1)
    skin = mouth(sides)
    if np.isinf(cut.depth_mm):
        deep = wall.skin(
            angle + sides[..., 0] / radius, middle_v + sides[..., 1], outside=cut.inside
        ) - 2.0 * out  # fmt: skip
    else:
        deep = skin - out * cut.depth_mm
    d = np.stack([skin + 1.0 * out, deep], axis=2)
    flat = np.broadcast_to(sides[:, :, None], (n, 2, 2, 2))
    points = wall.place(angle + flat[..., 0] / radius, middle_v + flat[..., 1], d)
    # Round each station's section: near top, near bottom, far bottom, far top.
    ring = points[:, [0, 0, 1, 1], [0, 1, 1, 0]].reshape(-1, 3)
    start = 4 * np.arange(n - 1)[:, None] + np.arange(4)
    after = 4 * np.arange(n - 1)[:, None] + (np.arange(4) + 1) % 4
    last = 4 * (n - 1)
    faces = np.concatenate(
        [
            np.stack([start, after, after + 4], axis=2).reshape(-1, 3),
            np.stack([start, after + 4, start + 4], axis=2).reshape(-1, 3),
            [[0, 2, 1], [0, 3, 2], [last, last + 1, last + 2], [last, last + 2, last + 3]],
        ]
    ).astype(np.int32)
    mesh = Mesh(on_grid(ring), faces)
    return mesh if signed_volume_mm3(mesh) > 0.0 else Mesh(mesh.vertices, faces[:, ::-1])


def _from_rings(
    rings: list[tuple[FloatArray, FloatArray | float]],
    place: Callable[[FloatArray, FloatArray, FloatArray], FloatArray],
) -> Mesh:
    """Close a stack of rings, the first and the last shrunk to a point, to a solid."""
    counts = np.array([len(ring) for ring, _ in rings])
    counts[[0, -1]] = 1
    flat = np.concatenate([ring[:n] for (ring, _), n in zip(rings, counts, strict=True)])
    off = np.concatenate(
        [np.broadcast_to(d, len(ring))[:n] for (ring, d), n in zip(rings, counts, strict=True)]
    )
    vertices = on_grid(place(flat[:, 0], flat[:, 1], off))
    faces = stitched_rings(counts, np.zeros(len(counts)))
    mesh = Mesh(vertices, faces)
    return mesh if signed_volume_mm3(mesh) > 0.0 else Mesh(vertices, faces[:, ::-1])


def _scoop_at(wall: _Wall, cut: Cut, angle: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Centre (3,), axes (3, 3) by rows and half-sizes (3,) of a chip at the lip or the foot."""
    out = np.array([np.cos(angle), np.sin(angle), 0.0])
    around = np.array([-np.sin(angle), np.cos(angle), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    local = wall.vertices[np.abs(np.cross(out, wall.vertices)[:, 2]) < 4.0]
    local = local[local @ out > 0.0]
    if cut.kind == "chip":
        at = np.array([angle]), np.array([3.5])
        high = float(wall.skin(*at, outside=True)[0])
        low = float(wall.skin(*at, outside=False)[0])
        top = float(local[:, 2].max())
        edge = float((local[local[:, 2] > top - 3.0] @ out).max())
        centre = edge * out + (top - 0.3) * up
        # Never through to the inner skin of a thin lip.
        depth = min(3.2, 0.75 * (high - low))
        return centre, np.stack([around, up, out]), np.array([6.2, 5.7, depth])
    foot = local[local[:, 2] < 1.0]
    return float((foot @ out).max()) * out, np.stack([around, up, out]), np.array([6.2, 4.5, 3.0])


def _scoop(
    centre: FloatArray, axes: FloatArray, half: FloatArray, rng: np.random.Generator
) -> Mesh:
    """Rough ellipsoid: a chip breaks out in a shell shape."""
    polar = np.linspace(0.0, np.pi, 2 * round(1.6 * float(half.max()) / _EDGE_MM))
    counts = np.maximum(6, np.round(2.0 * np.pi * half.max() * np.sin(polar) / _EDGE_MM))
    counts[[0, -1]] = 1
    counts = counts.astype(int)
    ring = np.repeat(np.arange(len(counts)), counts)
    place = np.arange(len(ring)) - np.repeat(np.cumsum(counts) - counts, counts)
    turn = 2.0 * np.pi * place / counts[ring]
    sphere = np.stack(
        [
            np.sin(polar[ring]) * np.cos(turn),
            np.sin(polar[ring]) * np.sin(turn),
            np.cos(polar[ring]),
        ],
        axis=1,
    )
    waver = smooth_noise(rng, scales_mm=(5.0, 15.0), rms_mm=0.35)
    rough = smooth_noise(rng, scales_mm=_ROUGH_SCALES_MM, rms_mm=0.7 * _ROUGH_MM)
    points = sphere * half
    points = points + sphere * (waver(points) + rough(points))[:, None]
    mesh = Mesh(on_grid(centre + points @ axes), stitched_rings(counts, np.zeros(len(counts))))
    return mesh if signed_volume_mm3(mesh) > 0.0 else Mesh(mesh.vertices, mesh.faces[:, ::-1])
