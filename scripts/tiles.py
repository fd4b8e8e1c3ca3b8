"""Whole tiles, trays and boxes, invented: losses of things that were never turned on a wheel.

A tile is a flat slab with rounded edges, bent as a whole: a point at height h over the slab's
middle plane goes to the bent middle surface plus h along its normal, so that both skins are known
exactly. Like the vessels they carry a slow waviness from a seed. A break is a wavering outline
carried obliquely through the wall, its faces rough as broken ceramic is, and gives the true chunk.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

import manifold3d
import numpy as np
from scanning import smooth_noise
from vessels import on_grid

from lossfill.mesh import FloatArray, Mesh, unit
from lossfill.solids import checked, mesh_from_solid, solid_from_mesh

__all__ = [
    "Slab",
    "bent_slab",
    "box",
    "break_sheet",
    "cut_box",
    "cut_tile",
    "cutter",
    "saddle_height",
    "saddle_tile",
]

_ROUGH_MM = 0.12
"""RMS roughness of a break face, as for vessels."""
_ROUGH_SCALES_MM = (1.5, 6.0)
"""Shortest and longest wavelength of the roughness."""
_CUT_EDGE_MM = 0.8
"""Edge length on break faces: it carries roughness of 1.5 mm and more."""

Bend = Callable[[FloatArray, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Slab:
    """A flat slab about the origin, mm.

    Parameters
    ----------
    size_mm : width, depth and thickness
    corner_mm : radius of the outline's corners
    edge_mm : radius along the edges, at most half the thickness
    """

    size_mm: tuple[float, float, float] = (120.0, 90.0, 7.0)
    corner_mm: float = 4.0
    edge_mm: float = 1.5

    def inside_mm(self, x: float, y: float, z: float) -> float:
        """Distance from the surface, positive inside."""
        half_x, half_y, half_z = (0.5 * size for size in self.size_mm)
        plan = _rounded_join(abs(x) - half_x, abs(y) - half_y, self.corner_mm)
        return -_rounded_join(plan, abs(z) - half_z, self.edge_mm)


def saddle_height(x: FloatArray, y: FloatArray) -> FloatArray:
    """Height of the saddle tile's middle surface, mm: sagitta 6 along x and -5 along y."""
    return 6.0 * (x / 60.0) ** 2 - 5.0 * (y / 45.0) ** 2


def saddle_tile(*, edge_mm: float = 1.3, seed: int = 1, wavy_mm: float = 0.08) -> Mesh:
    """Saddle-shaped tile, about 120 by 90 mm and 7 mm thick, with rounded edges.

    Parameters
    ----------
    edge_mm : edge length of the triangles
    seed : of the waviness
    wavy_mm : RMS waviness of either skin, on its own, with waves of 25 to 80 mm
    """
    return bent_slab(Slab(), saddle_height, edge_mm=edge_mm, seed=seed, wavy_mm=wavy_mm)


def bent_slab(
    slab: Slab, height: Bend, *, edge_mm: float = 1.3, seed: int = 1, wavy_mm: float = 0.0
) -> Mesh:
    """Bend a slab so that its middle plane becomes z = height(x, y), thickness kept."""
    half = 0.5 * np.array(slab.size_mm) + edge_mm
    flat = manifold3d.Manifold.level_set(
        slab.inside_mm, [*-half, *half], edge_mm, tolerance=1e-4 * edge_mm
    )
    rng = np.random.default_rng(seed)
    waves = [smooth_noise(rng, scales_mm=(25.0, 80.0), rms_mm=1.0) for _ in range(2)]

    def bent(points: FloatArray) -> FloatArray:
        x, y, z = points.T
        plan = np.stack([x, y, np.zeros_like(x)], axis=1)
        share = np.clip(z / slab.size_mm[2] + 0.5, 0.0, 1.0)
        low, high = (wavy_mm * wave(plan) for wave in waves)
        z = z + (1.0 - share) * low + share * high
        middle = np.stack([x, y, height(x, y)], axis=1)
        step = 1e-3
        slope = [
            (height(x + i, y + j) - height(x - i, y - j)) / (2.0 * step)
            for i, j in ((step, 0.0), (0.0, step))
        ]
        normal = unit(np.stack([-slope[0], -slope[1], np.ones_like(x)], axis=1))
        return on_grid(middle + z[:, None] * normal)

    return mesh_from_solid(checked(flat.warp_batch(bent), "the slab cannot be bent so far"))


def box(*, edge_mm: float = 1.6, seed: int = 1, wavy_mm: float = 0.05) -> Mesh:
    """Lidless box of 90 by 60 by 40 mm with rounded corners and walls of 5 mm, open at the top.

    It stands on z = 0.
    """
    outside = Slab((90.0, 60.0, 40.0), corner_mm=8.0, edge_mm=1.5)
    # The hollow runs out at the top, so that its own upper edge is far away.
    hollow = Slab((80.0, 50.0, 70.0), corner_mm=4.0, edge_mm=3.0)

    def inside_mm(x: float, y: float, z: float) -> float:
        out = -outside.inside_mm(x, y, z - 20.0)
        return -_rounded_join(out, hollow.inside_mm(x, y, z - 40.0), 1.5)

    solid = manifold3d.Manifold.level_set(
        inside_mm, [-47.0, -32.0, -2.0, 47.0, 32.0, 42.0], edge_mm, tolerance=1e-4 * edge_mm
    )
    rng = np.random.default_rng(seed)
    waves = [smooth_noise(rng, scales_mm=(25.0, 80.0), rms_mm=wavy_mm) for _ in range(3)]

    def moved(points: FloatArray) -> FloatArray:
        return on_grid(points + np.stack([wave(points) for wave in waves], axis=1))

    return mesh_from_solid(checked(solid.warp_batch(moved), "the box cannot be made wavy"))


