"""Splitting a piece in two where no way leads in for the whole of it.

A dovetail that no single piece can enter is filled by two: the first goes in along its own way,
and the second past it along another. Which places of the piece are held back along which direction
is known already, so that a plane is judged by counting: the first part's places along the best
direction for them, and the second's along the best that does not lead into the first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.fit.entry import Places, Ways, even_directions
from lossfill.mesh import FloatArray, unit
from lossfill.solids import Solid


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A plane that parts a piece, and the ways in for its two parts.

    Parameters
    ----------
    normal : (3,) unit, from the part that goes in first to the second
    at_mm : where the plane lies along it
    first, second : numbers of the directions in `Ways`
    held : share of all places that is held back, and a little more for cuts along the wall
    """

    normal: FloatArray
    at_mm: float
    first: int
    second: int
    held: float


def find_cut(places: Places, ways: Ways) -> Cut:
    """The plane that leaves least held back, across the wall rather than along it."""
    normals = even_directions(tol.SPLIT_DIRECTIONS)
    along = places.points @ normals.T
    levels = np.quantile(along, tol.SPLIT_SHARES, axis=0).T
    thin = _thinnest(places.points)
    n = len(places.points)
    held = ways.held.astype(np.float32)
    best = Cut(normals[0], 0.0, 0, 0, np.inf)
    for k, normal in enumerate(normals):
        before = along[:, k][:, None] < levels[k]
        first = held @ before.astype(np.float32)
        second = held @ (~before).astype(np.float32)
        # The second part lies beyond the plane: it must not lead back through it.
        second = np.where((ways.out @ normal < tol.SPLIT_LEAN)[:, None], np.inf, second)
        one, two = first.argmin(axis=0), second.argmin(axis=0)
        columns = np.arange(len(tol.SPLIT_SHARES))
        lost = first[one, columns] + second[two, columns]
        # A cut in the plane of a wall would leave two thin leaves.
        lost = lost + n * tol.SPLIT_FLAT_SHARE * abs(float(normal @ thin)) ** 2
        j = int(lost.argmin())
        if lost[j] < n * best.held:
            best = Cut(normal, float(levels[k, j]), int(one[j]), int(two[j]), float(lost[j]) / n)
    return best


def cut_in_two(solid: Solid, cut: Cut, clearance_mm: float) -> tuple[Solid, Solid]:
    """Part a piece by the plane, with the clearance between the two."""
    half = 0.5 * clearance_mm
    first = solid.trim_by_plane(tuple(-cut.normal), -(cut.at_mm - half))
    second = solid.trim_by_plane(tuple(cut.normal), cut.at_mm + half)
    return first, second


def _thinnest(points: FloatArray) -> FloatArray:
    """The direction in which a piece is thinnest."""
    centred = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    return unit(axes[:, 0])
