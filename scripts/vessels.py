"""Whole vessels, invented, with the faults that hand-made pots have.

A perfectly round pot flatters every method that revolves a profile. These are therefore out of
round (harmonics 2 to 4 of the radius, with a size and a phase of their own at each height), carry
throwing rings, an uneven wall, a warped rim and pooled glaze, all from a seed. Every vessel is a
closed solid in millimetres with its axis along +z and its foot on z = 0.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from lossfill.mesh import FloatArray, Mesh, signed_volume_mm3
from lossfill.solids import mesh_from_solid, solid_from_mesh

__all__ = [
    "Faults",
    "bottle",
    "fluted_cup",
    "lobed_dish",
    "mug",
    "on_grid",
    "oval_jug",
    "plain_cup",
    "pressed_cup",
    "revolved",
    "stitched_rings",
    "tea_bowl",
    "two_handled_cup",
]

_POLYLINE_STEP_MM = 0.1
"""Fine against every radius in a profile, so that rounding its corners stays smooth."""


@dataclass(frozen=True, slots=True)
class Faults:
    """How far a vessel is from a perfect one; amplitudes in mm, 0 for none.

    Parameters
    ----------
    harmonics_mm : amplitude at the rim of the radius' harmonics 2, 3 and 4
    rings_outside_mm, rings_inside_mm : amplitude of the throwing rings on either skin
    uneven_wall_mm : amplitude of the wall's change of thickness around the vessel
    warp_mm : amplitude of the rim's rise and fall
    pooling_mm : thickening by glaze above the foot outside and in the middle inside
    """

    harmonics_mm: tuple[float, float, float] = (0.45, 0.16, 0.08)
    rings_outside_mm: float = 0.10
    rings_inside_mm: float = 0.18
    uneven_wall_mm: float = 0.25
    warp_mm: float = 0.5
    pooling_mm: float = 0.5


NO_FAULTS = Faults((0.0, 0.0, 0.0), 0.0, 0.0, 0.0, 0.0, 0.0)
MOULDED = Faults((0.15, 0.06, 0.03), 0.05, 0.08, 0.1, 0.2, 0.2)
"""A vessel cast or pressed in a mould: truer than one thrown by hand."""


def tea_bowl(*, edge_mm: float = 1.5, seed: int = 1, faults: Faults = Faults()) -> Mesh:
    """Open bowl on a foot ring, about 120 mm wide and 75 mm high, wall 4 to 6 mm."""
    z = np.linspace(7.5, 75.0, 40)
    outer = np.stack([29.0 + 31.0 * ((z - 7.5) / 67.5) ** 0.52, z], axis=1)
    foot = [(0.0, 4.5), (21.0, 4.0), (22.0, 0.0), (27.0, 0.0), (27.5, 7.0)]
    profile = _thrown_profile(foot, outer, wall_mm=(6.2, 4.0), floor_z_mm=12.5)
    return revolved(profile, edge_mm=edge_mm, seed=seed, faults=faults)


def lobed_dish(
    *, edge_mm: float = 1.5, seed: int = 1, faults: Faults = Faults(), lobe_mm: float = 3.0
) -> Mesh:
    """Shallow dish of eight lobes on a foot ring, about 150 mm wide and 35 mm high."""
    t = np.linspace(0.0, 1.0, 40)
    outer = np.stack([41.0 + 34.0 * t, 7.5 + 27.5 * t**1.5], axis=1)
    foot = [(0.0, 4.5), (32.0, 4.0), (33.0, 0.0), (38.0, 0.0), (39.0, 6.5)]
    profile = _thrown_profile(foot, outer, wall_mm=(5.5, 4.2), floor_z_mm=10.5)
    return revolved(profile, edge_mm=edge_mm, seed=seed, faults=faults, lobes=(8, lobe_mm))


def mug(*, edge_mm: float = 1.5, seed: int = 1, faults: Faults = Faults()) -> Mesh:
    """Straight mug, about 85 mm wide and 95 mm high, wall 4 mm, with a handle towards +x."""
    z = np.linspace(4.0, 95.0, 40)
    belly = 1.2 * np.sin(np.pi * (z - 4.0) / 91.0)
    outer = np.stack([39.5 + 2.0 * (z - 4.0) / 91.0 + belly, z], axis=1)
    foot = [(0.0, 3.0), (32.0, 2.8), (33.0, 0.0), (37.0, 0.0), (38.5, 2.0)]
    profile = _thrown_profile(foot, outer, wall_mm=(4.6, 4.0), floor_z_mm=9.0)
    body = revolved(profile, edge_mm=edge_mm, seed=seed, faults=faults)
    joined = solid_from_mesh(body) + solid_from_mesh(_handle(edge_mm))
    return _foot_on_zero(mesh_from_solid(_largest_part(joined)))


def two_handled_cup(*, edge_mm: float = 1.5, seed: int = 1, faults: Faults = Faults()) -> Mesh:
    """Cup 84 mm wide and 72 mm high, wall 4 mm, with like handles towards +x and −x."""
    z = np.linspace(5.0, 72.0, 40)
    outer = np.stack([33.0 + 9.0 * ((z - 5.0) / 67.0) ** 0.6, z], axis=1)
    foot = [(0.0, 3.4), (24.0, 3.1), (25.0, 0.0), (29.5, 0.0), (31.0, 4.0)]
    profile = _thrown_profile(foot, outer, wall_mm=(4.8, 4.0), floor_z_mm=9.5)
    body = revolved(profile, edge_mm=edge_mm, seed=seed, faults=faults)
    # The wall leans outwards: turned by its slope, a handle's two ends sink into it alike.
    lean = np.arctan2(outer[28, 0] - outer[10, 0], outer[28, 1] - outer[10, 1])
    bar = _handle(edge_mm, start_mm=0.0, reach_mm=24.0, half_mm=16.0, middle_mm=0.0)
    x, y, up = bar.vertices.T
    turned = np.stack(
        [
            38.0 + np.cos(lean) * x + np.sin(lean) * up,
            y,
            39.0 + np.cos(lean) * up - np.sin(lean) * x,
        ],
        axis=1,
    )
    right = Mesh(on_grid(turned), bar.faces)
    left = Mesh(right.vertices * [-1.0, 1.0, 1.0], right.faces[:, ::-1])
    joined = solid_from_mesh(body) + solid_from_mesh(right) + solid_from_mesh(left)
    return _foot_on_zero(mesh_from_solid(_largest_part(joined)))


def bottle(*, edge_mm: float = 1.5, seed: int = 1, faults: Faults = Faults()) -> Mesh:
    """Bottle with a narrow neck, 60 mm wide and 120 mm high, neck 25 mm, wall 3 mm all over."""
    t = np.linspace(0.0, 1.0, 80)
    z = 2.0 + 118.0 * t
    belly = 26.5 + 3.5 * np.sin(np.pi * np.clip((z - 2.0) / 90.0, 0.0, 1.0))
    neck = _ramp(z - 68.0, 32.0)
    outer = np.stack([belly * (1.0 - neck) + 12.5 * neck, z], axis=1)
    foot = [(0.0, 3.0), (20.0, 2.6), (21.0, 0.0), (25.0, 0.0), (26.0, 1.0)]
    profile = _thrown_profile(foot, outer, wall_mm=(3.0, 3.0), floor_z_mm=6.0)
    return revolved(profile, edge_mm=edge_mm, seed=seed, faults=faults)


def fluted_cup(
    *, edge_mm: float = 1.5, seed: int = 1, faults: Faults = Faults(), flutes: int = 14
) -> Mesh:
    """Cup 90 mm wide and 70 mm high whose wall is pressed into flutes with sharp arrises."""
    z = np.linspace(6.0, 70.0, 40)
    outer = np.stack([30.0 + 14.0 * ((z - 6.0) / 64.0) ** 0.7, z], axis=1)
    foot = [(0.0, 3.5), (22.0, 3.2), (23.0, 0.0), (27.0, 0.0), (28.0, 5.0)]
    profile = _thrown_profile(foot, outer, wall_mm=(5.0, 4.0), floor_z_mm=10.0)
    plain = revolved(profile, edge_mm=edge_mm, seed=seed, faults=faults)

    def pressed(angle: FloatArray, height: FloatArray) -> FloatArray:
        scallop = np.abs(np.sin(0.5 * flutes * angle)) - 2.0 / np.pi
        return np.asarray(1.5 * scallop * _ramp(height - 14.0, 20.0))

    return _pressed(plain, pressed)


def pressed_cup(*, edge_mm: float = 1.5, seed: int = 1, faults: Faults = Faults()) -> Mesh:
    """Cup 80 mm wide and 65 mm high, pressed between two hands: alike on both sides of y = 0."""
    z = np.linspace(6.0, 65.0, 40)
    outer = np.stack([28.0 + 12.0 * ((z - 6.0) / 59.0) ** 0.7, z], axis=1)
    foot = [(0.0, 3.5), (20.0, 3.2), (21.0, 0.0), (25.0, 0.0), (26.0, 5.0)]
    profile = _thrown_profile(foot, outer, wall_mm=(5.0, 4.0), floor_z_mm=10.0)
    plain = revolved(profile, edge_mm=edge_mm, seed=seed, faults=faults)

    def by_hand(angle: FloatArray, height: FloatArray) -> FloatArray:
        waves = ((5, 0.35), (6, -0.25), (7, 0.3), (9, -0.25))
        swells = sum(size * np.cos(m * angle) for m, size in waves)
        return np.asarray(swells * _ramp(height - 12.0, 30.0))

    return _pressed(plain, by_hand)


def oval_jug(*, edge_mm: float = 1.5, seed: int = 1, faults: Faults = MOULDED) -> Mesh:
    """Oval jug, 75 mm wide, 90 mm high and 110 mm from spout to handle, wall 4 mm.

    The handle is towards +x and a lip pulled out to a spout towards -x: alike on both sides of
    y = 0, but for its faults.
    """
    z = np.linspace(5.0, 90.0, 60)
    swell = np.sin(np.pi * (0.1 + 0.75 * (z - 5.0) / 85.0))
    outer = np.stack([29.0 + 10.0 * swell, z], axis=1)
    foot = [(0.0, 3.5), (23.0, 3.2), (24.0, 0.0), (28.0, 0.0), (29.0, 3.0)]
    profile = _thrown_profile(foot, outer, wall_mm=(4.6, 4.0), floor_z_mm=9.0)
    plain = revolved(profile, edge_mm=edge_mm, seed=seed, faults=faults)

    def pulled(angle: FloatArray, height: FloatArray) -> FloatArray:
        from_spout = np.pi - np.abs(angle)
        lip = np.exp(-((from_spout / 0.5) ** 2))
        # Beside the lip two fingers pinch the neck in.
        pinch = np.exp(-(((from_spout - 1.0) / 0.35) ** 2))
        return np.asarray((3.0 * lip - 1.0 * pinch) * _ramp(height - 50.0, 40.0))

    drawn = _pressed(plain, pulled)
    body = Mesh(on_grid(drawn.vertices * [1.07, 0.96, 1.0]), drawn.faces)
    joined = solid_from_mesh(body) + solid_from_mesh(_handle(edge_mm))
    return _foot_on_zero(mesh_from_solid(_largest_part(joined)))


def plain_cup(*, edge_mm: float = 1.5) -> Mesh:
    """Faultless straight cup, 80 mm wide and 60 mm high, wall 4 mm: for tests."""
    corners = [(0.0, 0.0), (38.0, 0.0), (40.0, 60.0), (36.0, 60.0), (34.0, 5.0), (0.0, 5.0)]
    profile = _rounded(np.array(corners), radius_mm=0.8)
    return revolved(profile, edge_mm=edge_mm, seed=0, faults=NO_FAULTS)


def revolved(
    profile: FloatArray,
    *,
    edge_mm: float,
    seed: int,
    faults: Faults = Faults(),
    lobes: tuple[int, float] = (0, 0.0),
) -> Mesh:
    """Turn a profile about z, with faults.

    Parameters
    ----------
    profile : (N, 2) rows of radius and height, mm, closely spaced, from the axis underneath the
        vessel outwards, over the rim, and back to the axis inside
    edge_mm : wanted edge length of the triangles
    seed : of the faults
    faults : their sizes
    lobes : number and depth (mm) of lobes at the rim; none by default

    Returns
    -------
    Mesh
        Closed, outward, foot on z = 0.
    """
    curve, normal, arc = _resampled(profile, edge_mm)
    counts = np.maximum(6, np.round(2.0 * np.pi * curve[:, 0] / edge_mm)).astype(int)
    counts[[0, -1]] = 1
    phases = np.where(np.arange(len(counts)) % 2 == 0, 0.0, 0.5)
    phases[[0, -1]] = 0.0
    ring = np.repeat(np.arange(len(counts)), counts)
    place = np.arange(len(ring)) - np.repeat(np.cumsum(counts) - counts, counts)
    angle = 2.0 * np.pi * (place + phases[ring]) / counts[ring]
    radius, height = _with_faults(curve, normal, arc, ring, angle, seed, faults, lobes)
    # The two points on the axis stay there, or the vessel would have a dimple beside it.
    radius[[0, -1]] = 0.0
    vertices = np.stack([radius * np.cos(angle), radius * np.sin(angle), height], axis=1)
    return _foot_on_zero(Mesh(on_grid(vertices), stitched_rings(counts, phases)))


def on_grid(points: FloatArray) -> FloatArray:
    """Round to the nearest 1/8192 mm.

    Sines differ in their last bit from one processor to the next. Solids that go into a boolean
    are rounded first, so that the same seed gives the same triangles everywhere.
    """
    return np.asarray(np.round(points * 8192.0) / 8192.0)


def stitched_rings(counts: NDArray[np.int_], phases: FloatArray) -> NDArray[np.int32]:
    """Join rings of points to a band of triangles.

    Parameters
    ----------
    counts : (R,) points in each ring; a ring of one point is a pole
    phases : (R,) 0 or 0.5, the turn of each ring in steps of its own

    Returns
    -------
    (F, 3) int32
        Outward where rings run counter-clockwise seen from above and go upwards on the outside.
    """
    starts = np.concatenate([[0], np.cumsum(counts)])
    parts = []
    for k in range(len(counts) - 1):
        n, m = int(counts[k]), int(counts[k + 1])
        # Each edge of either ring makes one triangle with the point that the other ring has
        # reached when the edge's middle is passed.
        at_a = (np.arange(n) + 0.5 + phases[k]) / n
        at_b = (np.arange(m) + 0.5 + phases[k + 1]) / m
        b_now = np.searchsorted(at_b, at_a, side="left") % m
        a_now = np.searchsorted(at_a, at_b, side="right") % n
        i, j = np.arange(n), np.arange(m)
        low, high = starts[k], starts[k + 1]
        if n > 1:
            parts.append(np.stack([low + i, low + (i + 1) % n, high + b_now], axis=1))
        if m > 1:
            parts.append(np.stack([high + j, low + a_now, high + (j + 1) % m], axis=1))
    return np.concatenate(parts).astype(np.int32)


def _thrown_profile(
    foot: list[tuple[float, float]],
    outer: FloatArray,
    *,
    wall_mm: tuple[float, float],
    floor_z_mm: float,
) -> FloatArray:
    r"""Profile from the foot's corners, the outer wall's curve, and the wall's thickness.

    ::

        \ \          / /
         \  \_______/  /   inner wall: the outer one, moved in by the wall's thickness
          \__ ____ __/     floor, and foot ring with its recess
             ‾    ‾
    """
    along = np.gradient(outer, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1)
    thickness = np.linspace(wall_mm[0], wall_mm[1], len(outer))[:, None]
    inner = (outer + inward * thickness)[::-1]
    inner[0, 1] = outer[-1, 1]  # a level lip
    inner = inner[inner[:, 1] > floor_z_mm + 2.0]
    floor = [(inner[-1, 0] * 0.85, floor_z_mm + 0.4), (0.0, floor_z_mm)]
    return _rounded(np.concatenate([np.array(foot), outer, inner, np.array(floor)]), radius_mm=0.9)


def _rounded(corners: FloatArray, *, radius_mm: float) -> FloatArray:
    """Dense polyline with its corners rounded; both ends stay on the axis."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(corners, axis=0), axis=1))])
    n = int(length[-1] / _POLYLINE_STEP_MM)
    s = np.linspace(0.0, length[-1], n)
    dense = np.stack([np.interp(s, length, corners[:, k]) for k in range(2)], axis=1)
    # Mirrored at the axis, where a revolved curve continues on the other side.
    mirrored = np.concatenate([dense[:0:-1] * [-1, 1], dense, dense[-2::-1] * [-1, 1]])
    smooth = gaussian_filter1d(mirrored, radius_mm / _POLYLINE_STEP_MM, axis=0, mode="nearest")
    profile: FloatArray = smooth[n - 1 : 2 * n - 1].copy()
    profile[[0, -1], 0] = 0.0
    return profile


