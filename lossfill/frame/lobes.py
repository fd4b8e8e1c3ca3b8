"""Lobes: an outline that is taken out before revolving and put back after.

Where the outline strays farther than the wall is thick, no single section describes the vessel, and
neither skin could be told from the other. Then every point is first moved in or out to where it
would lie on a round vessel:

    vessel = round + (r g(θ) + ρ(s, θ), ζ(s, θ)) along the radius and the axis

where g is the outline's shape common to all heights, and ρ and ζ vary smoothly down the wall. All
are made of the low harmonics and of the lobes' own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve

from lossfill import tolerances as tol
from lossfill.frame.hats import Hats
from lossfill.frame.profile import Profile, at, make_profile, on_skin, project
from lossfill.frame.samples import Samples
from lossfill.frame.section import first_section
from lossfill.mesh import FloatArray, unit
from lossfill.robust import belief, spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Lobes:
    """Displacement of a lobed vessel against a round one, along the radius and the axis.

    Parameters
    ----------
    profile : the round section along which the displacement is kept
    orders : harmonics that it is made of
    coefficients : (K, 2, H) mm, for K even knots down the wall from the lip, radius and axis, and
        the cos and sin of each order. Both skins share them, for the wall moves as one.
    scale : (H,) cos and sin of each order of g, the outline as a fraction of the radius
    """

    profile: Profile
    orders: tuple[int, ...]
    coefficients: FloatArray
    scale: FloatArray

    def _with(self, along: FloatArray, waves: FloatArray) -> FloatArray:
        """Displacement at places along the profile, (N, 2) mm: radial and axial.

        Parameters
        ----------
        waves : (N, H) of each order there; with their slopes it is its change per radian
        """
        n = len(self.coefficients)
        place = np.clip(_down_the_wall(self.profile, along) * (n - 1), 0, n - 1)
        low = np.minimum(place.astype(np.intp), n - 2)
        t, row = (place - low)[:, None], np.arange(len(place))
        # One product for all knots costs less than gathering each sample's own coefficients.
        at_knots = (waves @ self.coefficients.reshape(2 * n, -1).T).reshape(-1, n, 2)
        total: FloatArray = (1 - t) * at_knots[row, low] + t * at_knots[row, low + 1]
        points, _ = at(self.profile, along)
        total[:, 0] += points[:, 0] * (waves @ self.scale)
        return total

    def to_round(self, samples: Samples) -> Samples:
        """Move samples of the vessel to where they lie on the round one, normals with them."""
        start = _scaled(samples, self.orders, self.scale)
        return self._settled(samples, start)

    def from_round(self, points: FloatArray, along: FloatArray) -> FloatArray:
        """Move points (N, 3) of the round vessel at places `along` to the real one."""
        angle = np.arctan2(points[:, 1], points[:, 0])
        return _shifted(points, angle, self._with(along, _waves(angle, self.orders)))

    def _settled(self, samples: Samples, start: Samples) -> Samples:
        angle = np.arctan2(samples.points[:, 1], samples.points[:, 0])
        here, waves = start, _waves(angle, self.orders)
        slopes = _slopes(waves, self.orders)
        # The displacement changes slowly along the wall: each round gains more than a digit.
        for _ in range(3):
            along = project(self.profile, here.points, here.calm_normals).along
            shift, slope = self._with(along, waves), self._with(along, slopes)
            here = _moved(samples, angle, -shift, slope)
        return here


def find_lobes(samples: Samples) -> Lobes | None:
    """Find the lobes of a vessel; None where it has none that an elastic form could not follow.

    Parameters
    ----------
    samples : upright, axis near z
    """
    found = _first_guess(samples)
    if found is None:
        return None
    orders, scale = found
    few = samples.thinned(tol.OUTLINE_SAMPLES)
    here = _scaled(few, orders, scale)
    lobes: Lobes | None = None
    for _ in range(tol.OUTLINE_ROUNDS):
        curve = first_section(here)
        length = float(np.linalg.norm(np.diff(curve, axis=0), axis=1).sum())
        profile = make_profile(curve, spacing_mm=length * tol.PROFILE_SPACING)
        lobes = Lobes(profile, orders, _fit(profile, few, here, orders, scale), scale)
        here = lobes._settled(few, here)
    return lobes


def lobes_alone(lobes: Lobes) -> Lobes:
    """The same without the low harmonics: the first is the axis' own, which is to be moved instead.

    With part of the turn gone the others make up for it and would hold the axis where it is.
    """
    low = slice(0, 2 * tol.OUTLINE_ORDER)
    coefficients, scale = lobes.coefficients.copy(), lobes.scale.copy()
    coefficients[:, :, low] = 0.0
    scale[low] = 0.0
    return Lobes(lobes.profile, lobes.orders, coefficients, scale)


def lobes_on(profile: Profile, samples: Samples, rounded: Samples, *, like: Lobes) -> Lobes:
    """Refit lobes along the final profile.

    Parameters
    ----------
    profile : in the frame of `samples`
    samples, rounded : the same points on the vessel and on the round one
    like : the lobes before, for their orders
    """
    few = (samples.thinned(tol.OUTLINE_SAMPLES), rounded.thinned(tol.OUTLINE_SAMPLES))
    coefficients = _fit(profile, *few, like.orders, like.scale)
    return Lobes(profile, like.orders, coefficients, like.scale)


def roughly_round(samples: Samples) -> Samples:
    """Divide lobes out, alike at all heights: enough to see which end the rim is."""
    found = _first_guess(samples)
    return samples if found is None else _scaled(samples, *found)


def _first_guess(samples: Samples) -> tuple[tuple[int, ...], FloatArray] | None:
    """Outline common to all heights, as a fraction of the radius; None where it has no lobes.

    The low harmonics alone are left to the elastic form: over a wide loss they would be guessed.
    """
    angle = np.arctan2(samples.points[:, 1], samples.points[:, 0])
    radius = np.hypot(samples.points[:, 0], samples.points[:, 1])
    facing = (samples.points[:, :2] * samples.calm_normals[:, :2]).sum(axis=1) / radius
    wall = np.abs(facing) > 0.4
    ratio, n_angles = _ratios(samples.points[wall, 2], angle[wall], radius[wall], facing[wall] > 0)
    # Where only a few rings show anything, it is the floor's break at the bottom of a loss.
    rings = np.isfinite(ratio).sum(axis=0)
    shown = rings > 0.5 * np.median(rings)
    if shown.mean() < 0.5:
        return None
    outline = np.zeros(n_angles)
    outline[shown] = np.nanmedian(ratio[:, shown], axis=0) - 1.0
    centres = (np.arange(n_angles) + 0.5) * 2 * np.pi / n_angles - np.pi
    low = tuple(range(1, tol.OUTLINE_ORDER + 1))
    lobes = _lobes(outline, centres, shown, low)
    if lobes is None:
        return None
    orders = (*low, lobes, 2 * lobes)
    waves = _waves(centres[shown], orders)
    scale = _robust_fit(waves, outline[shown])
    # With part of the turn gone waves are not independent: what stood out of the low harmonics
    # alone may be none of it, and an outline without lobes only lets them swing over the loss.
    if np.hypot(*scale[2 * len(low) : 2 * len(low) + 2]) < tol.OUTLINE_SWING / 2:
        return None
    swing = float(np.ptp(_waves(centres, orders)[:, 2:] @ scale[2:])) / 2
    return (orders, scale) if swing > tol.OUTLINE_SWING else None


def _ratios(
    z: FloatArray, angle: FloatArray, radius: FloatArray, outer: FloatArray
) -> tuple[FloatArray, int]:
    """Radius over its ring's middle radius, for rings of height and skin: (rings, angles)."""
    n_heights, n_angles = 16, 120
    height = np.clip(
        ((z - z.min()) / max(np.ptp(z), 1e-9) * n_heights).astype(int), 0, n_heights - 1
    )
    ring = 2 * height + outer
    column = np.clip(((angle + np.pi) / (2 * np.pi) * n_angles).astype(int), 0, n_angles - 1)
    key = ring * n_angles + column
    size = 2 * n_heights * n_angles
    count = np.bincount(key, minlength=size)
    total = np.bincount(key, radius, minlength=size)
    mean = np.where(count > 2, total / np.maximum(count, 1), np.nan).reshape(-1, n_angles)
    enough = np.isfinite(mean).mean(axis=1) > 0.3
    mean = mean[enough]
    middle = np.nanmedian(mean, axis=1, keepdims=True)
    return mean / middle, n_angles