def cutter(
    outline: FloatArray,
    *,
    origin: FloatArray,
    across: FloatArray,
    up: FloatArray,
    length_mm: float,
    rng: np.random.Generator,
    lean: float = 0.25,
) -> manifold3d.Manifold:
    """Closed solid whose inside is the loss: an outline carried through the wall.

    Parameters
    ----------
    outline : (N, 2) counter-clockwise corners, mm; they are rounded and made to waver
    origin : (3,) where the outline's own origin lies in the wall's middle
    across : (3,) direction through the wall
    up : (3,) the outline's second direction
    length_mm : length of the solid, half of it on either side of the origin
    rng : source of the wavering, the lean and the roughness
    lean : greatest tangent of the break's angle with `across`
    """
    out, first = unit(across), unit(np.cross(up, across))
    second = np.cross(out, first)
    waver = smooth_noise(rng, scales_mm=(7.0, 30.0), rms_mm=0.7)
    rough = [smooth_noise(rng, scales_mm=_ROUGH_SCALES_MM, rms_mm=_ROUGH_MM) for _ in range(2)]
    slant = rng.uniform(-lean, lean, 2)
    corners = np.concatenate([outline, outline[:1]])
    dense = np.concatenate(
        [
            a
            + np.linspace(0.0, 1.0, max(2, round(hypot(*(b - a)) / _CUT_EDGE_MM)), False)[:, None]
            * (b - a)
            for a, b in pairwise(corners)
        ]
    )
    plan = manifold3d.CrossSection([dense]).offset(-2.0).offset(2.0)
    solid = plan.extrude(length_mm).refine_to_length(_CUT_EDGE_MM)

    def broken(points: FloatArray) -> FloatArray:
        h = points[:, 2] - 0.5 * length_mm
        flat = points * [1.0, 1.0, 0.0]
        sway = np.clip(waver(flat), -1.6, 1.6)
        u = points[:, 0] + slant[0] * h + sway + rough[0](points)
        v = points[:, 1] + slant[1] * h - 0.7 * sway + rough[1](points)
        placed = origin + u[:, None] * first + v[:, None] * second + h[:, None] * out
        return on_grid(placed)

    return checked(solid.warp_batch(broken), "the cutter folds over")


def break_sheet(whole: Mesh, cutters: list[manifold3d.Manifold]) -> tuple[Mesh, tuple[Mesh, ...]]:
    """Take chunks away; returns the body and the chunks, exact complements, one for each cutter.

    Raises
    ------
    ValueError
        Where a chunk or the body falls into pieces.
    """
    body, chunks = solid_from_mesh(whole), []
    for solid in cutters:
        chunk, body = body.split(solid)
        if len(chunk.decompose()) != 1 or len(body.decompose()) != 1:
            raise ValueError("the break leaves crumbs: draw it again with another seed")
        chunks.append(mesh_from_solid(chunk))
    return mesh_from_solid(body), tuple(chunks)


def cut_tile(
    kind: str, *, rng: np.random.Generator, slab: Slab = Slab(), height: Bend = saddle_height
) -> manifold3d.Manifold:
    """Cutter for a bent slab: "bite" (35 mm wide, 20 mm deep, at +y), "corner" or "hole"."""
    half_x, half_y = 0.5 * slab.size_mm[0], 0.5 * slab.size_mm[1]
    if kind == "bite":
        at = np.array([-0.3 * half_x, half_y])
        outline = np.array(
            [[-18.5, 14], [-17, -4], [-9, -17], [3, -20], [13, -14], [17.5, 0], [19, 14]]
        )
    elif kind == "corner":
        at = np.array([half_x, half_y])
        outline = np.array(
            [[-33, 14], [-31, 0], [-20, -9], [-12, -22], [0, -28], [14, -29], [14, 14]]
        )
    elif kind == "hole":
        at = np.array([-0.25 * half_x, -0.1 * half_y])
        outline = np.array([[-13, 2], [-7, -9], [4, -10], [13, -3], [10, 8], [-2, 11]])
    else:
        raise ValueError(f"no cut is called {kind!r}: bite, corner or hole")
    origin = np.append(at, float(height(at[0], at[1])))
    # Seen from above, first × second = out: y is the second direction.
    up, out = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])
    return cutter(
        outline.astype(np.float64), origin=origin, across=out, up=up, length_mm=40.0, rng=rng
    )


def cut_box(kind: str, *, rng: np.random.Generator) -> manifold3d.Manifold:
    """Cutter for `box`: "rim", out of the middle of a long wall, or "corner", of the rim too."""
    if kind == "rim":
        outline = np.array([[-15, 12], [-14, -3], [-7, -14], [5, -16], [14, -6], [16, 12]])
        origin, across = np.array([-6.0, 27.5, 40.0]), np.array([0.0, 1.0, 0.0])
        length_mm = 20.0
    elif kind == "corner":
        outline = np.array([[-22, 12], [-20, -2], [-9, -15], [6, -17], [18, -8], [22, 12]])
        origin, across = np.array([40.0, 25.0, 40.0]), np.array([1.0, 1.0, 0.0])
        length_mm = 60.0
    else:
        raise ValueError(f"no cut is called {kind!r}: rim or corner")
    up = np.array([0.0, 0.0, 1.0])
    return cutter(
        outline.astype(np.float64),
        origin=origin,
        across=across,
        up=up,
        length_mm=length_mm,
        rng=rng,
        lean=0.1,
    )


def _rounded_join(a: float, b: float, radius: float) -> float:
    """Distance from the overlap of two bodies, rounded where their surfaces meet; outside > 0."""
    a, b = a + radius, b + radius
    return min(max(a, b), 0.0) + hypot(max(a, 0.0), max(b, 0.0)) - radius