def _resampled(profile: FloatArray, edge_mm: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points, outward normals and arc length of a profile at even steps."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(profile, axis=0), axis=1))])
    # Rows of equilateral triangles lie closer than their edges are long.
    n = max(8, round(length[-1] / (0.87 * edge_mm)))
    arc = np.linspace(0.0, length[-1], n)
    curve = np.stack([np.interp(arc, length, profile[:, k]) for k in range(2)], axis=1)
    along = np.gradient(curve, arc, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    return curve, np.stack([along[:, 1], -along[:, 0]], axis=1), arc


def _with_faults(
    curve: FloatArray,
    normal: FloatArray,
    arc: FloatArray,
    ring: NDArray[np.int_],
    angle: FloatArray,
    seed: int,
    faults: Faults,
    lobes: tuple[int, float],
) -> tuple[FloatArray, FloatArray]:
    """Radius and height of every point once the faults are added."""
    rng = np.random.default_rng(seed)
    radius, height = curve[ring, 0], curve[ring, 1]
    rise = height / curve[:, 1].max()
    widest = curve[:, 0].max()
    lip = int(np.argmax(curve[:, 1]))
    from_lip = arc[ring] - arc[lip]
    inside = 1.0 / (1.0 + np.exp(-from_lip / 1.0))

    # Along the profile's normal: rings (a spiral, as the wheel turns), uneven wall, glaze.
    pitch_out, pitch_in = rng.uniform(6.0, 8.0), rng.uniform(5.0, 7.0)
    turn_out, turn_in = rng.uniform(0.0, 2.0 * np.pi, 2)
    on_wall = (1.0 - np.exp(-((from_lip / 6.0) ** 2))) * _ramp(radius, 0.45 * widest)
    rings_out = np.sin(2.0 * np.pi * arc[ring] / pitch_out + angle + turn_out)
    rings_in = np.sin(2.0 * np.pi * arc[ring] / pitch_in - angle + turn_in)
    thicker = on_wall * (
        (1.0 - inside) * faults.rings_outside_mm * rings_out
        + inside * faults.rings_inside_mm * rings_in
    )
    one, two = rng.uniform(0.0, 2.0 * np.pi, 2)
    uneven = 0.75 * np.cos(angle + one + rise) + 0.35 * np.cos(2.0 * angle + two - 2.0 * rise)
    thicker += inside * faults.uneven_wall_mm * uneven * _ramp(radius, 0.4 * widest)
    pool_turn, pool_side = rng.uniform(0.0, 2.0 * np.pi, 2)
    above_foot = np.exp(-(((rise - 0.16) / 0.05) ** 2)) * (1.0 - inside)
    middle = np.exp(-((radius / (0.25 * widest)) ** 2)) * inside
    runs = 0.6 + 0.25 * np.cos(3.0 * angle + pool_turn) + 0.15 * np.cos(7.0 * angle + pool_side)
    thicker += faults.pooling_mm * (above_foot * runs + middle)

    # Of the whole wall: out of round, lobed, warped.
    around = np.zeros_like(angle)
    for k, amplitude_mm in zip((2, 3, 4), faults.harmonics_mm, strict=True):
        phase, drift, beat = rng.uniform(0.0, 2.0 * np.pi, 3)
        size = amplitude_mm * (0.45 + 0.55 * rise) * (1.0 + 0.25 * np.sin(4.0 * rise + beat))
        around += size * np.cos(k * angle + phase + 0.5 * rise * np.sin(drift))
    around *= _ramp(radius, 0.4 * widest)
    n_lobes, depth_mm = lobes
    if n_lobes:
        around += depth_mm * np.cos(n_lobes * angle) * _ramp(radius - 0.5 * widest, 0.5 * widest)
    tilt, saddle = rng.uniform(0.0, 2.0 * np.pi, 2)
    warp = 0.7 * np.cos(2.0 * angle + saddle) + 0.3 * np.cos(3.0 * angle + tilt)
    lift = faults.warp_mm * warp * rise**2 * _ramp(radius, 0.4 * widest)
    return radius + around + normal[ring, 0] * thicker, height + lift + normal[ring, 1] * thicker


def _pressed(mesh: Mesh, by_mm: Callable[[FloatArray, FloatArray], FloatArray]) -> Mesh:
    """Move the whole wall in or out along its radius, as fingers do in soft clay."""
    x, y, z = mesh.vertices.T
    angle, radius = np.arctan2(y, x), np.hypot(x, y)
    widest = float(radius.max())
    # The floor stays where it is.
    factor = 1.0 + by_mm(angle, z) * _ramp(radius, 0.5 * widest) / np.maximum(radius, 1e-9)
    moved = np.stack([x * factor, y * factor, z], axis=1)
    return _foot_on_zero(Mesh(on_grid(moved), mesh.faces))


def _ramp(value: FloatArray, full_at: float) -> FloatArray:
    """Smooth rise from 0 at 0 to 1 at `full_at`."""
    t = np.clip(value / full_at, 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def _handle(
    edge_mm: float,
    *,
    start_mm: float = 38.5,
    reach_mm: float = 28.0,
    half_mm: float = 26.0,
    middle_mm: float = 50.0,
) -> Mesh:
    """Make a strap handle in the plane y = 0, both ends to be buried in a vessel's wall.

    Parameters
    ----------
    edge_mm : wanted edge length of the triangles
    start_mm : radius of its ends: past the mug's outer skin, short of the inner one
    reach_mm, half_mm : how far its middle line stands off there, and half its height
    middle_mm : height of its middle
    """
    t = np.linspace(-0.5 * np.pi, 0.5 * np.pi, max(24, round(95.0 / edge_mm)))
    radius, height = start_mm + reach_mm * np.cos(t) ** 0.8, middle_mm + half_mm * np.sin(t)
    path = np.stack([radius, np.zeros_like(t), height], 1)
    along = np.gradient(path, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    side = np.array([0.0, 1.0, 0.0])
    across = np.cross(along, side)
    flare = 1.0 + 0.5 * np.abs(2.0 * t / np.pi) ** 6
    n = max(16, round(32.0 / edge_mm))
    turn = 2.0 * np.pi * np.arange(n) / n
    rings = (
        path[:, None]
        + flare[:, None, None] * 3.4 * np.cos(turn)[None, :, None] * across[:, None]
        + flare[:, None, None] * 5.5 * np.sin(turn)[None, :, None] * side
    )
    counts = np.array([1, *[n] * len(t), 1])
    vertices = np.concatenate([path[:1], rings.reshape(-1, 3), path[-1:]])
    tube = Mesh(on_grid(vertices), stitched_rings(counts, np.zeros(len(counts))))
    if signed_volume_mm3(tube) < 0.0:
        tube = Mesh(tube.vertices, tube.faces[:, ::-1])
    return tube


def _largest_part(solid: manifold3d.Manifold) -> manifold3d.Manifold:
    return max(solid.decompose(), key=lambda part: part.volume())


def _foot_on_zero(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices - [0.0, 0.0, mesh.vertices[:, 2].min()], mesh.faces, mesh.colours)
