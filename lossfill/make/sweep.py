"""Areas swept along a direction, or along the rays of a point: what a template can reach.

A template that is drawn straight off the work can follow only the skin that is seen from where it
comes. What is seen is the edge of the section swept away from the viewer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.make.brief import Brief
from lossfill.make.section import Area
from lossfill.mesh import FloatArray, centres, face_vectors, unit
from lossfill.nearest import Surface
from lossfill.solids import checked, mesh_from_solid


@dataclass(frozen=True, slots=True, eq=False)
class Outwards:
    """Which way is out of the work, at every place of a flat section.

    Parameters
    ----------
    centre : (2,) the point that all ways out leave, or None where they are parallel
    direction : (2,) unit; the way out where they are parallel, and the middle one of rays
    """

    centre: FloatArray | None
    direction: FloatArray

    def at(self, points: FloatArray) -> FloatArray:
        """Unit vectors outwards at points (N, 2)."""
        if self.centre is None:
            return np.broadcast_to(self.direction, points.shape)
        return unit(points - self.centre)


def swept_in(area: Area, outwards: Outwards, far_mm: float) -> Area:
    """The area and all that lies behind it, seen from outside.

    Parameters
    ----------
    far_mm : how far inwards parallel ways run; rays end in their centre
    """
    if outwards.centre is None:
        return _swept(area, lambda points: points - far_mm * outwards.direction)
    centre = outwards.centre
    return _swept(area, lambda points: np.broadcast_to(centre, points.shape))


def swept_out(area: Area, outwards: Outwards, far_mm: float) -> Area:
    """The area and all that lies before it, seen from outside, as far as `far_mm`."""
    return _swept(area, lambda points: points + far_mm * outwards.at(points))


def _swept(area: Area, moved: Callable[[FloatArray], FloatArray]) -> Area:
    """All that the outline passes over on its way to where it is moved."""
    contours = [np.asarray(polygon) for polygon in area.to_polygons()]
    quads = list(contours)
    for start in contours:
        end = np.roll(start, -1, axis=0)
        corners = np.stack([start, end, moved(end), moved(start)], axis=1)
        after = np.roll(corners, -1, axis=1)
        twice = (corners[..., 0] * after[..., 1] - corners[..., 1] * after[..., 0]).sum(axis=1)
        corners[twice < 0] = corners[twice < 0, ::-1]
        quads += list(corners[np.abs(twice) > 0])
    # Holes of the area itself keep their winding; the quads that cover them count once more.
    result: Area = Area(quads, manifold3d.FillRule.Positive)
    return result


def box(low: tuple[float, float], high: tuple[float, float]) -> Area:
    """An upright rectangle."""
    size = (high[0] - low[0], high[1] - low[1])
    result: Area = Area.square(size).translate(low)
    return result


def outline(area: Area) -> FloatArray:
    """The longest contour of an area, (N, 2)."""
    polygons = [np.asarray(polygon, dtype=np.float64) for polygon in area.to_polygons()]
    return max(polygons, key=lambda p: np.abs(p - np.roll(p, 1, axis=0)).sum())


def whole_surface(brief: Brief) -> Surface:
    """The skin of the vessel made whole, ready to be measured from."""
    parts = [brief.body, brief.lost.solid, *brief.others]
    whole = manifold3d.Manifold.batch_boolean(parts, manifold3d.OpType.Add)
    return Surface(mesh_from_solid(checked(whole, "the vessel could not be made whole")))


def sampled(starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Places along segments no farther apart than what templates are measured at, (N, 2)."""
    lengths = np.linalg.norm(ends - starts, axis=1)
    counts = np.maximum(np.ceil(lengths / tol.TEMPLATE_SAMPLE_MM).astype(int), 1)
    which = np.repeat(np.arange(len(starts)), counts)
    step = np.concatenate([(np.arange(n) + 0.5) / n for n in counts])
    return starts[which] + step[:, None] * (ends - starts)[which]


def in_vessel(points: FloatArray, plane_from_vessel: FloatArray) -> FloatArray:
    """Points of a plane (N, 2) in vessel coordinates, (N, 3)."""
    flat = np.column_stack([points, np.zeros(len(points))])
    result: FloatArray = (flat - plane_from_vessel[:3, 3]) @ plane_from_vessel[:3, :3]
    return result


def loss_angle_rad(brief: Brief) -> float:
    """Where the middle of the loss lies around the axis."""
    mesh = brief.lost.mesh
    areas = np.linalg.norm(face_vectors(mesh), axis=1)
    x, y, _ = np.average(centres(mesh), axis=0, weights=areas)
    return float(np.arctan2(y, x))