def _lobes(
    outline: FloatArray, centres: FloatArray, shown: FloatArray, low: tuple[int, ...]
) -> int | None:
    """Number of lobes, where one harmonic above the low ones stands out."""
    waves = _waves(centres[shown], low)
    rest = outline[shown] - waves @ _robust_fit(waves, outline[shown])
    orders = np.arange(low[-1] + 1, tol.LOBES_MAX + 1)
    amplitude = np.abs(np.exp(-1j * np.outer(orders, centres[shown])) @ rest) * 2 / shown.sum()
    best = int(amplitude.argmax())
    return int(orders[best]) if amplitude[best] > tol.OUTLINE_SWING / 2 else None


def _robust_fit(design: FloatArray, value: FloatArray) -> FloatArray:
    weights = np.ones(len(value))
    for _ in range(6):
        weighted = design * weights[:, None]
        ridge = 1e-6 * len(value) * np.eye(design.shape[1])
        found = np.linalg.solve(weighted.T @ design + ridge, weighted.T @ value)
        answer = np.asarray(found, dtype=np.float64)
        residual = value - design @ answer
        weights = belief(residual, spread_of(residual) + 1e-4)
    return answer


def _fit(
    profile: Profile,
    samples: Samples,
    here: Samples,
    orders: tuple[int, ...],
    scale: FloatArray,
) -> FloatArray:
    """Radial displacement along the profile that takes the round section to the samples."""
    drop = project(profile, here.points, here.calm_normals)
    size = float(np.linalg.norm(np.ptp(profile.points, axis=0)))
    keep = on_skin(drop, reach_mm=tol.OUTLINE_REACH * size)
    along, p = drop.along[keep], samples.points[keep]
    points, normals = at(profile, along)
    angle = np.arctan2(p[:, 1], p[:, 0])
    # How far the real sample lies from the round section, along the section's normal.
    offset = (np.hypot(p[:, 0], p[:, 1]) - points[:, 0]) * normals[:, 0]
    offset += (p[:, 2] - points[:, 1]) * normals[:, 1]
    offset -= points[:, 0] * (_waves(angle, orders) @ scale) * normals[:, 0]
    n = tol.OUTLINE_KNOTS
    waves = _waves(angle, orders)
    parts = (normals[:, :, None] * waves[:, None, :]).reshape(len(along), -1)
    design = Hats.over(_down_the_wall(profile, along) * (n - 1), n, parts)
    second = np.diff(np.eye(n), n=2, axis=0)
    bend = second.T @ second
    # Rims wave up and down far less than they stray sideways.
    stiffer = np.diag([1.0, tol.OUTLINE_AXIAL])
    weight = tol.OUTLINE_BEND * len(along) / n
    # What the first guess showed to be large is free to be large along the radius; the rest is
    # held where a loss hides it. Up and down all is held: along a steep wall the two directions
    # slide into each other.
    shown = np.repeat(np.hypot(scale[::2], scale[1::2]), 2)
    radial = tol.OUTLINE_RIDGE / (1.0 + (shown / tol.OUTLINE_SHOWN) ** 2)
    axial = np.full_like(radial, tol.OUTLINE_RIDGE * tol.OUTLINE_AXIAL)
    penalty = np.kron(np.kron(bend, stiffer), np.eye(waves.shape[1]))
    penalty = weight * (penalty + np.kron(np.eye(n), np.diag(np.concatenate([radial, axial]))))
    weights = np.ones(len(along))
    for _ in range(4):
        matrix, right = design.gathered(offset, weights)
        answer = solve(matrix + penalty, right, assume_a="pos")
        residual = offset - design.at(answer)
        weights = belief(residual, spread_of(residual) + 1e-3)
    coefficients: FloatArray = answer.reshape(n, 2, -1)
    return coefficients


