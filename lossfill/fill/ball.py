"""What a ball rolling within a solid cannot reach: its sharp ridges and thin edges.

Where a ball of radius r fits, its middle lies at least r deep. The places that no such ball covers
are farther than r from all of these middles (the solid less its opening by the ball, in the words
of mathematical morphology).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.fill.plate import Value
from lossfill.isosurface import HALVINGS, isosurface
from lossfill.mesh import FloatArray, unit
from lossfill.nearest import Surface


@dataclass(frozen=True, slots=True, eq=False)
class Ball:
    """A ball that rolls within a solid.

    Parameters
    ----------
    radius_mm : of the ball
    surface : of the solid, or the part of it that the ball rolls on
    depth : how deep places lie in the solid, mm; negative outside
    middles : the boundary of the places where its middle can be
    """

    radius_mm: float
    surface: Surface
    depth: Value
    middles: Surface

    @staticmethod
    def within(
        near: FloatArray, surface: Surface, depth: Value, *, radius_mm: float, cell_mm: float
    ) -> Ball | None:
        """Lay it about points of the solid's surface; None where it fits nowhere near them."""
        # Twice as coarse as what is cut by it: corners are met in `beyond`, whatever the grid.
        cell_mm *= 2.0
        # The middles nearest to a place in a thin edge may lie some way from that edge.
        reach = 2.0 * radius_mm + 2.0 * cell_mm * 2**HALVINGS
        found = isosurface(
            near, lambda points: radius_mm - depth(points), cell_mm=cell_mm, reach_mm=reach
        )
        return None if found is None else Ball(radius_mm, surface, depth, Surface(found))

    def beyond(self, points: FloatArray) -> FloatArray:
        """How far points lie beyond what the ball covers, (N,) mm; negative where it covers."""
        result = np.full(len(points), -self.radius_mm)
        at = self.depth(points)
        free = np.flatnonzero(at < self.radius_mm)
        if len(free) == 0:
            return result
        asked = points[free]
        middle = self.middles.closest(asked)[0]
        ahead = asked - middle
        way = np.linalg.norm(ahead, axis=1)
        gone = self._way_on(middle, unit(ahead), way, self.radius_mm - at[free])
        nearest = np.minimum(way - gone, self._between_faces(asked))
        result[free] = nearest - self.radius_mm
        return result

    def _way_on(
        self, middle: FloatArray, ahead: FloatArray, way: FloatArray, lacking: FloatArray
    ) -> FloatArray:
        """How far the middle can go on towards a point, (N,) mm.

        The grid cuts the sharp corners off the places for the middle, just where they matter for
        a ridge. Along a line depth runs like a roof between two faces: it is concave, so that its
        chord, from the last good place to the first bad one, never leads too far; neither does a
        step as long as the depth to spare.
        """
        low, high = np.zeros(len(way)), way.copy()
        spare = np.maximum(self.depth(middle) - self.radius_mm, 0.0)
        for _ in range(tol.BALL_STEPS):
            chord = low + (high - low) * spare / np.maximum(spare + lacking, 1e-12)
            tried = np.minimum(np.maximum(chord, low + spare), high)
            found = self.depth(middle + tried[:, None] * ahead) - self.radius_mm
            good = found >= 0.0
            low, spare = np.where(good, tried, low), np.where(good, found, spare)
            high, lacking = np.where(good, high, tried), np.where(good, lacking, -found)
        return low

    def _between_faces(self, points: FloatArray) -> FloatArray:
        """Distance of the middle that touches the two faces next to a point, (N,) mm.

        It is exact at a ridge of flat faces, which no grid can meet; infinite where the ball does
        not fit there.
        """
        radius = self.radius_mm
        place, normal = self.surface.closest(points)
        one = -normal
        lacks_one = radius - ((points - place) * one).sum(axis=1)
        place, normal = self.surface.closest(points + lacks_one[:, None] * one)
        two = -normal
        lacks_two = radius - ((points - place) * two).sum(axis=1)
        # Both faces are touched: points + a one + b two lies one radius deep beneath either.
        cosine = (one * two).sum(axis=1)
        sine2 = np.maximum(1.0 - cosine**2, 1e-3)
        a = (lacks_one - cosine * lacks_two) / sine2
        b = (lacks_two - cosine * lacks_one) / sine2
        same = cosine > 1.0 - 1e-3
        a, b = np.where(same, lacks_one, a), np.where(same, 0.0, b)
        ahead = a[:, None] * one + b[:, None] * two
        fits = self.depth(points + ahead) > radius - tol.BALL_FITS_MM
        return np.asarray(np.where(fits, np.linalg.norm(ahead, axis=1), np.inf))
