"""Ovals: a round pot drawn out along one line across its axis, and the axis of such a pot.

The normals of an oval pot do not meet its axis, and with a piece of it gone no average over the
turn makes good for that. Yet an oval is as regular as a circle: it is an affine image of a round
pot, so an affine turn, along ellipses instead of circles, leaves it where it is. Where p is a point
and n the normal there, the velocity v(p) of that turn lies in the skin:

    n · v(p) = 0,   v(p) = ω × (p - t) + S p,   S symmetric and without trace, across the axis

This is linear in the tilt of the turn's axis ω, its foot point t, and S. What is left of the skin
gives them all, however much is gone. S = 0 is the plain turn about an axis, for which the normals
form a linear complex (`axis`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray, unit
from lossfill.robust import REACH, belief, spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Oval:
    """What a round vessel was drawn out by.

    Parameters
    ----------
    draw : (2, 2) symmetric, determinant 1; takes x and y of the oval vessel to a round one
    """

    draw: FloatArray

    @property
    def ratio(self) -> float:
        """Longer diameter over the shorter."""
        short, long = np.linalg.eigvalsh(self.draw)
        return float(long / short)

    def to_round(self, samples: Samples) -> Samples:
        """Draw samples of the oval vessel back to a round one, normals with them."""
        matrix = lifted(self.draw)[:3, :3]
        cofactors = np.linalg.inv(matrix)
        return Samples(
            samples.points @ matrix,
            unit(samples.normals @ cofactors),
            unit(samples.calm_normals @ cofactors),
            samples.area_mm2,
        )

    def from_round(self, points: FloatArray) -> FloatArray:
        """Draw points (N, 3) of the round vessel out to the oval one."""
        moved: FloatArray = points @ np.linalg.inv(lifted(self.draw)[:3, :3])
        return moved


def find_oval(samples: Samples, upright: FloatArray) -> tuple[FloatArray, Oval] | None:
    """Find the affine turn that leaves the skin where it is; None where it is near a plain one.

    None too where there is no such turn, as for a box; what to say of that is not decided here.

    Parameters
    ----------
    samples : in scan coordinates
    upright : (4, 4) rigid; takes the line that most normals meet to z

    Returns
    -------
    (4, 4) rigid transform that takes the oval's axis to z, either end up, and the oval.
    """
    found = _turn(samples, upright)
    if found.oval.ratio < tol.OVAL_MIN:
        return None
    # The normals of a strong oval can all but meet a line that lies across its axis.
    starts = [found, *(_turn(samples, start) for start in _principal(samples.points))]
    best = min(
        (turn for turn in starts if turn.oval.ratio < tol.OVAL_MAX),
        key=lambda turn: turn.miss,
        default=None,
    )
    if best is None or best.miss > tol.OVAL_MISS_MAX**2:
        return None
    # With half the turn gone an oval is hard to tell from a tilt, and most pots are near round.
    if best.oval.ratio < tol.OVAL_MIN_HALF and _turn_seen(samples, best) < tol.OVAL_TURN_SEEN:
        return None
    return best.upright, best.oval


def stood(round_from_scan: FloatArray) -> tuple[FloatArray, Oval]:
    """Part an affine map, which stands a vessel up and makes it round, into these two.

    Parameters
    ----------
    round_from_scan : (4, 4) rigid but for what a drawing across the axis does to it
    """
    scan_from_round = np.asarray(np.linalg.inv(round_from_scan), dtype=np.float64)
    upright = axis_on_z(scan_from_round[:3, 2], scan_from_round[:3, 3])
    left = (round_from_scan @ np.linalg.inv(upright))[:2, :2]
    # A turn about the axis may be left in it; the root of the square drops that.
    return upright, Oval(_root(left.T @ left))


def lifted(draw: FloatArray) -> FloatArray:
    """Let a drawing across the axis act on points, (4, 4)."""
    matrix = np.eye(4)
    matrix[:2, :2] = draw
    return matrix


def axis_on_z(direction: FloatArray, point: FloatArray) -> FloatArray:
    """Rigid transform that takes a line to the z axis and the scan's x to angle 0."""
    z = direction / np.linalg.norm(direction)
    # Where the axis lies along the scan's x, its y serves instead.
    reference = np.eye(3)[0] if abs(z[0]) < 0.9 else np.eye(3)[1]
    x = reference - (reference @ z) * z
    x /= np.linalg.norm(x)
    matrix = np.eye(4)
    matrix[:3, :3] = np.stack([x, np.cross(z, x), z])
    matrix[:3, 3] = -matrix[:3, :3] @ point
    return matrix