def _down_the_wall(profile: Profile, along: FloatArray) -> FloatArray:
    """Distance from the lip along either skin, as a share of the longer of the two, (N,)."""
    last = len(profile.points) - 1
    share: FloatArray = np.abs(along - profile.lip) / max(profile.lip, last - profile.lip)
    return share


def _waves(angle: FloatArray, orders: tuple[int, ...]) -> FloatArray:
    """Cos and sin of each order, (N, 2 · orders)."""
    columns = [wave(m * angle) for m in orders for wave in (np.cos, np.sin)]
    return np.stack(columns, axis=1)


def _scaled(samples: Samples, orders: tuple[int, ...], scale: FloatArray) -> Samples:
    """Divide the outline out, alike at all heights."""
    angle = np.arctan2(samples.points[:, 1], samples.points[:, 0])
    radius = np.hypot(samples.points[:, 0], samples.points[:, 1])
    waves = _waves(angle, orders)
    factor = 1.0 / (1.0 + waves @ scale)
    shift = np.stack([radius * (factor - 1.0), np.zeros_like(radius)], axis=1)
    slope = np.stack([radius * (_slopes(waves, orders) @ scale), np.zeros_like(radius)], axis=1)
    return _moved(samples, angle, shift, slope)


def _slopes(waves: FloatArray, orders: tuple[int, ...]) -> FloatArray:
    """Derivatives of `_waves` by the angle, from the waves themselves."""
    m, slopes = np.asarray(orders), np.empty_like(waves)
    slopes[:, ::2], slopes[:, 1::2] = -m * waves[:, 1::2], m * waves[:, ::2]
    return slopes


def _moved(samples: Samples, angle: FloatArray, shift: FloatArray, slope: FloatArray) -> Samples:
    """Shift points by (N, 2) along radius and axis, and straighten their normals.

    Parameters
    ----------
    slope : (N, 2) mm per radian by which the outline that is taken out changes around the turn
    """
    radius = np.maximum(np.hypot(samples.points[:, 0], samples.points[:, 1]), 1e-9)
    around = np.stack([-np.sin(angle), np.cos(angle), np.zeros_like(angle)], axis=1)

    def straightened(normals: FloatArray) -> FloatArray:
        n_r = normals[:, 0] * np.cos(angle) + normals[:, 1] * np.sin(angle)
        tilt = (n_r * slope[:, 0] + normals[:, 2] * slope[:, 1]) / radius
        turned = normals + tilt[:, None] * around
        return unit(turned)

    return Samples(
        _shifted(samples.points, angle, shift),
        straightened(samples.normals),
        straightened(samples.calm_normals),
        samples.area_mm2,
    )


def _shifted(points: FloatArray, angle: FloatArray, shift: FloatArray) -> FloatArray:
    # Nothing may pass through the axis.
    radial = np.maximum(shift[:, 0], -np.hypot(points[:, 0], points[:, 1]))
    by = np.stack([radial * np.cos(angle), radial * np.sin(angle), shift[:, 1]], axis=1)
    moved: FloatArray = points + by
    return moved
