"""The centre line of a span: the fairest curve between two stubs.

A line is described by how it bends, two curvatures across it as polynomials of the way along it, in
a frame that does not turn about it, and by its length. Two measures of fairness are in use:

* least bending for its length, the length times ∫κ² ds. It knows no scale, and where both stubs
  lie on one circle or one straight line it gives just that;
* least bending, ∫κ² ds, the shape of a springy rod, which bulges farther out than a circle.

How far the two lie apart tells how much is left to taste.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.optimize import minimize

from lossfill import tolerances as tol
from lossfill.errors import AmbiguousShapeError
from lossfill.mesh import FloatArray, unit


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Places along a span's middle with a frame that does not turn about it.

    Parameters
    ----------
    along_mm : (N,) way from the first end
    points : (N, 3)
    tangents, sides : (N, 3) unit vectors, perpendicular to each other
    """

    along_mm: FloatArray
    points: FloatArray = field(repr=False)
    tangents: FloatArray = field(repr=False)
    sides: FloatArray = field(repr=False)

    @property
    def length_mm(self) -> float:
        """From end to end."""
        return float(self.along_mm[-1])


@dataclass(frozen=True, slots=True, eq=False)
class Ends:
    """What a line must run through: places and directions, both the way that it runs.

    Parameters
    ----------
    points : (2, 3) mm
    tangents : (2, 3) unit
    """

    points: FloatArray
    tangents: FloatArray


def fair_line(ends: Ends, *, rod: bool = False) -> Line:
    """Find the fairest line between two ends.

    Parameters
    ----------
    rod : least bending, as of a springy rod, rather than least bending for its length

    Raises
    ------
    AmbiguousShapeError
        Where no smooth line joins the ends.
    """
    chord = float(np.linalg.norm(ends.points[1] - ends.points[0]))
    start = _frame(ends.tangents[0], ends.points[1] - ends.points[0])
    n = tol.SPAN_TERMS
    # ∫ of products of powers: the energy of a polynomial is a quadratic form of its coefficients.
    gram = np.kron(np.eye(2), 1.0 / (1.0 + np.add.outer(np.arange(n), np.arange(n))))

    def energy(x: FloatArray) -> tuple[float, FloatArray]:
        """Of the bending, and its slopes; the last of x is the logarithm of length over chord."""
        fade = np.exp(-x[-1]) if rod else 1.0
        pull = fade * (gram @ x[:-1])
        total = float(x[:-1] @ pull)
        return total, np.append(2.0 * pull, -total if rod else 0.0)

    def miss(x: FloatArray) -> FloatArray:
        points, tangents, _ = _walk(np.atleast_2d(x), start)
        off = (points[:, -1] * chord + ends.points[0] - ends.points[1]) / chord
        aside = _frame(ends.tangents[1], start[1])[1:]
        return np.concatenate([off, tangents[:, -1] @ aside.T], axis=1)

    def slope(x: FloatArray) -> FloatArray:
        steps = 1e-6 * np.eye(len(x))
        both = miss(np.concatenate([x + steps, x - steps]))
        return np.asarray((both[: len(x)] - both[len(x) :]).T / 2e-6)

    first = np.zeros(2 * n + 1)
    # The circle's arc, or nearly: its turn in the plane of the ends.
    cos = float(np.clip(ends.tangents[0] @ ends.tangents[1], -1.0, 1.0))
    half = 0.5 * float(np.arccos(cos))
    first[-1] = np.log(half / np.sin(half)) if half > 1e-6 else 0.0
    towards = start[1:] @ ends.tangents[1]
    size = float(np.linalg.norm(towards))
    if size > 1e-9:
        first[[0, n]] = 2.0 * half * towards / size
    found: Any = minimize(  # type: ignore[call-overload]  # the stubs ask for a named mapping
        energy,
        first,
        jac=True,
        method="SLSQP",
        constraints={"type": "eq", "fun": lambda x: miss(x)[0], "jac": slope},
        options={"maxiter": 200, "ftol": 1e-12},
    )
    left = float(np.abs(miss(found.x)[0]).max())
    if left > tol.SPAN_CLOSED:
        raise AmbiguousShapeError(
            f"no smooth bar joins the two stubs of the handle: the best misses by "
            f"{left * chord:.1f} mm; give a scan of a whole one of the set"
        )
    points, tangents, sides = _walk(found.x[None], start)
    along = np.linspace(0.0, chord * np.exp(found.x[-1]), points.shape[1])
    return Line(along, ends.points[0] + chord * points[0], tangents[0], sides[0])


def _walk(x: FloatArray, start: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Follow bends from the first end: places in chords, tangents and sides, each (K, N, 3)."""
    n, steps = tol.SPAN_TERMS, tol.SPAN_STEPS
    half = (np.arange(steps) + 0.5) / steps
    powers = half[:, None] ** np.arange(n)
    bends = np.einsum("kdi,si->ksd", x[:, :-1].reshape(len(x), 2, n), powers) / steps
    pace = np.exp(x[:, -1]) / steps
    size = np.linalg.norm(bends, axis=2)
    # One small circle's arc after another: exact for a circle however few. Each step turns the
    # frame by the same matrix in the frame's own coordinates, whatever the steps before it did.
    on = np.sinc(size / np.pi)[..., None] * bends
    turned = np.concatenate([np.cos(size)[..., None], on], axis=2)
    # The side is carried along without turning about the line: minus its part along the turn.
    middle = turned + np.array([1.0, 0.0, 0.0])
    swing = 2.0 / np.maximum((middle**2).sum(axis=2), 1e-12)
    side = np.array([0.0, 1.0, 0.0]) - (swing * turned[..., 1])[..., None] * middle
    turns = np.stack([turned, side, np.cross(turned, side)], axis=2)
    ahead = np.sinc(size / np.pi)[..., None]
    aside = (0.5 * np.sinc(0.5 * size / np.pi) ** 2)[..., None] * bends
    moves = pace[:, None, None] * np.concatenate([ahead, aside], axis=2)
    frames = np.empty((len(x), steps + 1, 3, 3))
    frames[:, 0] = start
    for k in range(steps):
        frames[:, k + 1] = turns[:, k] @ frames[:, k]
    points = np.zeros((len(x), steps + 1, 3))
    points[:, 1:] = np.cumsum(np.einsum("ksi,ksix->ksx", moves, frames[:, :-1]), axis=1)
    return points, frames[:, :, 0], frames[:, :, 1]


def _frame(along: FloatArray, near: FloatArray) -> FloatArray:
    """Three unit vectors by rows, the first along, the second as near to another as may be."""
    first = unit(along)
    side = near - (near @ first) * first
    if float(np.linalg.norm(side)) < 1e-3 * float(np.linalg.norm(near)):
        side = np.eye(3)[np.argmin(np.abs(first))]
        side = side - (side @ first) * first
    second = unit(side)
    return np.stack([first, second, np.cross(first, second)])