@dataclass(frozen=True, slots=True, eq=False)
class _Turn:
    """An affine turn, as what makes it a plain one, and how far it misses the skin.

    Parameters
    ----------
    miss : mean over the samples of n · v over the vessel's radius, squared and capped
    """

    upright: FloatArray
    oval: Oval
    miss: float


def _turn(samples: Samples, upright: FloatArray) -> _Turn:
    """Settle the affine turn from a start: each round makes the turn found a plain one."""
    oval = Oval(np.eye(2))
    weights = np.ones(len(samples.points))
    for _ in range(tol.OVAL_ROUNDS):
        matrix = lifted(oval.draw) @ upright
        p = samples.points @ matrix[:3, :3].T + matrix[:3, 3]
        n = unit(samples.calm_normals @ np.linalg.inv(matrix[:3, :3]))
        answer, miss = _solve(p, n, weights)
        size = float(np.sqrt((p[:, :2] ** 2).sum(axis=1).mean()))
        scale = max(REACH * spread_of(miss), 2 * tol.AXIS_SCALE_FLOOR * size)
        weights = belief(miss, scale, reach=1.0)
        upright, oval = stood(_plain(answer) @ matrix)
        if max(np.abs(answer[:2]).max() / size, np.abs(answer[2:]).max()) < tol.OVAL_SETTLED:
            break
    return _Turn(upright, oval, float(np.minimum((miss / size) ** 2, tol.AXIS_SCORE_CAP**2).mean()))


def _solve(p: FloatArray, n: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least squares of n · v(p) = 0 near the plain turn about z.

    Returns
    -------
    (6,) foot point x, y; tilt about x, y; S as its xx and xy. (N,) mm by which n · v misses 0.
    """
    x, y, z = p.T
    n_x, n_y, n_z = n.T
    columns = [
        -n_y,
        n_x,
        y * n_z - z * n_y,
        z * n_x - x * n_z,
        x * n_x - y * n_y,
        y * n_x + x * n_y,
    ]
    design = np.stack(columns, axis=1)
    plain = x * n_y - y * n_x
    weighted = design * weights[:, None]
    answer = np.linalg.solve(weighted.T @ design, -weighted.T @ plain)
    return answer, plain + design @ answer


def _plain(answer: FloatArray) -> FloatArray:
    """Affine map that takes the turn of `_solve` to the plain one about z, (4, 4).

    The orbits of B = [[p, q - 1], [q + 1, -p]] keep the square form G = [[1 + q, -p], [-p, 1 - q]],
    which is positive as long as they close: p² + q² < 1.
    """
    foot, tilt, (p, q) = answer[:2], answer[2:4], answer[4:]
    shrink = min(1.0, 0.8 / max(float(np.hypot(p, q)), 1e-300))
    p, q = shrink * p, shrink * q
    square = np.array([[1.0 + q, -p], [-p, 1.0 - q]])
    line = axis_on_z(np.array([*tilt, 1.0]), np.array([*foot, 0.0]))
    return lifted(_root(square)) @ line


def _root(square: FloatArray) -> FloatArray:
    """Square root of a symmetric positive (2, 2), scaled to determinant 1."""
    unit = square / np.sqrt(np.linalg.det(square))
    root: FloatArray = (unit + np.eye(2)) / np.sqrt(np.trace(unit) + 2.0)
    return root


def _turn_seen(samples: Samples, turn: _Turn) -> float:
    """Share of the turn about the axis on which any of the wall is left."""
    matrix = lifted(turn.oval.draw) @ turn.upright
    x, y = (samples.points @ matrix[:3, :3].T + matrix[:3, 3])[:, :2].T
    radius = np.hypot(x, y)
    # The wall lies out there; a handle, which few samples lie on, does not count as the rim.
    wall = radius > 0.6 * float(np.quantile(radius, 0.9))
    bins = np.floor(np.degrees(np.arctan2(y, x))[wall] / 10.0)
    return len(np.unique(bins)) / 36.0


def _principal(points: FloatArray) -> list[FloatArray]:
    """Rigid transforms that take each of the points' principal axes to z."""
    middle = points.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov((points - middle).T))
    return [axis_on_z(axis, middle) for axis in axes.T]
